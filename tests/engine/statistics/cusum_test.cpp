#include "engine/statistics/cusum.hpp"

#include <cmath>

#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kInfinity;
using statistics_test::kNan;
using statistics_test::refused_at;

TEST_CASE("an LC-CUSUM climbs with successes and signals competence", "[statistics][lccusum]") {
    // ln(0.9/0.8) and ln(0.1/0.2), by hand
    const LearningWeights w = learning_weights(0.10, 0.20);
    CHECK(w.success == Approx(0.117783).margin(5e-7));
    CHECK(w.failure == Approx(-0.693147).margin(5e-7));
    CHECK(learning_weights(0.05, 0.15).success == Approx(0.1112).margin(5e-5));
    CHECK(learning_weights(0.05, 0.15).failure == Approx(-1.0986).margin(5e-5));
    CHECK(learning_weights(0.10, 0.25).success == Approx(0.1823).margin(5e-5));
    CHECK(learning_weights(0.15, 0.30).success == Approx(0.1942).margin(5e-5));
    // h 1.25: eleven successes in a row, 11 x 0.11778 = 1.2956, ten are 1.178
    CHECK(learning_cusum(std::vector<bool>(20, true), 0.1, 0.2, 1.25).signal == 11U);
    // failures never pull it below 0, so that they do not weigh on what follows
    std::vector<bool> late(30, false);
    late.insert(late.end(), 11, true);
    const LearningChart chart = learning_cusum(late, 0.1, 0.2, 1.25);
    CHECK(chart.signal == 41U);
    for (int i = 0; i < 30; ++i) CHECK(chart.values[static_cast<std::size_t>(i)] == 0.0);
    CHECK(chart.values[30] == Approx(w.success));
    CHECK_FALSE(learning_cusum(std::vector<bool>(500, false), 0.1, 0.2, 1.25).signal);
    CHECK(learning_cusum({}, 0.1, 0.2, 1.25).values.empty());
    // a limit that is a sum of steps is reached by it
    CHECK(learning_cusum(std::vector<bool>(9, true), 0.1, 0.2, 7.0 * w.success).signal == 7U);
}

TEST_CASE("how long an LC-CUSUM runs is exact", "[statistics][lccusum]") {
    // worked out apart from this code by enumeration (0.10 against 0.20, h 1.25)
    const RunLength adequate = learning_run_length(0.1, 0.2, 1.25, 0.1, 50);
    const RunLength inadequate = learning_run_length(0.1, 0.2, 1.25, 0.2, 50);
    CHECK(*adequate.mean == Approx(20.3).margin(0.05));
    CHECK(*inadequate.mean == Approx(48.2).margin(0.05));
    CHECK(adequate.signalled.back() == Approx(0.972).margin(0.0005));
    CHECK(inadequate.signalled.back() == Approx(0.653).margin(0.0005));
    // nothing before the eleventh, then all successes: 0.9^11
    CHECK(adequate.signalled[9] == 0.0);
    CHECK(adequate.signalled[10] == Approx(std::pow(0.9, 11)));
    CHECK(*learning_run_length(0.1, 0.2, 1.25, 0.0, 20).mean == Approx(11.0));
    CHECK_FALSE(learning_run_length(0.1, 0.2, 1.25, 1.0, 20).mean);
    CHECK(learning_run_length(0.1, 0.2, 1.25, 1.0, 20).signalled.back() == 0.0);
    // a limit that one step reaches: the first success, a geometric run
    CHECK(*learning_run_length(0.1, 0.2, 0.1, 0.25, 20).mean == Approx(4.0 / 3.0));
}

TEST_CASE("the chain agrees with learners played one by one", "[statistics][lccusum]") {
    sim::Random random(925);
    constexpr int kLearners = 40000;
    for (const double rate : {0.15, 0.3}) {
        int signalled = 0;
        double attempts = 0.0;
        for (int i = 0; i < kLearners; ++i) {
            // written otherwise than the library: ratios of likelihoods multiplied
            double ratio = 1.0;
            for (int n = 1; n <= 3000; ++n) {
                ratio = std::max(1.0, ratio * (random.uniform() < rate ? 0.15 / 0.3 : 0.85 / 0.7));
                if (ratio >= std::exp(2.0)) {
                    signalled += n <= 40, attempts += n;
                    break;
                }
            }
        }
        const RunLength exact = learning_run_length(0.15, 0.3, 2.0, rate, 40);
        CHECK(exact.signalled.back() == Approx(signalled / double(kLearners)).margin(0.01));  // 4 standard errors
        REQUIRE(exact.mean);
        // a run's standard deviation is about its mean
        CHECK(*exact.mean == Approx(attempts / kLearners).epsilon(4.0 / std::sqrt(double(kLearners))));
    }
}

TEST_CASE("a limit is chosen by how many inadequate learners it would pass", "[statistics][lccusum]") {
    LimitRequest request;
    const LimitChoice one = choose_learning_limit(request);
    CHECK(one.exact_false_pass <= 0.05);
    CHECK(one.simulated_false_pass == Approx(one.exact_false_pass).margin(0.008));
    // the lowest such limit: a failure's worth lower passes too many
    CHECK(learning_run_length(0.1, 0.2, one.limit - 0.12, 0.2, 50).signalled.back() > 0.05);
    CHECK(one.per_chart == Approx(0.05));
    CHECK(one.power < 0.8);  // 0.10 from 0.20 cannot be told in 50 attempts with so few false passes
    CHECK(one.warnings.size() == 1);
    CHECK(choose_learning_limit(request).limit == one.limit);

    // six charts at once: played together, independent, any of them would pass the learner
    request.charts = 6;
    const LimitChoice six = choose_learning_limit(request);
    CHECK(six.per_chart == Approx(1.0 - std::pow(0.95, 1.0 / 6.0)));
    CHECK(six.limit > one.limit);
    CHECK(six.family_false_pass <= 0.05);
    sim::Random random(6);
    int any = 0;
    constexpr int kLearners = 20000;
    for (int i = 0; i < kLearners; ++i) {
        bool passed = false;
        for (int chart = 0; chart < 6; ++chart) {
            std::vector<bool> passes;
            for (int n = 0; n < 50; ++n) passes.push_back(random.uniform() >= 0.2);
            passed = passed || learning_cusum(passes, 0.1, 0.2, six.limit).signal.has_value();
        }
        any += passed;
    }
    CHECK(any / double(kLearners) == Approx(six.family_false_pass).margin(0.0065));  // 4 standard errors
    CHECK(any / double(kLearners) < 0.0565);

    // too few runs for so rare a false pass: told, and the exact chain still holds it
    request = {};
    request.adequate = 0.05, request.inadequate = 0.5, request.false_pass = 0.0005, request.runs = 1000;
    const LimitChoice rare = choose_learning_limit(request);
    CHECK(rare.exact_false_pass <= 0.0005);
    CHECK(rare.power > 0.8);
    CHECK(rare.warnings.size() == 1);
}

TEST_CASE("charts refuse what are no rates", "[statistics][lccusum][cusum]") {
    const std::vector<bool> passes{true, false};
    CHECK(refused_at([&] { (void)learning_cusum(passes, 0.0, 0.2, 1.0); }) == "adequate rate");
    CHECK(refused_at([&] { (void)learning_cusum(passes, 0.1, 1.0, 1.0); }) == "inadequate rate");
    CHECK(refused_at([&] { (void)learning_cusum(passes, 0.2, 0.2, 1.0); }) == "inadequate rate");
    CHECK(refused_at([&] { (void)learning_cusum(passes, kNan, 0.2, 1.0); }) == "adequate rate");
    CHECK(refused_at([&] { (void)learning_cusum(passes, 0.1, 0.2, 0.0); }) == "limit");
    CHECK(refused_at([&] { (void)learning_cusum(passes, 0.1, 0.2, kInfinity); }) == "limit");
    CHECK(refused_at([&] { (void)learning_run_length(0.1, 0.2, 1.0, 1.5, 10); }) == "failure rate");
    CHECK(refused_at([&] { (void)learning_run_length(0.1, 0.2, 1.0, 0.5, 0); }) == "attempts");
    CHECK(refused_at([&] { (void)learning_run_length(0.1, 0.2, 1.0, 0.5, 2001); }) == "attempts");
    const auto at = [](auto change) {
        LimitRequest request;
        change(request);
        return refused_at([&] { (void)choose_learning_limit(request); });
    };
    CHECK(at([](LimitRequest& r) { r.false_pass = 0.0; }) == "false passes");
    CHECK(at([](LimitRequest& r) { r.charts = 0; }) == "charts");
    CHECK(at([](LimitRequest& r) { r.attempts = 0; }) == "attempts");
    CHECK(at([](LimitRequest& r) { r.runs = 10; }) == "runs");
    CHECK(at([](LimitRequest& r) { r.runs = 1000000, r.attempts = 1000; }) == "attempts x runs");
    CHECK(refused_at([&] { (void)sequential_limits(0.1, 0.05, 0.1, 0.1); }) == "unacceptable rate");
    CHECK(refused_at([&] { (void)sequential_limits(0.1, 0.2, 0.0, 0.1); }) == "alpha");
    CHECK(refused_at([&] { (void)sequential_limits(0.1, 0.2, 0.5, kNan); }) == "beta");
    CHECK(refused_at([&] { (void)sequential_limits(0.1, 0.2, 0.5, 0.5); }) == "alpha + beta");
}

TEST_CASE("limits of a CUSUM of failures", "[statistics][cusum]") {
    // s and h by the printed formulas, alpha = beta = 0.1 (formulas from memory, values worked out apart from this
    // code)
    struct Row {
        double p0, p1, s, h;
    };
    for (const Row& row : {Row{.05, .15, .0919, 1.816}, Row{.10, .20, .1452, 2.710}, Row{.10, .25, .1660, 2.000},
                           Row{.15, .30, .2188, 2.476}, Row{.05, .10, .0724, 2.941}, Row{.04, .08, .0578, 2.987}}) {
        const SequentialLimits limits = sequential_limits(row.p0, row.p1, 0.1, 0.1);
        CHECK(limits.step == Approx(row.s).margin(5e-5));
        CHECK(limits.lower == Approx(row.h).margin(5e-4));
        CHECK(limits.upper == Approx(row.h).margin(5e-4));
    }
    // successes in a row that accept: 19, 41, 52
    const auto straight = [](double p0, double p1) {
        return failure_cusum(std::vector<bool>(60, true), p0, p1, 0.1, 0.1).crossings.front();
    };
    CHECK(straight(0.10, 0.20).attempt == 19);
    CHECK(straight(0.05, 0.10).attempt == 41);
    CHECK(straight(0.04, 0.08).attempt == 52);
    CHECK_FALSE(straight(0.10, 0.20).unacceptable);
    // after a decision the limits count from there
    const FailureChart chart = failure_cusum(std::vector<bool>(60, true), 0.1, 0.2, 0.1, 0.1);
    REQUIRE(chart.crossings.size() == 3);
    CHECK(chart.crossings[1].attempt == 38);
    CHECK(chart.values.back() == Approx(-60.0 * chart.limits.step));
    // 2.710 / 0.8548: the fourth failure
    CHECK(failure_cusum(std::vector<bool>(4, false), 0.1, 0.2, 0.1, 0.1).crossings.front().attempt == 4);
    CHECK(failure_cusum(std::vector<bool>(4, false), 0.1, 0.2, 0.1, 0.1).crossings.front().unacceptable);
}

TEST_CASE("a CUSUM of failures errs as seldom as Wald promises", "[statistics][cusum]") {
    // Wald 1947: real errors are at most alpha / (1 - beta) and beta / (1 - alpha)
    sim::Random random(1947);
    const double alpha = 0.05, beta = 0.10;
    for (const bool acceptable : {true, false}) {
        int wrong = 0;
        constexpr int kLearners = 5000;
        for (int i = 0; i < kLearners; ++i) {
            std::vector<bool> passes;
            for (int n = 0; n < 600; ++n) passes.push_back(random.uniform() >= (acceptable ? 0.1 : 0.25));
            const FailureChart chart = failure_cusum(passes, 0.1, 0.25, alpha, beta);
            REQUIRE_FALSE(chart.crossings.empty());
            wrong += chart.crossings.front().unacceptable == acceptable;
        }
        const double most = acceptable ? alpha / (1.0 - beta) : beta / (1.0 - alpha);
        CHECK(wrong / double(kLearners) < most + 3.0 * std::sqrt(most / kLearners));
        CHECK(wrong / double(kLearners) > 0.4 * most);  // limits are not idle either
    }
}

TEST_CASE("run lengths of a measurement's CUSUM are those of the table", "[statistics][cusum]") {
    // Montgomery, Introduction to Statistical Quality Control, table of ARL for k = 1/2 (from memory), two-sided
    const double shifts[] = {0, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4};
    const double four[] = {168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.19, 1.71};
    const double five[] = {465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 2.57, 2.01};
    for (std::size_t i = 0; i < 9; ++i) {
        CAPTURE(shifts[i]);
        CHECK(measurement_run_length(0.5, 4.0, shifts[i], true) == Approx(four[i]).epsilon(0.004));
        CHECK(measurement_run_length(0.5, 5.0, shifts[i], true) == Approx(five[i]).epsilon(0.004));
    }
    CHECK(measurement_run_length(0.5, 4.0, 0.0, false) == Approx(335.4).margin(0.05));
    CHECK(measurement_run_length(0.5, 5.0, 0.0, false) == Approx(930.9).margin(0.05));
    CHECK(refused_at([] { (void)measurement_run_length(-1, 4, 0, true); }) == "slack");
    CHECK(refused_at([] { (void)measurement_run_length(0.5, 0, 0, true); }) == "limit");
    CHECK(refused_at([] { (void)measurement_run_length(0.5, 4, 11, true); }) == "shift");
}

TEST_CASE("a measurement's CUSUM", "[statistics][cusum]") {
    // Montgomery's example of the tabular CUSUM (data from memory): target 10, k = 1/2, h = 5; the mean is 11 from the
    // 21st value, C+ is 5.28 at the 29th, which is the first beyond 5
    const std::vector<double> x{9.45,  7.99,  9.29,  11.66, 12.16, 10.18, 8.04,  11.46, 9.20,  10.34,
                                9.03,  11.47, 10.51, 9.40,  10.08, 9.37,  10.62, 10.31, 8.52,  10.84,
                                10.90, 9.33,  12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52};
    const MeasurementChart chart = measurement_cusum(x, 10.0, 1.0);
    CHECK(chart.signal == 29U);
    CHECK(chart.above[28] == Approx(5.28).margin(0.005));
    CHECK(chart.below[1] == Approx(1.56).margin(0.005));
    CHECK(refused_at([&] { (void)measurement_cusum(x, kNan, 1.0); }) == "target");
    CHECK(refused_at([&] { (void)measurement_cusum(x, 10.0, 0.0); }) == "standard deviation");
    CHECK(refused_at([&] { (void)measurement_cusum(x, 10.0, 1.0, -1.0); }) == "slack");
    CHECK(refused_at([&] { (void)measurement_cusum(x, 10.0, 1.0, 0.5, 0.0); }) == "limit");
    CHECK(refused_at([&] { (void)measurement_cusum(std::vector<double>{kNan}, 10.0, 1.0); }) == "values, number 1");
}
