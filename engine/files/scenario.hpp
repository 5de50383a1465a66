#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "sim/anatomy/parameters.hpp"
#include "sim/scenario.hpp"

/// Scenarios and patients from JSON. Keys end in the unit that people write; everything is SI once read.
///
/// scenarios/schema/scenario.schema.json and patient.schema.json say the same for other programs.

namespace files {

inline constexpr std::int64_t kScenarioSchema = 1;
inline constexpr std::int64_t kPatientSchema = 1;

/// A document as it was read: what an attempt keeps, so that it can be judged when the file is long gone.
struct SourceText {
    std::string id;    ///< file name without ending
    std::string text;  ///< exact bytes
    std::string hash;  ///< SHA-256 of the bytes, hexadecimal
    friend bool operator==(const SourceText&, const SourceText&) = default;
};

/// A document that is in memory already.
[[nodiscard]] SourceText source_text(std::string id, std::string text);

/// @throws FileError as read_bytes()
[[nodiscard]] SourceText load_source(const std::filesystem::path& path);

struct LoadedScenario {
    sim::Scenario scenario;
    std::optional<sim::HeadParameters> head;  ///< nothing for the slab
    std::string content_hash;                 ///< of everything that was read: scenario and patient
    SourceText source;
    std::optional<SourceText> patient_source;  ///< nothing for the slab
};

/// Read scenarios/drills|cases/NAME.json, and for a head scenarios/patients/PATIENT.json beside its folder.
///
/// @throws FileError for anything that is not accepted, sim::validate's refusals included
[[nodiscard]] LoadedScenario load_scenario(const std::filesystem::path& path);

/// The same from memory. @param file names the scenario in messages
[[nodiscard]] LoadedScenario parse_scenario(SourceText scenario, const std::optional<SourceText>& patient,
                                            const std::string& file);

/// Name of the patient that a scenario asks for, "slab" included.
[[nodiscard]] std::string patient_named_in(const SourceText& scenario, const std::string& file);

/// Read scenarios/patients/NAME.json.
/// @throws FileError
[[nodiscard]] sim::HeadParameters parse_patient(const SourceText& patient, const std::string& file);

}  // namespace files
