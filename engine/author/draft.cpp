#include "engine/author/draft.hpp"

#include <algorithm>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "engine/files/rubric.hpp"

namespace author {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostSteps = 500;  // documents of some ten thousand bytes each
constexpr const char* kFlat = "slab";

Json parsed(const fs::path& file) {
    const std::string text = files::read_bytes(file, files::kDocumentBytes);
    try {
        Json document = Json::parse(text);
        if (!document.is_object()) throw files::FileError(file.string(), "", document.type_name(), "a JSON object");
        return document;
    } catch (const Json::exception& error) {
        throw files::FileError(file.string(), "", error.what(), "JSON");
    }
}

fs::path file_in(const fs::path& folder, const std::string& name, Part part) {
    if (part == Part::patient) return folder / name / "patients" / (name + ".json");
    if (part == Part::rubric) return folder / name / "rubrics" / (name + ".json");
    return folder / name / "cases" / (name + ".json");
}

std::string patient_name(const Json& scenario) {
    const Json::json_pointer at("/patient/name");
    return scenario.contains(at) && scenario.at(at).is_string() ? scenario.at(at).get<std::string>() : "";
}

}  // namespace

std::string name_refused(const std::string& name) {
    const bool good = !name.empty() && name.size() <= 60 && std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
    });
    if (!good) return "accepted: 1 to 60 small letters, digits and _";
    const std::vector<std::string> taken = files::scenario_names();
    if (name == kFlat || std::find(taken.begin(), taken.end(), name) != taken.end()) return "a scenario has this name";
    return "";
}

Draft Draft::begin(const std::string& name, const std::string& like, const fs::path& folder) {
    if (const std::string why = name_refused(name); !why.empty()) throw files::FileError(name, "name", name, why);
    std::error_code ignored;
    if (fs::exists(folder / name, ignored))
        throw files::FileError((folder / name).string(), "", "there already", "a name that is free");
    const fs::path source = files::find_scenario(like);
    const files::LoadedScenario loaded = files::load_scenario(source);
    State state;
    state[index(Part::scenario)] = Json::parse(loaded.source.text);
    state[index(Part::rubric)] = parsed(files::find_rubric_for(source, loaded.scenario.rubric));
    state[index(Part::scenario)]["rubric"] = name;
    if (loaded.patient_source) {
        state[index(Part::patient)] = Json::parse(loaded.patient_source->text);
        state[index(Part::scenario)]["patient"]["name"] = name;
    }
    Draft out(name, folder, std::move(state));
    out.save();
    return out;
}

Draft Draft::open(const std::string& name, const fs::path& folder) {
    State state;
    for (const Part part : kParts) {
        const fs::path file = file_in(folder, name, part);
        if (part == Part::patient && !fs::exists(file)) continue;
        state[index(part)] = parsed(file);
    }
    Draft out(name, folder, std::move(state));
    out.saved_version_ = out.version_;
    return out;
}

std::string Draft::title() const {
    const Json& scenario = document(Part::scenario);
    const auto at = scenario.find("title");
    return at != scenario.end() && at->is_string() ? at->get<std::string>() : name_;
}

bool Draft::there(Part part, const Place& at) const { return document(part).contains(at); }

bool Draft::holds_members(Part part, const Place& at) const {
    return there(part, at) && document(part).at(at).is_structured();
}

void Draft::step() {
    undo_.push_back(now_);
    if (undo_.size() > kMostSteps) undo_.erase(undo_.begin());
    redo_.clear();
    typing_at_.reset();
    ++version_;
}

void Draft::set(Part part, const Place& at, Json value, bool typing) {
    if (!at.empty() && !holds_members(part, at.parent_pointer())) return;
    if (there(part, at) && document(part).at(at) == value) return;
    const std::pair place{part, at};
    if (!typing || typing_at_ != place)
        step();
    else
        ++version_;
    now_[index(part)][at] = std::move(value);
    if (typing) typing_at_ = place;
}

void Draft::remove(Part part, const Place& at) {
    if (at.empty() || !there(part, at)) return;
    step();
    Json& holder = now_[index(part)][at.parent_pointer()];
    if (holder.is_array())
        holder.erase(std::stoul(at.back()));
    else
        holder.erase(at.back());
}

void Draft::append(Part part, const Place& list, Json member) {
    if (there(part, list) ? !document(part).at(list).is_array()
                          : list.empty() || !holds_members(part, list.parent_pointer()))
        return;
    step();
    now_[index(part)][list].push_back(std::move(member));
}

void Draft::duplicate(Part part, const Place& member) {
    if (member.empty() || !there(part, member) || !document(part).at(member.parent_pointer()).is_array()) return;
    step();
    Json& list = now_[index(part)][member.parent_pointer()];
    const Json copy = list.at(std::stoul(member.back()));
    list.insert(list.begin() + static_cast<std::ptrdiff_t>(std::stoul(member.back())) + 1, copy);
}

void Draft::undo() {
    if (undo_.empty()) return;
    redo_.push_back(std::move(now_));
    now_ = std::move(undo_.back());
    undo_.pop_back();
    typing_at_.reset();
    ++version_;
}

void Draft::redo() {
    if (redo_.empty()) return;
    undo_.push_back(std::move(now_));
    now_ = std::move(redo_.back());
    redo_.pop_back();
    typing_at_.reset();
    ++version_;
}

files::SourceText Draft::source(Part part) const { return files::source_text(name_, document(part).dump(1) + "\n"); }

fs::path Draft::file(Part part) const { return file_in(folder_, name_, part); }

std::vector<Trouble> Draft::troubles() const {
    std::vector<Trouble> out;
    const auto read = [&out](Part part, const auto& reader) {
        try {
            reader();
        } catch (const files::FileError& error) {
            out.push_back({part, error.place(), error.value() + " is not accepted; accepted: " + error.accepted()});
        } catch (const std::exception& error) {
            out.push_back({part, "", error.what()});
        }
    };
    if (has(Part::patient))
        read(Part::patient, [&] { static_cast<void>(files::parse_patient(source(Part::patient), name_)); });
    read(Part::rubric, [&] { static_cast<void>(files::parse_rubric(source(Part::rubric), name_)); });
    const std::string asked = patient_name(document(Part::scenario));
    const bool own = asked == name_ && has(Part::patient);
    if (!own && asked != kFlat) {
        const std::string accepted = has(Part::patient) ? name_ + ", or slab" : "slab";
        out.push_back({Part::scenario, "patient.name", asked + " is not accepted; accepted: " + accepted});
    } else if (out.empty() || out.front().part != Part::patient) {
        const auto patient = own ? std::optional(source(Part::patient)) : std::nullopt;
        read(Part::scenario, [&] { static_cast<void>(files::parse_scenario(source(Part::scenario), patient, name_)); });
    }
    return out;
}

void Draft::save() {
    for (const Part part : kParts) {
        if (!has(part)) continue;
        fs::create_directories(file(part).parent_path());
        files::write_atomically(file(part), source(part).text);
    }
    saved_version_ = version_;
}

std::vector<std::string> drafts_in(const fs::path& folder) {
    std::vector<std::string> out;
    std::error_code ignored;
    for (const auto& entry : fs::directory_iterator(folder, ignored)) {
        const std::string name = entry.path().filename().string();
        if (fs::exists(file_in(folder, name, Part::scenario), ignored)) out.push_back(name);
    }
    std::sort(out.begin(), out.end());
    return out;
}

}  // namespace author
