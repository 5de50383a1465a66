#include "engine/session/live_tip.hpp"

#include <algorithm>
#include <cmath>
#include <span>

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
    if (tip_n > 0.0) out.push_back({state.tip_m, state.tip_heading * tip_n, false, true});
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
        if (state.press_m > 0.0)
            out.push_back({state.hands.entry.position_m, state.tip_heading * state.force.tip_n, false, true});
        return out;
    }
    if (!(state.inserted_m > 0.0)) return out;
    if (state.hands.lift_n > 0.0)
        out.push_back({state.tip_m, lift_direction(state, model) * state.hands.lift_n, true, true});
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

float LiveTip::Skin::off_m(const Skin& other) const {
    return std::max((skin_m - other.skin_m).cwiseAbs().maxCoeff(), (detail_m - other.detail_m).cwiseAbs().maxCoeff());
}

/// @param left of the way there
void LiveTip::Skin::move(const Skin& towards, float left) {
    skin_m = towards.skin_m + left * (skin_m - towards.skin_m);
    detail_m = towards.detail_m + left * (detail_m - towards.detail_m);
}

void LiveTip::begin() {
    tips_.emplace(*shape_->mesh);
    details_.emplace(*shape_->mesh);
    target_m_.skin_m.setZero(3 * shape_->mesh->columns());
    target_m_.detail_m.setZero(3 * details_->grid().nodes());
    shown_m_ = target_m_;
}

LiveTip::Place& LiveTip::place_of(const Vec3& p_m) {
    constexpr std::size_t kMostPlaces = 64;
    const auto known =
        std::find_if(places_.begin(), places_.end(), [&p_m](const Place& place) { return place.p_m == p_m; });
    if (known != places_.end()) return *known;
    if (places_.size() == kMostPlaces) places_.erase(places_.begin(), places_.begin() + kMostPlaces / 2);
    places_.push_back({p_m, locate(*shape_->mesh, p_m), std::nullopt});
    return places_.back();
}

void LiveTip::work_out(const std::vector<HandForce>& forces) {
    std::vector<sim::fe::TipForce> at;
    std::vector<HandForce> inside;
    std::vector<bool> told;
    bool lift_outside = false;
    for (const HandForce& force : forces)
        if (const auto place = place_of(force.place_m).chart) {
            at.push_back({*place, force.force_n});
            inside.push_back(force);
        } else {
            lift_outside = lift_outside || force.lifts;
        }
    tips_->skin_m(at, target_m_.skin_m, told);
    target_m_.detail_m.setZero();
    lacks_ = std::find(told.begin(), told.end(), false) != told.end();
    // with nothing lifted the closed form has nothing to show: it may as well be off
    closed_target_ = lift_outside ? 1.0 : 0.0;
    lacks_detail_ = false;
    for (std::size_t i = 0; i < at.size(); ++i) {
        if (inside[i].lifts && !told[i]) closed_target_ = 1.0;
        if (inside[i].at_tip && told[i] && !details_->add(at[i], target_m_.detail_m)) lacks_detail_ = true;
    }
    forces_ = forces;
}

void LiveTip::ask_for(const sim::State& state, const std::vector<HandForce>& forces) {
    constexpr std::size_t kDetailsAhead = 2, kMostDetails = 4;  // where it is and a cell on: two levels each
    const TissueStatus status = tissue_->status();
    if (!status.about_detail.empty()) lacks_detail_ = false;  // none comes
    if (!status.about_tip.empty()) return;
    std::vector<sim::fe::ChartPlace> way;
    const auto add = [&](const Vec3& p_m) {
        if (const auto place = place_of(p_m).chart) way.push_back(*place);
    };
    for (const Vec3& p : way_of_tip(state)) add(p);
    std::vector<sim::fe::TipNode> cells;
    if (status.about_detail.empty())
        cells = details_->missing(std::span(way).first(std::min(way.size(), kDetailsAhead)), kMostDetails);
    for (const HandForce& force : forces) add(force.place_m);
    std::vector<sim::fe::TipNode> missing = tips_->missing(way, sim::fe::kTipNodesABatch);
    if (missing == asked_ && cells == details_asked_) return;
    asked_ = missing;
    details_asked_ = cells;
    tissue_->ask(std::move(missing), std::move(cells));
}

bool LiveTip::take_what_came() {
    bool fresh = false;
    for (sim::fe::TipBlock& block : tissue_->take_tip_blocks()) {
        tips_->keep(std::move(block));
        fresh = true;
    }
    for (sim::fe::TipDetail& detail : tissue_->take_tip_details()) {
        details_->keep(std::move(detail));
        fresh = true;
    }
    return fresh;
}

bool LiveTip::advance(const sim::State& state, const sim::Model& model, double elapsed_s, bool at_once) {
    if (!shape_) {
        shape_ = tissue_->shape();
        if (!shape_) return false;
        begin();
    }
    const bool fresh = take_what_came();
    const std::vector<HandForce> forces = hand_forces(state, model);
    const auto same = [](const HandForce& a, const HandForce& b) {
        return a.place_m == b.place_m && a.force_n == b.force_n && a.lifts == b.lifts;
    };
    if (fresh || !std::equal(forces.begin(), forces.end(), forces_.begin(), forces_.end(), same)) work_out(forces);
    ask_for(state, forces);

    const float left = static_cast<float>(at_once ? 0.0 : std::exp(-elapsed_s / kFadeS));
    const float off_m = shown_m_.off_m(target_m_);
    const bool closed_off = closed_share_ != closed_target_;
    if (off_m == 0.0f && !closed_off) return false;
    if (off_m * left < kStillM)
        shown_m_ = target_m_;
    else
        shown_m_.move(target_m_, left);
    closed_share_ = closed_target_ + static_cast<double>(left) * (closed_share_ - closed_target_);
    if (std::fabs(closed_share_ - closed_target_) < 1e-3) closed_share_ = closed_target_;
    return true;
}

Vec3 LiveTip::skin_moved_m(const Vec3& place_m) {
    if (!shape_) return {};
    Place& place = place_of(place_m);
    if (!place.chart) return {};
    const sim::fe::ChartPlace over{place.chart->s_m, place.chart->t_m, sim::fe::kCellsDeep};
    if (!place.skin) place.skin = patch_at(*shape_->mesh, over);
    Vec3 sum = read_fine(shape_->mesh->chart, shown_m_.detail_m, over.s_m, over.t_m);
    for (const auto& [node, weight] : place.skin->weight) {
        const int column = node / sim::fe::kCellsDeep;
        sum += weight * Vec3(skin_m()[3 * column], skin_m()[3 * column + 1], skin_m()[3 * column + 2]);
    }
    return sum;
}

}  // namespace session
