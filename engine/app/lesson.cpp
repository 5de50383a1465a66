#include "engine/app/lesson.hpp"

namespace app {

void Lesson::advance(std::span<const sim::Event> fresh, const sim::State& state) {
    for (const sim::Event& event : fresh) {
        if (done()) return;
        const files::LessonStep& now = step();
        if (now.event == event.kind && (now.subject < 0 || now.subject == event.subject)) ++at_;
    }
    while (!done() && stands(step(), state)) ++at_;
}

/// Whether what a step asks for is so by now: somebody who was faster is not asked to do it again.
bool Lesson::stands(const files::LessonStep& step, const sim::State& state) const {
    if (step.inserted_m) return state.inserted_m >= *step.inserted_m;
    if (step.slope_at_most_rad) return state.hands.pitch_rad <= *step.slope_at_most_rad;
    if (step.slope_at_least_rad) return state.hands.pitch_rad >= *step.slope_at_least_rad;
    switch (*step.event) {
        case sim::EventKind::instrument_taken:
            return step.subject >= 0 && state.hands.instrument == step.subject;
        case sim::EventKind::entry_chosen:
            return state.hands.entry_chosen;
        case sim::EventKind::entry_opened:
            return !state.holes.empty();
        default:
            return false;
    }
}

}  // namespace app
