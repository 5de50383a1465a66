#include "engine/app/thread_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace app {

namespace {

/// What has been done at the thread with this number.
struct Done {
    bool pulled = false;
    std::array<bool, 2> drawn{};  ///< towards the centre over each half
    const sim::Event* last = nullptr;
};

Done done_at(const sim::Recording& recording, int thread) {
    using Kind = sim::EventKind;
    Done done;
    for (const sim::Event& event : recording.events) {
        const bool about = event.kind == Kind::traction || event.kind == Kind::stroked ||
                           event.kind == Kind::thread_slipped || event.kind == Kind::thread_out ||
                           event.kind == Kind::tissue_trouble || event.kind == Kind::thread_refused;
        if (!about || event.subject != thread) continue;
        done.last = &event;
        if (event.kind == Kind::traction && event.value[0] > 0.0) done.pulled = true;
        if (event.kind == Kind::stroked && event.value[0] > 0.0) done.drawn[event.value[1] > 0.5 ? 1 : 0] = true;
    }
    return done;
}

std::string wanted(const Done& done) {
    if (!done.pulled) return "Pull gently on the tail with R: it must hold.";
    if (!done.drawn[0] && !done.drawn[1])
        return "Draw the tissue along it towards its middle: J from the entry, K from the far end.";
    if (!done.drawn[0]) return "Draw the tissue towards its middle from the entry too: J.";
    if (!done.drawn[1]) return "Draw the tissue towards its middle from the far end too: K.";
    return "Look at the skin for dimples, then finish with Enter.";
}

Sentence of_last(const Done& done, const std::string& name) {
    using Kind = sim::EventKind;
    const sim::Event& event = *done.last;
    switch (event.kind) {
        case Kind::thread_out:
            return {Mark::bad, fmt::format("{} has come out, pulled with {:.1f} N.", name, event.value[0]),
                    "Count it whole. Lay another in a new track 5 to 10 mm beside this one."};
        case Kind::thread_slipped:
            return {Mark::bad, fmt::format("{:.0f} barbs of {} have slipped.", event.value[1], name),
                    "Let go of the tail, and stroke towards the middle, never away from it."};
        case Kind::tissue_trouble: {
            const auto trouble = static_cast<sim::ThreadTrouble>(static_cast<int>(event.value[0]));
            return {Mark::bad, fmt::format("No answer: {}.", words_of(trouble)),
                    "Nothing has changed. Pull less, or go on without it."};
        }
        case Kind::thread_refused: {
            const auto refusal = static_cast<sim::ThreadRefusal>(static_cast<int>(event.value[0]));
            return {Mark::caution, fmt::format("Not done: {}.", words_of(refusal)), wanted(done)};
        }
        case Kind::stroked:
            if (event.value[0] < 0.0)
                return {Mark::caution, fmt::format("A stroke away from the middle of {} loads its barbs.", name),
                        "Stroke towards the middle: turn the strokes with H."};
            return {Mark::good,
                    fmt::format("The stroke moved the tissue {:.1f} mm over the barbs; {:.1f} mm of it stayed.",
                                1e3 * event.value[2], 1e3 * event.value[3]),
                    wanted(done)};
        default:
            if (!(event.value[0] > 0.0))
                return {Mark::good,
                        fmt::format("The tail of {} is let go; {:.1f} mm of it stay out.", name, 1e3 * event.value[1]),
                        wanted(done)};
            return {Mark::good,
                    fmt::format("{} holds {:.1f} N; its tail came {:.1f} mm out.", name, event.value[0],
                                1e3 * event.value[1]),
                    wanted(done)};
    }
}

}  // namespace

bool anchored(const sim::Recording& recording) {
    int most = 0;
    for (const sim::Event& event : recording.events)
        if (event.kind == sim::EventKind::traction) most = std::max(most, event.subject);
    for (int thread = 1; thread <= most; ++thread) {
        const Done done = done_at(recording, thread);
        if (done.pulled && done.drawn[0] && done.drawn[1]) return true;
    }
    return false;
}

Sentence about_threads(const sim::State& state, const sim::Recording& recording, bool told) {
    const sim::HeldThread& thread = state.threads.back();
    const std::string name = fmt::format("Thread {}", thread.number);
    if (!told) {
        if (thread.out) return {Mark::neutral, name + " is out.", "Lay another, or finish with Enter."};
        return {Mark::neutral, name + " lies in the tissue.", "R pulls its tail, J and K stroke; finish with Enter."};
    }
    const Done done = done_at(recording, thread.number);
    if (done.last != nullptr) return of_last(done, name);
    return {Mark::good,
            fmt::format("{} lies in its track, {} barbs seated.", name, thread.count(sim::BarbState::seated)),
            wanted(done)};
}

sim::Vec3 lift_direction(const sim::Recording& recording, int vector) {
    if (vector < 0 || static_cast<std::size_t>(vector) >= recording.plan.size()) return {};
    const sim::PlannedVector& plan = recording.plan[static_cast<std::size_t>(vector)];
    return glm::normalize(plan.entry_m - plan.end_m);
}

}  // namespace app
