#include <algorithm>
#include <cmath>

#include "engine/statistics/cusum.hpp"
#include "sim/core/random.hpp"

namespace statistics {

namespace {

// S is a sum of rounded steps: a limit that is such a sum is reached, not missed by a bit
constexpr double kRounding = 1e-9;
constexpr std::size_t kMostAttempts = 2000;
constexpr double kMostWork = 2e8;  // states x attempts

void require_limit(double limit) {
    if (!(limit > 0.0 && usable(limit))) throw InputError("limit", limit, "a number above 0, at most 1e50");
}

double stepped(double value, bool pass, const LearningWeights& weights) {
    return std::max(0.0, value + (pass ? weights.success : weights.failure));
}

/// What becomes of a learner whose S is 0, attempt by attempt, until S is at the limit or back at 0.
///
/// S is successes x success + failures x failure, so that after n attempts it hangs on the failures alone, of which
/// only limit / (success - failure) counts lie between 0 and the limit: few.
class Excursion {
 public:
    Excursion(const LearningWeights& weights, double limit, double failure_rate)
        : weights_(weights), limit_(limit), failure_rate_(failure_rate) {}

    struct Ends {
        double signal = 0.0, back = 0.0;  ///< shares of all who started that end so in this attempt
    };
    Ends advance() {
        Ends ends;
        std::vector<double> next(shares_.size() + 1);
        ++attempts_;
        for (std::size_t i = 0; i < shares_.size(); ++i) {
            const std::size_t failures = fewest_ + i;
            const double success = shares_[i] * (1.0 - failure_rate_), failure = shares_[i] * failure_rate_;
            if (value(failures) >= limit_ - kRounding)
                ends.signal += success;
            else
                next[i] += success;
            if (value(failures + 1) <= kRounding)
                ends.back += failure;
            else
                next[i + 1] += failure;
        }
        // counts that nobody has any more
        while (!next.empty() && next.back() == 0.0) next.pop_back();
        const auto first = std::find_if(next.begin(), next.end(), [](double share) { return share > 0.0; });
        fewest_ += static_cast<std::size_t>(first - next.begin());
        shares_.assign(first, next.end());
        return ends;
    }
    [[nodiscard]] double left() const {
        double sum = 0.0;
        for (const double share : shares_) sum += share;
        return sum;
    }
    [[nodiscard]] std::size_t states() const { return shares_.size(); }

 private:
    [[nodiscard]] double value(std::size_t failures) const {
        return static_cast<double>(attempts_ - failures) * weights_.success +
               static_cast<double>(failures) * weights_.failure;
    }
    LearningWeights weights_;
    double limit_, failure_rate_;
    std::size_t attempts_ = 0, fewest_ = 0;
    std::vector<double> shares_{1.0};  ///< by failures, from the fewest
};

/// Mean attempts to the signal: those of one excursion over the share of excursions that end in it (Wald).
std::optional<double> mean_run(Excursion excursion) {
    double length = 0.0, signals = 0.0;
    double work = 0.0;
    for (double attempt = 1.0; work < kMostWork; attempt += 1.0) {
        work += static_cast<double>(excursion.states()) + 1.0;
        const Excursion::Ends ends = excursion.advance();
        length += attempt * (ends.signal + ends.back);
        signals += ends.signal;
        // who is left makes few attempts more, beside those that were counted
        if (excursion.left() * attempt > 1e-12 * length) continue;
        return signals > 0.0 && std::isfinite(length / signals) ? std::optional(length / signals) : std::nullopt;
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

/// The next value above a limit that a simulated learner reached as the highest, or nothing.
std::optional<double> next_level(std::span<const double> sorted, double limit) {
    const auto above = std::upper_bound(sorted.begin(), sorted.end(), limit + kRounding);
    return above == sorted.end() ? std::nullopt : std::optional(*above);
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
    const Excursion start(learning_weights(adequate, inadequate), limit, failure_rate);
    Excursion excursion = start;
    std::vector<Excursion::Ends> ends;
    for (std::size_t i = 0; i < attempts; ++i) ends.push_back(excursion.advance());
    // at 0 after an attempt is who came back from an excursion that began at an earlier 0
    std::vector<double> at_zero{1.0};
    RunLength out;
    double signalled = 0.0;
    for (std::size_t t = 1; t <= attempts; ++t) {
        double back = 0.0;
        for (std::size_t from = 0; from < t; ++from) {
            signalled += at_zero[from] * ends[t - from - 1].signal;
            back += at_zero[from] * ends[t - from - 1].back;
        }
        at_zero.push_back(back);
        out.signalled.push_back(std::min(1.0, signalled));
    }
    out.mean = mean_run(start);
    return out;
}

LimitChoice choose_learning_limit(const LimitRequest& request) {
    check(request);
    const LearningWeights weights = learning_weights(request.adequate, request.inadequate);
    LimitChoice out;
    out.per_chart = -std::expm1(std::log1p(-request.false_pass) / static_cast<double>(request.charts));
    const std::vector<double> tops = simulated_tops(request, weights);
    out.limit = weights.success;  // the lowest value that says anything
    double beyond = weights.success;
    const auto raise = [&] {
        const auto level = next_level(tops, out.limit);
        // beyond what was simulated by steps that double
        out.limit = level ? *level : std::max(out.limit, tops.back()) + beyond;
        if (!level) beyond *= 2.0;
    };
    while (share_reaching(tops, out.limit) > out.per_chart) raise();
    const auto exact = [&](double rate) {
        return learning_run_length(request.adequate, request.inadequate, out.limit, rate, request.attempts);
    };
    RunLength inadequate = exact(request.inadequate);
    while (inadequate.signalled.back() > out.per_chart) {
        raise();
        inadequate = exact(request.inadequate);
    }
    const RunLength adequate = exact(request.adequate);
    out.simulated_false_pass = share_reaching(tops, out.limit);
    out.exact_false_pass = inadequate.signalled.back();
    out.family_false_pass = -std::expm1(std::log1p(-out.exact_false_pass) * static_cast<double>(request.charts));
    out.power = adequate.signalled.back();
    out.mean_adequate = adequate.mean, out.mean_inadequate = inadequate.mean;
    warn_of_choice(request, out);
    return out;
}

}  // namespace statistics
