#include "engine/app/settings.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "engine/files/file_error.hpp"

namespace fs = std::filesystem;
using app::Settings;
using app::SettingsKeeper;
using Catch::Matchers::Contains;

namespace {

/// A folder that is gone after the test.
class Folder {
 public:
    Folder() : path_(fs::temp_directory_path() / ("pk_settings_" + std::to_string(::getpid()))) {
        fs::remove_all(path_);
        fs::create_directories(path_);
    }
    ~Folder() { fs::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    [[nodiscard]] const fs::path& path() const { return path_; }

 private:
    fs::path path_;
};

std::string bytes_of(const fs::path& file) {
    std::ifstream in(file);
    std::stringstream out;
    out << in.rdbuf();
    return out.str();
}

Settings unusual() {
    Settings s;
    s.text_percent = 175;
    s.left_handed = s.invert = s.reduced_motion = true;
    s.sensitivity_percent = 50;
    s.advance = app::AdvanceKey::toggle;
    s.volume_percent = 0;
    s.captions = false;
    s.language = "de";
    s.mode = sim::PracticeMode::graded;
    s.kinds = {false, true, false, true, true};
    return s;
}

}  // namespace

TEST_CASE("settings come back as they were written", "[app][settings]") {
    CHECK(app::parse_settings(app::settings_text(unusual()), "settings.json") == unusual());
    CHECK(app::parse_settings("{\"schema_version\": 1}", "settings.json") == Settings{});
}

TEST_CASE("each setting out of its range is refused by name", "[app][settings]") {
    const auto [text, place] = GENERATE(table<std::string, std::string>({
        {R"("text_percent": 99)", "text_percent"},
        {R"("text_percent": 201)", "text_percent"},
        {R"("text_percent": 120.5)", "text_percent"},
        {R"("left_handed": 1)", "left_handed"},
        {R"("sensitivity_percent": 24)", "sensitivity_percent"},
        {R"("sensitivity_percent": 401)", "sensitivity_percent"},
        {R"("invert": "yes")", "invert"},
        {R"("advance": "press")", "advance"},
        {R"("reduced_motion": null)", "reduced_motion"},
        {R"("volume_percent": -1)", "volume_percent"},
        {R"("volume_percent": 101)", "volume_percent"},
        {R"("captions": [])", "captions"},
        {R"("mode": "exam")", "mode"},
        {R"("text_size": 120)", "text_size"},
    }));
    CAPTURE(text);
    CHECK_THROWS_WITH(app::parse_settings("{\"schema_version\": 1, " + text + "}", "settings.json"),
                      Contains("settings.json") && Contains(place) && Contains("accepted"));
}

TEST_CASE("a change is kept on disk and read by the next start", "[app][settings]") {
    const Folder folder;
    const fs::path file = folder.path() / "planekeeper" / "settings.json";
    {
        SettingsKeeper keeper(file);
        CHECK(keeper.now() == Settings{});
        CHECK(keeper.trouble().empty());
        CHECK_FALSE(fs::exists(file));
        keeper.change(unusual());
        CHECK(keeper.trouble().empty());
    }
    CHECK(SettingsKeeper(file).now() == unusual());
}

TEST_CASE("a file that cannot be used is told, left as it is, and replaced only when asked", "[app][settings]") {
    const Folder folder;
    const fs::path file = folder.path() / "settings.json";
    const std::string bad = "{\"schema_version\": 1, \"text_percent\": 900}";
    std::ofstream(file) << bad;
    SettingsKeeper keeper(file);
    CHECK(keeper.file_refused());
    CHECK(keeper.now() == Settings{});
    CHECK_THAT(keeper.trouble(), Contains("text_percent") && Contains("900") && Contains("left as it is"));
    keeper.change(unusual());
    CHECK(keeper.now() == unusual());
    CHECK(bytes_of(file) == bad);
    keeper.replace();
    CHECK(keeper.trouble().empty());
    CHECK(SettingsKeeper(file).now() == unusual());
}

TEST_CASE("settings that cannot be kept hold for this run and say so", "[app][settings]") {
    const Folder folder;
    std::ofstream(folder.path() / "in_the_way") << "a file where a folder would have to be";
    SettingsKeeper keeper(folder.path() / "in_the_way" / "settings.json");
    keeper.change(unusual());
    CHECK(keeper.now() == unusual());
    CHECK_THAT(keeper.trouble(), Contains("in_the_way") && Contains("until the program ends"));
}

TEST_CASE("a folder in the place of the file is told", "[app][settings]") {
    const Folder folder;
    fs::create_directories(folder.path() / "settings.json");
    CHECK(SettingsKeeper(folder.path() / "settings.json").file_refused());
}
