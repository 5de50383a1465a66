#include "engine/files/station_folders.hpp"

#include <algorithm>
#include <system_error>

#include "engine/files/file_error.hpp"
#include "engine/files/learners.hpp"

namespace files {

namespace fs = std::filesystem;

namespace {

constexpr const char* kOwnName = "planekeeper";  // of a data folder, below whatever holds it

bool is_data_folder(const fs::path& folder) {
    std::error_code ignored;
    const auto holds = [&](const char* name) { return fs::is_directory(folder / name, ignored); };
    return holds("attempts") || holds("learners") || holds("stations");
}

/// What a folder holds, by name; empty where it is not there. Any other trouble is told.
std::vector<fs::path> inside(const fs::path& folder, std::vector<std::string>& trouble) {
    std::vector<fs::path> out;
    std::error_code error;
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error))
        out.push_back(entry->path());
    if (error && error != std::errc::no_such_file_or_directory)
        trouble.push_back(FileError(folder.string(), "", error.message(), "a folder that can be read").what());
    std::sort(out.begin(), out.end());
    return out;
}

void add_attempts(const fs::path& folder, const std::string& station, const std::string& learner, FoundAttempts& out) {
    for (const fs::path& file : inside(folder, out.trouble)) {
        if (file.extension() != ".attempt") continue;
        std::error_code gone;
        const auto written = fs::last_write_time(file, gone);
        if (!gone) out.attempts.push_back({file, station, learner, written});
    }
}

/// The first learner's attempts, the others', and those of graded sessions.
void add_data_folder(const fs::path& folder, const std::string& station, FoundAttempts& out) {
    ++out.data_folders;
    std::vector<Learner> learners{{"", "Learner 1"}};
    std::error_code ignored;
    if (fs::exists(folder / "learners.json", ignored)) try {
            learners = read_learners(folder / "learners.json");
        } catch (const std::exception& error) {
            out.trouble.emplace_back(error.what());
        }
    const auto name_of = [&](const std::string& id) {
        const auto at =
            std::find_if(learners.begin(), learners.end(), [&](const Learner& one) { return one.id == id; });
        return at != learners.end() ? at->name : "Learner " + id;
    };
    add_attempts(folder / "attempts", station, name_of(""), out);
    for (const fs::path& one : inside(folder / "learners", out.trouble))
        add_attempts(one / "attempts", station, name_of(one.filename().string()), out);
    for (const fs::path& session : inside(folder / "stations", out.trouble))
        add_attempts(session / "attempts", station, "", out);
}

}  // namespace

FoundAttempts find_attempts(const fs::path& folder) {
    FoundAttempts out;
    std::error_code ignored;
    if (!fs::is_directory(folder, ignored)) {
        out.trouble.push_back(
            FileError(folder.string(), "", "no folder", "a trainer's data folder, or one that holds several").what());
        return out;
    }
    if (is_data_folder(folder)) {
        add_data_folder(folder, "", out);
    } else {
        for (const fs::path& child : inside(folder, out.trouble)) {
            const std::string name = child.filename().string();
            if (is_data_folder(child)) add_data_folder(child, name == kOwnName ? "" : name, out);
            if (is_data_folder(child / kOwnName)) add_data_folder(child / kOwnName, name, out);
        }
    }
    std::stable_sort(out.attempts.begin(), out.attempts.end(),
                     [](const FoundAttempt& a, const FoundAttempt& b) { return a.written > b.written; });
    return out;
}

}  // namespace files
