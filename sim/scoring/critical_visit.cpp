#include <algorithm>

#include "sim/scoring/critical_rules.hpp"
#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

/// Critical faults of the visit around the passes.

namespace sim::figures {

namespace {

bool is_toxic(Sign sign) { return sign == Sign::tingling || sign == Sign::agitation || sign == Sign::seizure; }

Found at(const CriticalFault& rule, const Event& event, const std::string& detail, std::string_view stage) {
    return fault(rule, detail, event.step, event.place_m, 0.0, "", stage);
}

const Event* discharged(const VisitRecord& record) {
    const std::vector<const Event*> found = record.deeds(Deed::discharge);
    return found.empty() ? nullptr : found.front();
}

}  // namespace

Finding fault(const CriticalFault& rule, const std::string& detail, std::int64_t step, const Vec3& place_m,
              double shown, std::string_view unit, std::string_view stage) {
    std::string what = rule.words;
    if (!detail.empty()) what += ": " + detail;
    return {rule.event, std::move(what), std::string(stage), static_cast<double>(step) * kStepS,
            place_m,    shown,           std::string(unit),  1.0};
}

Found no_consent(const Recording& recording, const CriticalFault& rule) {
    const VisitRecord record(recording);
    if (!recording.visit || !record.entered() || record.done_by(Deed::take_consent, record.entered_step()))
        return std::nullopt;
    return fault(rule, "", record.entered_step(), {}, 0.0, "", "consult");
}

Found against_reason(const Recording& recording, const CriticalFault& rule) {
    const VisitRecord record(recording);
    if (!recording.visit || !record.entered()) return std::nullopt;
    const Decision right = recording.visit->right_decision();
    if (right == Decision::treat) return std::nullopt;
    return fault(rule, "the history calls to " + std::string(name_of(right)), record.entered_step(), {}, 0.0, "",
                 "consult");
}

Found dose_over_limit(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    const double limit_mg = recording.visit->limit_mg();
    for (const Event& event : recording.events) {
        if (event.kind != EventKind::injected) continue;
        const double shown = 100.0 * event.value[1] / limit_mg;
        if (shown > rule.threshold + 1e-9)
            return fault(rule, std::to_string(static_cast<int>(event.value[1] + 0.5)) + " mg", event.step,
                         event.place_m, shown, "%", "numb");
    }
    return std::nullopt;
}

Found known_allergy(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit || !recording.visit->allergic_to_anaesthetic) return std::nullopt;
    for (const Event& event : recording.events)
        if (event.kind == EventKind::injected) return at(rule, event, "", "numb");
    return std::nullopt;
}

Found toxicity_ignored(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    const VisitRecord record(recording);
    for (const AnsweredSign& one : record.signs()) {
        if (!is_toxic(one.sign)) continue;
        if (!one.answered) return at(rule, *one.event, std::string(name_of(one.sign)) + " not answered", "numb");
        for (const Event* injected : record.all(EventKind::injected))
            if (injected->step > one.event->step)
                return at(rule, *injected, "injected after " + std::string(name_of(one.sign)), "numb");
    }
    return std::nullopt;
}

Found unprepared_entry(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    for (const Event& event : recording.events)
        if (event.kind == EventKind::unclean_entry && (static_cast<int>(event.value[0]) & 1) != 0)
            return at(rule, event, "", "prepare");
    return std::nullopt;
}

Found contaminated_thread(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    int in_hand = -1;
    std::vector<bool> dirty(recording.tray.size(), false);
    const auto known = [&](int tray) { return tray >= 0 && static_cast<std::size_t>(tray) < dirty.size(); };
    for (const Event& event : recording.events) {
        if (event.kind == EventKind::instrument_taken) in_hand = event.subject;
        if (event.kind == EventKind::contaminated && known(event.subject))
            dirty[static_cast<std::size_t>(event.subject)] = true;
        // a fresh one lies where it was
        if (event.kind == EventKind::instrument_discarded && known(event.subject))
            dirty[static_cast<std::size_t>(event.subject)] = false;
        if (event.kind == EventKind::thread_left && known(in_hand) && dirty[static_cast<std::size_t>(in_hand)])
            return at(rule, event, "", "prepare");
    }
    return std::nullopt;
}

Found bleeding_ignored(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    for (const Event& event : recording.events) {
        const auto structure = static_cast<std::size_t>(event.subject);
        if (event.kind != EventKind::wall_breached || structure >= recording.structures.size()) continue;
        if (recording.structures[structure].kind != StructureKind::artery) continue;
        const bool stopped = std::any_of(recording.events.begin(), recording.events.end(), [&](const Event& later) {
            return later.kind == EventKind::bleeding_stopped && later.subject == event.subject &&
                   later.step >= event.step;
        });
        if (!stopped) return at(rule, event, structure_text(recording, event.subject), "pass");
    }
    return std::nullopt;
}

Found sharp_missing(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    const VisitRecord record(recording);
    const Event* gone = discharged(record);
    if (gone == nullptr || !record.entered() || record.sharps_counted()) return std::nullopt;
    return at(rule, *gone, "", "finish");
}

Found open_red_flag(const Recording& recording, const CriticalFault& rule) {
    if (!recording.visit) return std::nullopt;
    const VisitRecord record(recording);
    const Event* gone = discharged(record);
    if (gone == nullptr) return std::nullopt;
    for (const AnsweredSign& one : record.signs())
        if (!one.answered && one.event->step <= gone->step)
            return at(rule, *gone, std::string(name_of(one.sign)), "finish");
    return std::nullopt;
}

}  // namespace sim::figures
