#pragma once

#include <string>

#include "engine/app/ui.hpp"
#include "sim/model.hpp"
#include "sim/scoring/recording.hpp"
#include "sim/state.hpp"

/// Where an attempt stands, and the one sentence that says what is and what to do.

namespace app {

enum class Stage { choose, open, pass, withdraw, anchor, finish };
inline constexpr int kStages = 6;
[[nodiscard]] const char* name_of(Stage stage);
/// Whether the scenario asks for it: only where lift is judged is a thread anchored.
[[nodiscard]] bool has_stage(const sim::Recording& recording, Stage stage);
[[nodiscard]] Stage stage_of(const sim::State& state, const sim::Recording& recording);

struct Sentence {
    Mark mark = Mark::neutral;
    std::string is;
    std::string next;
};

/// @param advice false: with an instrument in the skin it says only how to go on, no depth, no distance, no warning.
///               Graded work never has any.
[[nodiscard]] Sentence sentence(const sim::Model& model, const sim::State& state, const sim::Recording& recording,
                                bool advice);

/// What lies under the tip, and what is nearest to it: "Under the tip 1.4 mm of superficial fat, then the SMAS or
/// platysma. Facial artery 4.3 mm away." Empty while nothing is in the skin.
[[nodiscard]] std::string under_the_tip(const sim::Model& model, const sim::State& state,
                                        const sim::Recording& recording);

/// "superficial fat", with what belongs to it: "in the SMAS".
[[nodiscard]] std::string in_layer(sim::Layer layer);

}  // namespace app
