#include "engine/records/archive.hpp"

#include <sys/resource.h>
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "engine/files/crypto.hpp"
#include "engine/files/csv.hpp"
#include "engine/records/csv_tables.hpp"
#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"
#include "tests/engine/records/records_support.hpp"

using Catch::Matchers::Contains;
using records::Fault;
using records::Role;
using records::Store;
using records_test::AttemptMaker;
using records_test::bytes_of_file;
using records_test::Clock;
using records_test::desk;
using records_test::refusal;
using records_test::TestPlace;

namespace {

/// A school with something in every table.
struct School {
    std::string ada, bob, of_ada, of_bob;

    explicit School(Store& store) {
        ada = store.add_learner(desk(), "Ada \"the\" Ümlaut, \xf0\x9f\xa7\xb5");
        bob = store.add_learner(desk(), "=Bob");
        of_ada = store.put_attempt(desk(), AttemptMaker{.who = 1}.bytes(), "a", ada).attempt_id;
        of_bob = store.put_attempt(desk(), AttemptMaker{.who = 2, .seed = 18446744073709551615U}.bytes(), "b", bob)
                     .attempt_id;
        // a torn last line, as a kill leaves it: bytes that are no text
        const std::string part = AttemptMaker{.who = 2, .seed = 5, .end = false}.bytes() + "{\"seq\":2,\"x\":\"\xc3";
        store.put_attempt(desk(), part, "torn");
        store.add_account(desk(), "ada", Role::learner, ada, "correct horse battery");
        store.add_account(desk(), "ines", Role::lead, "", "correct horse battery");
        const std::string session = store.add_session(desk(), "March", {{"flat_pass", "h", "3"}});
        store.add_to_session(desk(), session, of_ada, 1);
        store.add_rating(
            desk(),
            {.attempt_id = of_ada, .item = "flow", .point = 4, .moment_s = 0.1, .comment = "a \"plunge\", here"});
        store.add_rating(desk(), {.attempt_id = of_bob, .item = "flow", .comment = "-"});
        store.add_pass_mark(desk(), {.scenario = "flat_pass", .mark = 1.0 / 3.0, .reason = "a panel"});
        store.add_work(desk(), "regrade", {of_ada, of_bob});
        store.put_handed_in(desk(), session, "sealed\xff, for the instructor");
        store.core().run(
            "INSERT INTO sent_statements (lrs, statement_id, attempt_id, sent_at) VALUES ('l', 's', $1, 'now')",
            {of_ada});
    }
};

}  // namespace

TEST_CASE("what another installation imports it exports bit for bit, from either back end to either",
          "[records][archive]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const std::string first = place.scratch().path("first.pka");
    const auto written = records::write_archive(store, desk(), first);
    CHECK(written.attempts == 3);
    const auto checked = records::check_archive(first);
    CHECK(checked.sha256 == written.sha256);
    CHECK(checked.rows == written.rows);
    CHECK(refusal([&] { records::write_archive(store, desk(), first); }).fault() == Fault::conflict);

    for (const auto to : {TestPlace::Kind::sqlite, TestPlace::Kind::postgres}) {
        if (to == TestPlace::Kind::postgres && !TestPlace::no_postgres().empty()) continue;
        const TestPlace other(to);
        Store second = Store::create(other(), Clock().options());
        CHECK(records::import_archive(second, desk(), first).rows == written.rows);
        CHECK(second.check(desk()).faults.empty());
        CHECK(second.log_in("ines", "correct horse battery").role == Role::lead);
        CHECK(second.attempt_bytes(desk(), school.of_bob) == store.attempt_bytes(desk(), school.of_bob));
        CHECK(refusal([&] { records::import_archive(second, desk(), first); }).fault() == Fault::conflict);
        // the log-in above wrote to it; a fresh one did not
        const TestPlace fresh(to);
        Store third = Store::create(fresh(), Clock().options());
        records::import_archive(third, desk(), first);
        const std::string again = fresh.scratch().path("again.pka");
        records::write_archive(third, desk(), again);
        CHECK(bytes_of_file(again) == bytes_of_file(first));
    }
    // every line is JSON with a known shape, for whoever reads it without this program
    std::ifstream lines(first);
    std::string line;
    std::map<std::string, int> tables;
    while (std::getline(lines, line)) {
        const auto json = nlohmann::json::parse(line);
        if (json.contains("table")) ++tables[json["table"]];
    }
    CHECK(tables.size() == records::tables().size());
}

TEST_CASE("an archive of before the newest tables is brought in", "[records][archive]") {
    const TestPlace place(TestPlace::Kind::sqlite), fresh(TestPlace::Kind::sqlite);
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const std::string file = place.scratch().path("new.pka"), older = place.scratch().path("old.pka");
    const auto written = records::write_archive(store, desk(), file);
    // as it was written before there was a table of what stations handed in
    std::istringstream lines(bytes_of_file(file));
    std::string text, line;
    while (std::getline(lines, line)) {
        auto json = nlohmann::ordered_json::parse(line);
        if (json.contains("planekeeper_archive")) {
            json["schema"] = 3;
            CHECK(json["tables"].erase("handed_in") == 1);
        } else if (json.contains("end")) {
            json["end"]["rows"] = written.rows - 1;
            json["end"]["sha256"] = files::hex(files::sha256(text));
        } else if (json["table"] == "handed_in") {
            continue;
        }
        text += json.dump() + "\n";
    }
    std::ofstream(older, std::ios::binary) << text;
    Store target = Store::create(fresh(), Clock().options());
    records::import_archive(target, desk(), older);
    CHECK(target.attempt_bytes(desk(), school.of_bob) == store.attempt_bytes(desk(), school.of_bob));
    CHECK(target.check(desk()).faults.empty());
}

TEST_CASE("an archive that is cut, changed or of a later program is refused, and nothing is kept of it",
          "[records][archive]") {
    const TestPlace place(TestPlace::Kind::sqlite);
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const std::string good = place.scratch().path("good.pka");
    records::write_archive(store, desk(), good);
    const std::string whole = bytes_of_file(good);
    const TestPlace other(TestPlace::Kind::sqlite);
    Store target = Store::create(other(), Clock().options());
    const std::string bad = place.scratch().path("bad.pka");
    const auto import = [&](const std::string& bytes) {
        std::ofstream(bad, std::ios::binary) << bytes;
        const auto error = refusal([&] { records::import_archive(target, desk(), bad); });
        CHECK(target.learners(desk()).empty());
        CHECK(target.check(desk()).faults.empty());
        return error;
    };
    for (std::size_t i = 0; i <= 40; ++i) {
        INFO("cut " << i);
        CHECK(import(whole.substr(0, i * (whole.size() - 1) / 40)).fault() == Fault::bad_archive);
    }
    for (std::size_t i = 0; i < 60; ++i) {
        std::string changed = whole;
        char& byte = changed[(i * 7919 * 31) % whole.size()];
        byte = static_cast<char>(byte ^ (1 << (i % 7)));
        INFO("change " << i);
        const auto error = import(changed);
        CHECK((error.fault() == Fault::bad_archive || error.fault() == Fault::newer_schema));
    }
    const auto swapped = [&](const std::string& from, const std::string& to) {
        std::string text = whole;
        REQUIRE(text.find(from) != std::string::npos);
        return text.replace(text.find(from), from.size(), to);
    };
    CHECK(import(swapped("\"planekeeper_archive\":1", "\"planekeeper_archive\":2")).fault() == Fault::newer_schema);
    CHECK(import(swapped("\"schema\":6", "\"schema\":9")).fault() == Fault::newer_schema);
    CHECK_THAT(import(swapped("\"Ada ", "\"Eva ")).what(), Contains("another hash"));
    CHECK_THAT(import(whole + "x").what(), Contains("after the end"));
    CHECK_THAT(import("hello").what(), Contains("line 1"));
    CHECK(refusal([&] { records::import_archive(target, desk(), place.scratch().folder().string()); }).fault() ==
          Fault::bad_archive);
    CHECK(refusal([&] { records::import_archive(target, desk(), "/none"); }).fault() == Fault::bad_archive);
    records::import_archive(target, desk(), good);
}

TEST_CASE("one learner's archive holds all of theirs and nothing of others, and comes in beside what is there",
          "[records][archive]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const std::string file = place.scratch().path("ada.pka");
    const records::Actor ada = store.log_in("ada", "correct horse battery");
    const auto written = records::write_learner_archive(store, ada, school.ada, file);
    CHECK(written.attempts == 1);
    CHECK(refusal([&] { records::write_learner_archive(store, ada, school.bob, file + "2"); }).fault() ==
          Fault::denied);
    CHECK(refusal([&] { records::write_archive(store, ada, file + "2"); }).fault() == Fault::denied);
    CHECK_FALSE(std::filesystem::exists(file + "2"));
    const std::string text = bytes_of_file(file);
    CHECK(text.find(school.bob) == std::string::npos);
    CHECK(text.find(school.of_bob) == std::string::npos);
    CHECK(text.find("argon2") == std::string::npos);

    const TestPlace other(back_end);
    Store second = Store::create(other(), Clock().options());
    const std::string cem = second.add_learner(desk(), "Cem");
    second.put_attempt(desk(), AttemptMaker{.who = 3}.bytes(), "c", cem);
    records::import_archive(second, desk(), file);
    records::import_archive(second, desk(), file);  // twice is once
    CHECK(second.attempts(desk(), {}).size() == 2);
    CHECK(second.attempt_bytes(desk(), school.of_ada) == store.attempt_bytes(desk(), school.of_ada));
    CHECK(second.ratings(desk(), school.of_ada).size() == 1);
    CHECK(second.check(desk()).faults.empty());
    CHECK(refusal([&] { records::restore(second, desk(), file); }).fault() == Fault::bad_archive);

    // here her key is somebody else's
    const TestPlace third_place(back_end);
    Store third = Store::create(third_place(), Clock().options());
    third.add_key(desk(), third.add_learner(desk(), "Eve"), records_test::fingerprint(1));
    CHECK(refusal([&] { records::import_archive(third, desk(), file); }).fault() == Fault::conflict);
    CHECK(third.learners(desk()).size() == 1);
}

TEST_CASE("a back-up made while another process writes is whole, and comes back", "[records][archive]") {
    ON_BOTH_BACK_ENDS();
    constexpr int kWrites = 60;
    {
        Store store = Store::create(place(), Clock().options());
        const std::string ada = store.add_learner(desk(), "Ada");
        store.put_attempt(desk(), AttemptMaker{}.bytes(), "first", ada);
    }
    std::vector<std::string> more;
    for (std::uint64_t i = 100; i < 100 + kWrites; ++i) more.push_back(AttemptMaker{.seed = i}.bytes());
    const pid_t child = fork();
    if (child == 0) {
        try {
            Store store = Store::open(place());
            for (const std::string& bytes : more) store.put_attempt(desk(), bytes, "more");
            _exit(0);
        } catch (...) {
            _exit(1);
        }
    }
    std::vector<std::size_t> sizes;
    {
        Store store = Store::open(place(), Clock().options());
        for (int i = 0; i < 4; ++i) {
            const std::string file = place.scratch().path("backup_" + std::to_string(i));
            records::back_up(store, desk(), place(), file);
            const TestPlace other(back_end);
            Store back = Store::create(other(), Clock().options());
            records::restore(back, desk(), file);
            CHECK(back.check(desk()).faults.empty());
            sizes.push_back(back.attempts(desk(), {}).size());
            CHECK(refusal([&] { records::back_up(store, desk(), place(), file); }).fault() == Fault::conflict);
        }
    }
    int status = -1;
    waitpid(child, &status, 0);
    CHECK(status == 0);
    CHECK(std::is_sorted(sizes.begin(), sizes.end()));
    Store store = Store::open(place(), Clock().options());
    CHECK(store.attempts(desk(), {}).size() == kWrites + 1);
    // a back-up of one back end comes into the other
    if (TestPlace::no_postgres().empty()) {
        const TestPlace other(back_end == TestPlace::Kind::sqlite ? TestPlace::Kind::postgres
                                                                  : TestPlace::Kind::sqlite);
        Store back = Store::create(other(), Clock().options());
        records::restore(back, desk(), place.scratch().path("backup_3"));
        CHECK(back.attempts(desk(), {}).size() == sizes[3]);
        CHECK(back.check(desk()).faults.empty());
    }
    const std::string cut = place.scratch().path("cut");
    std::ofstream(cut, std::ios::binary) << bytes_of_file(place.scratch().path("backup_3")).substr(0, 30'000);
    const TestPlace other(back_end);
    Store back = Store::create(other(), Clock().options());
    const auto error = refusal([&] { records::restore(back, desk(), cut); });
    CHECK((error.fault() == Fault::damaged || error.fault() == Fault::bad_archive));
    CHECK(back.check(desk()).attempts == 0);
}

TEST_CASE("tables are those of RFC 4180, with what each role may see", "[records][csv]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const auto all = records::csv_tables(store, desk(), {});
    REQUIRE(all.size() == 3);
    const auto attempts = files::parse_csv(all.at("attempts.csv"), "attempts.csv");
    REQUIRE(attempts.rows() == 3);
    const auto rows = store.attempts(desk(), {});
    for (std::size_t i = 0; i < rows.size(); ++i) {
        CHECK(attempts.text(i, attempts.column("attempt")) == rows[i].facts.id);
        CHECK(attempts.number(i, attempts.column("points"), 0, 1000) == rows[i].facts.points);
        for (const auto& heading : rows[i].facts.headings)
            CHECK(attempts.number(i, attempts.column(heading.heading), 0, 1000) == heading.points);
    }
    const auto learners = files::parse_csv(all.at("learners.csv"), "learners.csv");
    CHECK(learners.text(0, 1) == "'=Bob");
    CHECK(learners.text(1, 1) == "Ada \"the\" Ümlaut, \xf0\x9f\xa7\xb5");
    const auto ratings = files::parse_csv(all.at("ratings.csv"), "ratings.csv");
    CHECK(ratings.rows() == 2);

    const records::Actor ada = store.log_in("ada", "correct horse battery");
    const auto own = records::csv_tables(store, ada, {});
    CHECK(own.size() == 5);
    for (const auto& [name, text] : own) {
        CHECK(text.find(school.bob) == std::string::npos);
        CHECK(text.find(school.of_bob) == std::string::npos);
    }
    CHECK(files::parse_csv(own.at("attempts.csv"), "a").rows() == 1);
    CHECK(files::parse_csv(own.at("account.csv"), "a").text(0, 1) == "ada");
    CHECK(files::parse_csv(own.at("audit.csv"), "a").rows() >= 4);
    CHECK(refusal([&] { static_cast<void>(records::csv_tables(store, ada, {.learner_id = school.bob})); }).fault() ==
          Fault::denied);
}

TEST_CASE("an archive or a back-up that the disk has no room for leaves nothing behind", "[records][archive]") {
    const TestPlace place(TestPlace::Kind::sqlite);
    Store store = Store::create(place(), Clock().options());
    const School school(store);
    const std::string archive = place.scratch().path("full.pka"), copy = place.scratch().path("full.db");
    const pid_t child = fork();
    if (child == 0) {
        signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{20'000, 20'000};  // no file may grow beyond this: what a full disk answers, without a disk
        setrlimit(RLIMIT_FSIZE, &limit);
        int refused = 0;
        try {
            static_cast<void>(records::write_archive(store, desk(), archive));
        } catch (const records::RecordsError& error) {
            if (error.fault() == Fault::cannot_write) ++refused;
        }
        try {
            records::copy_sqlite(records::place_of(place()), copy);
        } catch (const records::RecordsError& error) {
            if (error.fault() == Fault::cannot_write) ++refused;
        }
        _exit(refused);
    }
    int status = -1;
    waitpid(child, &status, 0);
    CHECK(WEXITSTATUS(status) == 2);
    for (const auto& entry : std::filesystem::directory_iterator(place.scratch().folder()))
        CHECK_FALSE(entry.path().filename().string().starts_with("full"));
    CHECK(store.check(desk()).faults.empty());
}
