#include "engine/session/live_tissue.hpp"

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <new>
#include <stdexcept>
#include <thread>

#include "sim/anatomy/head.hpp"
#include "sim/core/errors.hpp"
#include "sim/state.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/head_turn.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/read_out.hpp"
#include "sim/tissue/tip_response.hpp"
#include "tests/support/coarse_tissue.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::Contains;
using session::LiveTissue;
using session::Posture;
using session::TissueNotes;
using session::TissueStatus;
using sim::kMm;
using sim::Vec3;

namespace {

std::unique_ptr<sim::fe::TetheredBody> build(const sim::Progress& progress, TissueNotes&) {
    return support::coarse_body(progress);
}

/// Left jowl, on the skin.
Vec3 jowl() { return support::tissue_head()->nearest_skin({0.040, -0.072, 0.058}).position_m; }

session::Followers followers() {
    session::Followers out;
    out.on_skin.push_back({{jowl()}, 25.0 * kMm});
    out.inside.push_back({jowl()});
    out.marks_m.push_back(jowl());
    return out;
}

template <class Done>
bool wait_for(Done done) {
    for (int tries = 0; tries < 60'000; ++tries) {
        if (done()) return true;
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    return false;
}

TissueStatus end_of(const LiveTissue& tissue) {
    REQUIRE(wait_for([&] { return tissue.status().stage != TissueStatus::Stage::building; }));
    return tissue.status();
}

}  // namespace

TEST_CASE("the tissue arrives in the background and settles as it is asked", "[session][tissue]") {
    LiveTissue tissue(build, followers());
    tissue.ask(Posture::lying);  // before it is there: answered when it is
    const TissueStatus ready = end_of(tissue);
    CHECK(ready.stage == TissueStatus::Stage::ready);
    CHECK(ready.fraction == 1.0);
    CHECK(ready.trouble.empty());

    std::shared_ptr<const session::SettledPosture> lying;
    REQUIRE(wait_for([&] { return (lying = tissue.take()) != nullptr; }));
    CHECK(lying->position == Posture::lying);
    // against a body of the test's own
    const auto body = support::coarse_body();
    const Vec3 expected = body->skin_moved_m(body->settle({sim::fe::lying_down(), {}}), jowl());
    CHECK(glm::length(Vec3(lying->on_skin_mm[0][0]) * kMm - expected) < 0.01 * kMm);
    CHECK(glm::length(Vec3(lying->inside_mm[0][0]) * kMm - expected) < 0.2 * kMm);
    CHECK(glm::length(lying->marks_shift_m[0]) > 1.0 * kMm);
    CHECK(lying->marks_shift_m[0].y > 0.0);

    tissue.ask(Posture::lying);
    tissue.ask(Posture::upright);  // the last one counts
    std::shared_ptr<const session::SettledPosture> upright;
    REQUIRE(wait_for([&] { return (upright = tissue.take()) != nullptr && upright->position == Posture::upright; }));
    CHECK(glm::length(upright->on_skin_mm[0][0]) < 1e-6f);
}

TEST_CASE("a build that fails says why and nothing else happens", "[session][tissue]") {
    const auto [builder, words] = GENERATE(table<session::TissueBuilder, std::string>(
        {{[](const sim::Progress&, TissueNotes&) -> std::unique_ptr<sim::fe::TetheredBody> { throw std::bad_alloc(); },
          "not enough memory"},
         {[](const sim::Progress&, TissueNotes&) -> std::unique_ptr<sim::fe::TetheredBody> {
              throw sim::fe::FactorError(sim::fe::FactorTrouble::not_positive_definite, "held by nothing");
          },
          "held by nothing"},
         {[](const sim::Progress& progress, TissueNotes&) {
              sim::fe::ChartSettings settings;
              settings.edge_m = 0.5;
              return std::make_unique<sim::fe::TetheredBody>(*support::tissue_head(), settings,
                                                             support::few_strings(sim::fe::Laxity::lax), progress);
          },
          "edge"}}));
    LiveTissue tissue(builder, followers());
    const TissueStatus end = end_of(tissue);
    CHECK(end.stage == TissueStatus::Stage::failed);
    CHECK_THAT(end.trouble, Contains(words));
    tissue.ask(Posture::lying);
    CHECK(tissue.take() == nullptr);
}

TEST_CASE("a build is given up when told, and leaving does not wait for it", "[session][tissue]") {
    std::atomic<bool> begun = false, go_on = false;
    const auto slow = [&](const sim::Progress& progress, TissueNotes&) -> std::unique_ptr<sim::fe::TetheredBody> {
        begun = true;
        while (!go_on) std::this_thread::sleep_for(std::chrono::milliseconds(1));
        progress(0.5, "half");  // ends here
        throw std::runtime_error("not given up");
    };
    {
        LiveTissue tissue(slow, followers());
        REQUIRE(wait_for([&] { return begun.load(); }));
        tissue.cancel();
        go_on = true;
        CHECK(end_of(tissue).stage == TissueStatus::Stage::cancelled);
    }
    begun = go_on = false;
    { const LiveTissue left(slow, followers()); }  // no wait, though the builder still runs or has not begun
    go_on = true;
    LiveTissue next(build, {});  // begins when the one before has ended
    CHECK(end_of(next).stage == TissueStatus::Stage::ready);
}

TEST_CASE("a slab has no posture; gravity turns with a head", "[session][tissue]") {
    CHECK_FALSE(session::tissue_builder(std::make_shared<sim::Model>(support::slab_model()), "x"));
    CHECK(session::gravity_change_m_per_s2(Posture::upright) == Vec3(0.0));
    CHECK(glm::length(session::gravity_change_m_per_s2(Posture::lying) - sim::fe::lying_down()) < 1e-12);
    const Vec3 g = session::gravity_change_m_per_s2(Posture::reclined) + Vec3(0.0, -sim::fe::kGravityMPerS2, 0.0);
    CHECK_THAT(glm::length(g), Catch::Matchers::WithinRel(sim::fe::kGravityMPerS2, 1e-12));
}

namespace {

/// One thread in the left lower cheek, pulled.
sim::ThreadRequest pulled(std::uint64_t key, double pull_n) {
    const auto& mesh = support::shared_coarse_body().mesh();
    const auto path = sim::fe::lifting_paths(*support::tissue_head(), mesh, sim::Side::left, 1, 1.0).front();
    const Vec3 far = position_m(mesh, path.far_end), near = position_m(mesh, path.near_end);
    sim::ThreadRequest out;
    out.key = key;
    out.read_m = {jowl()};
    sim::ThreadGrip& grip = out.threads.emplace_back();
    grip.pull_n = pull_n;
    for (int i = 0; i < 12; ++i) {
        const Vec3 straight = far + (near - far) * (i / 11.0);  // the cheek bulges between: barbs lie under the skin
        const Vec3 under =
            sim::walk_in(*support::tissue_head(), support::tissue_head()->nearest_skin(straight), 3.0 * kMm);
        grip.barbs.push_back({under, glm::normalize(near - far), 0.2, 0.02, 0.0});
    }
    return out;
}

sim::ThreadAnswer answered(LiveTissue& tissue, const sim::ThreadRequest& request) {
    tissue.ask(request);
    std::optional<sim::ThreadAnswer> out;
    REQUIRE(wait_for([&] { return (out = tissue.take(request)).has_value(); }));
    return *out;
}

}  // namespace

TEST_CASE("a step's question about threads has the same answer whatever posture was shown",
          "[session][tissue][thread]") {
    LiveTissue tissue(build, followers());
    CHECK(tissue.about_threads().find("not there yet") != std::string::npos);
    tissue.ask(Posture::lying);
    const sim::ThreadRequest request = pulled(5, 1.0);
    const sim::ThreadAnswer answer = answered(tissue, request);
    REQUIRE(answer.trouble == sim::ThreadTrouble::none);
    CHECK(glm::length(answer.moved_m[0]) > 0.3 * kMm);
    std::shared_ptr<const session::SettledPosture> shown;
    REQUIRE(wait_for([&] { return (shown = tissue.take_with_threads()) != nullptr; }));
    // against a body of the test's own, never asked for a posture
    sim::fe::FeThreads own(support::coarse_body());
    CHECK(own.answer(request) == answer);

    // upright the picture is moved by the thread alone, lying by both
    tissue.ask(Posture::upright);
    std::shared_ptr<const session::SettledPosture> upright;
    REQUIRE(wait_for([&] { return (upright = tissue.take()) != nullptr && upright->position == Posture::upright; }));
    CHECK(glm::length(Vec3(upright->on_skin_mm[0][0]) * kMm - answer.moved_m[0]) < 0.01 * kMm);
    tissue.ask(Posture::lying);
    std::shared_ptr<const session::SettledPosture> lying;
    REQUIRE(wait_for([&] { return (lying = tissue.take()) != nullptr && lying->position == Posture::lying; }));
    CHECK(glm::length(lying->on_skin_mm[0][0] - upright->on_skin_mm[0][0]) > 1.0f);
    const sim::ThreadRequest again = pulled(6, 1.0);
    CHECK(answered(tissue, again).threads == answer.threads);
    CHECK(tissue.about_threads().empty());
}

TEST_CASE("a turn of the head is prepared in the background, and shown with what lies in it",
          "[session][tissue][turn][thread]") {
    session::Followers places = followers();
    const sim::fe::TurningNeck neck = support::shared_coarse_body().neck();
    const Vec3 chest(0.05, neck.bottom_m - 10.0 * kMm, 0.06), couch(0.10, 0.0, -0.12);
    places.on_skin[0].place_m.push_back(chest);
    places.on_skin.push_back({{couch}, 0.0, true});
    LiveTissue tissue(build, places);
    REQUIRE(wait_for([&] { return tissue.status().turn_share == 1.0; }));
    CHECK(tissue.status().about_turn.empty());
    const session::Position lying_turned(Posture::lying, 30);
    const double turn_rad = lying_turned.turn_rad();
    // gravity towards the back of the trunk, told by a head that looks to the left: towards its left ear
    const Vec3 change = session::gravity_change_m_per_s2(lying_turned);
    CHECK(glm::length(change - Vec3(0.5, 1.0, -std::sqrt(0.75)) * sim::fe::kGravityMPerS2) < 1e-12);

    const auto settled = [&](const session::Position& position) {
        tissue.ask(position);
        std::shared_ptr<const session::SettledPosture> out;
        REQUIRE(wait_for([&] { return (out = tissue.take()) != nullptr && out->position == position; }));
        return out;
    };
    const auto alone = settled(lying_turned);
    // against a body of the test's own
    sim::fe::HeadTurn own(support::shared_coarse_body(), neck);
    const auto solved = own.settle_skin(turn_rad, change);
    const auto weights = sim::fe::follow_skin(support::shared_coarse_body().mesh(), places.on_skin[0].place_m, 0.025);
    CHECK(glm::length(Vec3(alone->on_skin_mm[0][0]) * kMm - weights.moved_m(0, solved.skin_m)) < 0.01 * kMm);
    CHECK(glm::length(alone->on_skin_mm[0][0]) > 0.5f);
    // trunk and couch go to the right under the head, by the whole angle
    const sim::fe::NeckTurn round{neck, turn_rad};
    CHECK(glm::length(Vec3(alone->on_skin_mm[0][1]) * kMm - round.with_trunk_m(chest)) < 0.01 * kMm);
    CHECK(alone->on_skin_mm[0][1].x < -10.0f);
    REQUIRE(alone->on_skin_mm[1].size() == 1);
    CHECK(glm::length(Vec3(alone->on_skin_mm[1][0]) * kMm - round.with_trunk_m(couch)) < 1e-6);
    CHECK(glm::length(alone->body->moved_m(chest) - round.moved_m(chest)) < 1e-9);

    // a pull at a thread does the same as upright, but for strings that it finds more or less taut
    const sim::ThreadRequest request = pulled(5, 1.0);
    const sim::ThreadAnswer answer = answered(tissue, request);
    std::shared_ptr<const session::SettledPosture> both;
    REQUIRE(wait_for([&] { return (both = tissue.take_with_threads()) != nullptr; }));
    CHECK(both->position == lying_turned);
    const glm::vec3 by_thread = both->on_skin_mm[0][0] - alone->on_skin_mm[0][0];
    INFO("upright " << glm::length(answer.moved_m[0]) / kMm << " mm, turned " << glm::length(by_thread) << " mm");
    CHECK(glm::length(Vec3(by_thread) * kMm - answer.moved_m[0]) < 0.3 * glm::length(answer.moved_m[0]));
    CHECK(glm::length(both->on_skin_mm[0][1] - alone->on_skin_mm[0][1]) < 0.01f);
    CHECK(answered(tissue, pulled(6, 1.0)).threads == answer.threads);  // steps know of no turn
    // let go, and straight again: as if nothing had been
    CHECK(answered(tissue, pulled(7, 0.0)).trouble == sim::ThreadTrouble::none);
    CHECK(glm::length(settled(Posture::upright)->on_skin_mm[0][0]) < 0.5f);
}

TEST_CASE("a step that asks tissue which failed is told so", "[session][tissue][thread]") {
    LiveTissue tissue(
        [](const sim::Progress&, TissueNotes&) -> std::unique_ptr<sim::fe::TetheredBody> { throw std::bad_alloc(); },
        followers());
    CHECK(answered(tissue, pulled(1, 1.0)).trouble == sim::ThreadTrouble::no_body);
    CHECK(tissue.about_threads() == "not enough memory for the tissue");
}

TEST_CASE("a replayed lift is the recorded one: barbs' forces move the skin as the answer said", "[session][tissue]") {
    LiveTissue tissue(build, followers());
    const sim::ThreadRequest request = pulled(5, 1.0);
    sim::fe::FeThreads own(support::coarse_body());
    const sim::ThreadAnswer answer = own.answer(request);
    REQUIRE(answer.trouble == sim::ThreadTrouble::none);
    sim::State state;
    sim::HeldThread& thread = state.threads.emplace_back();
    for (std::size_t i = 0; i < request.threads[0].barbs.size(); ++i) {
        sim::HeldBarb& barb = thread.barbs.emplace_back();
        barb.place_m = request.threads[0].barbs[i].place_m;
        barb.towards_entry = request.threads[0].barbs[i].towards_entry;
        barb.force_n = answer.threads[0].barbs[i].force_n;
    }
    const session::RecordedForces forces = session::recorded_forces(state);
    CHECK_FALSE(forces.none());
    tissue.ask(forces);
    std::shared_ptr<const session::SettledPosture> held;
    REQUIRE(wait_for([&] { return (held = tissue.take_recorded()) != nullptr; }));
    const Vec3 shown_m = Vec3(held->on_skin_mm[0][0]) * kMm;
    INFO("answered " << glm::length(answer.moved_m[0]) / kMm << " mm, shown " << glm::length(shown_m) / kMm);
    CHECK(glm::length(answer.moved_m[0]) > 0.3 * kMm);
    CHECK(glm::length(shown_m - answer.moved_m[0]) < 0.01 * kMm);  // forces are recorded to whole millinewtons or finer

    state.threads[0].out = true;
    CHECK(session::recorded_forces(state).none());
}

namespace {

/// The same body as the tissue's, which it is built apart from.
std::shared_ptr<sim::fe::TetheredBody> own_body() { return {std::shared_ptr<void>{}, &support::shared_coarse_body()}; }

/// The final shape of a posture on that.
sim::fe::FinalShape own_final(sim::fe::TetheredBody& body, const Vec3& gravity_change) {
    const auto linear = body.settle({gravity_change, {}});
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return body.response().solve(f); };
    return final_shape(body.finite_strain(), solve, linear.force_n, linear.displacement_m);
}

/// The same with the head turned, in the frame that goes round.
sim::fe::FinalShape own_final_turned(sim::fe::TetheredBody& body, const session::Position& position) {
    sim::fe::HeadTurn turn(body, body.neck());
    const double rad = position.turn_rad();
    const Vec3 change = gravity_change_m_per_s2(position);
    const auto tethers = turn.settle_skin(rad, change).tethers;
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return body.response().solve(f); };
    return final_shape(body.finite_strain(), solve, turn.load_n(rad, change, tethers),
                       turn.beside_m(rad, change, tethers), {},
                       std::make_shared<const sim::fe::CellsGoneRound>(body.mesh().cells, turn.neck(), rad));
}

/// Or has done: it may be quicker than whoever looks.
bool refines(const LiveTissue& tissue) {
    return wait_for([&] {
        const auto shape = tissue.status().shape;
        return shape == TissueStatus::Shape::refining || shape == TissueStatus::Shape::final;
    });
}

bool shape_is(const LiveTissue& tissue, TissueStatus::Shape shape) {
    return wait_for([&] { return tissue.status().shape == shape; });
}

}  // namespace

TEST_CASE("what was settled is refined to its final shape when nobody asks for a while", "[session][tissue][final]") {
    using Shape = TissueStatus::Shape;
    LiveTissue tissue(build, followers(), 0.05);
    CHECK(tissue.status().shape == Shape::at_rest);
    tissue.ask(Posture::lying);
    std::shared_ptr<const session::SettledPosture> linear, refined;
    REQUIRE(wait_for([&] { return (linear = tissue.take()) != nullptr; }));
    CHECK_FALSE(linear->final_shape);
    REQUIRE(wait_for([&] { return (refined = tissue.take_refined()) != nullptr; }));
    CHECK(tissue.status().shape == Shape::final);
    CHECK(refined->final_shape);
    CHECK(refined->position == Posture::lying);
    const auto body = own_body();
    const auto own = own_final(*body, sim::fe::lying_down());
    REQUIRE(own.converged);
    const auto jowl_at = locate(body->mesh(), jowl());
    REQUIRE(jowl_at);
    const Vec3 expected = read(patch_at(body->mesh(), {jowl_at->s_m, jowl_at->t_m, 7.0}), own.moved_m);
    CHECK(glm::length(Vec3(refined->on_skin_mm[0][0]) * kMm - expected) < 0.005 * kMm);
    CHECK(glm::length(refined->on_skin_mm[0][0] - linear->on_skin_mm[0][0]) > 1e-4f);
    CHECK(tissue.take_refined() == nullptr);  // once

    tissue.ask(Posture::upright);  // where there is nothing to look for
    REQUIRE(shape_is(tissue, Shape::at_rest));
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    CHECK(tissue.status().shape == Shape::at_rest);
    CHECK(tissue.take_refined() == nullptr);
    // with the head turned too: the floor goes round
    const session::Position turned(Posture::lying, 30);
    tissue.ask(turned);
    REQUIRE(wait_for([&] { return (linear = tissue.take()) != nullptr && linear->position == turned; }));
    REQUIRE(wait_for([&] { return (refined = tissue.take_refined()) != nullptr; }));
    CHECK(refined->position == turned);
    CHECK(refined->final_shape);
    const auto gone_round = own_final_turned(*body, turned);
    REQUIRE(gone_round.converged);
    const sim::fe::NeckTurn round{body->neck(), turned.turn_rad()};
    const Vec3 beside = read(patch_at(body->mesh(), {jowl_at->s_m, jowl_at->t_m, 7.0}), gone_round.moved_m);
    const Vec3 shown = Vec3(refined->on_skin_mm[0][0]) * kMm, linear_shown = Vec3(linear->on_skin_mm[0][0]) * kMm;
    CHECK(glm::length(shown - round.moved_m(jowl()) - round.turned(beside, jowl().y)) < 0.02 * kMm);
    CHECK(glm::length(shown - linear_shown) > 1e-4 * kMm);
    CHECK(glm::length(shown - linear_shown) < 0.3 * glm::length(linear_shown));
}

TEST_CASE("whoever asks comes before a refinement, which is dropped or taken up again", "[session][tissue][final]") {
    using Shape = TissueStatus::Shape;
    LiveTissue tissue(build, followers(), 0.02);
    tissue.ask(Posture::lying);
    REQUIRE(refines(tissue));
    // a step's question: answered with the bits that it always has, and what was refined is refined no more
    const sim::ThreadRequest request = pulled(5, 1.0);
    const sim::ThreadAnswer answer = answered(tissue, request);
    sim::fe::FeThreads own(own_body());
    CHECK(own.answer(request) == answer);
    std::shared_ptr<const session::SettledPosture> refined;
    REQUIRE(wait_for([&] { return (refined = tissue.take_refined()) != nullptr; }));
    // of both now: lying, with the thread
    std::shared_ptr<const session::SettledPosture> linear = tissue.take_with_threads();
    REQUIRE(linear != nullptr);
    CHECK(glm::length(refined->on_skin_mm[0][0] - linear->on_skin_mm[0][0]) <
          0.1f * glm::length(linear->on_skin_mm[0][0]));
    // a tip's blocks come though it is refined, and it ends all the same
    tissue.ask(Posture::reclined);
    REQUIRE(refines(tissue));
    tissue.ask(std::vector<sim::fe::TipNode>{{300, 4}}, {});
    REQUIRE(wait_for([&] { return !tissue.take_tip_blocks().empty(); }));
    REQUIRE(wait_for([&] { return (refined = tissue.take_refined()) != nullptr; }));
    CHECK(refined->position == Posture::reclined);
    // a new posture takes back what nobody has taken yet
    tissue.ask(Posture::lying);
    REQUIRE(shape_is(tissue, Shape::final));
    tissue.ask(Posture::reclined);
    CHECK(tissue.take_refined() == nullptr);
}

TEST_CASE("a step's final shape is the one that an idle tissue tells", "[session][tissue][final]") {
    LiveTissue tissue(build, followers(), 0.02);
    sim::ThreadRequest request = pulled(5, 1.0);
    static_cast<void>(answered(tissue, request));
    request.key = 6;
    request.final_shape = true;
    const sim::ThreadAnswer left = answered(tissue, request);
    CHECK(left.shape == sim::LiftShape::final);
    sim::fe::FeThreads own(own_body());
    CHECK(own.answer(request) == left);
    // the picture gets there by itself
    std::shared_ptr<const session::SettledPosture> refined;
    REQUIRE(wait_for([&] { return (refined = tissue.take_refined()) != nullptr; }));
    CHECK(glm::length(Vec3(refined->on_skin_mm[0][0]) * kMm - left.moved_m[0]) < 0.01 * kMm);
}
