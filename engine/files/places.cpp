#include "engine/files/places.hpp"

#include <algorithm>
#include <cstdlib>
#include <system_error>

#include "engine/files/file_error.hpp"

namespace files {

namespace fs = std::filesystem;

namespace {

std::string environment(const char* name) {
    const char* value = std::getenv(name);
    return value == nullptr ? std::string() : std::string(value);
}

bool holds_shipped(const fs::path& folder) {
    std::error_code ignored;
    return fs::is_directory(folder / "scenarios" / "drills", ignored);
}

std::vector<fs::path> candidates() {
    std::vector<fs::path> out;
    if (const std::string home = environment("PLANEKEEPER_HOME"); !home.empty()) out.emplace_back(home);
    std::error_code ignored;
    fs::path folder = fs::read_symlink("/proc/self/exe", ignored).parent_path();
    for (int up = 0; up < 5 && !folder.empty() && folder != folder.root_path(); ++up, folder = folder.parent_path()) {
        out.push_back(folder);
        out.push_back(folder / "share" / "planekeeper");
    }
#ifdef PLANEKEEPER_SOURCE_FOLDER
    out.emplace_back(PLANEKEEPER_SOURCE_FOLDER);
#endif
    out.emplace_back("/usr/share/planekeeper");
    return out;
}

/// A shipped file by name in some folders, or a path as it is.
fs::path find(const std::string& name, const std::vector<std::string>& folders, const std::string& ending,
              const std::string& accepted) {
    std::error_code ignored;
    if (name.find('/') != std::string::npos || fs::exists(name, ignored)) return name;
    for (const fs::path& scenarios : {shipped_folder() / "scenarios", own_scenarios_folder()})
        for (const std::string& folder : folders) {
            const fs::path path = scenarios / folder / (name + ending);
            if (fs::exists(path, ignored)) return path;
        }
    throw FileError(name, "", "no file of this name", accepted);
}

/// "" or the learner's own folder below a base.
std::string& learner_folder() {
    static std::string folder;
    return folder;
}

fs::path made_private(const fs::path& folder) {
    std::error_code error;
    if (fs::exists(folder, error)) return folder;
    fs::create_directories(folder, error);
    if (error) throw FileError(folder.string(), "", error.message(), "a folder that can be made and written");
    fs::permissions(folder, fs::perms::owner_all, fs::perm_options::replace, error);
    return folder;
}

fs::path user_folder(const char* variable, const char* below_home) {
    // a relative path in an XDG variable is invalid and to be ignored, says the specification
    fs::path base = environment(variable);
    if (!base.is_absolute()) {
        const std::string home = environment("HOME");
        base = home.empty() ? fs::temp_directory_path() : fs::path(home) / below_home;
    }
    return base / "planekeeper";
}

}  // namespace

fs::path shipped_folder() {
    std::string searched;
    for (const fs::path& folder : candidates()) {
        if (holds_shipped(folder)) return folder;
        searched += (searched.empty() ? "" : ", ") + folder.string();
    }
    throw FileError("assets and scenarios", "", "not found in any of: " + searched,
                    "a folder that holds scenarios/drills, which PLANEKEEPER_HOME can name");
}

fs::path asset(const std::string& name) {
    const fs::path path = shipped_folder() / "assets" / name;
    std::error_code ignored;
    if (!fs::exists(path, ignored)) throw FileError(path.string(), "", "missing", "the file that is shipped there");
    return path;
}

std::vector<std::string> scenario_names() {
    std::vector<std::string> out;
    for (const fs::path& scenarios : {shipped_folder() / "scenarios", own_scenarios_folder()})
        for (const char* kind : {"drills", "cases"}) {
            std::vector<std::string> names;
            std::error_code ignored;
            for (const auto& entry : fs::directory_iterator(scenarios / kind, ignored))
                if (entry.path().extension() == ".json") names.push_back(entry.path().stem().string());
            std::sort(names.begin(), names.end());
            for (const std::string& name : names)
                if (std::find(out.begin(), out.end(), name) == out.end()) out.push_back(name);
        }
    return out;
}

fs::path find_scenario(const std::string& name) {
    std::string names;
    for (const std::string& one : scenario_names()) names += (names.empty() ? "" : ", ") + one;
    return find(name, {"drills", "cases"}, ".json", "one of " + names + ", or a path");
}

fs::path find_script(const std::string& name) {
    return find(name, {"scripts"}, ".script", "the name of a shipped script, or a path");
}

fs::path find_rubric(const std::string& name) {
    return find(name, {"rubrics"}, ".json", "the name of a shipped rubric, or a path");
}

fs::path find_rubric_for(const fs::path& scenario, const std::string& name) {
    const fs::path beside = fs::absolute(scenario).parent_path().parent_path() / "rubrics" / (name + ".json");
    std::error_code ignored;
    return name.find('/') == std::string::npos && fs::exists(beside, ignored) ? beside : find_rubric(name);
}

fs::path own_scenarios_folder() { return user_folder("XDG_DATA_HOME", ".local/share") / "scenarios"; }

fs::path all_learners_folder() { return made_private(user_folder("XDG_DATA_HOME", ".local/share")); }

void use_folders_of(const std::string& learner_id) {
    learner_folder() = learner_id.empty() ? "" : "learners/" + learner_id;
}

fs::path user_data_folder() {
    const fs::path all = all_learners_folder();
    return learner_folder().empty() ? all : made_private(all / learner_folder());
}

fs::path user_cache_folder() { return user_folder("XDG_CACHE_HOME", ".cache"); }

fs::path user_config_folder() {
    const fs::path all = user_folder("XDG_CONFIG_HOME", ".config");
    return learner_folder().empty() ? all : all / learner_folder();
}

fs::path ledger_path() { return user_data_folder() / "finished.jsonl"; }

}  // namespace files
