#include "engine/statistics/standard_setting.hpp"

#include <cmath>

#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kInfinity;
using statistics_test::kNan;
using statistics_test::refused_at;
using statistics_test::table;

namespace {

const std::vector<double> kGrades{1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 5, 5};
const std::vector<double> kScores{40, 48, 50, 55, 58, 62, 66, 70, 74, 80, 85, 90};

}  // namespace

TEST_CASE("a line by least squares is that of a published data set", "[statistics][borderline]") {
    // Anscombe 1973, Am Stat 27:17-21, first set: y = 3 + 0.5 x, R^2 0.667, residual squares 13.75 (from memory)
    const std::vector<double> x{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5};
    const std::vector<double> y{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68};
    const LineFit line = fit_line(x, y);
    CHECK(line.intercept == Approx(3.0).margin(0.005));
    CHECK(line.slope == Approx(0.5).margin(0.0005));
    CHECK(line.r_squared == Approx(0.667).margin(0.0005));
    CHECK(line.residual_error * line.residual_error * 9.0 == Approx(13.75).margin(0.015));
}

TEST_CASE("the borderline cut", "[statistics][borderline]") {
    const BorderlineRegression out = borderline_regression(kGrades, kScores, 2.0);
    // invented data; the line worked out apart from this code by the normal equations
    CHECK(out.line.intercept == Approx(32.7849).margin(5e-5));
    CHECK(out.line.slope == Approx(10.9880).margin(5e-5));
    CHECK(out.cut.value == Approx(54.761).margin(5e-4));
    CHECK(out.line.r_squared == Approx(0.9517).margin(5e-5));
    CHECK(out.line.rmse == Approx(3.2691).margin(5e-4));
    CHECK(out.line.residual_error == Approx(3.581).margin(5e-4));
    CHECK(out.warnings.size() == 1);  // few attempts
    // the line is linear in the scores: a cut plus 10 when all scores are 10 higher
    std::vector<double> higher = kScores;
    for (double& s : higher) s += 10.0;
    CHECK(borderline_regression(kGrades, higher, 2.0).cut.value == Approx(out.cut.value + 10.0));
    // the same seed gives the same figures, another nearly so
    CHECK(borderline_regression(kGrades, kScores, 2.0).resampled->low == out.resampled->low);
    const BorderlineRegression other = borderline_regression(kGrades, kScores, 2.0, 0.95, {2, 2000});
    CHECK(other.resampled->low != out.resampled->low);
    CHECK(other.resampled->low == Approx(out.resampled->low).margin(0.5));
    CHECK_FALSE(borderline_regression(kGrades, kScores, 2.0, 0.95, {1, 0}).resampled);
}

TEST_CASE("both intervals of a borderline cut hold the truth", "[statistics][borderline]") {
    // brute force: 60 attempts about a line of score 20 + 12 g with spread 6, grades 1 to 5; truth at 2 is 44
    sim::Random random(2006);
    int analytic = 0, resampled = 0;
    constexpr int kTrials = 1000;
    for (int t = 0; t < kTrials; ++t) {
        std::vector<double> grades, scores;
        for (int i = 0; i < 60; ++i) {
            grades.push_back(1.0 + static_cast<double>(random.next() % 5));
            scores.push_back(20.0 + 12.0 * grades.back() + random.normal(0.0, 6.0));
        }
        const auto out = borderline_regression(grades, scores, 2.0, 0.95, {static_cast<std::uint64_t>(t), 400});
        const auto holds = [](const Interval& i) { return i.low <= 44.0 && 44.0 <= i.high; };
        analytic += holds(*out.cut.interval), resampled += holds(*out.resampled);
    }
    CHECK(analytic == Approx(950).margin(25));   // 3.6 binomial standard deviations
    CHECK(resampled == Approx(945).margin(30));  // percentiles are a little narrow at 60
}

TEST_CASE("a borderline regression tells its doubts and refuses what is none", "[statistics][borderline]") {
    const auto warnings = [](const std::vector<double>& g, const std::vector<double>& s, double at) {
        return borderline_regression(g, s, at, 0.95, {1, 0}).warnings;
    };
    CHECK(warnings({1, 2, 3, 4}, {4, 3, 2, 1}, 2.0).size() == 2);  // few, falling
    CHECK(warnings(kGrades, kScores, 0.0).back().find("extrapolated") != std::string::npos);
    CHECK(warnings(kGrades, kScores, 2.5).back().find("Nobody") != std::string::npos);
    std::vector<double> g, s;
    for (int i = 0; i < 60; ++i) g.push_back(1 + i % 5), s.push_back(10.0 * g.back() + (i % 2 == 0 ? 1 : -1));
    CHECK(warnings(g, s, 2.0).empty());
    s[7] += 30.0;
    const auto out = borderline_regression(g, s, 2.0, 0.95, {1, 0});
    CHECK(out.far_out == std::vector<std::size_t>{7});
    CHECK(out.warnings.size() == 1);
    // an exact line
    const auto exact = borderline_regression(std::vector<double>{1, 2, 3}, std::vector<double>{10, 20, 30}, 2.0);
    CHECK(exact.cut.value == Approx(20.0));
    CHECK(exact.line.standardised == std::vector<double>{0, 0, 0});

    const auto at = [](const std::vector<double>& grades, const std::vector<double>& scores, double grade) {
        return refused_at([&] { (void)borderline_regression(grades, scores, grade); });
    };
    CHECK(at({1, 2}, {1, 2}, 1) == "grades");
    CHECK(at({1, 2, 3}, {1, 2}, 1) == "scores");
    CHECK(at({2, 2, 2}, {1, 2, 3}, 1) == "grades");
    CHECK(at({1, 2, kNan}, {1, 2, 3}, 1) == "grades, number 3");
    CHECK(at({1, 2, 3}, {1, kInfinity, 3}, 1) == "scores, number 2");
    CHECK(at({1, 2, 3}, {1, 2, 3}, kNan) == "borderline grade");
    CHECK(refused_at([] { (void)borderline_regression(kGrades, kScores, 2, 0.95, {1, 100001}); }) == "resamples");
}

TEST_CASE("Angoff's cut", "[statistics][angoff]") {
    // invented judges: sums 2.6, 2.6, 2.7 of 4, by hand
    const Angoff out = angoff(table({{.6, .7, .5, .8}, {.5, .8, .6, .7}, {.7, .6, .5, .9}}));
    CHECK(out.judge_sums[0] == Approx(2.6));
    CHECK(out.judge_sums[2] == Approx(2.7));
    CHECK(out.cut.value == Approx(2.6333).margin(5e-5));
    CHECK(out.cut_share == Approx(0.6583).margin(5e-5));
    CHECK(out.judge_sd == Approx(std::sqrt(0.01 * 2.0 / 3.0 / 2.0)));
    // Student's t for 2 degrees of freedom is 4.303 in any table
    CHECK(out.cut.interval->high - out.cut.value == Approx(4.303 * out.judge_sd / std::sqrt(3.0)).epsilon(1e-4));
    CHECK(out.item_means[3] == Approx(0.8));
    CHECK(out.warnings.size() == 1);
    CHECK(refused_at([] { (void)angoff(Matrix::Constant(1, 4, 0.5)); }) == "shares");
    CHECK(refused_at([] { (void)angoff(table({{.5, .5}, {.5, 1.1}})); }) == "shares, row 2, column 2");
    CHECK(refused_at([] { (void)angoff(table({{.5, kNan}, {.5, 1}})); }) == "shares, row 1, column 2");
}

TEST_CASE("Hofstee's compromise", "[statistics][hofstee]") {
    // scores 0.5, 1.5 ... 99.5: the share that fails at a cut c is c / 100. Judges: cuts 50 to 70, failing 0.2 to 0.6,
    // so the line is 0.6 - 0.02 (c - 50), which meets it where 0.01 c = 1.6 - 0.02 c, c = 53.333
    std::vector<double> scores;
    for (int i = 0; i < 100; ++i) scores.push_back(99.5 - i);
    const std::vector<HofsteeJudge> judges{{40, 60, 0.1, 0.5}, {60, 80, 0.3, 0.7}};
    const Hofstee out = hofstee(judges, scores);
    REQUIRE(out.cut);
    CHECK(*out.cut == Approx(160.0 / 3.0).margin(1e-9));
    CHECK(out.fail_share == Approx(0.53));
    CHECK_FALSE(hofstee(std::vector<HofsteeJudge>{{90, 95, 0.0, 0.1}}, scores).cut);
    CHECK_FALSE(hofstee(std::vector<HofsteeJudge>{{5, 10, 0.5, 0.6}}, scores).cut);
    const auto at = [&](const HofsteeJudge& judge) {
        return refused_at([&] { (void)hofstee(std::vector<HofsteeJudge>{judge}, scores); });
    };
    CHECK(at({60, 50, 0, 1}) == "judge 1, least cut");
    CHECK(at({50, 60, 0.5, 0.4}) == "judge 1, least and most failing");
    CHECK(at({50, 60, 0.5, 1.4}) == "judge 1, least and most failing");
    CHECK(at({kNan, 60, 0, 1}) == "judge 1, number 1");
    CHECK(refused_at([&] { (void)hofstee({}, scores); }) == "judges");
    CHECK(refused_at([&] { (void)hofstee(judges, std::vector<double>{1}); }) == "scores");
}

TEST_CASE("a rule with critical items", "[statistics][conjunctive]") {
    const auto verdict = [](const std::vector<ItemResult>& items, double needed) {
        return conjunctive_verdict(items, needed);
    };
    CHECK(verdict({{1, 1, true}, {7, 10, false}}, 0.7).pass);
    CHECK_FALSE(verdict({{1, 1, true}, {6.9, 10, false}}, 0.7).pass);
    const Verdict missed = verdict({{1, 1, true}, {10, 10, false}, {0.5, 1, true}}, 0.7);
    CHECK_FALSE(missed.pass);
    CHECK(missed.critical_missed == std::vector<std::size_t>{2});
    CHECK(missed.rest_share == 1.0);
    CHECK(verdict({{1, 1, true}}, 1.0).pass);
    CHECK(verdict({{.1, .1, false}, {.2, .2, false}, {0, .1, false}}, 0.75).pass);  // 0.3 of 0.4, rounded
    CHECK(refused_at([&] { (void)verdict({}, 0.7); }) == "items");
    CHECK(refused_at([&] { (void)verdict({{2, 1, false}}, 0.7); }) == "item 1, points");
    CHECK(refused_at([&] { (void)verdict({{0, 0, false}}, 0.7); }) == "item 1, maximum");
    CHECK(refused_at([&] { (void)verdict({{kNan, 1, false}}, 0.7); }) == "item 1, points");
    CHECK(refused_at([&] { (void)verdict({{1, 1, false}}, 1.1); }) == "share needed");
}
