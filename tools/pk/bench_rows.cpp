#include "tools/pk/bench_rows.hpp"

#include <time.h>

#include <algorithm>
#include <array>
#include <chrono>

#include "engine/session/live_tissue.hpp"
#include "engine/session/machine.hpp"
#include "engine/view/head_look.hpp"
#include "engine/view/moved_patient.hpp"
#include "sim/tissue/held_threads.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/read_out.hpp"
#include "sim/tissue/tip_response.hpp"

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

using session::Posture;

/// Each change between postures, begun from the state before as the trainer does it.
double posture_change_ms(sim::fe::TetheredBody& body) {
    constexpr std::array kRound{Posture::lying,    Posture::reclined, Posture::upright,
                                Posture::reclined, Posture::lying,    Posture::upright};
    std::vector<double> ms;
    sim::fe::SkinSettled now;
    for (int repeat = 0; repeat < 3; ++repeat)
        for (const Posture posture : kRound)
            ms.push_back(1e3 * cpu_seconds([&] {
                             now = body.settle_skin(session::gravity_change_m_per_s2(posture), now.tethers);
                         }));
    return median(ms);
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

/// One frame of skin and what is worn, in the reference shape but for what the live tip does to it: from its force to
/// vertices ready for the card. Its blocks are there, as the background has solved them ahead.
double live_skin_ms(const files::LoadedScenario& loaded, const sim::Head& head, sim::fe::TetheredBody& body) {
    constexpr int kFrames = 15;
    constexpr double kForceN = 0.5;
    const view::HeadLook look = view::build_head_look(*loaded.head, session::two_threads(), {});
    const view::SceneParts rest{look.surfaces, {}, {}};
    std::vector<sim::fe::FollowWeights> weights;
    for (const auto& surface : look.surfaces) {
        std::vector<sim::Vec3> places;
        for (const auto& vertex : surface->vertices) places.emplace_back(sim::Vec3(vertex.position_mm) * sim::kMm);
        weights.push_back(sim::fe::follow_skin(body.mesh(), places, session::kSkinFarM));
    }
    const sim::fe::ThreadPath path = sim::fe::lifting_paths(head, body.mesh(), sim::Side::left, 1, 0.0).front();
    const auto at = [&path](int frame) {
        const double f = static_cast<double>(frame) / (kFrames - 1);
        return sim::fe::ChartPlace{path.far_end.s_m + f * (path.near_end.s_m - path.far_end.s_m),
                                   path.far_end.t_m + f * (path.near_end.t_m - path.far_end.t_m),
                                   path.far_end.level - 0.4};
    };
    std::vector<sim::fe::ChartPlace> way;
    for (int k = 0; k < kFrames; ++k) way.push_back(at(k));
    sim::fe::TipResponse tips(body.mesh());
    for (auto& block : solve_tip_blocks(body.mesh(), body.response(), tips.missing(way, 1000))) tips.keep(block);
    const sim::Vec3 force_n = kForceN * glm::normalize(sim::Vec3(1.0, 0.0, 1.0));
    std::vector<double> ms;
    Eigen::VectorXd skin_m;
    for (int frame = 0; frame < kFrames; ++frame)
        ms.push_back(1e3 * cpu_seconds([&] {
                         if (!tips.skin_m(at(frame), force_n, skin_m)) return;
                         view::PatientMoves moves;
                         for (std::size_t k = 0; k < weights.size(); ++k) {
                             auto& moved = moves.surfaces_mm.emplace_back();
                             weights[k].moved_mm(skin_m, moved);
                             moves.surface_turns.push_back(view::turns_of(*look.surfaces[k], moved));
                         }
                         static_cast<void>(view::moved_parts(rest, nullptr, &moves, 1.0F));
                     }));
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
    rows.push_back({"posture_change_ms", posture_change_ms(*body), "ms", 30.0, "at most"});
    rows.push_back({"thread_lift_ms", thread_lift_ms(*head, *body), "ms", 30.0, "at most"});
    rows.push_back({"moved_skin_ms", moved_skin_ms(prepared.loaded, *body), "ms", 8.0, "at most"});
    rows.push_back({"live_skin_ms", live_skin_ms(prepared.loaded, *head, *body), "ms", 8.0, "at most"});
    ccx_rows(*head, *body, rows);
    rows.push_back({"tissue_mb", tissue_mb, "MB", 650.0, "at most"});
}

}  // namespace pk
