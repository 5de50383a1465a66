#include "engine/statistics/standard_setting.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/random.hpp"

namespace statistics {

namespace {

constexpr double kFarOut = 3.0;  // common practice, no source
constexpr std::size_t kMostResamples = 100000;
constexpr std::size_t kFewJudges = 8;  // common practice, no source
constexpr double kNoSpread = 1e-14;

/// Value at a grade of the line through the chosen points; nothing when they share one grade.
std::optional<double> value_at(std::span<const double> x, std::span<const double> y,
                               std::span<const std::size_t> chosen, double at) {
    const auto n = static_cast<double>(chosen.size());
    double mx = 0.0, my = 0.0, xx = 0.0, xy = 0.0;
    for (const std::size_t i : chosen) mx += x[i] / n, my += y[i] / n;
    for (const std::size_t i : chosen) xx += (x[i] - mx) * (x[i] - mx), xy += (x[i] - mx) * (y[i] - my);
    if (!(xx > kNoSpread * (1.0 + mx * mx))) return {};
    return my + xy / xx * (at - mx);
}

void resample(BorderlineRegression& out, std::span<const double> grades, std::span<const double> scores,
              double confidence, const Resampling& resampling) {
    sim::Random random(resampling.seed);
    std::vector<double> cuts;
    std::vector<std::size_t> chosen(grades.size());
    for (std::size_t t = 0; t < resampling.times; ++t) {
        for (std::size_t& i : chosen)
            i = static_cast<std::size_t>(random.uniform() * static_cast<double>(grades.size()));
        if (const auto cut = value_at(grades, scores, chosen, out.grade)) cuts.push_back(*cut);
    }
    out.resamples_used = cuts.size();
    if (cuts.size() < 100) return;
    std::sort(cuts.begin(), cuts.end());
    out.resampled = Interval{quantile_of(cuts, (1.0 - confidence) / 2.0), quantile_of(cuts, (1.0 + confidence) / 2.0)};
}

void warn_of_regression(BorderlineRegression& out, std::span<const double> grades) {
    if (grades.size() < kFewAttempts)
        out.warnings.push_back("Only " + std::to_string(grades.size()) +
                               " attempts: below 50 a borderline pass mark is not to be relied on.");
    if (!(out.line.slope > 0.0))
        out.warnings.push_back("Scores do not rise with the grade: checklist and grade do not measure the same.");
    const auto [least, most] = std::minmax_element(grades.begin(), grades.end());
    if (out.grade < *least || out.grade > *most)
        out.warnings.push_back("The borderline grade lies outside the grades given: the pass mark is extrapolated.");
    else if (std::find(grades.begin(), grades.end(), out.grade) == grades.end())
        out.warnings.push_back("Nobody was given the borderline grade.");
    if (!out.far_out.empty())
        out.warnings.push_back(std::to_string(out.far_out.size()) +
                               " attempts lie more than 3 standard deviations off the line: look at them.");
}

/// Share of sorted scores below a cut, straight between scores: (i + 1/2) / n at the i-th of n, 0 and 1 beyond the
/// ends.
double failing_at(std::span<const double> sorted, double cut) {
    const auto n = static_cast<double>(sorted.size());
    if (cut <= sorted.front()) return cut < sorted.front() ? 0.0 : 0.5 / n;
    if (cut >= sorted.back()) return cut > sorted.back() ? 1.0 : 1.0 - 0.5 / n;
    const auto above = static_cast<std::size_t>(std::upper_bound(sorted.begin(), sorted.end(), cut) - sorted.begin());
    const double low = sorted[above - 1], high = sorted[above];
    return (static_cast<double>(above) - 0.5 + (cut - low) / (high - low)) / n;
}

HofsteeJudge mean_judge(std::span<const HofsteeJudge> judges) {
    require_count("judges", judges.size(), 1);
    HofsteeJudge mean;
    for (std::size_t i = 0; i < judges.size(); ++i) {
        const HofsteeJudge& judge = judges[i];
        const std::string place = "judge " + std::to_string(i + 1);
        require_finite(place, std::vector<double>{judge.least_cut, judge.most_cut});
        if (!(judge.least_cut <= judge.most_cut))
            throw InputError(place + ", least cut", judge.least_cut,
                             "at most the most cut, " + words_of(judge.most_cut));
        if (!(judge.least_fail >= 0.0 && judge.least_fail <= judge.most_fail && judge.most_fail <= 1.0))
            throw InputError(place + ", least and most failing", judge.least_fail, "0 <= least <= most <= 1");
        const auto n = static_cast<double>(judges.size());
        mean.least_cut += judge.least_cut / n, mean.most_cut += judge.most_cut / n;
        mean.least_fail += judge.least_fail / n, mean.most_fail += judge.most_fail / n;
    }
    return mean;
}

}  // namespace

LineFit fit_line(std::span<const double> x, std::span<const double> y) {
    require_count("grades", x.size(), 3);
    require_as_long("scores", y.size(), x.size());
    require_finite("grades", x);
    require_finite("scores", y);
    const auto n = static_cast<double>(x.size());
    LineFit out;
    out.x_mean = mean_of(x);
    const double y_mean = mean_of(y);
    double xy = 0.0, yy = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        out.x_squares += (x[i] - out.x_mean) * (x[i] - out.x_mean);
        xy += (x[i] - out.x_mean) * (y[i] - y_mean);
        yy += (y[i] - y_mean) * (y[i] - y_mean);
    }
    if (!(out.x_squares > kNoSpread * (1.0 + out.x_mean * out.x_mean)))
        throw InputError("grades", "the same grade everywhere", "at least two grades");
    out.slope = xy / out.x_squares;
    out.intercept = y_mean - out.slope * out.x_mean;
    double squares = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        out.residuals.push_back(y[i] - out.intercept - out.slope * x[i]);
        squares += out.residuals.back() * out.residuals.back();
    }
    out.r_squared = yy > 0.0 ? std::clamp(1.0 - squares / yy, 0.0, 1.0) : 0.0;
    out.rmse = std::sqrt(squares / n);
    out.residual_error = std::sqrt(squares / (n - 2.0));
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double leverage = 1.0 / n + (x[i] - out.x_mean) * (x[i] - out.x_mean) / out.x_squares;
        const double sd = out.residual_error * std::sqrt(std::max(0.0, 1.0 - leverage));
        out.standardised.push_back(sd > 1e-12 * (1.0 + std::abs(y[i])) ? out.residuals[i] / sd : 0.0);
    }
    return out;
}

BorderlineRegression borderline_regression(std::span<const double> grades, std::span<const double> scores,
                                           double borderline, double confidence, const Resampling& resampling) {
    require_share("confidence", confidence);
    if (!usable(borderline)) throw InputError("borderline grade", borderline, kUsable);
    if (resampling.times > kMostResamples)
        throw InputError("resamples", std::to_string(resampling.times), "0 to " + std::to_string(kMostResamples));
    BorderlineRegression out;
    out.line = fit_line(grades, scores);
    out.grade = borderline;
    out.cut.value = out.line.intercept + out.line.slope * borderline;
    const auto n = static_cast<double>(grades.size());
    const double off = borderline - out.line.x_mean;
    const double half = t_quantile(0.5 + confidence / 2.0, n - 2.0) * out.line.residual_error *
                        std::sqrt(1.0 / n + off * off / out.line.x_squares);
    out.cut.interval = Interval{out.cut.value - half, out.cut.value + half};
    for (std::size_t i = 0; i < out.line.standardised.size(); ++i)
        if (std::abs(out.line.standardised[i]) > kFarOut) out.far_out.push_back(i);
    resample(out, grades, scores, confidence, resampling);
    warn_of_regression(out, grades);
    return out;
}

Angoff angoff(const Matrix& shares, double confidence) {
    require_share("confidence", confidence);
    require_shape("shares", shares, 2, 1);
    require_finite("shares", shares);
    for (Eigen::Index r = 0; r < shares.rows(); ++r)
        for (Eigen::Index c = 0; c < shares.cols(); ++c)
            sim::require_within("shares, row " + std::to_string(r + 1) + ", column " + std::to_string(c + 1),
                                shares(r, c), 0.0, 1.0);
    Angoff out;
    for (Eigen::Index r = 0; r < shares.rows(); ++r) out.judge_sums.push_back(shares.row(r).sum());
    for (Eigen::Index c = 0; c < shares.cols(); ++c) {
        const Vector item = shares.col(c);
        out.item_means.push_back(item.mean());
        out.item_sds.push_back(std::sqrt(variance_of({item.data(), static_cast<std::size_t>(item.size())})));
    }
    const auto n = static_cast<double>(shares.rows());
    out.cut.value = mean_of(out.judge_sums);
    out.cut_share = out.cut.value / static_cast<double>(shares.cols());
    out.judge_sd = std::sqrt(variance_of(out.judge_sums));
    out.standard_error = out.judge_sd / std::sqrt(n);
    const double half = t_quantile(0.5 + confidence / 2.0, n - 1.0) * out.standard_error;
    out.cut.interval = Interval{out.cut.value - half, out.cut.value + half};
    if (out.judge_sums.size() < kFewJudges)
        out.warnings.push_back("Only " + std::to_string(out.judge_sums.size()) + " judges: 8 or more are usual.");
    return out;
}

Hofstee hofstee(std::span<const HofsteeJudge> judges, std::span<const double> scores) {
    Hofstee out;
    out.mean = mean_judge(judges);
    require_count("scores", scores.size(), 2);
    require_finite("scores", scores);
    std::vector<double> sorted(scores.begin(), scores.end());
    std::sort(sorted.begin(), sorted.end());
    const auto line = [&](double cut) {
        const double along = out.mean.most_cut > out.mean.least_cut
                                 ? (cut - out.mean.least_cut) / (out.mean.most_cut - out.mean.least_cut)
                                 : 0.0;
        return out.mean.most_fail + along * (out.mean.least_fail - out.mean.most_fail);
    };
    // the curve rises and the line falls: they meet once or not at all
    double low = out.mean.least_cut, high = out.mean.most_cut;
    if (failing_at(sorted, low) > out.mean.most_fail) {
        out.warnings.push_back("Even at the least cut more would fail than the judges will stand for.");
        return out;
    }
    if (failing_at(sorted, high) < out.mean.least_fail) {
        out.warnings.push_back("Even at the most cut fewer would fail than the judges ask for.");
        return out;
    }
    for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (low + high);
        (failing_at(sorted, middle) < line(middle) ? low : high) = middle;
    }
    out.cut = 0.5 * (low + high);
    std::size_t below = 0;
    for (const double score : sorted) below += score < *out.cut ? 1U : 0U;
    out.fail_share = static_cast<double>(below) / static_cast<double>(sorted.size());
    return out;
}

Verdict conjunctive_verdict(std::span<const ItemResult> items, double rest_needed) {
    require_count("items", items.size(), 1);
    sim::require_within("share needed", rest_needed, 0.0, 1.0);
    Verdict out;
    double points = 0.0, maximum = 0.0;
    for (std::size_t i = 0; i < items.size(); ++i) {
        const std::string place = "item " + std::to_string(i + 1);
        if (!(items[i].maximum > 0.0 && usable(items[i].maximum)))
            throw InputError(place + ", maximum", items[i].maximum, "a number above 0");
        sim::require_within(place + ", points", items[i].points, 0.0, items[i].maximum);
        if (!items[i].critical)
            points += items[i].points, maximum += items[i].maximum;
        else if (items[i].points < items[i].maximum)
            out.critical_missed.push_back(i);
    }
    out.rest_share = maximum > 0.0 ? points / maximum : 1.0;
    // sums of tenths are not exact; a mark is not missed by rounding
    out.pass = out.critical_missed.empty() && out.rest_share >= rest_needed - 1e-12;
    return out;
}

}  // namespace statistics
