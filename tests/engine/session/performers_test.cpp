#include <catch2/catch.hpp>

#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/performers.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/anatomy/structures.hpp"
#include "tests/support/heads.hpp"

/// Scripted performers, and what must not change a score: the side, and a pause.

namespace {

using session::Flaw;

sim::Score score_of(const session::Prepared& prepared, const session::Performer& performer) {
    return sim::score(session::perform(prepared.model, performer).recording, prepared.rubric.rubric);
}

session::Performer with(Flaw flaw, double much) {
    session::Performer performer;
    performer.flaw[static_cast<std::size_t>(flaw)] = much;
    return performer;
}

double lost_in(const sim::Score& good, const sim::Score& flawed, sim::Heading heading) {
    const auto at = static_cast<std::size_t>(heading);
    return good.heading_points[at] - flawed.heading_points[at];
}

sim::Score play(std::shared_ptr<const sim::Model> model, std::span<const files::TimedCommand> commands,
                std::int64_t steps, const sim::Rubric& rubric) {
    session::Session session(std::move(model), {sim::PracticeMode::solo, nullptr, nullptr});
    session::play_commands(session, commands, steps + 250);
    REQUIRE(session.finished());
    return sim::score(session.recording(), rubric);
}

/// The other side of everything: x and all turns about an upright axis change their sign.
sim::Vec3 mirrored(const sim::Vec3& place_m) { return {-place_m.x, place_m.y, place_m.z}; }

sim::Command mirrored(sim::Command command) {
    switch (command.verb) {
        case sim::Verb::entry:
        case sim::Verb::touch:
        case sim::Verb::aim:
            command.value[0] = -command.value[0];
            break;
        case sim::Verb::grip:
            command.value[1] = -command.value[1];
            break;
        default:
            break;
    }
    return command;
}

/// The same on both sides, with the commonest course of everything.
sim::HeadParameters even_head() {
    sim::HeadParameters head = support::patients()[0].head;
    head.laxity_right = head.laxity_left;
    head.nasolabial_right = head.nasolabial_left;
    head.marionette_right = head.marionette_left;
    head.jowl_right = head.jowl_left;
    head.tear_trough_right = head.tear_trough_left;
    head.submental_right = head.submental_left;
    head.asymmetry = 0.0;
    return head;
}

}  // namespace

TEST_CASE("a tremor costs plane accuracy, the more the larger it is", "[session][performers]") {
    const session::Prepared prepared = session::prepare("single_vector", std::nullopt, {});
    const sim::Score good = score_of(prepared, {});
    CHECK(good.verdict == sim::Verdict::pass);
    const sim::Score some = score_of(prepared, with(Flaw::tremor, 0.5));
    const sim::Score much = score_of(prepared, with(Flaw::tremor, 1.0));
    CHECK(much.total_points < good.total_points - 0.5);
    CHECK(much.total_points <= some.total_points);
    CHECK(lost_in(good, much, sim::Heading::plane_accuracy) > 0.7 * (good.total_points - much.total_points));
}

TEST_CASE("the same performer makes the same script", "[session][performers]") {
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const session::Performer shaking = with(Flaw::tremor, 0.6);
    CHECK(session::perform(prepared.model, shaking).script == session::perform(prepared.model, shaking).script);
}

TEST_CASE("a pause changes no point", "[session][scoring]") {
    const session::Prepared prepared = session::prepare("hold_the_plane", std::nullopt, {});
    const files::Script script = files::load_script(files::find_script("hold_the_plane.capable"));
    std::vector<files::TimedCommand> paused = script.commands;
    constexpr std::int64_t kPauseSteps = 2500;  // 10 s, in mid-pass
    const std::int64_t half = script.steps / 2;
    for (files::TimedCommand& one : paused)
        if (one.step > half) one.step += kPauseSteps;
    const sim::Score straight = play(prepared.model, script.commands, script.steps, prepared.rubric.rubric);
    const sim::Score with_pause = play(prepared.model, paused, script.steps + kPauseSteps, prepared.rubric.rubric);
    CHECK(with_pause.verdict == straight.verdict);
    CHECK(with_pause.total_points == Approx(straight.total_points).margin(0.05));
}

TEST_CASE("left and right earn the same on a face that is the same on both sides", "[session][scoring][.slow]") {
    const session::Prepared drill = session::prepare("skirt_the_artery", std::nullopt, {});
    const auto left = std::make_shared<sim::Model>(*drill.model);
    const auto tissue = sim::build_head_tissue(even_head(), support::on_two_threads, {});
    sim::Placement placed = sim::place_structures(*tissue, 0);
    left->anatomy = std::make_shared<sim::Head>(tissue, std::move(placed.structures), std::move(placed.ligaments),
                                                std::move(placed.landmarks));
    const auto right = std::make_shared<sim::Model>(*left);
    for (sim::PlannedVector& vector : right->scenario.plan) {
        vector.entry_m = mirrored(vector.entry_m);
        vector.end_m = mirrored(vector.end_m);
        vector.side = sim::Side::right;
    }
    for (const char* name : {"skirt_the_artery.capable", "skirt_the_artery.careless"}) {
        const files::Script script = files::load_script(files::find_script(name));
        std::vector<files::TimedCommand> other = script.commands;
        for (files::TimedCommand& one : other) one.command = mirrored(one.command);
        const sim::Score here = play(left, script.commands, script.steps, drill.rubric.rubric);
        const sim::Score there = play(right, other, script.steps, drill.rubric.rubric);
        INFO(name);
        CHECK(here.verdict == there.verdict);
        CHECK(there.total_points == Approx(here.total_points).margin(0.05));
    }
}
