#include "sim/step.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/patient/patient.hpp"
#include "sim/stages.hpp"

namespace sim {

namespace {

bool finite(const Vec3& v) { return std::isfinite(v.x) && std::isfinite(v.y) && std::isfinite(v.z); }

/// Count what is not a number, so that the engine pauses instead of showing nonsense.
void check(const StepContext& context) {
    const State& s = context.state;
    const bool good = std::isfinite(s.inserted_m) && std::isfinite(s.force.hand_n) && finite(s.tip_m) &&
                      std::all_of(s.shaft_m.begin(), s.shaft_m.end(), finite);
    if (!good) ++context.report.faults.non_finite;
}

}  // namespace

State initial_state(const Model& model) {
    validate(model.scenario);
    State state;
    state.in_use.assign(model.scenario.tray.size(), true);
    for (std::vector<char>* list : {&state.visit.contaminated, &state.visit.unpacked, &state.visit.fresh})
        list->assign(model.scenario.tray.size(), 0);
    if (model.scenario.visit && model.scenario.visit->opening) open_in_the_middle(model, state.visit);
    return state;
}

std::vector<Request> due(const State& state) {
    std::vector<Request> out;
    for (const Request& request : state.pending)
        if (request.due_step <= state.step) out.push_back(request);
    return out;
}

const ThreadRequest* thread_due(const State& state) {
    return state.thread_pending && state.thread_pending->due_step <= state.step ? &*state.thread_pending : nullptr;
}

StepReport step(const Model& model, State& state, std::span<const Command> commands, std::span<const Answer> answers,
                const ThreadAnswer* about_threads) {
    SIM_ASSERT(model.anatomy != nullptr);
    StepReport report;
    const StepContext context{model, state, report};
    if (!state.finished) {
        state.hands.push_m = 0.0;
        for (const Command& command : commands)
            if (gate(context, command)) hands(context, command);

        tissue(context, answers);
        shaft(context);
        for (int i = 0; i < kForceSubSteps; ++i) force(context, state.hands.push_m / kForceSubSteps);
        structures(context);
        thread(context, about_threads);
        patient(context);
        trace(context);
        check(context);
    }
    ++state.step;
    return report;
}

}  // namespace sim
