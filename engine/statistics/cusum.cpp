#include "engine/statistics/cusum.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

namespace statistics {

namespace {

/// Normal values above a target, one side.
double one_sided_run_length(double slack, double limit, double shift) {
    using Rule = boost::math::quadrature::gauss<double, 30>;
    constexpr int kPanels = 3, kNodes = 30;
    Vector node(kPanels * kNodes), weight(kPanels * kNodes);
    const double half = limit / (2.0 * kPanels);
    Eigen::Index at = 0;
    for (int panel = 0; panel < kPanels; ++panel)
        for (std::size_t i = 0; i < Rule::abscissa().size(); ++i)
            for (const double side : {-1.0, 1.0}) {
                node(at) = half * (2.0 * panel + 1.0 + side * Rule::abscissa()[i]);
                weight(at++) = half * Rule::weights()[i];
            }
    // L(u) = 1 + L(0) P(back at 0 from u) + integral of L(y) density(y from u): unknown L(0) first, then L at the nodes
    const Eigen::Index n = node.size();
    const auto density = [](double x) { return std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::acos(-1.0)); };
    Matrix system = Matrix::Identity(n + 1, n + 1);
    for (Eigen::Index i = 0; i <= n; ++i) {
        const double from = i == 0 ? 0.0 : node(i - 1);
        system(i, 0) -= normal_below(slack - shift - from);
        for (Eigen::Index j = 0; j < n; ++j) system(i, j + 1) -= weight(j) * density(node(j) + slack - shift - from);
    }
    return system.partialPivLu().solve(Vector::Ones(n + 1))(0);
}

}  // namespace

SequentialLimits sequential_limits(double acceptable, double unacceptable, double alpha, double beta) {
    require_rates("acceptable rate", acceptable, "unacceptable rate", unacceptable);
    require_share("alpha", alpha);
    require_share("beta", beta);
    if (!(alpha + beta < 1.0)) throw InputError("alpha + beta", alpha + beta, "below 1");
    const double p = std::log(unacceptable / acceptable), q = std::log((1.0 - acceptable) / (1.0 - unacceptable));
    return {q / (p + q), std::log((1.0 - alpha) / beta) / (p + q), std::log((1.0 - beta) / alpha) / (p + q)};
}

FailureChart failure_cusum(const std::vector<bool>& passes, double acceptable, double unacceptable, double alpha,
                           double beta) {
    FailureChart out{sequential_limits(acceptable, unacceptable, alpha, beta), {}, {}};
    double sum = 0.0, base = 0.0;
    for (std::size_t i = 0; i < passes.size(); ++i) {
        sum += passes[i] ? -out.limits.step : 1.0 - out.limits.step;
        out.values.push_back(sum);
        if (sum - base >= out.limits.upper)
            out.crossings.push_back({i + 1, true});
        else if (sum - base <= -out.limits.lower)
            out.crossings.push_back({i + 1, false});
        else
            continue;
        base = sum;
    }
    return out;
}

MeasurementChart measurement_cusum(std::span<const double> values, double target, double sd, double slack,
                                   double limit) {
    require_finite("values", values);
    if (!usable(target)) throw InputError("target", target, kUsable);
    if (!(sd >= 1.0 / kLargest && usable(sd))) throw InputError("standard deviation", sd, "1e-50 to 1e50");
    sim::require_within("slack", slack, 0.0, 1e6);
    if (!(limit > 0.0 && usable(limit))) throw InputError("limit", limit, "a number above 0");
    MeasurementChart out;
    double above = 0.0, below = 0.0;
    for (const double value : values) {
        const double z = (value - target) / sd;
        above = std::max(0.0, above + z - slack);
        below = std::max(0.0, below - z - slack);
        out.above.push_back(above), out.below.push_back(below);
        if (!out.signal && (above > limit || below > limit)) out.signal = out.above.size();
    }
    return out;
}

double measurement_run_length(double slack, double limit, double shift, bool two_sided) {
    sim::require_within("slack", slack, 0.0, 5.0);
    sim::require_within("shift", shift, -10.0, 10.0);
    if (!(limit > 0.0 && limit <= 12.0)) throw InputError("limit", limit, "above 0, at most 12");
    const double above = one_sided_run_length(slack, limit, shift);
    if (!two_sided) return above;
    // van Dobben de Bruyn 1968: rates of both sides add where they cannot be up at once
    return 1.0 / (1.0 / above + 1.0 / one_sided_run_length(slack, limit, -shift));
}

}  // namespace statistics
