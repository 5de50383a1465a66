#include "engine/records/store.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>

#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"
#include "tests/engine/records/records_support.hpp"

using Catch::Matchers::Contains;
using records::Fault;
using records::Kept;
using records::Role;
using records::Store;
using records_test::AttemptMaker;
using records_test::Clock;
using records_test::desk;
using records_test::fingerprint;
using records_test::refusal;

TEST_CASE("attempts are kept byte for byte, once each, with what their file says", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada Ümlaut");
    const std::string bytes = AttemptMaker{}.bytes();

    const auto unknown = refusal([&] { store.put_attempt(desk(), bytes, "a.attempt"); });
    CHECK(unknown.fault() == Fault::not_found);
    CHECK_THAT(unknown.what(), Contains("a.attempt") && Contains(fingerprint(1)));

    const auto put = store.put_attempt(desk(), bytes, "a.attempt", ada);
    CHECK(put.kept == Kept::kept);
    CHECK(put.learner_id == ada);
    CHECK(store.put_attempt(desk(), bytes, "again.attempt").kept == Kept::already);
    CHECK(store.attempt_bytes(desk(), put.attempt_id) == bytes);

    const auto rows = store.attempts(desk(), {});
    REQUIRE(rows.size() == 1);
    const records::AttemptFacts& facts = rows[0].facts;
    CHECK(facts.content_hash == files::hex(files::sha256(bytes)));
    CHECK(facts.learner_key == fingerprint(1));
    CHECK(facts.scenario == "flat_pass");
    CHECK(facts.scenario_hash == files::hex(files::sha256(records_test::scenario_text())));
    CHECK(facts.mode == "solo");
    CHECK(facts.seed == "3");
    CHECK(facts.devices == "mouse");
    CHECK(facts.started_at == "2026-03-01T10:15:00Z");
    CHECK(facts.finished);
    CHECK(facts.scoring_version == sim::kScoringVersion);
    CHECK(rows[0].added_at == "2027-01-15T08:00:00Z");

    // what scoring says of the same recording
    const auto loaded = files::read_attempt_bytes(bytes, "a");
    const auto rubric = files::source_text("one_pass", loaded.header.rubric.text);
    CHECK(facts.rubric_hash == rubric.hash);
    CHECK(facts.of > 0.0);
    double points = 0.0, of = 0.0;
    for (const auto& heading : facts.headings) {
        points += heading.points;
        of += heading.of;
    }
    CHECK(points == Approx(facts.points).margin(1e-9));
    CHECK(of == Approx(facts.of).margin(1e-9));

    // the same after closing
    Store again = Store::open(place(), Clock().options());
    CHECK(again.attempt_bytes(desk(), put.attempt_id) == bytes);
    CHECK(again.check(desk()).faults.empty());
    CHECK(again.kind() == (back_end == records_test::TestPlace::Kind::sqlite ? records::Place::Kind::sqlite
                                                                             : records::Place::Kind::postgres));
}

TEST_CASE("an attempt that went on takes the place of its unfinished part", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada");
    const std::string id(32, 'a');
    const std::string whole = AttemptMaker{.id = id}.bytes();
    // the signed end is the last line
    const std::string part = whole.substr(0, whole.rfind('\n', whole.size() - 2) + 1);
    const std::string torn = part + "{\"seq\":2,\"to";

    CHECK(store.put_attempt(desk(), torn, "torn", ada).kept == Kept::kept);
    CHECK(store.attempt(desk(), id).facts.verdict.empty());
    CHECK_FALSE(store.attempt(desk(), id).facts.finished);
    CHECK(store.put_attempt(desk(), whole, "whole").kept == Kept::grew);
    CHECK(store.attempt(desk(), id).facts.finished);
    CHECK(store.put_attempt(desk(), part, "part").kept == Kept::already);
    CHECK(store.attempt_bytes(desk(), id) == whole);

    const auto other = refusal([&] { store.put_attempt(desk(), AttemptMaker{.seed = 9, .id = id}.bytes(), "other"); });
    CHECK(other.fault() == Fault::conflict);
    CHECK(store.attempt_bytes(desk(), id) == whole);
    CHECK(store.check(desk()).faults.empty());
}

TEST_CASE("what is no intact attempt is refused by name", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada");
    const std::string bytes = AttemptMaker{}.bytes();
    std::string changed = bytes;
    changed[changed.find("\"to\":") + 5] ^= 1;
    for (const std::string& bad : {std::string(), std::string("x"), std::string("{}\n"), changed}) {
        const auto error = refusal([&] { store.put_attempt(desk(), bad, "bad.attempt", ada); });
        CHECK(error.fault() == Fault::bad_input);
        CHECK_THAT(error.what(), Contains("bad.attempt"));
    }
    const auto when =
        refusal([&] { store.put_attempt(desk(), AttemptMaker{.started_at = "yesterday"}.bytes(), "w", ada); });
    CHECK_THAT(when.what(), Contains("started_at"));
    CHECK(store.attempts(desk(), {}).empty());

    // a key is one learner's
    const std::string bob = store.add_learner(desk(), "Bob");
    store.put_attempt(desk(), bytes, "a", ada);
    CHECK(refusal([&] { store.put_attempt(desk(), AttemptMaker{.seed = 4}.bytes(), "b", bob); }).fault() ==
          Fault::conflict);
    CHECK(refusal([&] { store.add_key(desk(), bob, fingerprint(1)); }).fault() == Fault::conflict);
    CHECK(refusal([&] { store.add_key(desk(), bob, "12"); }).fault() == Fault::bad_input);
    CHECK(refusal([&] { store.add_key(desk(), "nobody", fingerprint(2)); }).fault() == Fault::not_found);
    for (const std::string& name : {std::string(), std::string("a\nb"), std::string("\xff"), std::string(201, 'x')})
        CHECK(refusal([&] { store.add_learner(desk(), name); }).fault() == Fault::bad_input);
}

TEST_CASE("learners are found by id or by a name that is one learner's", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada"), bob = store.add_learner(desk(), "Bob");
    store.add_learner(desk(), "Bob");
    store.add_key(desk(), ada, fingerprint(1));
    store.add_key(desk(), ada, fingerprint(2));
    store.add_key(desk(), ada, fingerprint(2));
    CHECK(store.learner(desk(), "Ada").id == ada);
    CHECK(store.learner(desk(), ada).keys.size() == 2);
    CHECK(store.learner(desk(), bob).name == "Bob");
    CHECK(refusal([&] { static_cast<void>(store.learner(desk(), "Bob")); }).fault() == Fault::conflict);
    CHECK(refusal([&] { static_cast<void>(store.learner(desk(), "Eve")); }).fault() == Fault::not_found);
    CHECK(store.learners(desk()).size() == 3);
    // RFC 4122: version 4, variant 10
    CHECK(ada.size() == 36);
    CHECK(ada[14] == '4');
    CHECK(std::string("89ab").find(ada[19]) != std::string::npos);
}

TEST_CASE("a learner sees and does what is theirs and nothing else", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada"), bob = store.add_learner(desk(), "Bob");
    const auto of_ada = store.put_attempt(desk(), AttemptMaker{.who = 1}.bytes(), "a", ada).attempt_id;
    const auto of_bob = store.put_attempt(desk(), AttemptMaker{.who = 2}.bytes(), "b", bob).attempt_id;
    store.add_account(desk(), "ada", Role::learner, ada, "correct horse battery");
    const records::Actor actor = store.log_in("ada", "correct horse battery");
    CHECK(actor.role == Role::learner);

    REQUIRE(store.attempts(actor, {}).size() == 1);
    CHECK(store.attempts(actor, {})[0].facts.id == of_ada);
    CHECK(store.attempt_bytes(actor, of_ada).size() > 100);
    CHECK(store.learner(actor, "Ada").id == ada);
    CHECK(store.learners(actor).size() == 1);
    CHECK(store.put_attempt(actor, AttemptMaker{.who = 1, .seed = 7}.bytes(), "c").learner_id == ada);
    CHECK(store.ratings(actor, of_ada).empty());

    const std::vector<std::function<void()>> forbidden{
        [&] { static_cast<void>(store.attempt(actor, of_bob)); },
        [&] { static_cast<void>(store.attempt_bytes(actor, of_bob)); },
        [&] { static_cast<void>(store.attempt(actor, std::string(32, '0'))); },  // as of one that is there
        [&] { static_cast<void>(store.attempts(actor, {.learner_id = bob})); },
        [&] { static_cast<void>(store.ratings(actor, of_bob)); },
        [&] { static_cast<void>(store.learner(actor, "Bob")); },
        [&] { static_cast<void>(store.learner(actor, "Eve")); },
        [&] { store.put_attempt(actor, AttemptMaker{.who = 2, .seed = 7}.bytes(), "d"); },
        [&] { store.put_attempt(actor, AttemptMaker{.who = 3}.bytes(), "e"); },
        [&] { store.put_attempt(actor, AttemptMaker{.who = 3}.bytes(), "e", ada); },  // a key is given by others
        [&] { store.add_learner(actor, "Eve"); },
        [&] { store.add_key(actor, ada, fingerprint(9)); },
        [&] { store.add_account(actor, "eve", Role::lead, "", "correct horse battery"); },
        [&] { static_cast<void>(store.accounts(actor)); },
        [&] { store.set_passphrase(actor, "desk", "correct horse battery"); },
        [&] { store.unlock(actor, "ada"); },
        [&] { store.set_role(actor, "ada", Role::lead); },
        [&] { store.remove_account(actor, "ada"); },
        [&] { store.erase_learner(actor, ada); },
        [&] {
            store.add_session(actor, "S", {{"flat_pass", "", "3"}});
        },
        [&] { static_cast<void>(store.sessions(actor)); },
        [&] { store.add_rating(actor, {.attempt_id = of_ada, .item = "x", .point = 5}); },
        [&] { store.add_pass_mark(actor, {.scenario = "flat_pass", .mark = 0.1, .reason = "r"}); },
        [&] { store.add_work(actor, "regrade", {"a"}); },
        [&] { static_cast<void>(store.claim_work(actor, "regrade", "me", 1, 60)); },
        [&] { static_cast<void>(store.audit(actor)); },
        [&] { static_cast<void>(store.check(actor)); },
    };
    for (std::size_t i = 0; i < forbidden.size(); ++i) {
        INFO("deed " << i);
        CHECK(refusal(forbidden[i]).fault() == Fault::denied);
    }
    // their own pass phrase
    store.set_passphrase(actor, "ada", "another long phrase");
    CHECK(store.log_in("ada", "another long phrase").learner_id == ada);

    store.add_account(desk(), "ines", Role::instructor, "", "correct horse battery");
    const records::Actor instructor = store.log_in("ines", "correct horse battery");
    CHECK(store.attempts(instructor, {}).size() == 3);
    CHECK(refusal([&] { store.erase_learner(instructor, ada); }).fault() == Fault::denied);
    CHECK(refusal([&] { static_cast<void>(store.audit(instructor)); }).fault() == Fault::denied);
    CHECK(store.check(desk()).faults.empty());
}

TEST_CASE("five wrong pass phrases lock an account, each further one for longer", "[records]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    store.add_account(desk(), "ines", Role::instructor, "", "correct horse battery");
    const auto attempt = [&](const char* phrase) { static_cast<void>(store.log_in("ines", phrase)); };
    for (int i = 0; i < 4; ++i) CHECK(refusal([&] { attempt("wrong"); }).fault() == Fault::denied);
    attempt("correct horse battery");  // starts the count anew
    for (int i = 0; i < 5; ++i) CHECK(refusal([&] { attempt("wrong"); }).fault() == Fault::denied);

    const auto locked = refusal([&] { attempt("correct horse battery"); });
    CHECK(locked.fault() == Fault::locked_out);
    CHECK_THAT(locked.what(), Contains("wait 30 s"));
    *clock.now_s += 29;
    CHECK(refusal([&] { attempt("correct horse battery"); }).fault() == Fault::locked_out);
    *clock.now_s += 1;
    CHECK(refusal([&] { attempt("wrong"); }).fault() == Fault::denied);  // the sixth: 60 s
    *clock.now_s += 59;
    CHECK(refusal([&] { attempt("correct horse battery"); }).fault() == Fault::locked_out);
    *clock.now_s += 1;
    attempt("correct horse battery");

    // 30 s doubled at each try, and never beyond an hour: the 13th would wait 7680 s
    for (int i = 0; i < 13; ++i) {
        CHECK(refusal([&] { attempt("wrong"); }).fault() == Fault::denied);
        *clock.now_s += 3600;
    }
    CHECK(store.accounts(desk())[0].wrong_tries == 13);
    store.unlock(desk(), "ines");
    attempt("correct horse battery");

    const auto nobody = refusal([&] { static_cast<void>(store.log_in("eve", "wrong")); });
    CHECK(nobody.what() == std::string(refusal([&] { attempt("wrong"); }).what()));  // does not tell who has an account
    CHECK(refusal([&] { store.add_account(desk(), "x", Role::lead, "", "short"); }).fault() == Fault::bad_input);
    CHECK(refusal([&] { store.add_account(desk(), "ines", Role::lead, "", "correct horse battery"); }).fault() ==
          Fault::conflict);
    CHECK(refusal([&] { store.add_account(desk(), "a b", Role::lead, "", "correct horse battery"); }).fault() ==
          Fault::bad_input);
    CHECK(refusal([&] { store.add_account(desk(), "y", Role::learner, "", "correct horse battery"); }).fault() ==
          Fault::bad_input);
    CHECK(refusal([&] { store.set_role(desk(), "ines", Role::learner); }).fault() == Fault::bad_input);
    store.set_role(desk(), "ines", Role::lead);
    CHECK(store.log_in("ines", "correct horse battery").role == Role::lead);
    store.remove_account(desk(), "ines");
    CHECK(store.accounts(desk()).empty());

    // Argon2id, as its text says; no pass phrase, login or name stands in the trail
    store.add_account(desk(), "otto", Role::lead, "", "correct horse battery");
    const auto hash = store.core().run("SELECT pass_hash FROM accounts WHERE login = $1", {std::string("otto")});
    CHECK_THAT(records::text_of(hash[0][0], ""), Catch::Matchers::StartsWith("$argon2id$v=19$"));
    for (const auto& row : store.audit(desk(), 1, 1000))
        for (const char* word : {"ines", "otto", "correct", "wrong\"", "eve"})
            CHECK((row.subject + row.detail).find(word) == std::string::npos);
}

TEST_CASE("a row of the trail that was removed or edited is named", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    for (const char* name : {"Ada", "Bob", "Cem", "Dana"}) store.add_learner(desk(), name);
    const auto faults = [&](const std::string& head = {}) {
        std::string out;
        for (const auto& fault : store.check(desk(), head).faults) out += fault.where + ": " + fault.what + "\n";
        return out;
    };
    const std::string head = store.check(desk()).audit_head;
    CHECK(head.substr(0, 2) == "5:");  // the store made, four learners
    CHECK(faults(head).empty());
    const auto sql = [&](const char* text) { store.core().run(text); };

    sql("UPDATE audit SET subject = 'x' WHERE seq = 3");
    CHECK_THAT(faults(), Contains("audit row 3: edited"));
    CHECK_THAT(faults(), !Contains("row 4: "));
    sql("DELETE FROM audit WHERE seq = 3");
    CHECK(faults() == "audit row 3: removed\n");
    sql("DELETE FROM audit WHERE seq = 5");
    CHECK_THAT(faults(), Contains("audit row 5: removed"));
    sql("UPDATE audit_head SET seq = 4");
    CHECK_THAT(faults(), Contains("audit head"));
    sql("DELETE FROM audit_head");
    CHECK_THAT(faults(), Contains("audit head: removed"));
    CHECK(refusal([&] { store.add_learner(desk(), "Eve"); }).fault() == Fault::damaged);

    // the whole trail written anew, hashes and all: only a head that was written down elsewhere shows it
    sql("INSERT INTO audit_head (one, seq, hash) VALUES (1, 0, "
        "'0000000000000000000000000000000000000000000000000000000000000000')");
    sql("DELETE FROM audit");
    for (int i = 0; i < 5; ++i) store.add_learner(desk(), "Forged");
    CHECK(faults().empty());
    CHECK_THAT(faults(head), Contains("audit row 5: not the one that the given head names"));
    CHECK(refusal([&] { static_cast<void>(store.check(desk(), "5:abc")); }).fault() == Fault::bad_input);
}

TEST_CASE("check names attempts whose file or columns were changed", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada");
    std::vector<std::string> ids;
    for (std::uint64_t i = 0; i < 4; ++i)
        ids.push_back(store.put_attempt(desk(), AttemptMaker{.seed = i}.bytes(), "a", ada).attempt_id);
    REQUIRE(store.check(desk()).faults.empty());
    auto& core = store.core();
    core.run("UPDATE attempts SET points = points + 1, verdict = 'pass!' WHERE id = $1", {ids[0]});
    std::string bytes = store.attempt_bytes(desk(), ids[1]);
    bytes[bytes.find("\"rows\"") + 20] ^= 1;
    core.run("UPDATE attempts SET content = $2 WHERE id = $1", {ids[1], records::Blob{bytes}});
    core.run("DELETE FROM attempt_headings WHERE attempt_id = $1 AND heading = 'plane_accuracy'", {ids[2]});
    ids.push_back(store.put_attempt(desk(), AttemptMaker{.seed = 9}.bytes(), "a").attempt_id);
    core.run("DELETE FROM attempts WHERE id = $1", {ids[4]});
    core.run("DELETE FROM learner_keys");

    std::map<std::string, std::string> by_attempt;
    for (const auto& fault : store.check(desk()).faults) by_attempt[fault.where] += fault.what + "\n";
    CHECK_THAT(by_attempt["attempt " + ids[0]],
               Contains("column points is") && Contains("column verdict is \"pass!\""));
    CHECK_THAT(by_attempt["attempt " + ids[1]], Contains("not intact"));
    CHECK_THAT(by_attempt["attempt " + ids[2]], Contains("the heading plane_accuracy is missing"));
    CHECK_THAT(by_attempt["attempt " + ids[1]], Contains("not the file") || Contains("not intact"));
    CHECK_THAT(by_attempt["attempt " + ids[4]], Contains("removed: the trail says"));
    CHECK(by_attempt["attempt " + ids[3]] == "its learner does not have the key that signed it\n");
}

TEST_CASE("sessions, ratings, pass marks and shared work are kept", "[records]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    const std::string ada = store.add_learner(desk(), "Ada");
    const std::string id = store.put_attempt(desk(), AttemptMaker{}.bytes(), "a", ada).attempt_id;

    const std::string session =
        store.add_session(desk(), "March", {{"flat_pass", "h", "3"}, {"flat_pass", "h", "18446744073709551615"}});
    store.add_to_session(desk(), session, id, 1);
    store.add_to_session(desk(), session, id, 1);
    CHECK(refusal([&] { store.add_to_session(desk(), session, id, 2); }).fault() == Fault::conflict);  // another seed
    CHECK(refusal([&] { store.add_to_session(desk(), session, id, 3); }).fault() == Fault::not_found);
    REQUIRE(store.sessions(desk()).size() == 1);
    CHECK(store.sessions(desk())[0].scenarios[1].seed == "18446744073709551615");
    // one that was issued elsewhere keeps its id, and comes once
    const std::string issued(32, 'a');
    CHECK(store.add_session(desk(), "May", {{"flat_pass", "h", "3"}}, issued) == issued);
    CHECK(store.add_session(desk(), "May", {{"flat_pass", "h", "3"}}, issued) == issued);
    CHECK(store.sessions(desk()).size() == 2);
    CHECK(refusal([&] {
              store.add_session(desk(), "May", {{"flat_pass", "h", "4"}}, issued);
          }).fault() == Fault::conflict);
    CHECK(refusal([&] {
              store.add_session(desk(), "May", {{"flat_pass", "h", "3"}}, "May");
          }).fault() == Fault::bad_input);
    CHECK(refusal([&] {
              store.add_session(desk(), "x", {{"s", "", "18446744073709551616"}});
          }).fault() == Fault::bad_input);
    CHECK(refusal([&] { store.add_session(desk(), "x", {}); }).fault() == Fault::bad_input);

    store.add_rating(
        desk(),
        {.attempt_id = id, .item = "respect for tissue", .point = 4, .moment_s = 12.5, .comment = "a plunge here"});
    const auto ratings = store.ratings(desk(), id);
    REQUIRE(ratings.size() == 1);
    CHECK(ratings[0].point == 4);
    CHECK(ratings[0].moment_s == 12.5);
    for (const records::Rating& bad :
         {records::Rating{.attempt_id = id, .item = "x", .point = 6},
          records::Rating{.attempt_id = id, .item = "x", .point = 0}, records::Rating{.attempt_id = id, .item = "x"},
          records::Rating{.attempt_id = id, .item = "x", .point = 1, .moment_s = -1.0},
          records::Rating{
              .attempt_id = id, .item = "x", .point = 1, .moment_s = std::numeric_limits<double>::quiet_NaN()}})
        CHECK(refusal([&] { store.add_rating(desk(), bad); }).fault() == Fault::bad_input);
    CHECK(refusal([&] { store.add_rating(desk(), {.attempt_id = "z", .item = "x", .point = 1}); }).fault() ==
          Fault::not_found);

    CHECK(store.add_pass_mark(desk(), {.scenario = "flat_pass", .mark = 0.75, .reason = "a panel of three"}).version ==
          1);
    CHECK(store.add_pass_mark(desk(), {.scenario = "flat_pass", .mark = 0.7, .reason = "after a year"}).version == 2);
    CHECK(store.pass_marks(desk()).size() == 2);
    CHECK(refusal([&] { store.add_pass_mark(desk(), {.scenario = "f", .mark = 1.1, .reason = "r"}); }).fault() ==
          Fault::bad_input);
    CHECK(refusal([&] { store.add_pass_mark(desk(), {.scenario = "f", .mark = 0.5, .reason = ""}); }).fault() ==
          Fault::bad_input);

    CHECK(store.add_work(desk(), "regrade", {"a", "b", "c"}) == 3);
    CHECK(store.add_work(desk(), "regrade", {"a", "d"}) == 1);
    Store other = Store::open(place(), clock.options());
    const auto mine = store.claim_work(desk(), "regrade", "one", 3, 60);
    CHECK(mine == std::vector<std::string>{"a", "b", "c"});
    CHECK(other.claim_work(desk(), "regrade", "two", 3, 60) == std::vector<std::string>{"d"});
    store.finish_work(desk(), "regrade", "a", "one", "same");
    store.finish_work(desk(), "regrade", "a", "one", "same");  // said twice
    *clock.now_s += 60;
    CHECK(other.claim_work(desk(), "regrade", "two", 9, 60) ==
          std::vector<std::string>{"b", "c", "d"});  // leases ran out
    CHECK(refusal([&] { store.finish_work(desk(), "regrade", "b", "one", "late"); }).fault() == Fault::conflict);
    for (const char* item : {"b", "c", "d"}) other.finish_work(desk(), "regrade", item, "two", "same");
    CHECK(store.work_left(desk(), "regrade") == 0);
    CHECK(store.check(desk()).faults.empty());
}

TEST_CASE("an erased learner is gone, and the trail says only that it was done", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada Quicksilver"), bob = store.add_learner(desk(), "Bob");
    const std::string of_ada = store.put_attempt(desk(), AttemptMaker{.who = 1}.bytes(), "a", ada).attempt_id;
    const std::string of_bob = store.put_attempt(desk(), AttemptMaker{.who = 2}.bytes(), "b", bob).attempt_id;
    store.add_account(desk(), "adaq", Role::learner, ada, "correct horse battery");
    store.add_rating(desk(), {.attempt_id = of_ada, .item = "x", .point = 5});
    store.add_work(desk(), "regrade", {of_ada, of_bob});

    CHECK(store.erase_learner(desk(), ada) == 1);
    CHECK(refusal([&] { store.erase_learner(desk(), ada); }).fault() == Fault::not_found);
    CHECK(store.learners(desk()).size() == 1);
    CHECK(store.accounts(desk()).empty());
    CHECK(store.attempts(desk(), {}).size() == 1);
    CHECK(store.work_left(desk(), "regrade") == 1);
    for (const records::Table& table : records::tables())
        if (!table.learner_rows.empty())
            CHECK(store.core()
                      .run("SELECT * FROM " + std::string(table.name) + " WHERE " + std::string(table.learner_rows),
                           {ada})
                      .empty());
    CHECK(store.audit(desk()).back().deed == "learner erased");
    CHECK(store.audit(desk()).back().detail == "1 attempts");
    CHECK(store.check(desk()).faults.empty());
    if (back_end == records_test::TestPlace::Kind::sqlite)
        for (const char* ending : {"", "-wal"}) {
            const std::string file = records_test::bytes_of_file(place() + ending);
            CHECK(file.find("Quicksilver") == std::string::npos);
            CHECK(file.find("adaq") == std::string::npos);
            CHECK(file.find(fingerprint(1)) == std::string::npos);
        }
}

TEST_CASE("what stations hand in waits in the store until it is collected", "[records]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada"), session(32, 'a'), other(32, 'b');
    const records::Actor learner{"l", Role::learner, ada}, instructor{"i", Role::instructor, ""};
    std::string bytes = "sealed";
    bytes.push_back('\0');
    bytes += "\xff";
    CHECK(store.put_handed_in(learner, session, bytes));
    CHECK(!store.put_handed_in(instructor, session, bytes));  // the same once more
    CHECK(store.put_handed_in(learner, session, "another"));
    CHECK(store.put_handed_in(learner, other, "elsewhere"));
    CHECK(refusal([&] { store.put_handed_in(learner, "", "x"); }).fault() == Fault::bad_input);
    CHECK(refusal([&] { store.put_handed_in(learner, session, ""); }).fault() == Fault::bad_input);
    CHECK(refusal([&] { static_cast<void>(store.handed_in(learner, session)); }).fault() == Fault::denied);
    CHECK(refusal([&] { store.take_away_handed_in(learner, session); }).fault() == Fault::denied);
    const auto found = store.handed_in(instructor, session);
    REQUIRE(found.size() == 2);
    CHECK(std::any_of(found.begin(), found.end(), [&](const records::HandedIn& one) { return one.bytes == bytes; }));
    CHECK(store.check(desk()).faults.empty());

    store.core().run("UPDATE handed_in SET session_id = $1 WHERE session_id = $2", {session, other});
    store.core().run("UPDATE handed_in SET content = $1 WHERE session_id = $2", {records::Blob{"changed"}, session});
    const auto faults = store.check(desk()).faults;
    CHECK(faults.size() == 3);
    CHECK(faults.front().where.rfind("handed in ", 0) == 0);

    CHECK(store.take_away_handed_in(instructor, session) == 3);
    CHECK(store.take_away_handed_in(instructor, session) == 0);
    CHECK(store.handed_in(instructor, session).empty());
    CHECK(store.check(desk()).faults.empty());
    CHECK(store.audit(desk()).back().deed == "handed in, taken away");
}
