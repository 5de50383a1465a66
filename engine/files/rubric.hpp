#pragma once

#include <filesystem>
#include <string>

#include "engine/files/scenario.hpp"
#include "sim/scoring/rubric.hpp"

/// Rubrics from JSON: scenarios/rubrics/NAME.json. Measures and rules: scenarios/schema/MEASURES.md.

namespace files {

inline constexpr std::int64_t kRubricSchema = 1;

struct LoadedRubric {
    sim::Rubric rubric;
    SourceText source;
};

/// @throws FileError for anything that is not accepted, sim::validate's refusals included
[[nodiscard]] LoadedRubric load_rubric(const std::filesystem::path& path);

/// The same from memory. @param file names it in messages
[[nodiscard]] LoadedRubric parse_rubric(SourceText source, const std::string& file);

}  // namespace files
