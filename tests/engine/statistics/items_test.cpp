#include "engine/statistics/items.hpp"

#include <cmath>

#include "engine/statistics/agreement.hpp"
#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kInfinity;
using statistics_test::kNan;
using statistics_test::refused_at;
using statistics_test::table;

TEST_CASE("items: difficulty, discrimination, alpha", "[statistics][items]") {
    const std::vector<double> ten(4, 10.0);
    const ItemAnalysis out = item_analysis(statistics_test::shrout_fleiss(), ten);
    // alpha of judges as items is ICC(3,k) (Shrout and Fleiss 1979: .91), and Feldt's interval is that one's
    REQUIRE(out.alpha);
    CHECK(*out.alpha == Approx(0.91).margin(0.005));
    const auto icc = intraclass_correlations(statistics_test::shrout_fleiss()).forms[5].icc;
    CHECK(*out.alpha == Approx(icc->value));
    CHECK(out.alpha_interval->low == Approx(icc->interval->low));
    CHECK(out.alpha_interval->high == Approx(icc->interval->high));
    // by hand: column 9 6 8 7 10 6 has mean 46/6
    CHECK(out.items[0].difficulty == Approx(46.0 / 60.0));
    // by hand for the first column against the sum of the rest 15 6 18 9 20 13: sums of squares 13.333 and 141.5,
    // products 35.0
    CHECK(*out.items[0].discrimination == Approx(35.0 / std::sqrt(13.0 + 1.0 / 3.0) / std::sqrt(141.5)));

    // KR-20 by its own formula: m/(m-1) (1 - sum p q / variance over n)
    const Matrix ticks = table({{1, 1, 1, 0}, {1, 1, 0, 0}, {1, 0, 0, 0}, {1, 1, 1, 1}, {0, 0, 1, 0}, {1, 1, 1, 0}});
    const double pq = 5.0 / 36 + 4.0 * 2 / 36 + 4.0 * 2 / 36 + 5.0 / 36;
    const double totals[] = {3, 2, 1, 4, 1, 3};
    double mean = 14.0 / 6, spread = 0.0;
    for (const double t : totals) spread += (t - mean) * (t - mean) / 6.0;
    const std::vector<double> one(4, 1.0);
    CHECK(*item_analysis(ticks, one).alpha == Approx(4.0 / 3.0 * (1.0 - pq / spread)));
    CHECK(item_analysis(ticks, one).items[3].difficulty == Approx(1.0 / 6.0));
}

TEST_CASE("items that do not vary or go against the rest", "[statistics][items]") {
    const std::vector<double> one(3, 1.0);
    const ItemAnalysis all_pass = item_analysis(table({{1, 1, 0}, {1, 0, 0}, {1, 1, 1}, {1, 0, 0}}), one);
    CHECK_FALSE(all_pass.items[0].discrimination);
    CHECK(all_pass.items[1].discrimination);
    const ItemAnalysis against = item_analysis(table({{0, 1, 1}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}}), one);
    CHECK(*against.items[0].discrimination < 0.0);
    CHECK(against.warnings.front().find("Item 1") != std::string::npos);
    const ItemAnalysis same = item_analysis(table({{1, 0, 1}, {0, 1, 1}, {1, 1, 0}}), one);
    CHECK_FALSE(same.alpha);
    CHECK(same.items[0].discrimination);
    const auto at = [&](const Matrix& marks, const std::vector<double>& maxima) {
        return refused_at([&] { (void)item_analysis(marks, maxima); });
    };
    CHECK(at(Matrix::Ones(2, 3), one) == "marks");
    CHECK(at(Matrix::Ones(3, 1), {1.0}) == "marks");
    CHECK(at(Matrix::Ones(3, 3), {1.0, 1.0}) == "maxima");
    CHECK(at(Matrix::Ones(3, 3), {1.0, 0.0, 1.0}) == "maximum of item 2");
    CHECK(at(Matrix::Ones(3, 3), {1.0, kInfinity, 1.0}) == "maximum of item 2");
    CHECK(at(table({{1, 1, 1}, {1, 2, 1}, {0, 0, 0}}), one) == "marks, row 2, column 2");
    CHECK(at(table({{1, 1, 1}, {1, -1, 1}, {0, 0, 0}}), one) == "marks, row 2, column 2");
    CHECK(at(table({{1, 1, 1}, {1, kNan, 1}, {0, 0, 0}}), one) == "marks, row 2, column 2");
}

TEST_CASE("a common odds ratio is that of a published table", "[statistics][bias]") {
    // admissions to six departments: Bickel, Hammel and O'Connell 1975, Science 187:398-404. Figures as common
    // statistical software prints them for it (from memory): 0.9046968, 0.7719074 to 1.0603298, 1.4269, p 0.2323
    const std::vector<Stratum> strata{{512, 313, 89, 19},   {353, 207, 17, 8},  {120, 205, 202, 391},
                                      {138, 279, 131, 244}, {53, 138, 94, 299}, {22, 351, 24, 317}};
    const MantelHaenszel out = mantel_haenszel(strata);
    CHECK(*out.odds_ratio == Approx(0.9046968).margin(5e-8));
    CHECK(out.interval->low == Approx(0.7719074).margin(5e-8));
    CHECK(out.interval->high == Approx(1.0603298).margin(5e-8));
    CHECK(*out.chi_square == Approx(1.4269).margin(5e-5));
    CHECK(*out.p == Approx(0.2323).margin(5e-5));
    CHECK(out.warnings.empty());
    // swapped groups: the inverse
    std::vector<Stratum> swapped;
    for (const Stratum& s : strata) swapped.push_back({s.reference_pass, s.reference_fail, s.focal_pass, s.focal_fail});
    CHECK(*mantel_haenszel(swapped).odds_ratio == Approx(1.0 / *out.odds_ratio));
}

TEST_CASE("odds ratios that cannot be, and few persons", "[statistics][bias]") {
    const auto one = [](const Stratum& s) { return mantel_haenszel(std::vector<Stratum>{s}); };
    CHECK_FALSE(one({10, 0, 8, 2}).odds_ratio);
    CHECK(one({10, 0, 8, 2}).warnings.size() == 3);  // no ratio, few persons, few failures
    CHECK_FALSE(one({10, 0, 10, 0}).chi_square);
    const MantelHaenszel split = mantel_haenszel(std::vector<Stratum>{{40, 10, 35, 20}, {7, 2, 0, 0}});
    CHECK(split.warnings.size() == 1);
    CHECK(split.warnings[0].rfind("9 persons", 0) == 0);
    CHECK(*split.odds_ratio == Approx(40.0 * 20.0 / (10.0 * 35.0)));
    CHECK(refused_at([&] { (void)one({0, 0, 1, 1}); }) == "focal group");
    CHECK(refused_at([&] { (void)one({1, 1, 0, 0}); }) == "reference group");
    for (const double bad : {-1.0, 0.5, kNan, kInfinity})
        CHECK(refused_at([&] { (void)one({1, bad, 1, 1}); }) == "stratum 1");
    CHECK(refused_at([] { (void)mantel_haenszel({}); }) == "strata");
}

TEST_CASE("a standardised mean difference is that of a textbook", "[statistics][bias]") {
    // Borenstein and others 2009, chapter 4 (from memory): means 103 and 100, deviations 5.5 and 4.5, 50 in each group:
    // d 0.5970, g 0.5924, its variance 0.0411
    const auto group = [](double mean, double sd) {
        std::vector<double> values;
        for (int i = 0; i < 50; ++i) values.push_back(mean + (i % 2 == 0 ? 1.0 : -1.0) * sd * std::sqrt(49.0 / 50.0));
        return values;
    };
    const MeanDifference out = mean_difference(group(103.0, 5.5), group(100.0, 4.5));
    CHECK(out.difference == Approx(3.0));
    CHECK(out.standardised.value == Approx(0.5924).margin(5e-5));
    const double half = (out.standardised.interval->high - out.standardised.interval->low) / 2.0;
    CHECK(half == Approx(1.959964 * std::sqrt(0.0411)).margin(0.0015));
    CHECK(out.warnings.empty());
    CHECK(mean_difference(std::vector<double>{1, 2}, std::vector<double>{1, 3}).warnings.size() == 1);
    // the interval holds a true difference of half a deviation as often as it says: brute force
    sim::Random random(81);
    int holds = 0;
    for (int t = 0; t < 4000; ++t) {
        std::vector<double> a(20), b(30);
        for (double& x : a) x = random.normal(0.5, 1.0);
        for (double& x : b) x = random.normal();
        const Interval i = *mean_difference(a, b).standardised.interval;
        holds += i.low <= 0.5 && 0.5 <= i.high;
    }
    CHECK(holds == Approx(3800).margin(60));
    const auto at = [](const std::vector<double>& a, const std::vector<double>& b) {
        return refused_at([&] { (void)mean_difference(a, b); });
    };
    CHECK(at({1}, {1, 2}) == "focal group");
    CHECK(at({1, 2}, {}) == "reference group");
    CHECK(at({1, kNan}, {1, 2}) == "focal group, number 2");
    CHECK(at({1, 1}, {2, 2}) == "scores");
}
