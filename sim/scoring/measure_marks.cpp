#include <algorithm>
#include <map>
#include <set>

#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

/// Pulses, landmarks and vectors as they were marked, and the calls after the visit.

namespace sim::figures {

namespace {

constexpr double kMarkOffM = 10.0 * kMm;                         // of its rule; assumed
constexpr double kEntryOffM = 6.0 * kMm, kEndOffM = 10.0 * kMm;  // of a planned vector's; assumed

bool lies_back(double chair) { return chair == static_cast<double>(Chair::reclined); }

void measure_landmarks(Sheet& sheet, const VisitRecord& record) {
    const std::int64_t entered = record.entered_step();
    const std::set<Side> sides = record.planned_sides();
    std::set<int> felt;
    for (const Event* one : record.deeds(Deed::feel_pulse))
        if (one->step <= entered && one->value[1] > 0.0) felt.insert(static_cast<int>(one->value[2]));
    // at the jaw and before the ear, each side that is treated; the record knows no other arteries that can be felt
    const int wanted = 2 * static_cast<int>(sides.size());
    const int found = std::min(wanted, static_cast<int>(felt.size()));
    tell(sheet, "pulses_felt", share_of(found, wanted), entered, "mark",
         count_text(wanted - found, "pulse", "pulses") + " not felt before the first needle");

    std::set<std::pair<int, bool>> good;
    int wrong = 0;
    Vec3 off_place_m{};
    for (const Event* one : record.deeds(Deed::mark_point)) {
        if (one->step > entered || one->value[0] >= kLandmarks) continue;
        const bool left = one->place_m.x >= 0.0;
        if (one->value[1] >= 0.0 && one->value[1] <= kMarkOffM) {
            good.insert({static_cast<int>(one->value[0]), left});
        } else if (one->value[1] > kMarkOffM) {
            ++wrong;
            off_place_m = one->place_m;
        }
    }
    int placed = 0;
    for (const auto& [point, left] : good)
        if (sides.count(left ? Side::left : Side::right) > 0) ++placed;
    const int needed = kLandmarks * static_cast<int>(sides.size());
    // marks that lie nowhere in particular count against those that lie right: marking everything earns nothing
    tell(sheet, "marks_placed", share_of(placed, needed + wrong), entered, "mark",
         wrong > 0 ? count_text(wrong, "mark lies", "marks lie") + " more than 10 mm from the rule"
                   : count_text(needed - placed, "landmark", "landmarks") + " not marked before the first needle",
         off_place_m);
}

/// What upright was right may not be where the artery runs in a patient that lies back.
void measure_pulses_again(Sheet& sheet, const VisitRecord& record) {
    const std::int64_t entered = record.entered_step();
    std::set<Side> felt;
    for (const Event* one : record.deeds(Deed::feel_pulse))
        if (one->step <= entered && one->value[1] > 0.0 && lies_back(one->value[3]))
            felt.insert(one->place_m.x >= 0.0 ? Side::left : Side::right);
    const int sides = static_cast<int>(record.planned_sides().size());
    const int found = std::min(sides, static_cast<int>(felt.size()));
    tell(sheet, "pulses_felt_again", share_of(found, sides), entered, "mark",
         "no pulse felt again after the patient was laid back");
}

struct MarkedVector {
    Vec3 entry_m{}, end_m{};
    std::int64_t step = 0;
};

/// Each far end with the entry marked last before it.
std::vector<MarkedVector> marked_vectors(const VisitRecord& record, std::int64_t by) {
    std::vector<MarkedVector> out;
    const Event* entry = nullptr;
    for (const Event* one : record.deeds(Deed::mark_point)) {
        if (one->step > by) continue;
        const auto point = static_cast<MarkPoint>(static_cast<int>(one->value[0]));
        if (point == MarkPoint::vector_entry) entry = one;
        if (point == MarkPoint::vector_end && entry != nullptr)
            out.push_back({entry->place_m, one->place_m, one->step});
    }
    return out;
}

/// Vectors of the plan that were marked; marks that serve none of them count against those.
void measure_vectors(Sheet& sheet, const VisitRecord& record) {
    const std::vector<PlannedVector>& plan = sheet.recording().plan;
    const std::vector<MarkedVector> marked = marked_vectors(record, record.entered_step());
    int found = 0;
    const PlannedVector* missed = nullptr;
    for (const PlannedVector& vector : plan) {
        const bool good = std::any_of(marked.begin(), marked.end(), [&](const MarkedVector& one) {
            return glm::length(one.entry_m - vector.entry_m) <= kEntryOffM &&
                   glm::length(one.end_m - vector.end_m) <= kEndOffM;
        });
        found += good ? 1 : 0;
        if (!good && missed == nullptr) missed = &vector;
    }
    const int beside = std::max(0, static_cast<int>(marked.size()) - static_cast<int>(plan.size()));
    tell(sheet, "vectors_marked", share_of(found, static_cast<int>(plan.size()) + beside), record.entered_step(),
         "mark",
         missed != nullptr ? "this vector was not marked by its two ends before the first needle"
                           : count_text(beside, "vector", "vectors") + " marked beyond the plan",
         missed != nullptr ? missed->entry_m : Vec3{});
}

}  // namespace

void measure_marks(Sheet& sheet, const VisitRecord& record) {
    if (!record.entered()) return;
    measure_landmarks(sheet, record);
    measure_pulses_again(sheet, record);
    measure_vectors(sheet, record);
}

void measure_calls(Sheet& sheet, const VisitRecord& record) {
    const Recording& recording = sheet.recording();
    const bool only_calls = recording.visit->opening && recording.visit->opening->gone_home;
    if (!only_calls && record.deeds(Deed::discharge).empty()) return;
    std::map<int, bool> answered;  // by call
    const Event* call = nullptr;
    const Event* wrong = nullptr;
    for (const Event& event : recording.events) {
        if (event.kind != EventKind::deed_done) continue;
        if (event.subject == static_cast<int>(Deed::call_back)) {
            call = &event;
            answered.try_emplace(static_cast<int>(event.value[0]), false);
        }
        if (event.subject != static_cast<int>(Deed::answer_call) || call == nullptr) continue;
        const bool right =
            static_cast<int>(event.value[0]) == static_cast<int>(answer_to(static_cast<int>(call->value[1])));
        answered[static_cast<int>(call->value[0])] = right;
        if (!right && wrong == nullptr) wrong = &event;
    }
    const int made = static_cast<int>(answered.size());
    tell(sheet, "calls_made", share_of(made, kCalls), recording.steps, "follow-up",
         count_text(kCalls - made, "call", "calls") + " not made");
    const auto right =
        static_cast<int>(std::count_if(answered.begin(), answered.end(), [](const auto& one) { return one.second; }));
    tell(sheet, "calls_answered", share_of(right, kCalls), wrong == nullptr ? recording.steps : wrong->step,
         "follow-up", wrong == nullptr ? "the patient was told nothing" : "what was heard asks for another answer");
}

}  // namespace sim::figures
