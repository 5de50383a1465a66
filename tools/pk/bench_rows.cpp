#include "tools/pk/bench_rows.hpp"

#include <time.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <optional>
#include <span>
#include <thread>
#include <utility>

#include "engine/session/live_tip.hpp"
#include "engine/session/live_tissue.hpp"
#include "engine/session/machine.hpp"
#include "engine/view/head_look.hpp"
#include "engine/view/live_skin.hpp"
#include "engine/view/moved_patient.hpp"
#include "sim/tissue/head_turn.hpp"
#include "sim/tissue/held_threads.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/read_out.hpp"

namespace pk {

double seconds(const std::function<void()>& body) {
    using Clock = std::chrono::steady_clock;
    const auto start = Clock::now();
    body();
    return std::chrono::duration<double>(Clock::now() - start).count();
}

double cpu_seconds(const std::function<void()>& body) {
    const auto now = [] {
        timespec t{};
        clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
        return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
    };
    const double start = now();
    body();
    return now() - start;
}

double median(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

namespace {

using session::Position;
using session::Posture;

/// Changes one after the other, each begun from the state before as the trainer does it.
double settle_ms(sim::fe::TetheredBody& body, sim::fe::HeadTurn& turn, std::span<const Position> round) {
    std::vector<double> ms;
    sim::fe::SkinSettled now;
    for (int repeat = 0; repeat < 3; ++repeat)
        for (const Position& position : round)
            ms.push_back(1e3 * cpu_seconds([&] {
                             const sim::Vec3 change = session::gravity_change_m_per_s2(position);
                             now = position.turn_degrees == 0
                                       ? body.settle_skin(change, now.tethers)
                                       : turn.settle_skin(position.turn_rad(), change, now.tethers);
                         }));
    return median(ms);
}

void posture_rows(sim::fe::TetheredBody& body, std::vector<Row>& rows) {
    constexpr double kMbPerByte = 1e-6;
    const std::array laid{Position(Posture::lying),    Position(Posture::reclined), Position(Posture::upright),
                          Position(Posture::reclined), Position(Posture::lying),    Position(Posture::upright)};
    const std::array turned{Position(Posture::lying),        Position(Posture::lying, 15),
                            Position(Posture::lying, 30),    Position(Posture::lying, 45),
                            Position(Posture::reclined, 30), Position(Posture::reclined, -30),
                            Position(Posture::lying, -45),   Position(Posture::upright, -15)};
    sim::fe::HeadTurn turn(body, body.neck());
    const double prepare_s = cpu_seconds([&] {
        while (!turn.ready()) turn.prepare_next();
    });
    // the slower of the two, so that neither hides behind the other
    rows.push_back({"posture_change_ms", std::max(settle_ms(body, turn, laid), settle_ms(body, turn, turned)), "ms",
                    30.0, "at most"});
    rows.push_back({"turn_ready_s", prepare_s, "s", 10.0, "at most"});
    rows.push_back({"turn_mb", kMbPerByte * static_cast<double>(turn.bytes()), "MB", 30.0, "at most"});
}

/// Four threads of one cheek, pulled further by 0.1 N at a time and let go again.
double thread_lift_ms(const sim::Head& head, sim::fe::TetheredBody& body) {
    constexpr int kThreads = 4, kSteps = 10;
    sim::fe::HeldThreads threads(body, sim::fe::lifting_paths(head, body.mesh(), sim::Side::left, kThreads, 0.0));
    std::vector<double> ms;
    for (int k = 1; k < 2 * kSteps; ++k) {
        const std::vector<double> pull_n(kThreads, 0.1 * (kSteps - std::abs(k - kSteps)));
        ms.push_back(1e3 * cpu_seconds([&] { static_cast<void>(threads.pull({}, pull_n)); }));
    }
    return median(ms);
}

/// The trainer's own way of a frame in which a tip moves and lifts: from the step's state to the vertices of skin and
/// what is worn, blocks taken in as the background solves them. @param body of this patient: given to the background
double live_skin_ms(const session::Prepared& prepared, std::unique_ptr<sim::fe::TetheredBody> body) {
    constexpr int kFrames = 25;
    constexpr double kFrameS = 1.0 / 30.0, kLiftN = 0.8, kInsertedM = 40.0 * sim::kMm;
    const view::HeadLook look = view::build_head_look(*prepared.loaded.head, session::two_threads(), {});
    session::Followers followers;
    for (const auto& surface : look.surfaces) {
        session::Followers::OnSkin& part = followers.on_skin.emplace_back();
        part.far_m = session::kSkinFarM;
        for (const auto& vertex : surface->vertices)
            part.place_m.emplace_back(sim::Vec3(vertex.position_mm) * sim::kMm);
    }
    const sim::fe::HexMesh mesh = body->mesh();
    const auto& head = dynamic_cast<const sim::Head&>(*prepared.model->anatomy);
    const sim::fe::ThreadPath path = sim::fe::lifting_paths(head, mesh, sim::Side::left, 1, 0.0).front();
    const auto tissue = std::make_shared<session::LiveTissue>(
        [&body](const sim::Progress&, session::TissueNotes&) { return std::move(body); }, std::move(followers));
    while (tissue->status().stage == session::TissueStatus::Stage::building)
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    session::LiveTip tip(tissue);
    std::optional<view::SkinFollower> follower;
    const auto state_at = [&](int frame) {
        const double f = static_cast<double>(frame) / (kFrames - 1);
        sim::State state;
        state.hands.instrument = 0;
        state.hands.entry_chosen = state.in_skin = true;
        state.tip_heading = glm::normalize(position_m(mesh, path.near_end) - position_m(mesh, path.far_end));
        state.tip_m =
            position_m(mesh, {path.far_end.s_m + f * (path.near_end.s_m - path.far_end.s_m),
                              path.far_end.t_m + f * (path.near_end.t_m - path.far_end.t_m), path.far_end.level - 0.4});
        state.hands.entry.position_m = state.tip_m - state.tip_heading * kInsertedM;
        state.inserted_m = kInsertedM;
        state.hands.lift_n = kLiftN;
        state.force.hand_n = state.force.tip_n = 0.2;
        return state;
    };
    std::vector<double> ms;
    for (int frame = 0; frame < kFrames; ++frame) {
        const sim::State state = state_at(frame);
        // blocks are there before the frame that counts, as they are where the tip comes from a place they were asked
        // for
        do {
            std::this_thread::sleep_for(std::chrono::milliseconds(1));
            tip.advance(state, *prepared.model, 0.0, false);
        } while (tip.lacks_blocks() && tissue->status().about_tip.empty());
        ms.push_back(1e3 * cpu_seconds([&] {
                         tip.advance(state, *prepared.model, kFrameS, false);
                         if (!follower) follower.emplace(*tip.shape()->mesh, tip.shape()->on_skin);
                         static_cast<void>(follower->moves(tip.skin_m(), tip.detail_m()));
                     }));
    }
    return median(ms);
}

/// One frame of skin, cap and drape on the way to lying: vertices moved and ready for the card.
double moved_skin_ms(const files::LoadedScenario& loaded, sim::fe::TetheredBody& body) {
    const view::HeadLook look = view::build_head_look(*loaded.head, session::two_threads(), {});
    const sim::fe::SkinSettled lying = body.settle_skin(sim::fe::lying_down());
    view::SceneParts rest{look.surfaces, {}, {}};
    view::PatientMoves moves;
    for (const auto& surface : look.surfaces) {
        std::vector<sim::Vec3> places;
        for (const auto& vertex : surface->vertices) places.emplace_back(sim::Vec3(vertex.position_mm) * sim::kMm);
        const auto weights = sim::fe::follow_skin(body.mesh(), places, session::kSkinFarM);
        auto& moved = moves.surfaces_mm.emplace_back();
        weights.moved_mm(lying.skin_m, moved);
        moves.surface_turns.push_back(view::turns_of(*surface, moved));
    }
    std::vector<double> ms;
    for (int k = 0; k < 15; ++k)
        ms.push_back(1e3 * cpu_seconds([&] {
                         static_cast<void>(view::moved_parts(rest, nullptr, &moves, static_cast<float>(k) / 14.0f));
                     }));
    return median(ms);
}

}  // namespace

void tissue_rows(const session::Prepared& prepared, double anatomy_cold_s, double anatomy_cached_s,
                 std::vector<Row>& rows) {
    const auto* head = dynamic_cast<const sim::Head*>(prepared.model->anatomy.get());
    if (head == nullptr) return;
    const std::string& hash = prepared.loaded.patient_source->hash;
    const auto build = [&](bool use_cache, std::unique_ptr<sim::fe::TetheredBody>& body) {
        body.reset();
        session::TissueNotes notes;
        return seconds([&] { body = session::tissue_builder(prepared.model, hash, use_cache)({}, notes); });
    };
    const double before_mb = session::resident_mb();
    std::unique_ptr<sim::fe::TetheredBody> body;
    const double cold_s = build(false, body);
    const double tissue_mb = session::resident_mb() - before_mb;
    static_cast<void>(build(true, body));  // fills the cache where it is not filled
    const double cached_s = build(true, body);
    rows.push_back({"patient_ready_cold_s", anatomy_cold_s + cold_s, "s", 30.0, "at most"});
    rows.push_back({"patient_ready_cached_s", anatomy_cached_s + cached_s, "s", 8.0, "at most"});
    posture_rows(*body, rows);
    rows.push_back({"thread_lift_ms", thread_lift_ms(*head, *body), "ms", 30.0, "at most"});
    rows.push_back({"moved_skin_ms", moved_skin_ms(prepared.loaded, *body), "ms", 8.0, "at most"});
    ccx_rows(*head, *body, rows);
    rows.push_back({"live_skin_ms", live_skin_ms(prepared, std::move(body)), "ms", 8.0, "at most"});
    rows.push_back({"tissue_mb", tissue_mb, "MB", 650.0, "at most"});
}

}  // namespace pk
