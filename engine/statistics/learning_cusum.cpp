#include <algorithm>
#include <cmath>
#include <map>

#include "engine/statistics/cusum.hpp"
#include "sim/core/random.hpp"

namespace statistics {

namespace {

// S is a sum of rounded steps: a limit that is such a sum is reached, not missed by a bit
constexpr double kRounding = 1e-9;
constexpr double kRare = 1e-16;
constexpr std::size_t kMostAttempts = 2000, kMostSteps = 100000;

void require_limit(double limit) {
    if (!(limit > 0.0 && std::isfinite(limit))) throw InputError("limit", limit, "a number above 0");
}

double stepped(double value, bool pass, const LearningWeights& weights) {
    return std::max(0.0, value + (pass ? weights.success : weights.failure));
}

/// Shares of learners by successes and failures since S was last 0.
class Chain {
 public:
    Chain(const LearningWeights& weights, double limit, double failure_rate)
        : weights_(weights), limit_(limit), failure_rate_(failure_rate) {}

    /// @return share that signals in this attempt
    double advance() {
        std::map<std::pair<int, int>, double> next;
        double signals = 0.0;
        for (const auto& [counts, share] : shares_) {
            const auto& [successes, failures] = counts;
            if (share < kRare) {
                dropped_ += share;
                continue;
            }
            if (value(successes + 1, failures) >= limit_ - kRounding)
                signals += share * (1.0 - failure_rate_);
            else
                next[{successes + 1, failures}] += share * (1.0 - failure_rate_);
            const bool back = value(successes, failures + 1) <= kRounding;
            next[back ? std::pair{0, 0} : std::pair{successes, failures + 1}] += share * failure_rate_;
        }
        shares_ = std::move(next);
        return signals;
    }

    [[nodiscard]] double left() const {
        double sum = 0.0;
        for (const auto& [counts, share] : shares_) sum += share;
        return sum;
    }
    [[nodiscard]] double dropped() const { return dropped_; }

 private:
    [[nodiscard]] double value(int successes, int failures) const {
        return successes * weights_.success + failures * weights_.failure;
    }
    LearningWeights weights_;
    double limit_, failure_rate_;
    std::map<std::pair<int, int>, double> shares_{{{0, 0}, 1.0}};
    double dropped_ = 0.0;
};

/// Mean attempts to the signal: shares left, summed; once they shrink by a steady factor the rest is a geometric
/// series.
std::optional<double> mean_run(Chain chain) {
    double mean = 1.0, left = 1.0, factor = 0.0;
    int steady = 0;
    for (std::size_t step = 0; step < kMostSteps; ++step) {
        chain.advance();
        const double now = chain.left();
        mean += now;
        if (now < 1e-13) return mean;
        const double shrinks = now / left;
        steady = std::abs(shrinks - factor) < 1e-13 && shrinks < 1.0 ? steady + 1 : 0;
        factor = shrinks, left = now;
        if (steady == 50)
            return 1.0 - factor > 1e-9 ? std::optional(mean + now * factor / (1.0 - factor)) : std::nullopt;
    }
    return {};
}

void check(const LimitRequest& request) {
    (void)learning_weights(request.adequate, request.inadequate);
    require_share("false passes", request.false_pass);
    const auto within = [](const char* place, std::size_t value, std::size_t low, std::size_t high) {
        if (value < low || value > high)
            throw InputError(place, std::to_string(value), std::to_string(low) + " to " + std::to_string(high));
    };
    within("attempts", request.attempts, 1, kMostAttempts);
    within("charts", request.charts, 1, 1000);
    within("runs", request.runs, 100, 1000000);
    within("attempts x runs", request.attempts * request.runs, 1, 200000000);
}

/// The highest S of each simulated learner at the inadequate rate, ascending.
std::vector<double> simulated_tops(const LimitRequest& request, const LearningWeights& weights) {
    sim::Random random(request.seed);
    std::vector<double> tops(request.runs);
    for (double& top : tops) {
        double value = 0.0;
        for (std::size_t i = 0; i < request.attempts; ++i) {
            value = stepped(value, random.uniform() >= request.inadequate, weights);
            top = std::max(top, value);
        }
    }
    std::sort(tops.begin(), tops.end());
    return tops;
}

double share_reaching(std::span<const double> sorted, double limit) {
    const auto first = std::lower_bound(sorted.begin(), sorted.end(), limit - kRounding);
    return static_cast<double>(sorted.end() - first) / static_cast<double>(sorted.size());
}

/// The next value above a limit that a simulated learner reached as the highest; a success more beyond all of them.
double next_level(std::span<const double> sorted, double limit, const LearningWeights& weights) {
    const auto above = std::upper_bound(sorted.begin(), sorted.end(), limit + kRounding);
    return above == sorted.end() ? std::max(limit, sorted.back()) + weights.success : *above;
}

void warn_of_choice(const LimitRequest& request, LimitChoice& out) {
    if (out.power < 0.8)
        out.warnings.push_back("Of adequate learners only " + words_of(100.0 * out.power) +
                               " % would be signalled within the attempts: allow more, or part the rates further.");
    const double error =
        std::sqrt(out.exact_false_pass * (1.0 - out.exact_false_pass) / static_cast<double>(request.runs));
    if (std::abs(out.simulated_false_pass - out.exact_false_pass) > 5.0 * error + 1e-12)
        out.warnings.push_back("Simulation and exact chain differ by more than chance: do not use this limit.");
    if (static_cast<double>(request.runs) * out.per_chart < 20.0)
        out.warnings.push_back("Too few runs for so rare a false pass: the limit stands on the exact chain alone.");
}

}  // namespace

LearningWeights learning_weights(double adequate, double inadequate) {
    require_rates("adequate rate", adequate, "inadequate rate", inadequate);
    return {std::log((1.0 - adequate) / (1.0 - inadequate)), std::log(adequate / inadequate)};
}

LearningChart learning_cusum(const std::vector<bool>& passes, double adequate, double inadequate, double limit) {
    require_limit(limit);
    LearningChart out{learning_weights(adequate, inadequate), limit, {}, {}};
    double value = 0.0;
    for (const bool pass : passes) {
        value = stepped(value, pass, out.weights);
        out.values.push_back(value);
        if (!out.signal && value >= limit - kRounding) out.signal = out.values.size();
    }
    return out;
}

RunLength learning_run_length(double adequate, double inadequate, double limit, double failure_rate,
                              std::size_t attempts) {
    require_limit(limit);
    sim::require_within("failure rate", failure_rate, 0.0, 1.0);
    if (attempts < 1 || attempts > kMostAttempts)
        throw InputError("attempts", std::to_string(attempts), "1 to " + std::to_string(kMostAttempts));
    const Chain start(learning_weights(adequate, inadequate), limit, failure_rate);
    RunLength out;
    Chain chain = start;
    double signalled = 0.0;
    for (std::size_t i = 0; i < attempts; ++i) {
        signalled += chain.advance();
        out.signalled.push_back(std::min(1.0, signalled));
    }
    out.dropped = chain.dropped();
    if (failure_rate < 1.0) out.mean = mean_run(start);
    return out;
}

LimitChoice choose_learning_limit(const LimitRequest& request) {
    check(request);
    const LearningWeights weights = learning_weights(request.adequate, request.inadequate);
    LimitChoice out;
    out.per_chart = 1.0 - std::pow(1.0 - request.false_pass, 1.0 / static_cast<double>(request.charts));
    const std::vector<double> tops = simulated_tops(request, weights);
    out.limit = weights.success;  // the lowest value that says anything
    while (share_reaching(tops, out.limit) > out.per_chart) out.limit = next_level(tops, out.limit, weights);
    const auto exact = [&](double rate) {
        return learning_run_length(request.adequate, request.inadequate, out.limit, rate, request.attempts);
    };
    RunLength inadequate = exact(request.inadequate);
    while (inadequate.signalled.back() > out.per_chart) {
        out.limit = next_level(tops, out.limit, weights);
        inadequate = exact(request.inadequate);
    }
    const RunLength adequate = exact(request.adequate);
    out.simulated_false_pass = share_reaching(tops, out.limit);
    out.exact_false_pass = inadequate.signalled.back();
    out.family_false_pass = 1.0 - std::pow(1.0 - out.exact_false_pass, static_cast<double>(request.charts));
    out.power = adequate.signalled.back();
    out.mean_adequate = adequate.mean, out.mean_inadequate = inadequate.mean;
    warn_of_choice(request, out);
    return out;
}

}  // namespace statistics
