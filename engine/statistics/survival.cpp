#include <algorithm>
#include <cmath>

#include "engine/statistics/learning_curve.hpp"

namespace statistics {

namespace {

constexpr std::size_t kFewReached = 10;  // common practice, no source

/// Interval of a share on the scale log(-log), which stays within 0 and 1.
std::optional<Interval> log_log_interval(double share, double standard_error, double z) {
    if (!(share > 0.0 && share < 1.0)) return {};
    const double half = z * standard_error / (share * -std::log(share));
    return Interval{std::pow(share, std::exp(half)), std::pow(share, std::exp(-half))};
}

std::optional<double> first_at_most_half(std::span<const SurvivalStep> steps, double (*share)(const SurvivalStep&)) {
    for (const SurvivalStep& step : steps)
        if (share(step) <= 0.5) return static_cast<double>(step.attempt);
    return {};
}

/// Half way to the next step where the share is a half exactly.
std::optional<double> median_of(std::span<const SurvivalStep> steps) {
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (steps[i].not_yet > 0.5 + 1e-12) continue;
        const auto at = static_cast<double>(steps[i].attempt);
        if (steps[i].not_yet < 0.5 - 1e-12 || i + 1 == steps.size()) return at;
        return 0.5 * (at + static_cast<double>(steps[i + 1].attempt));
    }
    return {};
}

}  // namespace

Reach attempts_to_mark(std::span<const double> values, double mark, std::size_t in_a_row, bool rising) {
    require_count("values", values.size(), 1);
    require_finite("values", values);
    if (!usable(mark)) throw InputError("mark", mark, kUsable);
    if (in_a_row < 1) throw InputError("times in a row", "0", "at least 1");
    std::size_t row = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        row = (rising ? values[i] >= mark : values[i] <= mark) ? row + 1 : 0;
        if (row == in_a_row) return {i + 1, true};
    }
    return {values.size(), false};
}

Survival survival_to_mark(std::span<const Reach> learners, double confidence) {
    require_share("confidence", confidence);
    require_count("learners", learners.size(), 1);
    std::vector<Reach> sorted(learners.begin(), learners.end());
    for (std::size_t i = 0; i < sorted.size(); ++i)
        if (sorted[i].attempts < 1) throw InputError("learner " + std::to_string(i + 1), "0 attempts", "at least 1");
    std::sort(sorted.begin(), sorted.end(), [](const Reach& a, const Reach& b) { return a.attempts < b.attempts; });
    const double z = normal_quantile(0.5 + confidence / 2.0);
    Survival out;
    out.learners = sorted.size();
    double not_yet = 1.0, greenwood = 0.0;
    for (std::size_t i = 0; i < sorted.size();) {
        SurvivalStep step;
        step.attempt = sorted[i].attempts;
        step.at_risk = sorted.size() - i;
        for (; i < sorted.size() && sorted[i].attempts == step.attempt; ++i)
            step.reached += sorted[i].reached ? 1U : 0U;
        if (step.reached == 0) continue;
        const auto risk = static_cast<double>(step.at_risk), reached = static_cast<double>(step.reached);
        not_yet *= (risk - reached) / risk;
        if (risk > reached) greenwood += reached / (risk * (risk - reached));
        step.not_yet = not_yet;
        step.standard_error = not_yet * std::sqrt(greenwood);
        step.interval = log_log_interval(not_yet, step.standard_error, z);
        out.reached += step.reached;
        out.steps.push_back(step);
    }
    out.median = median_of(out.steps);
    // the curve's band, cut at a half
    out.median_low =
        first_at_most_half(out.steps, [](const SurvivalStep& s) { return s.interval ? s.interval->low : s.not_yet; });
    out.median_high =
        first_at_most_half(out.steps, [](const SurvivalStep& s) { return s.interval ? s.interval->high : s.not_yet; });
    if (out.reached < kFewReached)
        out.warnings.push_back("Only " + std::to_string(out.reached) + " learners have reached the mark.");
    if (!out.median) out.warnings.emplace_back("Fewer than half have reached the mark: there is no median.");
    return out;
}

}  // namespace statistics
