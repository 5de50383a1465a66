#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/attempt_shelf.hpp"
#include "engine/app/library.hpp"

/// What a learner has shown so far, and what to do next: from the kept attempts and the list of scenarios alone.

namespace app {

/// How one heading went, attempt by attempt.
struct HeadingRecord {
    struct Point {
        double share = 0.0;        ///< of the heading's points, 0 to 1
        bool passed = false;       ///< the whole attempt
        std::string title;         ///< of its scenario
        std::string when;          ///< it began
        bool after_weeks = false;  ///< the scenario had not been practised for four weeks
    };
    sim::Heading heading = sim::Heading::plane_accuracy;
    std::vector<Point> points;  ///< oldest first
    /// Mean of the last three, or of what there is. @pre there is one
    [[nodiscard]] double now() const;
};

inline constexpr double kHeadingAsked = 0.7;  ///< of a heading's points: what the shipped rubrics ask for

/// Of every heading that some finished attempt was measured in, in the order of headings.
[[nodiscard]] std::vector<HeadingRecord> heading_records(const std::vector<PastAttempt>& attempts);

/// The heading with the least now(), of those measured in two attempts or more; nothing when all hold what a rubric
/// asks.
[[nodiscard]] std::optional<sim::Heading> weakest_heading(const std::vector<HeadingRecord>& records);

/// The drill in whose rubric a heading has the greatest share of the points; where no drill has any, such a case; null
/// when there is none.
[[nodiscard]] const Entry* drill_for(const std::vector<Entry>& entries, sim::Heading heading);

/// After so long a pass says what was kept, not what was just practised. Four to eight weeks.
inline constexpr std::int64_t kRetentionFromS = 28 * 86'400, kRetentionUntilS = 56 * 86'400;

struct NextStep {
    enum class Kind { lesson, device, retention, train, next, again };
    Kind kind = Kind::next;
    std::string scenario, title;
    std::string why;  ///< one sentence
};

/// @param now_s           seconds since 1970
/// @param new_controller  one is there, and no kept attempt was made with one
/// @return nothing when no scenario can be used
[[nodiscard]] std::optional<NextStep> next_step(const std::vector<Entry>& entries,
                                                const std::vector<PastAttempt>& attempts, std::int64_t now_s,
                                                bool new_controller);

/// No kept attempt was made with this device.
[[nodiscard]] bool is_new(sim::Device device, const std::vector<PastAttempt>& attempts);

/// What coached practice begins with. What is off can be asked for, as in solo practice, and each use is recorded.
struct Coaching {
    bool cutaway = true, trace = true, words = true;
    friend bool operator==(const Coaching&, const Coaching&) = default;
};

/// It fades as skill grows: each pass of the scenario takes one aid away, the one that shows most first. Guidance that
/// stays is leant on (Salmoni, Schmidt and Walter 1984, Psychol Bull 95:355-86); the order is assumed.
[[nodiscard]] Coaching coaching_after(int passes);
/// "Passed once: the cut-away is off until you ask." Empty when all that the scenario allows is on.
[[nodiscard]] std::string coaching_words(int passes, const files::AllowedAids& aids = files::kAllAids);
/// "Aids here: depth trace, force." Empty when all may be asked for.
[[nodiscard]] std::string aids_words(const files::AllowedAids& aids);
[[nodiscard]] int passes_of(const std::vector<PastAttempt>& attempts, const std::string& scenario);

/// Seconds since 1970 of "2026-03-01T10:15:00Z"; nothing for what is no time.
[[nodiscard]] std::optional<std::int64_t> seconds_of(const std::string& started_at);

}  // namespace app
