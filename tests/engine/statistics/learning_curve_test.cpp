#include "engine/statistics/learning_curve.hpp"

#include <cmath>

#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kInfinity;
using statistics_test::kNan;
using statistics_test::refused_at;

namespace {

std::vector<CurvePoint> points_of(const std::vector<double>& attempts, const std::vector<double>& values) {
    std::vector<CurvePoint> out;
    for (std::size_t i = 0; i < attempts.size(); ++i) out.push_back({attempts[i], values[i], 0});
    return out;
}

double half_width(const Estimate& e) { return (e.interval->high - e.interval->low) / 2.0; }

}  // namespace

TEST_CASE("an exponential curve is that of a published fit", "[statistics][curve]") {
    // heights of a pine, Kung 1986, as printed in Pinheiro and Bates 2000, Mixed-Effects Models (data and fit from
    // memory): asymptote 94.1282 (8.4030), at zero -8.2508 (1.2261), log rate -3.2176 (0.1386), residual error 0.7493
    // on 3
    const auto points = points_of({3, 5, 10, 15, 20, 25}, {3.93, 9.34, 26.08, 37.79, 48.31, 56.43});
    const LearningCurve curve = fit_learning_curve(points, CurveShape::exponential);
    REQUIRE(curve.state == FitState::converged);
    CHECK(curve.level.value == Approx(94.1282).margin(5e-4));
    CHECK(curve.level.value + curve.gain.value == Approx(-8.2508).margin(5e-4));
    CHECK(-std::log(curve.rate.value) == Approx(-3.2176).margin(5e-5));
    CHECK(curve.residual_error == Approx(0.7493).margin(5e-5));
    const double t = 3.182446;  // Student's t, 3 degrees of freedom, any table
    CHECK(half_width(curve.level) == Approx(t * 8.4030).epsilon(1e-3));
    CHECK(half_width(curve.rate) == Approx(t * 0.1386 * curve.rate.value).epsilon(1e-3));  // of a logarithm
    CHECK(curve.r_squared > 0.99);
}

TEST_CASE("both shapes give back the curve that points were taken from", "[statistics][curve]") {
    for (const CurveShape shape : {CurveShape::exponential, CurveShape::power}) {
        LearningCurve truth;
        truth.shape = shape;
        truth.level.value = 85.0, truth.gain.value = -50.0;
        truth.rate.value = shape == CurveShape::exponential ? 6.0 : 0.7;
        std::vector<CurvePoint> points;
        for (int n = 1; n <= 20; ++n) points.push_back({double(n), truth.at(n), 0});
        const LearningCurve found = fit_learning_curve(points, shape);
        REQUIRE(found.state == FitState::converged);
        CHECK(found.level.value == Approx(85.0).epsilon(1e-7));
        CHECK(found.gain.value == Approx(-50.0).epsilon(1e-7));
        CHECK(found.rate.value == Approx(truth.rate.value).epsilon(1e-7));
        // where it crosses a mark, the curve has that value
        const auto reaches = curve_reaches(found, 70.0);
        REQUIRE(reaches);
        CHECK(found.at(reaches->value) == Approx(70.0));
        CHECK_FALSE(curve_reaches(found, 90.0));  // levels off at 85
        CHECK(curve_reaches(found, 10.0)->value == 1.0);
        // times go down: the same mirrored
        for (CurvePoint& point : points) point.value = 200.0 - point.value;
        CHECK(curve_reaches(fit_learning_curve(points, shape), 130.0)->value == Approx(reaches->value));
    }
}

TEST_CASE("intervals of a curve hold the truth", "[statistics][curve]") {
    // brute force, y = 80 - 40 exp(-n / 5). One learner of 40 attempts; then 30 learners who differ by a level of their
    // own
    sim::Random random(1986);
    const double truth_at_70 = -5.0 * std::log(10.0 / 40.0);
    int one = 0, pooled = 0, reach = 0;
    constexpr int kTrials = 500;
    for (int t = 0; t < kTrials; ++t) {
        std::vector<CurvePoint> single, many;
        for (int n = 1; n <= 40; ++n)
            single.push_back({double(n), 80.0 - 40.0 * std::exp(-n / 5.0) + random.normal(0.0, 3.0), 0});
        for (std::size_t l = 0; l < 30; ++l) {
            const double own = random.normal(0.0, 5.0);
            for (int n = 1; n <= 25; ++n)
                many.push_back({double(n), 80.0 + own - 40.0 * std::exp(-n / 5.0) + random.normal(0.0, 3.0), l});
        }
        const LearningCurve a = fit_learning_curve(single, CurveShape::exponential);
        const LearningCurve b = fit_learning_curve(many, CurveShape::exponential);
        REQUIRE(a.state == FitState::converged);
        REQUIRE(b.state == FitState::converged);
        const auto holds = [](const Estimate& e, double x) { return e.interval->low <= x && x <= e.interval->high; };
        one += holds(a.rate, 5.0), pooled += holds(b.level, 80.0);
        reach += holds(*curve_reaches(a, 70.0), truth_at_70);
    }
    // 475 expected, 3.7 binomial standard deviations, and a little for the straight line that stands for the curve
    CHECK(one == Approx(475).margin(20));
    CHECK(reach == Approx(475).margin(20));
    CHECK(pooled == Approx(473).margin(20));
}

TEST_CASE("points without a curve are told, not fitted", "[statistics][curve]") {
    const auto state = [](const std::vector<double>& values, CurveShape shape) {
        std::vector<double> attempts;
        for (std::size_t i = 0; i < values.size(); ++i) attempts.push_back(double(i + 1));
        const LearningCurve curve = fit_learning_curve(points_of(attempts, values), shape);
        CHECK((curve.state == FitState::converged || !curve.level.interval));
        CHECK((curve.state == FitState::converged || curve.warnings.size() == 1));
        CHECK((curve.state == FitState::converged || !curve_reaches(curve, 3.0)));
        return curve.state;
    };
    CHECK(state({5, 5, 5, 5, 5}, CurveShape::exponential) == FitState::not_determined);
    CHECK(state({5, 5, 5, 5, 5}, CurveShape::power) == FitState::not_determined);
    CHECK(state({1, 2, 3, 4, 5, 6}, CurveShape::exponential) != FitState::converged);    // a straight line
    CHECK(state({1, 2, 4, 8, 16, 32}, CurveShape::exponential) != FitState::converged);  // turns the other way
    CHECK(state({1, 9, 9, 9, 9, 9}, CurveShape::exponential) != FitState::converged);    // a jump
    sim::Random random(3);
    for (int i = 0; i < 200; ++i) {  // whatever it is, no crash and no NaN
        std::vector<double> values(5 + random.next() % 10);
        for (double& v : values)
            v = std::round(random.normal(0.0, 3.0)) * std::pow(10.0, double(random.next() % 12) - 6.0);
        (void)state(values, i % 2 == 0 ? CurveShape::exponential : CurveShape::power);
    }
    const auto at = [](const std::vector<CurvePoint>& points) {
        return refused_at([&] { (void)fit_learning_curve(points, CurveShape::power); });
    };
    CHECK(at({{1, 1, 0}, {2, 2, 0}, {3, 3, 0}}) == "points");
    CHECK(at({{1, 1, 0}, {2, 2, 0}, {3, 3, 0}, {3, 4, 1}}) == "different attempts");
    CHECK(at({{0, 1, 0}, {2, 2, 0}, {3, 3, 0}, {4, 4, 0}}) == "point 1, attempt");
    CHECK(at({{1, 1, 0}, {kInfinity, 2, 0}, {3, 3, 0}, {4, 4, 0}}) == "point 2, attempt");
    CHECK(at({{1, 1, 0}, {2, kNan, 0}, {3, 3, 0}, {4, 4, 0}}) == "point 2, value");
}

TEST_CASE("attempts to a mark", "[statistics][survival]") {
    const std::vector<double> values{50, 72, 68, 71, 75, 80};
    CHECK(attempts_to_mark(values, 70).attempts == 2);
    CHECK(attempts_to_mark(values, 70, 2).attempts == 5);
    CHECK(attempts_to_mark(values, 70, 3).attempts == 6);
    CHECK_FALSE(attempts_to_mark(values, 70, 4).reached);
    CHECK(attempts_to_mark(values, 90).attempts == 6);
    CHECK(attempts_to_mark(values, 70, 1, false).attempts == 1);
    CHECK(refused_at([] { (void)attempts_to_mark({}, 70); }) == "values");
    CHECK(refused_at([&] { (void)attempts_to_mark(values, kNan); }) == "mark");
    CHECK(refused_at([&] { (void)attempts_to_mark(values, 70, 0); }) == "times in a row");
}

TEST_CASE("survival is that of Freireich's trial", "[statistics][survival]") {
    // weeks in remission under 6-mercaptopurine: Freireich and others 1963, Blood 21:699-716, as in Gehan 1965; shares
    // and Greenwood's errors as textbooks of survival print them (from memory)
    std::vector<Reach> learners;
    for (const std::size_t t : {6U, 6U, 6U, 7U, 10U, 13U, 16U, 22U, 23U}) learners.push_back({t, true});
    for (const std::size_t t : {6U, 9U, 10U, 11U, 17U, 19U, 20U, 25U, 32U, 32U, 34U, 35U})
        learners.push_back({t, false});
    const Survival out = survival_to_mark(learners);
    const std::size_t attempts[] = {6, 7, 10, 13, 16, 22, 23};
    const std::size_t risk[] = {21, 17, 15, 12, 11, 7, 6};
    const double shares[] = {0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448};
    const double errors[] = {0.076, 0.087, 0.096, 0.107, 0.114, 0.128, 0.135};
    REQUIRE(out.steps.size() == 7);
    for (std::size_t i = 0; i < 7; ++i) {
        CHECK(out.steps[i].attempt == attempts[i]);
        CHECK(out.steps[i].at_risk == risk[i]);
        CHECK(out.steps[i].not_yet == Approx(shares[i]).margin(0.0006));
        CHECK(out.steps[i].standard_error == Approx(errors[i]).margin(0.0006));
    }
    CHECK(out.median == 23.0);
    CHECK(out.median_low == 13.0);  // log-log interval 13 to not reached, there too
    CHECK_FALSE(out.median_high);
    // at six weeks 0.620 to 0.952, log-log
    CHECK(out.steps[0].interval->low == Approx(0.620).margin(0.0006));
    CHECK(out.steps[0].interval->high == Approx(0.952).margin(0.0006));
    CHECK(out.warnings.size() == 1);
}

TEST_CASE("survival without anybody stopping early is the plain share", "[statistics][survival]") {
    std::vector<Reach> learners;
    for (std::size_t i = 1; i <= 20; ++i) learners.push_back({i, true});
    const Survival out = survival_to_mark(learners);
    for (const SurvivalStep& step : out.steps)
        CHECK(step.not_yet == Approx(1.0 - static_cast<double>(step.attempt) / 20.0).margin(1e-12));
    CHECK(out.median == 10.5);
    CHECK(out.steps[9].standard_error == Approx(std::sqrt(0.25 / 20.0)));  // binomial
    CHECK_FALSE(out.steps.back().interval);
    const Survival none = survival_to_mark(std::vector<Reach>{{5, false}, {7, false}});
    CHECK(none.steps.empty());
    CHECK_FALSE(none.median);
    CHECK(none.warnings.size() == 2);
    CHECK(refused_at([] { (void)survival_to_mark({}); }) == "learners");
    CHECK(refused_at([] { (void)survival_to_mark(std::vector<Reach>{{0, true}}); }) == "learner 1");
}
