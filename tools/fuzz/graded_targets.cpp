#include <filesystem>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/graded/graded_return.hpp"
#include "engine/graded/rating.hpp"
#include "tools/fuzz/mutate.hpp"

namespace fuzz {

namespace {

const files::KeyPair kKey = files::key_pair_of_seed({7});

std::string plan_text() {
    const std::string key = files::hex(kKey.public_key);
    return R"({"schema_version": 1, "title": "A session", "opens_at": "2026-03-01T08:00:00Z",
 "closes_at": "2026-03-01T18:00:00Z", "minutes": 20, "anatomy": "matched", "scenarios": ["first_pass"],
 "learners": [{"name": "L01", "keys": [")" +
           key + R"("]}], "stations": [{"name": "Room 1", "keys": [")" + key + R"("]}]})";
}

graded::Session session(const std::filesystem::path& scenarios) {
    graded::Form form{files::load_source(scenarios / "drills/first_pass.json"),
                      files::load_source(scenarios / "rubrics/one_pass.json"), std::nullopt};
    return graded::issue(
        graded::parse_plan(plan_text(), "plan"), {form}, [](std::size_t, std::size_t) { return 3; }, kKey);
}

std::string journal_text(const std::string& session_id) {
    const auto path = std::filesystem::temp_directory_path() / ("planekeeper_fuzz_" + files::random_id());
    graded::JournalWriter journal(path, session_id, kKey);
    for (const graded::StationDeed deed : {graded::StationDeed::opened, graded::StationDeed::started})
        journal.note(deed, session_id, "", {1'780'000'000, 100.0, "boot"});
    std::string text = files::read_bytes(path, files::kDocumentBytes);
    std::filesystem::remove(path);
    return text;
}

}  // namespace

std::vector<Target> graded_targets(const std::string& scenarios) {
    const graded::Session issued = session(scenarios);
    const std::string text = graded::session_text(issued, kKey), journal = journal_text(issued.id);
    const graded::Return content{
        issued.id, kKey.public_key, journal, {{issued.slots[0].id, "no attempt", "fail", 1.0}}};
    const auto judge = [issued](const std::string& bytes) {
        graded::Collected collected;
        graded::Return in{issued.id, kKey.public_key, bytes, {{issued.slots[0].id, bytes, "fail", 1.0}}};
        static_cast<void>(graded::judge(issued, in, collected));
    };
    return {
        {"plan", {plan_text()}, [](const std::string& b) { static_cast<void>(graded::parse_plan(b, "x")); }},
        {"session", {text}, [](const std::string& b) { static_cast<void>(graded::parse_session(b, "x")); }, true},
        {"bundle",
         {graded::bundle_text(text, kKey.public_key)},
         [](const std::string& b) { static_cast<void>(graded::open_bundle(b, "x", kKey)); },
         true},
        {"journal",
         {journal},
         [](const std::string& b) { static_cast<void>(graded::clock_problems(graded::read_journal(b, "x"))); }},
        {"return",
         {graded::return_text(content, kKey.public_key, kKey)},
         [](const std::string& b) { static_cast<void>(graded::open_return(b, "x", kKey)); },
         true},
        {"handed in", {journal}, judge, false, true},
        {"rating sheet",
         {graded::text_of(graded::RatingSheet{"R-1", "A", std::string(64, 'a'), {{"plan", 3}}, {{1.5, "words"}}})},
         [](const std::string& b) { static_cast<void>(graded::parse_rating_sheet(b, "x")); }},
        {"rating task",
         {graded::text_of(graded::RatingTask{"A", {{"R-1", std::string(64, 'a')}}})},
         [](const std::string& b) { static_cast<void>(graded::parse_rating_task(b, "x")); }},
    };
}

}  // namespace fuzz
