#pragma once

#include <memory>
#include <string>

#include "engine/session/worker.hpp"
#include "sim/model.hpp"

/// Scripted performers of known skill: they test scenarios and scoring, and are no evidence about people.

namespace session {

enum class Skill { capable, careless };

/// Write a script for the first planned vector of a scenario, as a pair of hands could have made it: short movements,
/// depth checked now and then by lifting the tip, corrections of a few degrees. The capable performer watches depth and
/// direction and corrects early; the careless one enters steeply beside the mark, does not look, and pushes on.
///
/// Where the plan asks for lift they go on after the withdrawal: gentle traction and strokes towards the centre, or
/// strokes away from it and a hard pull.
///
/// @param answers where the tissue's answers come from; null: as for Session
/// @return text of a script that plays to the end of the attempt
[[nodiscard]] std::string compose_script(std::shared_ptr<const sim::Model> model, Skill skill,
                                         std::shared_ptr<AnswerSource> answers = nullptr);

}  // namespace session
