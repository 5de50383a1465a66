#include "engine/session/live_tip.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/instruments/track.hpp"
#include "sim/tissue/hex_mesh.hpp"
#include "sim/tissue/moved_body.hpp"

namespace session {

namespace {

using sim::kMm;
using sim::Vec3;

constexpr double kAheadM = 4.0 * kMm;  // a cell of the mesh
constexpr int kCellsAhead = 2;         // at 5 mm/s the blocks of a cell come twice as fast as they are needed
constexpr double kFadeS = 0.06;        // time constant: follows a hand, hides where blocks come in; by eye
constexpr float kStillM = 2e-6f;       // nearer than this to where it goes the skin is there

/// Up at the tip: out of the face, across the shaft, as a hand that levers on the hub lifts it.
Vec3 lift_direction(const sim::State& state, const sim::Model& model) {
    const Vec3 outward = -model.anatomy->inward_at(state.tip_m);
    const Vec3 across = outward - state.tip_heading * glm::dot(outward, state.tip_heading);
    return glm::length(across) > 0.1 ? glm::normalize(across) : outward;
}

/// What goes along the shaft: the tip takes its resistance, the rest is dragged all along.
void add_axial(const sim::State& state, std::vector<HandForce>& out) {
    const sim::ShaftForce& f = state.force;
    const double tip_n = std::clamp(f.hand_n, 0.0, f.tip_n + f.ligament_n);
    if (tip_n > 0.0) out.push_back({state.tip_m, state.tip_heading * tip_n});
    const double drag_n = f.hand_n - tip_n;
    if (!state.track || state.track->nodes.size() < 2 || drag_n == 0.0) return;
    const auto stations = static_cast<int>(std::floor(state.inserted_m / kShaftPieceM));
    for (int i = 0; i < stations; ++i) {
        const double arc_m = kShaftPieceM * (i + 0.5);
        const Vec3 from = way_at(*state.track, arc_m - 0.5 * kMm);
        const Vec3 along = way_at(*state.track, arc_m + 0.5 * kMm) - from;
        const double length_m = glm::length(along);
        if (!(length_m > 0.0)) continue;
        out.push_back({way_at(*state.track, arc_m), along * (drag_n / (stations * length_m))});
    }
}

}  // namespace

std::vector<HandForce> hand_forces(const sim::State& state, const sim::Model& model) {
    std::vector<HandForce> out;
    if (state.hands.instrument < 0 || !state.hands.entry_chosen) return out;
    if (!state.in_skin) {
        if (state.press_m > 0.0) out.push_back({state.hands.entry.position_m, state.tip_heading * state.force.tip_n});
        return out;
    }
    if (!(state.inserted_m > 0.0)) return out;
    if (state.hands.lift_n > 0.0) out.push_back({state.tip_m, lift_direction(state, model) * state.hands.lift_n, true});
    add_axial(state, out);
    return out;
}

std::vector<Vec3> way_of_tip(const sim::State& state) {
    std::vector<Vec3> out;
    if (state.hands.instrument < 0 || !state.hands.entry_chosen) return out;
    const Vec3 from = state.in_skin ? state.tip_m : state.hands.entry.position_m;
    for (int i = 0; i <= kCellsAhead; ++i) out.push_back(from + state.tip_heading * (kAheadM * i));
    return out;
}

LiveTip::LiveTip(std::shared_ptr<LiveTissue> tissue) : tissue_(std::move(tissue)) { SIM_ASSERT(tissue_ != nullptr); }

std::optional<sim::fe::ChartPlace> LiveTip::place_of(const Vec3& p_m) {
    constexpr std::size_t kMostPlaces = 64;
    const auto known =
        std::find_if(places_.begin(), places_.end(), [&p_m](const auto& entry) { return entry.first == p_m; });
    if (known != places_.end()) return known->second;
    if (places_.size() == kMostPlaces) places_.erase(places_.begin(), places_.begin() + kMostPlaces / 2);
    return places_.emplace_back(p_m, locate(*shape_->mesh, p_m)).second;
}

void LiveTip::work_out(const std::vector<HandForce>& forces) {
    std::vector<sim::fe::TipForce> at;
    std::vector<bool> lifts, told;
    bool lift_outside = false;
    for (const HandForce& force : forces)
        if (const auto place = place_of(force.place_m)) {
            at.push_back({*place, force.force_n});
            lifts.push_back(force.lifts);
        } else {
            lift_outside = lift_outside || force.lifts;
        }
    tips_->skin_m(at, target_m_, told);
    lacks_ = std::find(told.begin(), told.end(), false) != told.end();
    // with nothing lifted the closed form has nothing to show: it may as well be off
    closed_target_ = lift_outside ? 1.0 : 0.0;
    for (std::size_t i = 0; i < at.size(); ++i)
        if (lifts[i] && !told[i]) closed_target_ = 1.0;
    forces_ = forces;
}

void LiveTip::ask_for(const sim::State& state, const std::vector<HandForce>& forces) {
    std::vector<sim::fe::ChartPlace> way;
    const auto add = [&](const Vec3& p_m) {
        if (const auto place = place_of(p_m)) way.push_back(*place);
    };
    for (const Vec3& p : way_of_tip(state)) add(p);
    for (const HandForce& force : forces) add(force.place_m);
    std::vector<sim::fe::TipNode> missing = tips_->missing(way, sim::fe::kTipNodesABatch);
    if (missing == asked_) return;
    asked_ = missing;
    tissue_->ask(std::move(missing));
}

bool LiveTip::advance(const sim::State& state, const sim::Model& model, double elapsed_s, bool at_once) {
    if (!shape_) {
        shape_ = tissue_->shape();
        if (!shape_) return false;
        tips_.emplace(*shape_->mesh);
        target_m_ = shown_m_ = Eigen::VectorXf::Zero(3 * shape_->mesh->columns());
    }
    bool fresh = false;
    for (sim::fe::TipBlock& block : tissue_->take_tip_blocks()) {
        tips_->keep(std::move(block));
        fresh = true;
    }
    const std::vector<HandForce> forces = hand_forces(state, model);
    const auto same = [](const HandForce& a, const HandForce& b) {
        return a.place_m == b.place_m && a.force_n == b.force_n && a.lifts == b.lifts;
    };
    if (fresh || !std::equal(forces.begin(), forces.end(), forces_.begin(), forces_.end(), same)) work_out(forces);
    if (tissue_->status().about_tip.empty()) ask_for(state, forces);

    const float left = static_cast<float>(at_once ? 0.0 : std::exp(-elapsed_s / kFadeS));
    const float off_m = (shown_m_ - target_m_).cwiseAbs().maxCoeff();
    const bool closed_off = closed_share_ != closed_target_;
    if (off_m == 0.0f && !closed_off) return false;
    if (off_m * left < kStillM)
        shown_m_ = target_m_;
    else
        shown_m_ = target_m_ + left * (shown_m_ - target_m_);
    closed_share_ = closed_target_ + static_cast<double>(left) * (closed_share_ - closed_target_);
    if (std::fabs(closed_share_ - closed_target_) < 1e-3) closed_share_ = closed_target_;
    return true;
}

Vec3 LiveTip::skin_moved_m(const Vec3& place_m) {
    if (!shape_) return {};
    const auto place = place_of(place_m);
    if (!place) return {};
    const sim::fe::Chart& chart = shape_->mesh->chart;
    sim::fe::ChartCell cell = cell_of(chart, place->s_m, place->t_m);
    cell.a = std::clamp(cell.a, 0.0, 1.0);
    cell.b = std::clamp(cell.b, 0.0, 1.0);
    Vec3 sum{};
    for (const auto& [column, share] : corners(chart, cell))
        sum += share * Vec3(shown_m_[3 * column], shown_m_[3 * column + 1], shown_m_[3 * column + 2]);
    return sum;
}

}  // namespace session
