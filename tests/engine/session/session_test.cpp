#include "engine/session/session.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <thread>

#include "tests/support/play.hpp"

namespace {

/// A pilot entry and a pass of 30 mm, as a hand would make it.
std::vector<std::vector<sim::Command>> pass_commands() {
    std::vector<std::vector<sim::Command>> steps;
    const auto push = [&](int mm) {
        for (int i = 0; i < std::abs(mm) * 50; ++i) steps.push_back({{sim::Verb::push, {mm < 0 ? -20 : 20}}});
    };
    steps.push_back({{sim::Verb::take, {0}}, {sim::Verb::entry, {0, 0, 0}}, {sim::Verb::aim, {0, 40'000}}});
    push(8);
    push(-10);
    steps.push_back({{sim::Verb::take, {1}}, {sim::Verb::aim, {0, 20'000}}});
    push(30);
    push(-36);
    steps.push_back({{sim::Verb::finish, {}}});
    return steps;
}

sim::Recording play(std::shared_ptr<session::AnswerSource> answers) {
    session::SessionOptions options;
    options.answers = std::move(answers);
    session::Session session(std::make_shared<sim::Model>(support::slab_model()), options);
    for (const auto& commands : pass_commands()) {
        for (const auto& command : commands) session.send(command);
        // simulated time waits for a late answer; so does this loop, without a busy spin
        for (int tries = 0; session.advance(1) == 0 && tries < 10'000; ++tries)
            std::this_thread::sleep_for(std::chrono::microseconds(200));
    }
    REQUIRE(session.finished());
    return session.recording();
}

}  // namespace

TEST_CASE("when answers come does not change what is recorded", "[session]") {
    const sim::Recording inline_run = play(nullptr);
    REQUIRE(inline_run.tracks.size() == 1);
    for (const std::uint64_t disorder : {0u, 1u, 2u}) {
        const sim::Recording worked = play(std::make_shared<session::Worker>(disorder));
        REQUIRE(worked.rows.size() == inline_run.rows.size());
        for (std::size_t i = 0; i < worked.rows.size(); ++i) {
            CHECK(worked.rows[i].step == inline_run.rows[i].step);
            CHECK(worked.rows[i].tip_m == inline_run.rows[i].tip_m);
            CHECK(worked.rows[i].hand_n == inline_run.rows[i].hand_n);
        }
        CHECK(worked.events.size() == inline_run.events.size());
    }
}
