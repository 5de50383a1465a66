#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/core/vec.hpp"
#include "sim/scoring/bands.hpp"
#include "sim/scoring/recording.hpp"

/// From figures to points: the rubric is data, its curves are piecewise linear.

namespace sim {

enum class Heading : std::uint8_t {
    plane_accuracy,
    clearance,
    ligament_resistance,
    barb_engagement,
    consult_and_judgement,
    plan_and_landmarks,
    asepsis,
    comfort_and_dose,
    lift_and_sides,
    finish,
    economy,
};
inline constexpr int kHeadings = 11;
[[nodiscard]] std::string_view name_of(Heading heading);  ///< "plane accuracy": as DESIGN and every screen write it
[[nodiscard]] std::string_view key_of(Heading heading);   ///< "plane_accuracy": in files
[[nodiscard]] std::optional<Heading> heading_of(std::string_view key);

/// What scoring can measure. Definitions: scenarios/schema/MEASURES.md.
struct MeasureSpec {
    std::string_view name;  ///< "track_in_band": in files
    Heading heading;
    std::string_view unit;   ///< shown to people
    double unit_si = 1.0;    ///< SI value of one unit
    std::string_view title;  ///< "track in band": on screens
};
[[nodiscard]] std::span<const MeasureSpec> measure_table();
[[nodiscard]] const MeasureSpec* measure_named(std::string_view name);  ///< nullptr when there is none

/// A rule that fails an attempt outright.
struct CriticalRule {
    std::string_view event;  ///< key in files
    std::string_view unit;   ///< of its threshold, "" when it has none
    std::string_view meaning;
};
[[nodiscard]] std::span<const CriticalRule> critical_rules();

/// A figure in physical units, with what went into it.
struct Measure {
    std::string name;  ///< "track_in_band": of measure_table(), or "clearance_" and one structure's name and side
    Heading heading = Heading::plane_accuracy;
    double value = 0.0;   ///< SI or a share in [0, 1]
    std::string unit;     ///< unit shown to people: "mm", "N", "%", "count", "degree"
    double shown = 0.0;   ///< value in that unit
    bool capped = false;  ///< as high as it is told: it may have been more
    /// In that unit, without what a plunge made, where there was one. What it would earn more is lost under ligament
    /// resistance.
    std::optional<double> steered{};
};

/// Where and when the worst of a measure was.
struct Finding {
    std::string measure;
    std::string what;  ///< "SMAS touched over 6 mm of track": plain words, no full stop
    std::string stage = "pass";
    double time_s = 0.0;
    Vec3 place_m{};
    double shown = 0.0;  ///< measured value in the measure's unit
    std::string unit;
    double weight = 1.0;  ///< share in its measure's loss, relative to that of the measure's other findings
};

/// One point of a curve: at this shown value, this share of the points.
struct CurvePoint {
    double at = 0.0;
    double share = 0.0;
    double spread = 0.0;  ///< half-width of the assumed range of `at`, for verdict stability; 0 when sourced
};

struct RubricItem {
    std::string measure;
    Heading heading = Heading::plane_accuracy;
    double points = 0.0;            ///< > 0
    std::vector<CurvePoint> curve;  ///< rising in `at`, at least two, shares in [0, 1]
    std::string accepted;           ///< words for the report: "at least 90 %"
    std::string in_proportion_to;   ///< measure in % that the points earned are multiplied by; "": none
};

struct CriticalFault {
    std::string event;  ///< key of a rule that scoring knows, listed in MEASURES.md
    std::string words;
    double threshold = 0.0;  ///< in the rule's unit; meaning in MEASURES.md
    double spread = 0.0;     ///< half-width of the assumed range of `threshold`
};

struct Rubric {
    std::string id, title;
    Bands bands;
    std::vector<RubricItem> items;
    std::vector<CriticalFault> critical;
    double pass_share = 0.8;     ///< of all points that could be earned
    double heading_share = 0.7;  ///< in every heading measured
};

struct Deduction {
    std::string stage = "pass";
    double time_s = 0.0;
    Vec3 place_m{};
    std::string measure;
    std::string what;
    double value = 0.0;  ///< in `unit`
    std::string unit;
    std::string accepted;
    double points = 0.0;  ///< lost, > 0
    Heading heading = Heading::plane_accuracy;
};

struct ScoredMeasure {
    Measure measure;
    double points = 0.0, of = 0.0;
};

enum class Verdict : std::uint8_t { pass, fail, incomplete };
[[nodiscard]] std::string_view name_of(Verdict verdict);

/// Draws of the assumed thresholds in which a verdict is tried.
inline constexpr int kStabilityDraws = 200;

struct Score {
    Verdict verdict = Verdict::incomplete;
    double total_points = 0.0, total_of = 0.0;  ///< points earned of points possible in what was measured
    std::array<double, kHeadings> heading_points{}, heading_of{};  ///< of = 0: not measured, left out
    std::vector<ScoredMeasure> measures;                           ///< all that was measured; of = 0: shown, not scored
    std::vector<Deduction> deductions;                             ///< costliest first
    std::vector<Finding> critical_faults;
    double verdict_stability = 1.0;  ///< share of 200 seeded draws of the assumed thresholds with this verdict
    /// What changes it in the others, with the share of all draws in which it does: most often first.
    std::vector<std::pair<std::string, double>> hangs_on;
    std::string next_step;  ///< one sentence on what to practise next
};

/// @throws InputError naming item and value for a rubric that cannot be used
void validate(const Rubric& rubric);

struct MeasuredAttempt {
    std::vector<Measure> measures;
    std::vector<Finding> findings;  ///< one or more for each measure that is not perfect
};

/// Figures from the record. Definitions: scenarios/schema/MEASURES.md. What cannot be measured is left out.
[[nodiscard]] MeasuredAttempt measure(const Recording& recording, const Bands& bands = {});

/// Critical faults that the record shows: rules in order, each at its first occurrence.
[[nodiscard]] std::vector<Finding> critical_faults(const Recording& recording, const Rubric& rubric);

/// Points from figures. @pre the rubric has passed validate()
[[nodiscard]] Score score(const Recording& recording, const Rubric& rubric);

}  // namespace sim
