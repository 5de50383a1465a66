#include "engine/statistics/learning_curve.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>

namespace statistics {

namespace {

using Vector3 = Eigen::Vector3d;
constexpr int kMostSteps = 200;
constexpr int kGrid = 60;
constexpr double kSettled = 1e-10;        // relative change of the parameters
constexpr double kDetermined = 1e-9;      // least eigenvalue of the scaled normal matrix over its largest
constexpr std::size_t kFewLearners = 20;  // common practice, no source

/// What b is multiplied by.
double falling(CurveShape shape, double attempt, double c) {
    return shape == CurveShape::exponential ? std::exp(-attempt / c) : std::pow(attempt, -c);
}

double falling_slope(CurveShape shape, double attempt, double c) {
    return shape == CurveShape::exponential ? std::exp(-attempt / c) * attempt / (c * c)
                                            : -std::pow(attempt, -c) * std::log(attempt);
}

/// Where c may lie: beyond, the curve is a straight line or a jump between two attempts.
struct RateRange {
    double low = 0.0, high = 0.0;
    RateRange(CurveShape shape, double last)
        : low(shape == CurveShape::exponential ? 0.05 : 1e-3),
          high(shape == CurveShape::exponential ? 50.0 * last : 20.0) {}
    [[nodiscard]] bool holds(double c) const { return c > low && c < high; }
};

double squares(std::span<const CurvePoint> points, CurveShape shape, const Vector3& p) {
    double sum = 0.0;
    for (const CurvePoint& point : points) {
        const double rest = point.value - p(0) - p(1) * falling(shape, point.attempt, p(2));
        sum += rest * rest;
    }
    return sum;
}

/// a and b by least squares for a given c; nothing where the points do not tell them apart.
std::optional<Vector3> linear_part(std::span<const CurvePoint> points, CurveShape shape, double c) {
    const auto n = static_cast<double>(points.size());
    double mx = 0.0, my = 0.0, xx = 0.0, xy = 0.0;
    for (const CurvePoint& point : points) mx += falling(shape, point.attempt, c) / n, my += point.value / n;
    for (const CurvePoint& point : points) {
        const double x = falling(shape, point.attempt, c) - mx;
        xx += x * x, xy += x * (point.value - my);
    }
    if (!(xx > 1e-14)) return {};
    const double b = xy / xx;
    return Vector3(my - b * mx, b, c);
}

std::optional<Vector3> start(std::span<const CurvePoint> points, CurveShape shape, const RateRange& range) {
    std::optional<Vector3> best;
    double least = 0.0;
    for (int i = 1; i < kGrid; ++i) {
        const double c = range.low * std::pow(range.high / range.low, static_cast<double>(i) / kGrid);
        const auto found = linear_part(points, shape, c);
        if (!found) continue;
        const double sum = squares(points, shape, *found);
        if (!best || sum < least) best = found, least = sum;
    }
    return best;
}

/// Normal equations of the residuals at p.
struct Normal {
    Eigen::Matrix3d matrix = Eigen::Matrix3d::Zero();
    Vector3 right = Vector3::Zero();

    Normal(std::span<const CurvePoint> points, CurveShape shape, const Vector3& p) {
        for (const CurvePoint& point : points) {
            const Vector3 slope = slopes(point.attempt, shape, p);
            matrix += slope * slope.transpose();
            right += slope * (point.value - p(0) - p(1) * falling(shape, point.attempt, p(2)));
        }
    }
    static Vector3 slopes(double attempt, CurveShape shape, const Vector3& p) {
        return {1.0, falling(shape, attempt, p(2)), p(1) * falling_slope(shape, attempt, p(2))};
    }
    /// Do the points tell the parameters apart, whatever their units?
    [[nodiscard]] bool determined() const {
        const Vector3 diagonal = matrix.diagonal();
        if (!(diagonal.minCoeff() > 0.0)) return false;
        const Vector3 scale = diagonal.cwiseSqrt().cwiseInverse();
        const Eigen::Matrix3d scaled = scale.asDiagonal() * matrix * scale.asDiagonal();
        const Vector3 values =
            Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(scaled, Eigen::EigenvaluesOnly).eigenvalues();
        return values(0) > kDetermined * values(2);
    }
};

/// A step, halved until the squares do not grow and c stays in its range. @return relative change, nothing when none
/// helps
std::optional<double> take_step(std::span<const CurvePoint> points, CurveShape shape, const RateRange& range,
                                Vector3& p) {
    const Normal normal(points, shape, p);
    const Vector3 scale = normal.matrix.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
    const Eigen::Matrix3d scaled = scale.asDiagonal() * normal.matrix * scale.asDiagonal();
    const Vector3 step = scale.asDiagonal() * scaled.ldlt().solve(scale.asDiagonal() * normal.right);
    if (!step.allFinite()) return {};
    const double before = squares(points, shape, p);
    double part = 1.0;
    for (int halving = 0; halving < 40; ++halving, part *= 0.5) {
        const Vector3 tried = p + part * step;
        if (!range.holds(tried(2)) || !(squares(points, shape, tried) <= before * (1.0 + 1e-14))) continue;
        const double change = (part * step).cwiseAbs().cwiseQuotient(p.cwiseAbs().cwiseMax(1e-12)).maxCoeff();
        p = tried;
        return change;
    }
    return {};
}

FitState iterate(std::span<const CurvePoint> points, CurveShape shape, const RateRange& range, Vector3& p, int& steps) {
    for (steps = 1; steps <= kMostSteps; ++steps) {
        if (!Normal(points, shape, p).determined()) return FitState::not_determined;
        const auto change = take_step(points, shape, range, p);
        if (!change) return FitState::not_converged;
        if (*change < kSettled) return FitState::converged;
    }
    return FitState::not_converged;
}

/// Covariance over learners: what each learner's points pull together, between the inverses of the normal matrix.
Eigen::Matrix3d sandwich(std::span<const CurvePoint> points, CurveShape shape, const Vector3& p,
                         const Eigen::Matrix3d& inverse, std::size_t learners) {
    std::map<std::size_t, Vector3> pulls;
    for (const CurvePoint& point : points) {
        const auto found = pulls.try_emplace(point.learner, Vector3::Zero()).first;
        found->second +=
            Normal::slopes(point.attempt, shape, p) * (point.value - p(0) - p(1) * falling(shape, point.attempt, p(2)));
    }
    Eigen::Matrix3d middle = Eigen::Matrix3d::Zero();
    for (const auto& [learner, pull] : pulls) middle += pull * pull.transpose();
    const auto m = static_cast<double>(learners);
    return inverse * middle * inverse * (m / (m - 1.0));
}

void fill_intervals(LearningCurve& out, std::span<const CurvePoint> points, const Vector3& p, double confidence) {
    const Eigen::Matrix3d inverse = Normal(points, out.shape, p).matrix.inverse();
    if (out.learners > 1) {
        out.covariance = sandwich(points, out.shape, p, inverse, out.learners);
        out.interval_df = static_cast<double>(out.learners - 1);
    } else {
        out.covariance = inverse * out.residual_error * out.residual_error;
        out.interval_df = static_cast<double>(out.points - 3);
    }
    const double t = t_quantile(0.5 + confidence / 2.0, out.interval_df);
    Eigen::Index i = 0;
    for (Estimate* parameter : {&out.level, &out.gain, &out.rate}) {
        const double half = t * std::sqrt(std::max(0.0, out.covariance(i, i)));
        parameter->interval = Interval{parameter->value - half, parameter->value + half};
        ++i;
    }
}

void check_points(std::span<const CurvePoint> points) {
    require_count("points", points.size(), 4);
    std::vector<double> attempts;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const std::string place = "point " + std::to_string(i + 1);
        if (!(points[i].attempt >= 1.0 && usable(points[i].attempt)))
            throw InputError(place + ", attempt", points[i].attempt, "at least 1");
        if (!usable(points[i].value)) throw InputError(place + ", value", points[i].value, kUsable);
        attempts.push_back(points[i].attempt);
    }
    std::sort(attempts.begin(), attempts.end());
    attempts.erase(std::unique(attempts.begin(), attempts.end()), attempts.end());
    require_count("different attempts", attempts.size(), 4);
}

std::size_t count_learners(std::span<const CurvePoint> points) {
    std::map<std::size_t, int> seen;
    for (const CurvePoint& point : points) ++seen[point.learner];
    return seen.size();
}

void tell_state(LearningCurve& out) {
    if (out.state == FitState::not_converged)
        out.warnings.emplace_back(
            "The fit did not converge: these points show no such curve. Do not use its parameters.");
    if (out.state == FitState::not_determined)
        out.warnings.emplace_back("The points do not determine the curve. Do not use its parameters.");
    if (out.state == FitState::converged && out.learners > 1 && out.learners < kFewLearners)
        out.warnings.push_back("Only " + std::to_string(out.learners) +
                               " learners: intervals of the pooled curve are rough.");
}

}  // namespace

double LearningCurve::at(double attempt) const {
    return level.value + gain.value * falling(shape, attempt, rate.value);
}

LearningCurve fit_learning_curve(std::span<const CurvePoint> points, CurveShape shape, double confidence) {
    require_share("confidence", confidence);
    check_points(points);
    LearningCurve out;
    out.shape = shape;
    out.points = points.size();
    out.learners = count_learners(points);
    double last = 0.0, mean = 0.0, spread = 0.0;
    for (const CurvePoint& point : points) {
        last = std::max(last, point.attempt);
        mean += point.value / static_cast<double>(points.size());
    }
    for (const CurvePoint& point : points) spread += (point.value - mean) * (point.value - mean);
    const RateRange range(shape, last);
    auto p = start(points, shape, range);
    if (!p || !(spread > 1e-24 * (1.0 + mean * mean))) {
        out.state = FitState::not_determined;
        out.level.value = mean;
        tell_state(out);
        return out;
    }
    out.state = iterate(points, shape, range, *p, out.steps);
    out.level.value = (*p)(0), out.gain.value = (*p)(1), out.rate.value = (*p)(2);
    const double rest = squares(points, shape, *p);
    out.residual_error = std::sqrt(rest / static_cast<double>(points.size() - 3));
    out.r_squared = 1.0 - rest / spread;
    if (out.state == FitState::converged) fill_intervals(out, points, *p, confidence);
    tell_state(out);
    return out;
}

std::optional<Estimate> curve_reaches(const LearningCurve& curve, double mark, double confidence) {
    require_share("confidence", confidence);
    if (!usable(mark)) throw InputError("mark", mark, kUsable);
    if (curve.state != FitState::converged) return {};
    const double left = (mark - curve.level.value) / curve.gain.value;  // what b must still be multiplied by
    if (!(left > 0.0)) return {};
    const double c = curve.rate.value;
    const double attempt = curve.shape == CurveShape::exponential ? -c * std::log(left) : std::pow(left, -1.0 / c);
    if (!std::isfinite(attempt)) return {};
    Estimate out{std::max(1.0, attempt), {}};
    if (attempt < 1.0) return out;
    // by the implicit function: d attempt / d p = -(d y / d p) / (d y / d attempt)
    const double along =
        curve.shape == CurveShape::exponential ? -curve.gain.value * left / c : -curve.gain.value * c * left / attempt;
    const Vector3 p(curve.level.value, curve.gain.value, c);
    const Vector3 slope = Normal::slopes(attempt, curve.shape, p) / -along;
    const double half = t_quantile(0.5 + confidence / 2.0, curve.interval_df) *
                        std::sqrt(std::max(0.0, slope.dot(curve.covariance * slope)));
    if (std::isfinite(half)) out.interval = Interval{std::max(1.0, attempt - half), attempt + half};
    return out;
}

}  // namespace statistics
