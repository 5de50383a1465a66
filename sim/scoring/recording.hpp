#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/scenario.hpp"
#include "sim/trace.hpp"

/// Everything that scoring may read of an attempt: the facts of the scenario, the trace and the events. No anatomy, no
/// model: an attempt scores the same on any build that reads its record.

namespace sim {

/// What the record says of one structure or ligament, so that figures can name it.
struct StructureFacts {
    std::string name;
    StructureKind kind = StructureKind::artery;
    Side side = Side::left;
    double margin_m = 0.0;
    double least_depth_m = 0.0;  ///< of its wall below the skin along its course; informative
    bool superficial = true;     ///< any part of its wall at or above the SMAS or platysma: judged by clearance
};

struct LigamentFacts {
    std::string name;
    Side side = Side::left;
    double strength_n = 0.0;
};

/// Which definitions of the measures an attempt is scored by: those in force when it was made, so that no verdict
/// changes behind anybody's back. What each version changed: scenarios/schema/MEASURES.md.
inline constexpr int kScoringVersion = 3;

struct Recording {
    int scoring_version = kScoringVersion;  ///< 1 to kScoringVersion
    std::string scenario_id, scenario_title, rubric_id;
    PracticeMode mode = PracticeMode::coached;
    std::uint64_t variant_seed = 0;
    std::vector<InstrumentSpec> tray;
    std::vector<PlannedVector> plan;
    std::optional<VisitSpec> visit;
    std::vector<std::string> headings;
    std::vector<StructureFacts> structures;
    std::vector<LigamentFacts> ligaments;
    std::vector<Concern> concerns;  ///< where LiftRow::moved_m was read

    std::vector<TraceRow> rows;
    std::vector<Event> events;
    std::vector<TrackRecord> tracks;
    std::vector<LiftRow> lifts;
    std::int64_t steps = 0;  ///< simulated length of the attempt in steps
    bool finished = false;
};

}  // namespace sim
