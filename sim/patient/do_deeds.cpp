#include <algorithm>
#include <array>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/patient/comfort.hpp"
#include "sim/patient/patient.hpp"
#include "sim/patient/pulse.hpp"
#include "sim/procedure/mark_rules.hpp"
#include "sim/stages.hpp"

/// Deeds, decisions and injections: what they do to the visit, and what the record is told.

namespace sim {

namespace {

constexpr double kBlockedAt = 0.7;  // numbness at a motor nerve from which its muscles are weak; assumed

/// Whether the tip lies in the lumen of a vessel, and in an artery.
struct InVessel {
    bool any = false, artery = false;
};
InVessel in_vessel(const StepContext& context) {
    std::vector<Clearance> found;
    context.model.anatomy->clearances(context.state.tip_m, context.state.tip_m, 1.0 * kMm, found);
    InVessel in;
    for (const Clearance& one : found) {
        const StructureKind kind = context.model.anatomy->structures()[static_cast<std::size_t>(one.structure)].kind;
        if (!(one.distance_m < 0.0) || (kind != StructureKind::artery && kind != StructureKind::vein)) continue;
        in.any = true;
        in.artery = in.artery || kind == StructureKind::artery;
    }
    return in;
}

/// Motor branches that lie in anaesthetic: weak for the time being.
bool motor_blocked(const Model& model, const State& state) {
    const double now_s = patient_s(state);
    for (const Structure& one : model.anatomy->structures()) {
        if (one.kind != StructureKind::nerve) continue;
        const bool sensory = one.name == "mental nerve" || one.name == "great auricular nerve";
        if (sensory) continue;
        for (const StructureNode& node : one.line)
            if (numbness(state.visit.anaesthetic, model.scenario.visit->anaesthetic, node.position_m, now_s) >
                kBlockedAt)
                return true;
    }
    return false;
}

void contaminate_gloves(const StepContext& context) {
    Visit& visit = context.state.visit;
    if (visit.hands != HandsClean::gloved) return;
    visit.hands = HandsClean::contaminated;
    context.note(EventKind::contaminated, context.state.hand.at.position_m, -1);
}

/// What a call hears: a bit each, in the order of CallFinding.
double call_findings(const StepContext& context, int call) {
    const State& s = context.state;
    const std::optional<Opening>& opening = context.model.scenario.visit->opening;
    int bits = opening ? opening->heard[static_cast<std::size_t>(call)] : 0;
    const auto add = [&bits](CallFinding finding, bool heard) {
        if (heard) bits |= 1 << static_cast<int>(finding);
    };
    bool exposed = false, dimpled = false;
    for (const HeldThread& thread : s.threads) {
        exposed = exposed || (thread.trimmed() && !thread.out && thread.tail_depth_m < kExtrudesAboveM);
        dimpled = dimpled || (!thread.out && thread.dimple_m > kDimpleStaysM);
    }
    add(CallFinding::infection, s.visit.unclean_thread);
    add(CallFinding::extrusion, exposed);
    add(CallFinding::swelling_at_meals, s.visit.parotid_open);
    add(CallFinding::weakness, s.visit.nerve_cut);
    add(CallFinding::numbness, s.visit.nerve_hurt);
    add(CallFinding::dimple, dimpled);
    return bits;
}

void set_chair(const StepContext& context, Chair chair) {
    Visit& visit = context.state.visit;
    // who sits up takes the field along: hair, hands and clothes have been everywhere
    if (chair == Chair::upright && visit.chair != Chair::upright) {
        for (PreparedSkin& area : visit.skin) area.prepared = false;
        visit.field = false;
    }
    visit.chair = chair;
}

void prepare(Visit& visit, int area, bool mild, double now_s) {
    visit.skin[static_cast<std::size_t>(area)] = {true, mild, now_s};
}

/// Opened by hands that are not clean it is no longer sterile, and the record is told so.
void open_another(const StepContext& context, int tray) {
    State& s = context.state;
    const auto at = static_cast<std::size_t>(tray);
    s.in_use[at] = true;
    s.visit.fresh[at] = 1;
    s.visit.unpacked[at] = 0;
    s.visit.contaminated[at] = s.visit.hands == HandsClean::gloved ? 0 : 1;
    if (s.visit.contaminated[at] != 0) context.note(EventKind::contaminated, {}, tray);
}

/// What the deed changes, and up to three results for the record.
std::array<double, 3> carry_out(const StepContext& context, Deed deed, int subject) {
    State& s = context.state;
    Visit& visit = s.visit;
    switch (deed) {
        case Deed::ask:
            break;  // the answer is the scenario's
        case Deed::explain:
            visit.explained = true;
            break;
        case Deed::take_consent:
            return {visit.explained ? 1.0 : 0.0};
        case Deed::photograph:
            contaminate_gloves(context);
            return {static_cast<double>(visit.chair)};
        case Deed::test_movement:
            return {visit.nerve_cut ? 1.0 : 0.0, motor_blocked(context.model, s) ? 1.0 : 0.0,
                    static_cast<double>(visit.chair)};
        case Deed::test_sensation:
            return {visit.nerve_hurt || visit.nerve_cut ? 1.0 : 0.0};
        case Deed::feel_pulse:
            break;  // told by itself, when the tissue has answered
        case Deed::mark_point:
            return {off_rule_m(*context.model.anatomy, static_cast<MarkPoint>(subject), s.hand.at.position_m)
                        .value_or(-1.0),
                    static_cast<double>(visit.chair)};
        case Deed::wash_hands:
            visit.hands = HandsClean::washed;
            break;
        case Deed::put_on_gloves: {
            const bool washed = visit.hands == HandsClean::washed;
            visit.hands = washed ? HandsClean::gloved : HandsClean::contaminated;
            return {washed ? 1.0 : 0.0};
        }
        case Deed::prepare_skin:
        case Deed::prepare_skin_mild:
            prepare(visit, subject, deed == Deed::prepare_skin_mild, patient_s(s));
            break;
        case Deed::lay_field:
            visit.field = true;
            break;
        case Deed::set_chair:
            set_chair(context, static_cast<Chair>(subject));
            break;
        case Deed::aspirate:
            return {in_vessel(context).any ? 1.0 : 0.0};
        case Deed::open_another:
            open_another(context, subject);
            break;
        case Deed::ask_how_it_feels:
            return {quantised(visit.pain)};
        case Deed::count_sharps:
            return {s.in_skin ? 1.0 : 0.0, static_cast<double>(visit.sharps)};
        case Deed::read_pack:
            return {in_date(context.model, visit, subject) ? 1.0 : 0.0};
        case Deed::discharge:
            visit.discharged = true;
            break;
        case Deed::call_back:
            return {call_findings(context, subject)};
        case Deed::answer_call:
        case Deed::call_for_help:
        case Deed::give_care:
        case Deed::write_record:
        case Deed::advise:
        case Deed::give_contact:
            break;  // the record is told; that is all of it
    }
    return {};
}

}  // namespace

bool in_date(const Model& model, const Visit& visit, int tray) {
    const auto at = static_cast<std::size_t>(tray);
    return visit.fresh[at] != 0 || model.scenario.tray[at].thread.use_by_months >= 0;
}

namespace {

Vec3 place_of(const State& s, Deed deed) {
    switch (deed) {
        case Deed::mark_point:
            return s.hand.at.position_m;
        case Deed::aspirate:
            return s.tip_m;
        default:
            return {};
    }
}

}  // namespace

std::string_view words_of(DeedRefusal refusal) {
    static constexpr std::array<std::string_view, kDeedRefusals> words{
        "this scenario begins after the consult and ends before the call",
        "the other hand lies nowhere yet",
        "no needle or cannula is in the skin",
        "a loaded cannula has no room for fluid",
        "the one in use has not been discarded",
        "the patient has gone home",
        "the tray has none of that number"};
    return words[static_cast<std::size_t>(refusal)];
}

std::optional<DeedRefusal> refusal_of(const Model& model, const State& state, Deed deed, int subject) {
    if (!model.scenario.visit) return DeedRefusal::no_visit;
    const bool after = deed == Deed::call_back || deed == Deed::answer_call || deed == Deed::write_record;
    if (state.visit.discharged && !after) return DeedRefusal::gone;
    if ((deed == Deed::feel_pulse || deed == Deed::mark_point) && !state.hand.placed) return DeedRefusal::no_hand_there;
    if (deed == Deed::aspirate) return refusal_of_injection(model, state);
    const bool of_tray = deed == Deed::open_another || deed == Deed::read_pack;
    if (of_tray && static_cast<std::size_t>(subject) >= state.in_use.size()) return DeedRefusal::not_on_tray;
    if (deed == Deed::open_another) {
        const auto at = static_cast<std::size_t>(subject);
        if (state.in_use[at]) return DeedRefusal::not_discarded;
    }
    return std::nullopt;
}

std::optional<DeedRefusal> refusal_of_injection(const Model& model, const State& state) {
    if (!model.scenario.visit) return DeedRefusal::no_visit;
    if (!state.in_skin || state.hands.instrument < 0) return DeedRefusal::nothing_in_skin;
    if (model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)].loaded) return DeedRefusal::loaded;
    return std::nullopt;
}

void open_in_the_middle(const Model& model, Visit& visit) {
    const Opening& opening = *model.scenario.visit->opening;
    visit.explained = true;
    visit.decision = Decision::treat;
    visit.discharged = opening.gone_home;
    if (!opening.bleeding_at_m) return;
    visit.chair = Chair::reclined;
    visit.hands = HandsClean::gloved;
    visit.field = true;
    for (PreparedSkin& area : visit.skin) area = {true, true, 0.0};
    std::vector<Clearance> found;
    model.anatomy->clearances(*opening.bleeding_at_m, *opening.bleeding_at_m, 15.0 * kMm, found);
    const Clearance* nearest = nullptr;
    for (const Clearance& one : found) {
        const Structure& structure = model.anatomy->structures()[static_cast<std::size_t>(one.structure)];
        if (structure.kind != StructureKind::artery) continue;
        if (nearest == nullptr || one.distance_m < nearest->distance_m) nearest = &one;
    }
    if (nearest == nullptr)
        throw InputError("visit.begins_with.bleeding_at_mm", "no artery near", "a place within 15 mm of an artery");
    visit.bleeding.push_back({nearest->structure, *opening.bleeding_at_m, true});
}

double patient_s(const State& state) { return static_cast<double>(state.step) * kStepS + state.visit.passed_s; }

void do_deed(const StepContext& context, Deed deed, int subject) {
    if (deed == Deed::feel_pulse) {
        feel_pulse(context);
    } else {
        const Vec3 place_m = place_of(context.state, deed);
        const auto result = carry_out(context, deed, subject);
        context.note(EventKind::deed_done, place_m, static_cast<int>(deed),
                     {static_cast<double>(subject), result[0], result[1], result[2]});
    }
    const double takes_s = spec_of(deed).takes_s;
    if (takes_s > 0.0) let_pass(context, takes_s);
}

void decide(const StepContext& context, Decision decision, HistoryItem reason) {
    context.state.visit.decision = decision;
    context.note(EventKind::decided, {}, static_cast<int>(decision), {static_cast<double>(reason), 0, 0, 0});
}

void inject_here(const StepContext& context, double volume_ml) {
    State& s = context.state;
    const AnaestheticSpec& spec = context.model.scenario.visit->anaesthetic;
    const double now_s = patient_s(s);
    const double feels = 1.0 - numbness(s.visit.anaesthetic, spec, s.tip_m, now_s);
    s.visit.pain += kPainPerMl * volume_ml * feels;
    const InVessel in = in_vessel(context);
    if (in.any)
        s.visit.anaesthetic.given_ml += volume_ml;  // it is carried away
    else
        inject(s.visit.anaesthetic, s.tip_m, volume_ml, now_s);
    const double given_mg = s.visit.anaesthetic.given_ml * spec.mg_per_ml;
    context.note(EventKind::injected, s.tip_m, s.track ? s.track->index : -1,
                 {volume_ml, given_mg, static_cast<double>(s.tip_layer), in.any ? 1.0 : 0.0});
    if (in.artery && !s.visit.blanched) {
        s.visit.blanched = true;
        context.note(EventKind::sign_shown, s.tip_m, static_cast<int>(Sign::blanching), {volume_ml, 0, 0, 0});
    }
}

}  // namespace sim
