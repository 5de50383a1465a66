#pragma once

#include "sim/patient/patient.hpp"
#include "tests/support/play.hpp"

/// A visit on the slab: a healthy patient of 60 kg, 1 % lidocaine, and a fine needle beside the other instruments.

namespace support {

inline constexpr int kFineNeedle = 3;  ///< its tray number

inline sim::VisitSpec healthy_visit() {
    sim::VisitSpec visit;
    visit.weight_kg = 60.0;
    for (sim::HistoryAnswer& answer : visit.history) answer.says = "No.";
    return visit;
}

inline sim::Model visit_model(sim::VisitSpec visit = healthy_visit(), sim::SlabParameters slab = {}) {
    sim::Model model = slab_model(std::move(slab));
    sim::InstrumentSpec fine;
    fine.name = "Fine needle";
    fine.tip = sim::TipShape::bevel;
    fine.gauge = 30;
    fine.length_m = 13.0 * sim::kMm;
    model.scenario.tray.push_back(fine);
    model.scenario.visit = std::move(visit);
    return model;
}

/// A vessel across the needle's way, 4 mm in front of the entry and under the skin.
inline sim::SlabParameters with_vessel(sim::StructureKind kind) {
    sim::SlabParameters slab;
    sim::Structure vessel;
    vessel.name = "crossing";
    vessel.kind = kind;
    vessel.line = {{{4.0 * sim::kMm, -20.0 * sim::kMm, -3.4 * sim::kMm}, 0.8 * sim::kMm},
                   {{4.0 * sim::kMm, 20.0 * sim::kMm, -3.4 * sim::kMm}, 0.8 * sim::kMm}};
    vessel.wall_force_n = 0.2;
    slab.structures = {vessel};
    return slab;
}

inline sim::Command deed(sim::Deed which, int subject = 0) {
    return {sim::Verb::deed, {static_cast<std::int64_t>(which), subject, 0}};
}

inline sim::Command let_pass(std::int64_t seconds) { return {sim::Verb::let_pass, {seconds, 0, 0}}; }

/// Hands, gloves, skin, field and contact time.
inline void prepare(Play& play) {
    play.command(deed(sim::Deed::wash_hands));
    play.command(deed(sim::Deed::put_on_gloves));
    play.command(deed(sim::Deed::prepare_skin_mild, static_cast<int>(sim::SkinArea::left_face)));
    play.command(deed(sim::Deed::prepare_skin_mild, static_cast<int>(sim::SkinArea::right_face)));
    play.command(deed(sim::Deed::lay_field));
    play.command(let_pass(120));
}

/// A needle through the skin at the origin, so deep.
inline void needle_in(Play& play, int tray, double mm) {
    play.command({sim::Verb::take, {tray}});
    play.command({sim::Verb::entry, {0, 0, 0}});
    play.command({sim::Verb::aim, {0, 40'000}});
    play.push_mm(mm);
}

inline void needle_out(Play& play, double mm) {
    play.push_mm(-mm);
    play.wait(2);
}

}  // namespace support
