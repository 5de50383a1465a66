#include "sim/scoring/visit_record.hpp"

#include <algorithm>
#include <array>

namespace sim::figures {

namespace {

/// What answers a sign.
struct Wanted {
    Sign sign;
    EventKind by;
    int subject;     ///< of that event; -1: any
    double of_what;  ///< its value[0]; < 0: any
    double within_s;
};

constexpr int subject_of(Deed deed) { return static_cast<int>(deed); }
constexpr double value_of(Protocol protocol) { return static_cast<double>(protocol); }
constexpr double value_of(Chair chair) { return static_cast<double>(chair); }

// common practice, no source; times assumed
constexpr std::array<Wanted, 11> kWanted{{
    {Sign::electric_pain, EventKind::track_closed, -1, -1.0, 30.0},
    {Sign::bruise_spreading, EventKind::bleeding_stopped, -1, -1.0, 900.0},
    {Sign::swelling_expanding, EventKind::bleeding_stopped, -1, -1.0, 600.0},
    {Sign::blanching, EventKind::deed_done, subject_of(Deed::give_care), value_of(Protocol::vascular), 120.0},
    {Sign::clear_fluid, EventKind::deed_done, subject_of(Deed::give_care), value_of(Protocol::refer), 3600.0},
    {Sign::taste, EventKind::instrument_discarded, -1, -1.0, 120.0},
    {Sign::tingling, EventKind::deed_done, subject_of(Deed::give_care), value_of(Protocol::toxicity), 120.0},
    {Sign::agitation, EventKind::deed_done, subject_of(Deed::give_care), value_of(Protocol::toxicity), 120.0},
    {Sign::seizure, EventKind::deed_done, subject_of(Deed::call_for_help), -1.0, 30.0},
    {Sign::pallor, EventKind::deed_done, subject_of(Deed::set_chair), value_of(Chair::flat), 60.0},
    {Sign::collapse, EventKind::deed_done, subject_of(Deed::call_for_help), -1.0, 30.0},
}};

bool answers(const Wanted& wanted, const Event& event) {
    return event.kind == wanted.by && (wanted.subject < 0 || event.subject == wanted.subject) &&
           (wanted.of_what < 0.0 || event.value[0] == wanted.of_what);
}

bool uses(EventKind kind) {
    return kind == EventKind::skin_punctured || kind == EventKind::track_opened || kind == EventKind::track_closed ||
           kind == EventKind::injected || kind == EventKind::trimmed || kind == EventKind::thread_left;
}

}  // namespace

VisitRecord::VisitRecord(const Recording& recording) : recording_(recording) {
    double passed_s = 0.0;
    for (const Event& event : recording.events) {
        if (event.kind == EventKind::time_passed) passed_s_.emplace_back(event.step, passed_s += event.value[0]);
        if (entered_ == nullptr && event.kind == EventKind::skin_punctured) entered_ = &event;
        if (uses(event.kind)) last_use_ = event.step;
    }
}

std::vector<const Event*> VisitRecord::all(EventKind kind) const {
    std::vector<const Event*> out;
    for (const Event& event : recording_.events)
        if (event.kind == kind) out.push_back(&event);
    return out;
}

const Event* VisitRecord::last(EventKind kind) const {
    const std::vector<const Event*> found = all(kind);
    return found.empty() ? nullptr : found.back();
}

std::vector<const Event*> VisitRecord::deeds(Deed deed) const {
    std::vector<const Event*> out;
    for (const Event& event : recording_.events)
        if (event.kind == EventKind::deed_done && event.subject == static_cast<int>(deed)) out.push_back(&event);
    return out;
}

bool VisitRecord::done_by(Deed deed, std::int64_t step) const {
    const std::vector<const Event*> found = deeds(deed);
    return !found.empty() && found.front()->step <= step;
}

int VisitRecord::views(std::int64_t from, std::int64_t to) const {
    std::set<int> taken;
    for (const Event* one : deeds(Deed::photograph))
        if (one->step >= from && one->step <= to) taken.insert(static_cast<int>(one->value[0]));
    return static_cast<int>(taken.size());
}

bool VisitRecord::sharps_counted() const {
    const std::vector<const Event*> counts = deeds(Deed::count_sharps);
    return std::any_of(counts.begin(), counts.end(),
                       [&](const Event* one) { return one->step >= last_use_ && one->value[1] == 0.0; });
}

std::set<Side> VisitRecord::planned_sides() const {
    std::set<Side> sides;
    for (const PlannedVector& vector : recording_.plan) sides.insert(vector.side);
    return sides;
}

double VisitRecord::patient_s(std::int64_t step) const {
    double passed_s = 0.0;
    for (const auto& [at, sum_s] : passed_s_) {
        if (at > step) break;
        passed_s = sum_s;
    }
    return static_cast<double>(step) * kStepS + passed_s;
}

double VisitRecord::patient_s(const Event& event) const {
    // waits of the same step count only when they came before
    double passed_s = 0.0;
    for (const Event& one : recording_.events) {
        if (&one == &event) break;
        if (one.kind == EventKind::time_passed) passed_s += one.value[0];
    }
    return static_cast<double>(event.step) * kStepS + passed_s;
}

std::vector<AnsweredSign> VisitRecord::signs() const {
    std::vector<AnsweredSign> out;
    for (std::size_t i = 0; i < recording_.events.size(); ++i) {
        const Event& event = recording_.events[i];
        if (event.kind != EventKind::sign_shown) continue;
        const auto wanted = std::find_if(kWanted.begin(), kWanted.end(), [&](const Wanted& one) {
            return one.sign == static_cast<Sign>(event.subject);
        });
        if (wanted == kWanted.end()) continue;
        AnsweredSign sign{wanted->sign, &event, false, wanted->within_s};
        const double shown_s = patient_s(event);
        for (std::size_t j = i + 1; j < recording_.events.size() && sign.by == nullptr; ++j) {
            if (!answers(*wanted, recording_.events[j])) continue;
            sign.by = &recording_.events[j];
            sign.answered_after_s = patient_s(recording_.events[j]) - shown_s;
            sign.answered = sign.answered_after_s <= wanted->within_s;
        }
        out.push_back(sign);
    }
    return out;
}

bool rightly_not_treated(const Recording& recording) {
    if (!recording.visit || recording.visit->right_decision() == Decision::treat) return false;
    const VisitRecord record(recording);
    const Event* decided = record.last(EventKind::decided);
    return !record.entered() && decided != nullptr &&
           decided->subject == static_cast<int>(recording.visit->right_decision());
}

bool visit_alone(const Recording& recording) {
    return (recording.visit && recording.visit->opening) || rightly_not_treated(recording);
}

}  // namespace sim::figures
