#pragma once

#include <memory>
#include <string>

#include "engine/session/replay.hpp"
#include "sim/scoring/rubric.hpp"

/// A capable pass on the same anatomy, to watch and to compare with. A script, no evidence about people.

namespace session {

struct ReferencePass {
    std::shared_ptr<Replay> replay;
    sim::Score score;
    std::string words;  ///< which hands made it, and how it scored
};

/// The shipped capable script where it passes on this variant; else one composed for this variant, which takes some
/// seconds.
/// @throws sim::InputError, files::FileError when neither can be played
[[nodiscard]] ReferencePass reference_pass(std::shared_ptr<const sim::Model> model, const sim::Rubric& rubric,
                                           std::shared_ptr<AnswerSource> answers = nullptr);

}  // namespace session
