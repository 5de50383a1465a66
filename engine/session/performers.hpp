#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "engine/session/worker.hpp"
#include "sim/model.hpp"
#include "sim/scoring/rubric.hpp"

/// Scripted performers of known skill: they test scenarios and scoring, and are no evidence about people.

namespace session {

/// What a performer does badly, each by itself.
enum class Flaw : std::uint8_t {
    tremor,          ///< the aim shakes
    depth_bias,      ///< steers deeper than the middle of the fat
    hurry,           ///< does not wait for the anaesthetic, does not draw back
    skipped_checks,  ///< leaves out questions, views and tests of the consult
    flooding,        ///< injects much
    forcing,         ///< pushes through what resists
    over_traction,   ///< pulls and strokes hard
    poor_asepsis,    ///< short contact time, no field, bare hands
};
inline constexpr int kFlaws = 8;
[[nodiscard]] std::string_view name_of(Flaw flaw);  ///< "depth bias"
/// The heading that is to be charged for a flaw. Written before any of them was played.
[[nodiscard]] sim::Heading heading_of(Flaw flaw);

/// A pair of hands. All flaws 0: capable.
struct Performer {
    std::array<double, kFlaws> flaw{};  ///< 0 none to 1 gross
    std::uint64_t seed = 0;             ///< of tremor and of what is done only now and then

    [[nodiscard]] double much(Flaw which) const { return flaw[static_cast<std::size_t>(which)]; }
};

/// What a performer did: the script, and the record that playing it left.
struct Performance {
    std::string script;
    sim::Recording recording;
};

/// Play a whole scenario as a pair of hands could: short movements, depth checked now and then by lifting the tip,
/// corrections of a few degrees, every planned vector after the other. Watches depth and direction and corrects early;
/// stops and goes round what resists; answers the signs that it meets.
///
/// Where the plan asks for lift it goes on after each withdrawal with gentle traction and strokes towards the centre;
/// where there is a visit, with all that stands around the passes.
///
/// @param answers where the tissue's answers come from; null: as for Session
[[nodiscard]] Performance perform(std::shared_ptr<const sim::Model> model, const Performer& performer,
                                  std::shared_ptr<AnswerSource> answers = nullptr);

/// The same hurried and not looking: enters steeply beside the mark, levels late, pulls hard, and does of the visit
/// what comes to mind.
[[nodiscard]] Performance perform_carelessly(std::shared_ptr<const sim::Model> model,
                                             std::shared_ptr<AnswerSource> answers = nullptr);

}  // namespace session
