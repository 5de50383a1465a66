#pragma once

#include <memory>
#include <vector>

#include "sim/anatomy/anatomy.hpp"
#include "sim/scenario.hpp"

namespace sim {

/// What a step reads and never changes.
struct Model {
    Scenario scenario;
    std::shared_ptr<const Anatomy> anatomy;
    std::vector<Concern> concerns;  ///< where lift is read
};

/// Check that the scenario can be run on this anatomy.
///
/// @throws InputError naming the field: an empty tray, a gauge outside the table, a plan off the skin ...
void validate(const Scenario& scenario);

}  // namespace sim
