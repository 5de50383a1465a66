#include "engine/session/publishing.hpp"

#include <catch2/catch.hpp>

#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "tests/engine/files/files_support.hpp"

using files_test::Environment;
using files_test::Folder;
using files_test::refusal;
using session::Trial;

namespace {

const files::KeyPair kInstructor = files::key_pair_of_seed({4, 2});

std::string shipped(const std::string& name) {
    return files::read_bytes(files::find_script(name), files::kDocumentBytes);
}

/// A case of one's own: hold_the_plane under another name.
std::filesystem::path own_case(const Folder& folder, const std::string& name) {
    static_cast<void>(folder.put("draft/rubrics/one_pass.json",
                                 files::read_bytes(files::find_rubric("one_pass"), files::kDocumentBytes)));
    return folder.put("draft/drills/" + name + ".json",
                      files::read_bytes(files::find_scenario("hold_the_plane"), files::kDocumentBytes));
}

}  // namespace

TEST_CASE("a case is published when capable hands pass and careless ones fail", "[session][publishing]") {
    const Folder folder;
    const Environment home("XDG_DATA_HOME", folder.path().string());
    const auto file = own_case(folder, "mine");
    const session::Prepared prepared = session::prepare(file.string(), std::nullopt, {});
    const std::string capable = shipped("hold_the_plane.capable"), careless = shipped("hold_the_plane.careless");
    const Trial well = session::try_script(prepared, capable, "capable"),
                badly = session::try_script(prepared, careless, "careless");
    CHECK(session::refusals(well, badly).empty());
    CHECK_FALSE(badly.reasons.empty());
    CHECK(session::refusals(well, well).size() == 2);  // it does not fail, and it is the same script
    CHECK(session::refusals(badly, badly).size() == 2);
    Trial half = badly;
    half.verdict = "incomplete";
    CHECK(session::refusals(well, half).size() == 1);

    const auto publication = session::publication_of(prepared, well, badly, kInstructor);
    const auto there = session::publish(file, prepared, publication, capable, careless, kInstructor);
    CHECK(there == files::own_scenarios_folder() / "drills" / "mine.json");
    const auto names = files::scenario_names();
    CHECK(std::find(names.begin(), names.end(), "mine") != names.end());
    CHECK(session::prepare("mine", std::nullopt, {}).loaded.source.hash == prepared.loaded.source.hash);

    const std::string text = files_test::bytes_of(files::own_scenarios_folder() / "published" / "mine.json");
    CHECK(session::parse_publication(text, "p") == publication);
    CHECK(session::changes_since(publication, session::prepare("mine", std::nullopt, {})).empty());
    CHECK(refusal([&] {
              static_cast<void>(session::parse_publication(files_test::replaced(text, "\"pass\"", "\"fail\""), "p"));
          }).place() == "signature");
    CHECK_THROWS_AS(session::parse_publication("{}", "p"), files::FileError);

    // changed after publishing
    files::write_atomically(there, files_test::replaced(prepared.loaded.source.text, "\"title\"", " \"title\""));
    const auto changed = session::changes_since(publication, session::prepare("mine", std::nullopt, {}));
    REQUIRE(changed.size() == 1);
    CHECK_THAT(changed[0], Catch::Contains("the scenario has changed"));
}

TEST_CASE("publishing takes no shipped name and changes no other case's rubric", "[session][publishing]") {
    const Folder folder;
    const Environment home("XDG_DATA_HOME", folder.path().string());
    const auto publish = [&](const std::filesystem::path& file) {
        const session::Prepared prepared = session::prepare(file.string(), std::nullopt, {});
        const auto publication =
            session::publication_of(prepared, {"a", "pass", 1, 1, {}}, {"b", "fail", 0, 1, {"x"}}, kInstructor);
        static_cast<void>(session::publish(file, prepared, publication, "wait 1 s", "wait 2 s", kInstructor));
    };
    CHECK(refusal([&] { publish(own_case(folder, "first_pass")); }).place() == "name");
    const auto mine = own_case(folder, "mine"), other = own_case(folder, "other");
    publish(mine);
    const auto rubric = folder / "draft/rubrics/one_pass.json";
    files::write_atomically(rubric, files_test::bytes_of(rubric) + " ");
    CHECK_THAT(refusal([&] { publish(other); }).accepted(), Catch::Contains("another name"));
    CHECK_FALSE(std::filesystem::exists(files::own_scenarios_folder() / "drills" / "other.json"));
}
