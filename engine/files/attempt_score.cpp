#include "engine/files/attempt_score.hpp"

#include "engine/files/rubric.hpp"

namespace files {

sim::Score score_of(const LoadedAttempt& attempt, const std::string& name) {
    return sim::score(attempt.recording, parse_rubric(attempt.header.rubric, name).rubric);
}

std::vector<MeasuredHeading> measured_headings(const sim::Score& score) {
    std::vector<MeasuredHeading> out;
    for (std::size_t i = 0; i < sim::kHeadings; ++i)
        if (score.heading_of[i] > 0.0)
            out.push_back({sim::key_of(static_cast<sim::Heading>(i)), score.heading_points[i], score.heading_of[i]});
    return out;
}

}  // namespace files
