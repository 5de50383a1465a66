#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/aids.hpp"
#include "sim/anatomy/parameters.hpp"
#include "sim/scenario.hpp"
#include "sim/trace.hpp"

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

/// One thing that a lesson asks for, and the sign that it was done. Exactly one of the four signs is there.
struct LessonStep {
    std::string say;                           ///< the one thing to do
    std::string why;                           ///< what it is good for, may be empty
    std::optional<sim::EventKind> event;       ///< the simulation reports this ...
    int subject = -1;                          ///< ... about this subject; -1: any
    std::optional<double> inserted_m;          ///< so much is under the skin
    std::optional<double> slope_at_most_rad;   ///< the hand slopes no more than this to the skin at the entry
    std::optional<double> slope_at_least_rad;  ///< or no less
};

struct LoadedScenario {
    sim::Scenario scenario;
    int order = 500;                          ///< in a list of its level: what is to be learnt first comes first
    std::vector<LessonStep> lesson;           ///< in order; empty: nothing is taught step by step
    bool ultrasound = false;                  ///< a linear probe lies on the tray
    AllowedAids aids = kAllAids;              ///< what a learner may ask for, and coached practice begins with
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
