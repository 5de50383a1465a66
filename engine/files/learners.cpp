#include "engine/files/learners.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/places.hpp"

namespace files {

namespace {

constexpr std::int64_t kLearnersSchema = 1;
constexpr std::uint64_t kLearnersBytes = 1 << 16;
constexpr std::string_view kNameAccepted = "1 to 60 bytes of text, no control characters, no spaces at its ends";

std::filesystem::path list_path() { return all_learners_folder() / "learners.json"; }

bool is_name(std::string_view name) {
    if (name.empty() || name.size() > kMostNameBytes || name.front() == ' ' || name.back() == ' ') return false;
    return std::none_of(name.begin(), name.end(),
                        [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
}

bool is_id(std::string_view id) {
    return id.size() <= 6 && std::all_of(id.begin(), id.end(), [](char c) { return c >= '0' && c <= '9'; });
}

Learner read_learner(const JsonValue& value, const std::vector<Learner>& before) {
    JsonObject object(value);
    Learner out{object.at("id").text(6), object.at("name").text(kMostNameBytes)};
    const auto same = [&](auto member) {
        return std::any_of(before.begin(), before.end(),
                           [&](const Learner& one) { return one.*member == out.*member; });
    };
    if (!is_id(out.id) || out.id.empty() != before.empty() || same(&Learner::id))
        object.at("id").refuse("\"\" for the first learner, another number for each further one");
    if (!is_name(out.name) || same(&Learner::name))
        object.at("name").refuse(std::string(kNameAccepted) + ", not given twice");
    object.refuse_unknown();
    return out;
}

}  // namespace

std::vector<Learner> read_learners(const std::filesystem::path& list, std::string* now_id) {
    const JsonDocument document = JsonDocument::load(list, kLearnersBytes);
    JsonObject object = document.root_object(kLearnersSchema);
    std::vector<Learner> read;
    for (const JsonValue& value : object.at("learners").array(1, kMostLearners))
        read.push_back(read_learner(value, read));
    const std::string now = object.at("now").text(6);
    if (std::none_of(read.begin(), read.end(), [&](const Learner& one) { return one.id == now; }))
        object.at("now").refuse("the id of one of the learners");
    object.refuse_unknown();
    if (now_id != nullptr) *now_id = now;
    return read;
}

LearnerList::LearnerList() : all_{{"", "Learner 1"}} {
    std::error_code ignored;
    if (std::filesystem::exists(list_path(), ignored)) try {
            std::string now;
            all_ = read_learners(list_path(), &now);
            const auto at = std::find_if(all_.begin(), all_.end(), [&](const Learner& one) { return one.id == now; });
            now_ = static_cast<std::size_t>(at - all_.begin());
        } catch (const std::exception& error) {
            trouble_ =
                std::string(error.what()) + ". The first learner's records are in use; the file is left as it is.";
        }
    use_folders_of(now().id);
}

std::string LearnerList::refusal(std::string_view name) const {
    if (!is_name(name)) return fmt::format("Accepted: {}.", kNameAccepted);
    if (std::any_of(all_.begin(), all_.end(), [&](const Learner& one) { return one.name == name; }))
        return "There is a learner of this name.";
    return all_.size() < kMostLearners ? "" : fmt::format("There are {} learners already.", kMostLearners);
}

void LearnerList::add(const std::string& name) {
    if (const std::string why = refusal(name); !why.empty())
        throw FileError(list_path().string(), "learners", name, why);
    int free = 2;
    for (const Learner& one : all_)
        if (!one.id.empty()) free = std::max(free, std::stoi(one.id) + 1);
    all_.push_back({std::to_string(free), name});
    now_ = all_.size() - 1;
    use_folders_of(now().id);
    write();
}

void LearnerList::rename_now(const std::string& name) {
    if (name == now().name) return;
    if (const std::string why = refusal(name); !why.empty())
        throw FileError(list_path().string(), "learners", name, why);
    all_[now_].name = name;
    write();
}

void LearnerList::work_as(const std::string& id) {
    const auto at = std::find_if(all_.begin(), all_.end(), [&](const Learner& one) { return one.id == id; });
    if (at == all_.end()) throw FileError(list_path().string(), "learners", id, "the id of one of the learners");
    now_ = static_cast<std::size_t>(at - all_.begin());
    use_folders_of(id);
    write();
}

void LearnerList::write() const {
    if (!trouble_.empty()) throw FileError(list_path().string(), "", trouble_, "a list that this program can read");
    nlohmann::ordered_json learners = nlohmann::ordered_json::array();
    for (const Learner& one : all_) learners.push_back({{"id", one.id}, {"name", one.name}});
    const nlohmann::ordered_json json{{"schema_version", kLearnersSchema}, {"now", now().id}, {"learners", learners}};
    write_atomically(list_path(), json.dump(2) + "\n", 0600);
}

}  // namespace files
