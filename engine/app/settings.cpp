#include "engine/app/settings.hpp"

#include <array>
#include <nlohmann/json.hpp>
#include <string_view>
#include <system_error>

#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/places.hpp"
#include "engine/language/language.hpp"

namespace app {

namespace {

constexpr std::int64_t kSettingsSchema = 1;
constexpr std::uint64_t kSettingsBytes = 64 << 10;
constexpr std::array<std::string_view, 2> kAdvance{"hold", "toggle"};

template <class Enum, std::size_t N>
Enum one_of_or(files::JsonObject& object, std::string_view key, const std::array<std::string_view, N>& words,
               Enum otherwise) {
    const auto value = object.find(key);
    return value ? static_cast<Enum>(value->one_of(words)) : otherwise;
}

std::string key_of(const view::StructureKindName& kind) { return std::string("show_") + kind.key; }

}  // namespace

std::filesystem::path settings_file() { return files::user_config_folder() / "settings.json"; }

Settings parse_settings(const std::string& text, const std::string& file) {
    const files::JsonDocument document = files::JsonDocument::parse(file, text);
    files::JsonObject object = document.root_object(kSettingsSchema);
    Settings out;
    const auto percent = [&object](std::string_view key, int low, int high, int otherwise) {
        return static_cast<int>(object.integer_or(key, low, high, otherwise));
    };
    out.text_percent = percent("text_percent", 100, 200, out.text_percent);
    out.left_handed = object.boolean_or("left_handed", out.left_handed);
    out.sensitivity_percent = percent("sensitivity_percent", 25, 400, out.sensitivity_percent);
    out.invert = object.boolean_or("invert", out.invert);
    out.advance = one_of_or(object, "advance", kAdvance, out.advance);
    out.reduced_motion = object.boolean_or("reduced_motion", out.reduced_motion);
    out.volume_percent = percent("volume_percent", 0, 100, out.volume_percent);
    out.captions = object.boolean_or("captions", out.captions);
    if (const auto value = object.find("language"))
        out.language = language::kChoices[value->one_of(language::kChoices)];
    out.mode = one_of_or(object, "mode", sim::kPracticeModes, out.mode);
    for (const view::StructureKindName& kind : view::kStructureKinds)
        out.kinds.*kind.shown = object.boolean_or(key_of(kind), out.kinds.*kind.shown);
    object.refuse_unknown();
    return out;
}

std::string settings_text(const Settings& settings) {
    nlohmann::ordered_json json{{"schema_version", kSettingsSchema},
                                {"text_percent", settings.text_percent},
                                {"left_handed", settings.left_handed},
                                {"sensitivity_percent", settings.sensitivity_percent},
                                {"invert", settings.invert},
                                {"advance", kAdvance[static_cast<std::size_t>(settings.advance)]},
                                {"reduced_motion", settings.reduced_motion},
                                {"volume_percent", settings.volume_percent},
                                {"captions", settings.captions},
                                {"language", settings.language},
                                {"mode", sim::name_of(settings.mode)}};
    for (const view::StructureKindName& kind : view::kStructureKinds) json[key_of(kind)] = settings.kinds.*kind.shown;
    return json.dump(2) + "\n";
}

SettingsKeeper::SettingsKeeper(std::filesystem::path file) : file_(std::move(file)) {
    std::error_code error;
    const bool there = std::filesystem::exists(std::filesystem::symlink_status(file_, error));
    const bool absent = !error || error == std::errc::no_such_file_or_directory || error == std::errc::not_a_directory;
    if (!there && absent) return;
    try {
        now_ = parse_settings(files::read_bytes(file_, kSettingsBytes), file_.string());
    } catch (const std::exception& problem) {
        refused_ = true;
        trouble_ = std::string(problem.what()) + ". Usual settings are in use; the file is left as it is.";
    }
}

void SettingsKeeper::change(const Settings& to) {
    if (to == now_) return;
    now_ = to;
    if (!refused_) write();
}

void SettingsKeeper::replace() {
    refused_ = false;
    write();
}

void SettingsKeeper::write() {
    try {
        std::error_code error;
        std::filesystem::create_directories(file_.parent_path(), error);
        if (error)
            throw files::FileError(file_.parent_path().string(), "", error.message(), "a folder that can be written");
        files::write_atomically(file_, settings_text(now_), 0600);
        trouble_.clear();
    } catch (const std::exception& problem) {
        trouble_ = std::string(problem.what()) + ". Settings hold until the program ends.";
    }
}

}  // namespace app
