#include <algorithm>
#include <array>
#include <cmath>

#include "sim/core/random.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/instruments/second_hand.hpp"
#include "sim/patient/comfort.hpp"
#include "sim/patient/patient.hpp"
#include "sim/stages.hpp"

/// The patient stage: pain, movement, bleeding, toxicity, faint, and what touches what. Reads the events of its own
/// step, which the stages before it have left.

namespace sim {

namespace {

// all assumed, but for the order in which signs of toxicity come (common teaching, from memory)
constexpr double kArteryMlPerS = 2.0 / 60.0, kVeinMlPerS = 0.7 / 60.0;
constexpr double kPressN = 2.0;      // less does not close a vessel
constexpr double kPressedS = 300.0;  // 5 to 10 min: common practice, no source
constexpr double kBruiseMl = 0.3, kSwellingMl = 4.0;
constexpr double kFlinchRad = 2.0 * kPi / 180.0;  // of the aim, a standard deviation
constexpr double kFallsBackTo = 0.6;              // of what is borne, before the patient can move again
constexpr double kCollapseS = 60.0;
constexpr double kSwallowToldS = 1.5, kSwallowS = 1.5;  // from the word to the movement, and how long that takes
constexpr double kSwallowRad = 5.0 * kPi / 180.0, kSwallowPain = 2.0;
constexpr double kMostPain = 10.0;

struct ToxicStep {
    double over_limit, after_s;
    Sign sign;
};
constexpr std::array<ToxicStep, 3> kToxicSteps{
    {{1.0, 120.0, Sign::tingling}, {1.25, 240.0, Sign::agitation}, {1.6, 360.0, Sign::seizure}}};

void show(const StepContext& context, Sign sign, const Vec3& place_m, double value = 0.0) {
    context.note(EventKind::sign_shown, place_m, static_cast<int>(sign), {value, 0, 0, 0});
}

double feels_at(const StepContext& context, const Vec3& place_m) {
    const State& s = context.state;
    return 1.0 - numbness(s.visit.anaesthetic, context.model.scenario.visit->anaesthetic, place_m, patient_s(s));
}

void contaminate_instrument(const StepContext& context, const Vec3& place_m) {
    State& s = context.state;
    if (s.hands.instrument < 0) return;
    char& dirty = s.visit.contaminated[static_cast<std::size_t>(s.hands.instrument)];
    if (dirty != 0) return;
    dirty = 1;
    context.note(EventKind::contaminated, place_m, s.hands.instrument);
}

SkinArea area_at(const StepContext& context, const Vec3& place_m) {
    return area_of(place_m, context.model.anatomy->layers_at(place_m).floor == FloorKind::fascia);
}

/// Through skin that is not ready, by hands or an instrument that are not clean.
void note_entry(const StepContext& context, const Vec3& place_m) {
    State& s = context.state;
    const PreparedSkin& skin = s.visit.skin[static_cast<std::size_t>(area_at(context, place_m))];
    const double needed_s = std::max(contact_time_s(skin.mild), context.model.scenario.visit->local.contact_time_s);
    const bool waited = skin.prepared && patient_s(s) - skin.since_s >= needed_s;
    const bool instrument = s.visit.contaminated[static_cast<std::size_t>(s.hands.instrument)] != 0;
    const int why = (skin.prepared ? 0 : 1) | (skin.prepared && !waited ? 2 : 0) |
                    (s.visit.hands == HandsClean::gloved ? 0 : 4) | (instrument ? 8 : 0) | (s.visit.field ? 0 : 16);
    if (why == 0) return;
    context.note(EventKind::unclean_entry, place_m, s.hands.instrument, {static_cast<double>(why), 0, 0, 0});
    contaminate_instrument(context, place_m);
}

void breached(const StepContext& context, const Event& event) {
    Visit& visit = context.state.visit;
    const StructureKind kind = context.model.anatomy->structures()[static_cast<std::size_t>(event.subject)].kind;
    switch (kind) {
        case StructureKind::artery:
        case StructureKind::vein:
            visit.bleeding.push_back({event.subject, event.place_m, kind == StructureKind::artery});
            break;
        case StructureKind::nerve:
            visit.nerve_cut = true;
            break;
        case StructureKind::duct:
        case StructureKind::gland:
            visit.parotid_open = true;
            show(context, Sign::clear_fluid, event.place_m);
            break;
    }
}

void touched(const StepContext& context, const Event& event) {
    Visit& visit = context.state.visit;
    if (context.model.anatomy->structures()[static_cast<std::size_t>(event.subject)].kind != StructureKind::nerve)
        return;
    visit.nerve_hurt = true;
    visit.pain += kNervePain;
    show(context, Sign::electric_pain, event.place_m);
}

void unpack(Visit& visit, int tray) {
    if (tray < 0 || visit.unpacked[static_cast<std::size_t>(tray)] != 0) return;
    visit.unpacked[static_cast<std::size_t>(tray)] = 1;
    ++visit.sharps;
}

void take_event(const StepContext& context, const Event& event) {
    State& s = context.state;
    switch (event.kind) {
        case EventKind::instrument_taken:
            unpack(s.visit, event.subject);
            if (s.visit.hands != HandsClean::gloved) contaminate_instrument(context, event.place_m);
            break;
        case EventKind::skin_punctured:
            note_entry(context, event.place_m);
            s.visit.pain += jab_pain(gauge(context.instrument().gauge).outer_m) * feels_at(context, event.place_m);
            if (context.model.scenario.visit->faints && s.visit.faint_since_s < 0.0 && !s.visit.faint_done) {
                s.visit.faint_since_s = patient_s(s);
                show(context, Sign::pallor, {});
            }
            break;
        case EventKind::track_opened:
            note_entry(context, event.place_m);
            break;
        case EventKind::wall_touched:
            touched(context, event);
            break;
        case EventKind::wall_breached:
            breached(context, event);
            break;
        case EventKind::lining_breached:
            show(context, Sign::taste, event.place_m);
            contaminate_instrument(context, event.place_m);
            break;
        case EventKind::thread_left: {
            // past its date nobody answers for its being sterile; that it then always infects is assumed
            const int held = s.hands.instrument;
            const bool dirty = held >= 0 && (s.visit.contaminated[static_cast<std::size_t>(held)] != 0 ||
                                             !in_date(context.model, s.visit, held));
            s.visit.unclean_thread = s.visit.unclean_thread || dirty;
            break;
        }
        default:
            break;
    }
}

/// The patient moves, and the aim of what is in the skin with them.
void flinch(const StepContext& context, double spread_rad, bool swallowed) {
    State& s = context.state;
    Random random = Random(context.model.scenario.patient.variant_seed)
                        .fork(0x6d6f7665)
                        .fork(static_cast<std::uint64_t>(++s.visit.moves));
    const double yaw_rad = spread_rad * random.normal(), pitch_rad = spread_rad * random.normal();
    if (s.in_skin) {
        s.hands.yaw_rad += yaw_rad;
        s.hands.pitch_rad += pitch_rad;
    }
    context.note(EventKind::patient_moved, s.tip_m, -1,
                 {s.visit.pain, s.in_skin ? yaw_rad : 0.0, s.in_skin ? pitch_rad : 0.0, swallowed ? 1.0 : 0.0});
}

/// Who cannot hold still says so first. A tip that lies still meanwhile goes along with the tissue; one that is pushed
/// on is led astray.
void swallow(const StepContext& context, double on_m) {
    State& s = context.state;
    Visit& visit = s.visit;
    const double every_s = context.model.scenario.visit->swallows_every_s;
    if (!(every_s > 0.0) || !s.in_skin) {
        visit.swallows_s = 0.0;
        return;
    }
    if (visit.swallows_s > 0.0) {
        visit.swallows_s = std::max(0.0, visit.swallows_s - kStepS);
        if (visit.swallow_met || visit.swallows_s > kSwallowS || !(on_m > 0.0)) return;
        visit.swallow_met = true;
        visit.pain += kSwallowPain;
        flinch(context, kSwallowRad, true);
        return;
    }
    visit.still_s += kStepS;
    if (visit.still_s < every_s) return;
    visit.still_s = 0.0;
    visit.swallows_s = kSwallowToldS + kSwallowS;
    visit.swallow_met = false;
    show(context, Sign::swallow, s.tip_m);
}

void feel_the_tip(const StepContext& context) {
    State& s = context.state;
    const double on_m = s.in_skin ? std::max(0.0, s.inserted_m - s.visit.inserted_m) : 0.0;
    s.visit.inserted_m = s.in_skin ? s.inserted_m : 0.0;
    if (on_m > 0.0) s.visit.pain += travel_pain_per_m(s.tip_layer) * on_m * feels_at(context, s.tip_m);
    swallow(context, on_m);
}

/// Who feels more than they bear moves.
void move(const StepContext& context) {
    State& s = context.state;
    Visit& visit = s.visit;
    const VisitSpec& spec = *context.model.scenario.visit;
    visit.pain = std::min(visit.pain, kMostPain);
    if (visit.hurting || !(visit.pain > spec.bears_pain)) {
        if (visit.pain < kFallsBackTo * spec.bears_pain) visit.hurting = false;
        return;
    }
    visit.hurting = true;
    show(context, Sign::pain, s.tip_m, visit.pain);
    flinch(context, kFlinchRad, false);
}

void bleed(const StepContext& context, double seconds) {
    State& s = context.state;
    for (Bleeding& one : s.visit.bleeding) {
        if (one.stopped) continue;
        const Vec3 skin_m = context.model.anatomy->nearest_skin(one.place_m).position_m;
        if (pressed_n(s.hand, skin_m) >= kPressN) {
            one.pressed_s += seconds;
            if (one.pressed_s < kPressedS) continue;
            one.stopped = true;
            context.note(EventKind::bleeding_stopped, one.place_m, one.structure, {one.out_ml, one.pressed_s, 0, 0});
            continue;
        }
        one.pressed_s = 0.0;
        one.out_ml += seconds * (one.artery ? kArteryMlPerS : kVeinMlPerS);
        if (!one.bruise_told && one.out_ml >= kBruiseMl) {
            one.bruise_told = true;
            show(context, Sign::bruise_spreading, one.place_m, one.out_ml);
        }
        if (!one.swelling_told && one.out_ml >= kSwellingMl) {
            one.swelling_told = true;
            show(context, Sign::swelling_expanding, one.place_m, one.out_ml);
        }
    }
}

void poison(const StepContext& context) {
    State& s = context.state;
    Visit& visit = s.visit;
    const VisitSpec& spec = *context.model.scenario.visit;
    const double of_limit = visit.anaesthetic.given_ml * spec.anaesthetic.mg_per_ml / spec.label_limit_mg();
    if (!(of_limit > 1.0)) return;
    const double now_s = patient_s(s);
    if (visit.over_limit_since_s < 0.0) visit.over_limit_since_s = now_s;
    for (const ToxicStep& step : kToxicSteps) {
        const bool due = of_limit > step.over_limit && now_s - visit.over_limit_since_s >= step.after_s;
        if (!due || (visit.toxicity && *visit.toxicity >= step.sign)) continue;
        visit.toxicity = step.sign;
        show(context, step.sign, {}, of_limit);
    }
}

void faint(const StepContext& context) {
    Visit& visit = context.state.visit;
    if (visit.faint_since_s < 0.0 || visit.faint_done) return;
    if (visit.chair == Chair::flat) {
        visit.faint_done = true;
        return;
    }
    if (visit.collapsed || patient_s(context.state) - visit.faint_since_s < kCollapseS) return;
    visit.collapsed = true;
    show(context, Sign::collapse, {});
}

/// What had happened before the attempt began.
void tell_opening(const StepContext& context) {
    for (const Bleeding& one : context.state.visit.bleeding)
        context.note(EventKind::wall_breached, one.place_m, one.structure);
}

/// What time alone brings.
void age(const StepContext& context, double seconds) {
    context.state.visit.pain *= std::exp(-seconds / kPainFadesS);
    bleed(context, seconds);
    poison(context);
    faint(context);
}

}  // namespace

SkinArea area_of(const Vec3& place_m, bool fascia) {
    if (fascia) return SkinArea::neck;
    return place_m.x >= 0.0 ? SkinArea::left_face : SkinArea::right_face;
}

double contact_time_s(bool mild) { return mild ? 120.0 : 30.0; }

void touch_skin(const StepContext& context) {
    State& s = context.state;
    if (!context.model.scenario.visit || s.visit.hands != HandsClean::gloved) return;
    if (s.visit.skin[static_cast<std::size_t>(area_at(context, s.hand.at.position_m))].prepared) return;
    s.visit.hands = HandsClean::contaminated;
    context.note(EventKind::contaminated, s.hand.at.position_m, -1);
}

void let_pass(const StepContext& context, double seconds) {
    State& s = context.state;
    // in parts, so that signs come one after the other and at their time
    constexpr double kPartS = 10.0;
    for (double left_s = seconds; left_s > 0.0; left_s -= kPartS) {
        const double part_s = std::min(kPartS, left_s);
        s.visit.passed_s += part_s;
        age(context, part_s);
    }
    context.note(EventKind::time_passed, {}, -1, {seconds, patient_s(s), 0, 0});
}

void patient(const StepContext& context) {
    if (!context.model.scenario.visit) return;
    // what is noted below is this stage's own and not read again
    const std::size_t events = context.report.events.size();
    for (std::size_t i = 0; i < events; ++i) {
        const Event event = context.report.events[i];
        take_event(context, event);
    }
    if (context.state.step == 0) tell_opening(context);
    feel_the_tip(context);
    move(context);
    age(context, kStepS);
}

}  // namespace sim
