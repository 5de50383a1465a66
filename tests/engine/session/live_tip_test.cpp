#include "engine/session/live_tip.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <new>
#include <thread>

#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"

using session::LiveTip;
using session::LiveTissue;
using session::TissueNotes;
using session::TissueStatus;
using sim::kMm;
using sim::Vec3;

namespace {

sim::Model model() {
    sim::Model out;
    out.anatomy = support::tissue_head();
    return out;
}

/// A cannula 40 mm in the left cheek, its tip so deep under the skin.
sim::State cannula(double depth_m) {
    const sim::Head& head = *support::tissue_head();
    const sim::SkinPoint entry = head.nearest_skin({0.062, -0.030, 0.030});
    const sim::SkinPoint over = head.nearest_skin({0.050, -0.060, 0.050});
    sim::State state;
    state.hands.instrument = 0;
    state.hands.entry_chosen = true;
    state.hands.entry = entry;
    state.in_skin = true;
    state.inserted_m = 40.0 * kMm;
    state.tip_m = sim::walk_in(head, over, depth_m);
    state.tip_heading = glm::normalize(over.position_m - entry.position_m);
    return state;
}

constexpr int kMostFrames = 60'000;  // five minutes and more: the tissue's thread gives way to all others

/// Frames of a tenth of a second until it stands still, or for so long.
int frames_until_still(LiveTip& tip, const sim::State& state) {
    int frames = 0;
    for (int still = 0; still < 3 && frames < kMostFrames; ++frames) {
        const bool changed = tip.advance(state, model(), 0.1, false);
        still = changed || !tip.shape() || tip.lacks_blocks() ? 0 : still + 1;
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    return frames;
}

double most_moved_m(const LiveTip& tip) { return static_cast<double>(tip.skin_m().cwiseAbs().maxCoeff()); }

}  // namespace

TEST_CASE("a lifted tip tents the skin as the blocks have it, and lets it down again", "[session][tissue]") {
    const auto shared = std::make_shared<LiveTissue>(
        [](const sim::Progress& progress, TissueNotes&) { return support::coarse_body(progress); },
        session::Followers{});
    LiveTip tip(shared);
    sim::State state = cannula(3.0 * kMm);
    CHECK(tip.closed_share() == 1.0);  // until there is tissue
    state.hands.lift_n = 0.5;
    REQUIRE(frames_until_still(tip, state) < kMostFrames);
    CHECK(tip.closed_share() == 0.0);

    // against blocks of the test's own
    sim::fe::TetheredBody& own = support::shared_coarse_body();
    sim::fe::TipResponse blocks(own.mesh());
    const auto forces = session::hand_forces(state, model());
    REQUIRE(forces.size() == 1);
    const auto place = sim::fe::locate(own.mesh(), state.tip_m);
    REQUIRE(place);
    for (auto& block : solve_tip_blocks(own.mesh(), own.response(), blocks.nodes_of(*place)))
        blocks.keep(std::move(block));
    Eigen::VectorXd expected_m;
    REQUIRE(blocks.skin_m(*place, forces[0].force_n, expected_m));
    CHECK((tip.skin_m().cast<double>() - expected_m).cwiseAbs().maxCoeff() < 1e-4 * expected_m.cwiseAbs().maxCoeff());

    // out of the face, over the tip
    const Vec3 outward = -support::tissue_head()->inward_at(state.tip_m);
    const Vec3 over_tip = tip.skin_moved_m(state.tip_m);
    CHECK(glm::dot(over_tip, outward) > 1.0 * kMm);
    CHECK(glm::length(over_tip) > 0.9 * most_moved_m(tip));

    // no jump: a frame of 16 ms goes a part of the way down
    const double before_m = most_moved_m(tip);
    state.hands.lift_n = 0.0;
    REQUIRE(tip.advance(state, model(), 0.016, false));
    CHECK(most_moved_m(tip) > 0.6 * before_m);
    CHECK(most_moved_m(tip) < 0.95 * before_m);
    // at once where motion is to be little
    REQUIRE(tip.advance(state, model(), 0.016, true));
    CHECK(most_moved_m(tip) == 0.0);
    CHECK_FALSE(tip.advance(state, model(), 0.016, false));
}

TEST_CASE("the skin over a lifted tip is shown as on cells half as wide, and nothing jumps", "[session][tissue]") {
    // cells of 4 mm as in the trainer, with few strings, which the live tip leaves out
    const sim::fe::TissueParameters parameters = support::few_strings(sim::fe::Laxity::lax);
    const auto shared = std::make_shared<LiveTissue>(
        [&parameters](const sim::Progress& progress, TissueNotes&) {
            return std::make_unique<sim::fe::TetheredBody>(*support::tissue_head(), sim::fe::ChartSettings{},
                                                           parameters, progress);
        },
        session::Followers{});
    LiveTip tip(shared);
    sim::State state = cannula(3.0 * kMm);
    state.hands.lift_n = 0.5;
    // frames of 16 ms: what comes from the background is faded in
    constexpr double kFrameS = 0.016;
    const double most_step = 1.0 - std::exp(-kFrameS / 0.06);  // of the way that is left
    double peak_m = 0.0, step_m = 0.0;
    Vec3 last{};
    const auto frame = [&] {
        tip.advance(state, model(), kFrameS, false);
        const Vec3 now = tip.skin_moved_m(state.tip_m);
        step_m = std::max(step_m, glm::length(now - last));
        peak_m = std::max(peak_m, glm::length(now));
        last = now;
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    };
    int frames = 0;
    while (!tip.shape() && shared->status().trouble.empty()) {
        tip.advance(state, model(), kFrameS, false);
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    for (; frames < kMostFrames && (!tip.shape() || tip.lacks_blocks()); ++frames) frame();
    REQUIRE(frames < kMostFrames);
    for (int k = 0; k < 60; ++k) frame();
    CHECK(step_m < 1.01 * most_step * peak_m);
    CHECK(tip.details() >= 1);

    // against cells half as wide as far as that matters; all over the mesh 2.1 and 13 %
    constexpr double kFarM = 50.0 * kMm;
    const sim::fe::HexMesh& mesh = *tip.shape()->mesh;
    const sim::fe::LayeredBody body = make_body(mesh, support::tissue_head()->tissue(), parameters);
    sim::fe::Response coarse(mesh, body);
    const Vec3 force_n = session::hand_forces(state, model()).front().force_n;
    const auto place = sim::fe::locate(mesh, state.tip_m);
    REQUIRE(place);
    sim::fe::TipPatch wide(mesh, body, *place, kFarM);
    const auto load_n = [&](const sim::fe::HexMesh& on) {
        Eigen::MatrixXd out = Eigen::MatrixXd::Zero(on.cells.unknowns(), 1);
        for (const auto& [node, weight] : patch_at(on, *place).weight)
            for (int r = 0; r < 3; ++r) out(3 * node + r, 0) = weight * force_n[r];
        return out;
    };
    const Eigen::VectorXd right_m = wide.solve(load_n(wide.mesh()), coarse.solve(load_n(mesh)));
    double with = 0.0, without = 0.0, most_m = 0.0;
    for (int along = -3; along <= 3; ++along)
        for (int below = -3; below <= 3; ++below) {
            const sim::fe::ChartPlace over{place->s_m + 4.0 * kMm * along, place->t_m + 4.0 * kMm * below,
                                           sim::fe::kCellsDeep};
            const Vec3 right = read(patch_at(wide.mesh(), over), right_m),
                       shown = tip.skin_moved_m(position_m(mesh, over));
            const Vec3 detail = read_fine(mesh.chart, tip.detail_m(), over.s_m, over.t_m);
            most_m = std::max(most_m, glm::length(right));
            with = std::max(with, glm::length(shown - right));
            without = std::max(without, glm::length(shown - detail - right));
        }
    INFO("off by " << with / most_m << " of the peak, without details by " << without / most_m);
    CHECK(with < 0.03 * most_m);
    CHECK(without > 0.06 * most_m);

    // on over borders of cells, faster than the background comes along: what it lacks fades out, what comes fades in
    step_m = 0.0;
    float detail_step_m = 0.0f, detail_most_m = 0.0f;
    for (int k = 0; k < 100; ++k) {
        state.tip_m += state.tip_heading * (0.1 * kMm);
        const Eigen::VectorXf before_m = tip.detail_m();
        frame();
        detail_most_m = std::max(detail_most_m, tip.detail_m().cwiseAbs().maxCoeff());
        detail_step_m = std::max(detail_step_m, (tip.detail_m() - before_m).cwiseAbs().maxCoeff());
    }
    CHECK(step_m < 1.1 * most_step * peak_m);
    CHECK(static_cast<double>(detail_step_m) < 1.1 * most_step * static_cast<double>(detail_most_m));
    CHECK(detail_most_m > 0.0f);
    CHECK(tip.detail_bytes() <= sim::fe::TipDetails::kMostBytes);
}

TEST_CASE("what hands do to the tissue adds up to what the hand feels along the shaft", "[session][tissue]") {
    sim::State state = cannula(3.0 * kMm);
    state.force.hand_n = 1.2;
    state.force.tip_n = 0.5;
    state.force.ligament_n = 0.2;
    sim::Track& track = state.track.emplace();
    for (int i = 0; i <= 80; ++i) {
        sim::TrackNode& node = track.nodes.emplace_back();
        node.arc_m = 0.5 * kMm * i;
        node.centre_m = state.tip_m - state.tip_heading * (40.0 * kMm - node.arc_m);
    }
    track.end_m = state.tip_m;
    track.end_arc_m = 40.0 * kMm;
    const auto sum_n = [&] {
        Vec3 sum{};
        for (const session::HandForce& force : session::hand_forces(state, model())) sum += force.force_n;
        return glm::dot(sum, state.tip_heading);
    };
    CHECK(session::hand_forces(state, model()).size() == 1 + 8);  // the tip, and 40 mm of shaft in pieces of 5
    CHECK(session::hand_forces(state, model())[0].place_m == state.tip_m);
    CHECK(std::abs(glm::length(session::hand_forces(state, model())[0].force_n) - 0.7) < 1e-12);
    CHECK(std::abs(sum_n() - 1.2) < 1e-9);
    state.force.hand_n = -0.8;  // drawn back: all of it drags
    CHECK(std::abs(sum_n() + 0.8) < 1e-9);
    CHECK(session::hand_forces(state, model()).size() == 8);
    state.hands.instrument = -1;
    CHECK(session::hand_forces(state, model()).empty());
}

TEST_CASE("tissue that fails leaves a lifted tip its closed form", "[session][tissue]") {
    const auto shared = std::make_shared<LiveTissue>(
        [](const sim::Progress&, TissueNotes&) -> std::unique_ptr<sim::fe::TetheredBody> { throw std::bad_alloc(); },
        session::Followers{});
    LiveTip tip(shared);
    sim::State state = cannula(3.0 * kMm);
    state.hands.lift_n = 0.5;
    while (shared->status().stage == TissueStatus::Stage::building)
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
    CHECK_FALSE(tip.advance(state, model(), 0.1, false));
    CHECK(tip.closed_share() == 1.0);
    CHECK_FALSE(tip.lacks_blocks());
}

TEST_CASE("blocks wait while steps ask about threads", "[session][tissue][thread]") {
    LiveTissue tissue([](const sim::Progress& progress, TissueNotes&) { return support::coarse_body(progress); },
                      session::Followers{});
    sim::ThreadRequest request;
    request.key = 1;
    const sim::fe::HexMesh& mesh = support::shared_coarse_body().mesh();
    const auto path = sim::fe::lifting_paths(*support::tissue_head(), mesh, sim::Side::left, 1, 1.0).front();
    const Vec3 far = position_m(mesh, path.far_end), near = position_m(mesh, path.near_end);
    sim::ThreadGrip& grip = request.threads.emplace_back();
    for (int i = 0; i < 4; ++i) {
        const sim::SkinPoint skin = support::tissue_head()->nearest_skin(far + (near - far) * (i / 3.0));
        grip.barbs.push_back(
            {sim::walk_in(*support::tissue_head(), skin, 3.0 * kMm), glm::normalize(near - far), 0.2, 0.02, 0.0});
    }
    // asked for while it is built: 40 nodes, five turns of eight, and then the question
    std::vector<sim::fe::TipNode> nodes;
    const int middle = static_cast<int>(mesh.chart.at((mesh.chart.left + mesh.chart.right) / 2, mesh.chart.top + 8));
    for (int k = 0; k < 40; ++k) nodes.push_back({middle + k % 8, 2 + k / 8});
    tissue.ask(nodes, {});
    tissue.ask(request);
    std::size_t solved_before = 0;
    while (!tissue.take(request)) {
        std::this_thread::sleep_for(std::chrono::microseconds(200));
        solved_before += tissue.take_tip_blocks().size();
    }
    CHECK(solved_before == 0);
    std::size_t solved = 0;
    for (int tries = 0; tries < 100'000 && solved < nodes.size(); ++tries) {
        solved += tissue.take_tip_blocks().size();
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    CHECK(solved == nodes.size());
}
