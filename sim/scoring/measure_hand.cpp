#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/scoring/figures.hpp"

/// What the hand without an instrument did: the skin-shift test before the first entry, the finger over a thread's far
/// end while the cannula leaves, the counter-hold while its tail is pulled. Only where a plan says what lift is within
/// reach, as for the rest of anchoring.

namespace sim::figures {

namespace {

constexpr double kFeltN = 0.3;                    // less is a touch; assumed
constexpr double kAlongRad = 30.0 * kPi / 180.0;  // of a vector's way back to its entry; assumed
constexpr double kBesideM = 15.0 * kMm;           // of the straight line of a vector; assumed

double from_chord_m(const PlannedVector& vector, const Vec3& place_m) {
    const Vec3 chord = vector.end_m - vector.entry_m;
    const double t = std::clamp(glm::dot(place_m - vector.entry_m, chord) / glm::dot(chord, chord), 0.0, 1.0);
    return glm::length(vector.entry_m + t * chord - place_m);
}

bool tests_shift(const Event& event, const PlannedVector& vector) {
    if (event.kind != EventKind::hand_settled || event.subject != static_cast<int>(Grip::push)) return false;
    // a turn of half a circle from the vector is back to its entry
    const double off_rad = kPi - std::abs(std::remainder(event.value[2], 2.0 * kPi));
    return event.value[0] >= kFeltN && off_rad <= kAlongRad && from_chord_m(vector, event.place_m) <= kBesideM;
}

void measure_shift_tests(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    const auto entered = std::find_if(recording.events.begin(), recording.events.end(),
                                      [](const Event& event) { return event.kind == EventKind::skin_punctured; });
    int tested = 0;
    const PlannedVector* missed = nullptr;
    for (const PlannedVector& vector : recording.plan) {
        const bool found = std::any_of(recording.events.begin(), entered,
                                       [&](const Event& event) { return tests_shift(event, vector); });
        tested += found ? 1 : 0;
        if (!found && missed == nullptr) missed = &vector;
    }
    sheet.add("vectors_shift_tested", static_cast<double>(tested) / static_cast<double>(recording.plan.size()));
    if (missed == nullptr) return;
    sheet.find("vectors_shift_tested", "no skin-shift test along this vector before the first entry",
               entered == recording.events.end() ? recording.steps : entered->step, missed->entry_m, 1.0, "mark");
}

/// Share of the events of a kind in which the hand helped, and the first in which it did not.
void measure_share(Sheet& sheet, std::string_view name, const std::vector<const Event*>& of, std::size_t value,
                   const std::string& what) {
    const auto helped = [&](const Event* event) { return event->value[value] >= kFeltN; };
    if (of.empty()) return;
    sheet.add(name, static_cast<double>(std::count_if(of.begin(), of.end(), helped)) / static_cast<double>(of.size()));
    const auto first = std::find_if_not(of.begin(), of.end(), helped);
    if (first != of.end()) sheet.find(name, what, (*first)->step, (*first)->place_m, 1.0, "anchor");
}

}  // namespace

void measure_other_hand(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    if (std::all_of(recording.plan.begin(), recording.plan.end(),
                    [](const PlannedVector& vector) { return vector.lift.empty(); }))
        return;
    std::vector<const Event*> left, pulls;
    for (const Event& event : recording.events) {
        if (event.kind == EventKind::thread_left && event.value[0] > 0.0) left.push_back(&event);
        if (event.kind == EventKind::traction && event.value[0] >= kFeltN) pulls.push_back(&event);
    }
    measure_share(sheet, "far_ends_pressed", left, 1, "no finger lay over the far end while the cannula left");
    measure_share(sheet, "pulls_held", pulls, 3, "the tail was pulled without a counter-hold");
    measure_shift_tests(sheet);
}

}  // namespace sim::figures
