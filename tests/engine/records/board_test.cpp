#include "engine/records/board.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <chrono>

#include "engine/records/attempt_sql.hpp"
#include "tests/engine/records/records_support.hpp"

using records::BoardRow;
using records::Fault;
using records::Store;
using records_test::Clock;
using records_test::desk;
using records_test::refusal;
using records_test::TestPlace;

namespace {

/// A row as the board reads it, without a file behind it.
struct MadeAttempt {
    std::string learner, scenario = "flat_pass", seed = "1", verdict = "pass", mode = "solo";
    double share = 0.9;
    bool finished = true;
};

class Inserter {
 public:
    Inserter(Store& store, std::size_t content) : store_(store), content_(content, 'x') {}

    std::string put(const MadeAttempt& one) {
        records::AttemptFacts facts;
        facts.id = fmt::format("{:032x}", ++number_);
        facts.content_hash = fmt::format("{:064x}", number_);
        facts.scenario = one.scenario;
        facts.seed = one.seed;
        facts.mode = one.mode;
        facts.finished = one.finished;
        facts.verdict = one.finished ? one.verdict : "";
        facts.points = 80.0 * one.share;
        facts.of = 80.0;
        facts.started_at = fmt::format("2026-03-{:02}T{:02}:{:02}:{:02}Z", 1 + number_ / 86400 % 28,
                                       number_ / 3600 % 24, number_ / 60 % 60, number_ % 60);
        records::insert_attempt(store_.core(), facts, one.learner, content_, facts.started_at);
        return facts.id;
    }

 private:
    Store& store_;
    std::string content_;
    int number_ = 0;
};

const BoardRow& row_of(const records::Board& board, const std::string& learner, const std::string& scenario) {
    for (const BoardRow& row : board.rows)
        if (row.learner == learner && row.scenario == scenario) return row;
    FAIL("no line of " << learner << " at " << scenario);
    throw std::logic_error("unreachable");
}

}  // namespace

TEST_CASE("a board tells of each learner and scenario how they stand", "[records][board]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place(), Clock().options());
    const std::string ada = store.add_learner(desk(), "Ada"), bob = store.add_learner(desk(), "Bob");
    store.add_learner(desk(), "Cleo");
    Inserter in(store, 10);
    in.put({.learner = ada, .seed = "1", .verdict = "fail", .share = 0.5});
    in.put({.learner = ada, .seed = "1", .share = 0.95});  // the same variant again: seen
    in.put({.learner = ada, .seed = "2", .share = 0.85});
    in.put({.learner = ada, .seed = "3", .share = 0.9});
    in.put({.learner = ada, .seed = "9", .mode = "coached", .share = 0.4});  // shown, and no try
    in.put({.learner = ada, .seed = "9", .verdict = "fail", .share = 0.4});
    auto board = records::board(store, desk());
    {
        const BoardRow& row = row_of(board, "Ada", "flat_pass");
        CHECK(row.attempts == 6);
        CHECK(*row.best == Approx(0.95));
        CHECK(*row.last == Approx(0.4));
        CHECK(row.last_verdict == "fail");
        CHECK(row.last_at == "2026-03-01T00:00:06Z");
        CHECK(row.unseen == 3);
        CHECK(row.last_unseen->passed);
        CHECK(row.in_a_row == 2);
        CHECK(!row.ready);
    }
    CHECK(board.no_attempts == std::vector<std::string>{"Bob", "Cleo"});
    in.put({.learner = ada, .seed = "4", .share = 0.82});
    const std::string of_bob = in.put({.learner = bob, .scenario = "other", .finished = false});
    in.put({.learner = bob, .seed = "3"});
    board = records::board(store, desk());
    CHECK(row_of(board, "Ada", "flat_pass").ready);
    CHECK(records::board(store, desk(), "", {4}).rows[0].in_a_row == 3);
    CHECK(!records::board(store, desk(), "", {4}).rows[0].ready);
    const BoardRow& unfinished = row_of(board, "Bob", "other");
    CHECK(unfinished.attempts == 1);
    CHECK(!unfinished.best);
    CHECK(!unfinished.last);
    CHECK(unfinished.last_verdict.empty());
    CHECK(!unfinished.last_unseen->passed);

    // the school's newest pass mark holds
    store.add_pass_mark(desk(), {.scenario = "flat_pass", .mark = 0.5, .reason = "a panel"});
    CHECK(row_of(records::board(store, desk()), "Ada", "flat_pass").ready);
    store.add_pass_mark(desk(), {.scenario = "flat_pass", .mark = 0.83, .reason = "another panel"});
    CHECK(row_of(records::board(store, desk()), "Ada", "flat_pass").in_a_row == 0);

    // a session's learners at its scenarios, and all that they did there
    const std::string session = store.add_session(desk(), "May", {{"other", "", "1"}});
    CHECK(records::board(store, desk(), session).rows.empty());
    store.add_to_session(desk(), session, of_bob, 1);
    in.put({.learner = ada, .scenario = "other"});
    board = records::board(store, desk(), session);
    CHECK(board.rows.size() == 1);
    CHECK(board.rows[0].learner == "Bob");
    CHECK(board.no_attempts.empty());

    // a learner sees their own
    const records::Actor as_bob{"b", records::Role::learner, bob}, nobody{"n", records::Role::learner, ""};
    board = records::board(store, as_bob);
    CHECK(board.rows.size() == 2);
    for (const BoardRow& row : board.rows) CHECK(row.learner_id == bob);
    CHECK(board.no_attempts.empty());
    CHECK(refusal([&] { static_cast<void>(records::board(store, nobody)); }).fault() == Fault::denied);
    CHECK(refusal([&] { static_cast<void>(records::board(store, desk(), "none")); }).fault() == Fault::not_found);
    CHECK(refusal([&] { static_cast<void>(records::board(store, desk(), "", {0})); }).fault() == Fault::bad_input);
}

TEST_CASE("a board of 200 learners, 12 scenarios and 12 000 attempts opens within a second",
          "[.by_hand][records][board]") {
    ON_BOTH_BACK_ENDS();
    Store store = Store::create(place());
    std::vector<std::string> learners;
    for (int i = 0; i < 200; ++i) learners.push_back(store.add_learner(desk(), fmt::format("Learner {:03}", i)));
    Inserter in(store, 20'000);
    store.core().write([&] {
        for (const std::string& learner : learners)
            for (int s = 0; s < 12; ++s)
                for (int k = 0; k < 5; ++k)
                    in.put({.learner = learner, .scenario = fmt::format("scenario_{}", s), .seed = std::to_string(k)});
    });
    for (int i = 0; i < 3; ++i) {
        const auto start = std::chrono::steady_clock::now();
        Store fresh = Store::open(place());
        const auto board = records::board(fresh, desk());
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
        WARN("opened in " << took.count() << " s");
        CHECK(board.rows.size() == 2400);
        CHECK(board.rows[0].ready);
        CHECK(took.count() < 1.0);
    }
}
