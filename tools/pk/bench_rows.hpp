#pragma once

#include <functional>
#include <string>
#include <vector>

#include "engine/session/prepare.hpp"
#include "sim/tissue/posture.hpp"

/// What the parts of pk bench share.

namespace pk {

struct Row {
    std::string name;
    double value = 0.0;
    std::string unit;
    double limit = 0.0;
    std::string sense;  ///< "at most" or "at least"

    [[nodiscard]] bool holds() const { return sense == "at most" ? value <= limit : value >= limit; }
};

[[nodiscard]] double seconds(const std::function<void()>& body);  ///< by the clock
/// Processor time of this thread: what work costs, whatever else the machine does.
[[nodiscard]] double cpu_seconds(const std::function<void()>& body);
[[nodiscard]] double median(std::vector<double> values);

/// The finite-element tissue of the scenario's patient; nothing for the slab.
/// @param anatomy_cold_s, anatomy_cached_s what the rest of the patient took
void tissue_rows(const session::Prepared& prepared, double anatomy_cold_s, double anatomy_cached_s,
                 std::vector<Row>& rows);

/// The same mesh and load here and in CalculiX; one thread each. Where that is not installed, words instead of rows.
void ccx_rows(const sim::Head& head, sim::fe::TetheredBody& body, std::vector<Row>& rows);

}  // namespace pk
