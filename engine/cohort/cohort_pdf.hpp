#pragma once

#include <string>

#include "engine/cohort/cohort.hpp"
#include "engine/report/debrief_pdf.hpp"

/// A cohort on paper: what each scenario tells, then learners by scenarios, on as many pages as it takes.

namespace cohort {

/// @return the bytes of the PDF @throws std::runtime_error when Cairo cannot draw
[[nodiscard]] std::string cohort_pdf(const Cohort& cohort, report::Paper paper = report::Paper::a4);

}  // namespace cohort
