#include "engine/view/skin_signs.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/patient/patient.hpp"

namespace view {

namespace {

constexpr double kM3PerMl = 1e-6;
constexpr double kLeastHeightM = 0.1 * sim::kMm;  // lower is not seen
constexpr double kPaleToM = 4.0 * sim::kMm;       // fluid deeper than this leaves the skin its colour; assumed
constexpr double kWiderThanBall = 1.35;           // skin bends less sharply than the ball below it; by eye
constexpr double kSameEntryM = 2.0 * sim::kMm;    // punctures nearer than this bleed as one
constexpr double kWetS = 60.0;                    // until a wipe has dried; assumed
constexpr double kBruiseShowsMl = 0.3;            // full colour from here on: when the patient stage tells of it
constexpr double kLeastStrength = 0.04;

double rounded(double value, double to) { return std::round(value / to) * to; }
double length_rounded(double m) { return rounded(m, 0.25 * sim::kMm); }
double share_rounded(double share) { return rounded(std::clamp(share, 0.0, 1.0), 0.02); }

Vec3 on_skin(const sim::Model& model, const Vec3& place_m) { return model.anatomy->nearest_skin(place_m).position_m; }

/// A landmark is marked once a side: marked anew, the old mark is rubbed out. Ends of vectors stay, unless the new one
/// is put where one was.
void add_mark(SkinSigns& signs, const sim::Event& event) {
    constexpr double kRubbedOutM = 5.0 * sim::kMm;
    const auto point = static_cast<sim::MarkPoint>(event.value[0]);
    const std::string name(sim::name_of(point));
    const bool landmark = static_cast<int>(point) < sim::kLandmarks;
    const auto same = std::find_if(signs.marks.begin(), signs.marks.end(), [&](const SkinSigns::Mark& one) {
        if (one.name != name) return false;
        return landmark ? (one.skin_m.x < 0.0) == (event.place_m.x < 0.0)
                        : glm::length(one.skin_m - event.place_m) < kRubbedOutM;
    });
    if (same != signs.marks.end()) signs.marks.erase(same);
    SkinSigns::Mark mark{name, event.place_m, std::nullopt};
    // the end belongs to the entry that was marked before it
    if (point == sim::MarkPoint::vector_end && !signs.marks.empty() &&
        signs.marks.back().name == sim::name_of(sim::MarkPoint::vector_entry))
        mark.from_m = signs.marks.back().skin_m;
    signs.marks.push_back(mark);
}

/// A needle leaves a drop, a thick one a larger; another push at the same place makes it no smaller.
void add_drop(SkinSigns& signs, const sim::Model& model, const sim::Event& event, int tray) {
    if (tray < 0) return;
    const int gauge = model.scenario.tray[static_cast<std::size_t>(tray)].gauge;
    const double radius_m = gauge >= 27 ? 0.45 * sim::kMm : 0.9 * sim::kMm;  // by eye
    for (SkinSigns::Drop& drop : signs.drops)
        if (glm::length(drop.skin_m - event.place_m) < kSameEntryM) {
            drop.radius_m = std::max(drop.radius_m, radius_m);
            return;
        }
    signs.drops.push_back({event.place_m, radius_m});
}

void add_blebs(SkinSigns& signs, const sim::Model& model, const sim::State& state) {
    const double now_s = sim::patient_s(state);
    for (const sim::Depot& depot : state.visit.anaesthetic.depots) {
        const double left = std::exp(-std::max(0.0, now_s - depot.at_s) / kFluidGoneS);
        const double ml = depot.volume_ml * left;
        const Vec3 skin_m = on_skin(model, depot.place_m);
        const double depth_m = std::max(0.0, glm::length(depot.place_m - skin_m));
        // the deeper it lies, the wider and the lower is what it lifts
        const double radius_m = length_rounded(kWiderThanBall * sim::depot_radius_m(ml) + depth_m);
        const double height_m = bleb_height_m(ml, radius_m);
        const double pale = share_rounded(left * (1.0 - depth_m / kPaleToM));
        if (height_m >= kLeastHeightM)
            signs.blebs.push_back({skin_m, radius_m, rounded(height_m, 0.1 * sim::kMm), pale});
    }
}

/// Pallor over what an artery feeds, wider with what went in, until blood comes back.
void add_pallor(SkinSigns& signs, const sim::Model& model, const Vec3& place_m, double ml, double age_s) {
    constexpr double kPerCubeRootMl = 32.0 * sim::kMm, kMostM = 32.0 * sim::kMm;  // assumed
    const double strength = share_rounded(std::exp(-age_s / kPallorFadesS));
    if (strength < kLeastStrength) return;
    signs.blanched.push_back(
        {on_skin(model, place_m), length_rounded(std::min(kMostM, kPerCubeRootMl * std::cbrt(ml))), strength});
}

/// Of a vessel's wall.
struct Breach {
    int structure;
    double at_s;  ///< patient's time
};

void add_bruises(SkinSigns& signs, const sim::Model& model, const sim::State& state, std::span<const Breach> breaches) {
    const double now_s = sim::patient_s(state);
    const std::vector<sim::Bleeding>& all = state.visit.bleeding;
    for (std::size_t i = 0; i < all.size(); ++i) {
        const double radius_m = length_rounded(1.3 * sim::depot_radius_m(all[i].out_ml));
        const double strength = share_rounded(all[i].out_ml / kBruiseShowsMl);
        // one without a beginning in the record bled before it
        const auto breach = std::find_if(breaches.begin(), breaches.end(),
                                         [&](const Breach& b) { return b.structure == all[i].structure; });
        const double since_s = breach != breaches.end() ? now_s - breach->at_s : now_s;
        if (strength < kLeastStrength) continue;
        signs.bruises.push_back({on_skin(model, all[i].place_m), radius_m, strength,
                                 rounded(std::clamp(since_s / kDuskyS, 0.0, 1.0), 0.1)});
        // some of it comes out where the needle went in
        SkinSigns::Drop* nearest = nullptr;
        for (SkinSigns::Drop& drop : signs.drops)
            if (nearest == nullptr ||
                glm::length(drop.skin_m - all[i].place_m) < glm::length(nearest->skin_m - all[i].place_m))
                nearest = &drop;
        if (nearest != nullptr)
            nearest->radius_m += rounded(1.2 * sim::kMm * std::min(1.0, std::cbrt(all[i].out_ml)), 0.1 * sim::kMm);
    }
}

void add_wipes(SkinSigns& signs, const sim::State& state) {
    const double now_s = sim::patient_s(state);
    for (std::size_t area = 0; area < signs.wiped.size(); ++area) {
        const sim::PreparedSkin& skin = state.visit.skin[area];
        if (!skin.prepared && !skin.mild) continue;
        // what is no longer clean keeps a stain
        const double worn = skin.prepared ? 1.0 : 0.5;
        signs.wiped[area] = {skin.mild ? worn : 0.0,
                             skin.prepared ? rounded(std::max(0.0, 1.0 - (now_s - skin.since_s) / kWetS), 0.1) : 0.0};
    }
}

/// What the events up to a moment left on the skin.
struct SoFar {
    const sim::Model& model;
    std::int64_t step;
    SkinSigns signs;
    std::vector<Breach> breaches;
    std::optional<Vec3> pale_m;
    double pale_since_s, in_vessel_ml, waited_s;
    int tray;

    void take(const sim::Event& event) {
        const double at_s = static_cast<double>(event.step) * sim::kStepS + waited_s;
        switch (event.kind) {
            case sim::EventKind::time_passed:
                waited_s += event.value[0];
                break;
            case sim::EventKind::instrument_taken:
                tray = event.subject;
                break;
            case sim::EventKind::skin_punctured:
                add_drop(signs, model, event, tray);
                break;
            case sim::EventKind::deed_done:
                take_deed(event);
                break;
            case sim::EventKind::injected:
                if (!(event.value[3] > 0.0)) break;
                in_vessel_ml += event.value[0];
                pale_since_s = at_s;
                break;
            case sim::EventKind::sign_shown:
                if (event.subject == static_cast<int>(sim::Sign::blanching)) pale_m = event.place_m;
                break;
            case sim::EventKind::wall_breached:
                if (of_vessel(event)) breaches.push_back({event.subject, at_s});
                break;
            default:
                break;
        }
    }

    void take_deed(const sim::Event& event) {
        if (event.subject == static_cast<int>(sim::Deed::mark_point)) add_mark(signs, event);
        if (event.subject != static_cast<int>(sim::Deed::feel_pulse) || !(event.value[1] > 0.0)) return;
        const double age_s = static_cast<double>(step - event.step) * sim::kStepS;
        const double fresh = rounded(1.0 - age_s / kPulseShownS, 0.1);
        if (fresh > 0.0) signs.pulses.push_back({event.place_m, fresh});
    }

    [[nodiscard]] bool of_vessel(const sim::Event& event) const {
        const auto structures = model.anatomy->structures();
        if (event.subject < 0 || static_cast<std::size_t>(event.subject) >= structures.size()) return false;
        const sim::StructureKind kind = structures[static_cast<std::size_t>(event.subject)].kind;
        return kind == sim::StructureKind::artery || kind == sim::StructureKind::vein;
    }
};

}  // namespace

double bleb_height_m(double volume_ml, double radius_m) {
    return radius_m > 0.0 ? 3.0 * kLiftsShare * volume_ml * kM3PerMl / (sim::kPi * radius_m * radius_m) : 0.0;
}

bool SkinSigns::colours() const {
    return !blebs.empty() || !blanched.empty() || !bruises.empty() ||
           std::any_of(wiped.begin(), wiped.end(), [](const Wipe& one) { return one != Wipe{}; });
}

SkinSigns skin_signs(const sim::Model& model, const sim::State& state, std::span<const sim::Event> events) {
    if (!model.scenario.visit) return {};
    SoFar so_far{model, state.step, {}, {}, {}, 0.0, 0.0, 0.0, -1};
    for (const sim::Event& event : events) {
        if (event.step >= state.step) break;
        so_far.take(event);
    }
    SkinSigns& signs = so_far.signs;
    add_blebs(signs, model, state);
    if (so_far.pale_m)
        add_pallor(signs, model, *so_far.pale_m, so_far.in_vessel_ml, sim::patient_s(state) - so_far.pale_since_s);
    add_bruises(signs, model, state, so_far.breaches);
    add_wipes(signs, state);
    return signs;
}

}  // namespace view
