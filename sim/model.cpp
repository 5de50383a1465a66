#include "sim/model.hpp"

#include <string>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

void validate(const InstrumentSpec& instrument, const std::string& place) {
    if (!(instrument.gauge >= 16 && instrument.gauge <= 30))
        throw InputError(place + ".gauge", std::to_string(instrument.gauge), "16 to 30");
    if (!(instrument.length_m >= 10.0 * kMm && instrument.length_m <= 150.0 * kMm))
        throw InputError(place + ".length_m", instrument.length_m, "0.010 to 0.150");
    if (instrument.loaded && instrument.tip != TipShape::blunt)
        throw InputError(place + ".loaded", "true", "false for a sharp needle: threads lie in blunt cannulas");
    if (!instrument.loaded) return;
    const ThreadSpec& thread = instrument.thread;
    if (!(thread.barb_pitch_m >= 0.2 * kMm && thread.barb_pitch_m <= 20.0 * kMm))
        throw InputError(place + ".thread.barb_pitch_m", thread.barb_pitch_m, "0.0002 to 0.020");
    if (!(thread.barb_free_m >= 0.0 && thread.barb_free_m <= 50.0 * kMm))
        throw InputError(place + ".thread.barb_free_m", thread.barb_free_m, "0 to 0.050");
    if (!(thread.barbed_length_m > 0.0 && thread.barbed_length_m <= 200.0 * kMm))
        throw InputError(place + ".thread.barbed_length_m", thread.barbed_length_m, "> 0 and <= 0.200");
}

}  // namespace

void validate(const Scenario& scenario) {
    if (scenario.tray.empty() || scenario.tray.size() > 16)
        throw InputError("tray", std::to_string(scenario.tray.size()), "1 to 16 instruments");
    for (std::size_t i = 0; i < scenario.tray.size(); ++i)
        validate(scenario.tray[i], "tray[" + std::to_string(i) + "]");
    if (scenario.plan.empty() || scenario.plan.size() > 32)
        throw InputError("plan", std::to_string(scenario.plan.size()), "1 to 32 planned vectors");
    for (std::size_t i = 0; i < scenario.plan.size(); ++i) {
        const PlannedVector& vector = scenario.plan[i];
        const std::string place = "plan[" + std::to_string(i) + "]";
        if (!(glm::length(vector.end_m - vector.entry_m) >= 5.0 * kMm))
            throw InputError(place + ".end_m", glm::length(vector.end_m - vector.entry_m),
                             "an end at least 0.005 m from the entry");
        for (const LiftTarget& target : vector.lift)
            if (!(target.lift_m >= 0.1 * kMm && target.lift_m <= 20.0 * kMm))
                throw InputError(place + ".lift." + target.concern, target.lift_m, "0.0001 to 0.020");
        if (!(vector.length_m >= 5.0 * kMm && vector.length_m <= 150.0 * kMm))
            throw InputError(place + ".length_m", vector.length_m, "0.005 to 0.150");
    }
    const double stiffness = scenario.mechanics.hand_stiffness_n_per_m;
    if (!(stiffness >= 10.0 && stiffness <= 1e9))
        throw InputError("mechanics.hand_stiffness_n_per_m", stiffness, "10 to 1e9");
    if (scenario.visit) validate(*scenario.visit);
}

}  // namespace sim
