#include "engine/statistics/agreement.hpp"

#include <cmath>

#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kNan;
using statistics_test::refused_at;
using statistics_test::shrout_fleiss;
using statistics_test::table;

TEST_CASE("intraclass correlations are those of Shrout and Fleiss", "[statistics][icc]") {
    const IntraclassCorrelations out = intraclass_correlations(shrout_fleiss());
    // Shrout and Fleiss 1979, Tables 3 and 4: mean squares to two decimals, coefficients to two
    CHECK(out.anova.between_ms == Approx(11.24).margin(0.005));
    CHECK(out.anova.within_ms == Approx(6.26).margin(0.005));
    CHECK(out.anova.judges_ms == Approx(32.49).margin(0.005));
    CHECK(out.anova.error_ms == Approx(1.02).margin(0.005));
    const double published[6] = {0.17, 0.29, 0.71, 0.44, 0.62, 0.91};
    // 95 % intervals that common statistical software prints for this table (from memory)
    const double low[6] = {-0.133, 0.019, 0.342, -0.884, 0.071, 0.676};
    const double high[6] = {0.72, 0.76, 0.95, 0.91, 0.93, 0.99};
    for (std::size_t i = 0; i < 6; ++i) {
        CAPTURE(out.forms[i].name);
        CHECK(out.forms[i].icc->value == Approx(published[i]).margin(0.005));
        REQUIRE(out.forms[i].icc->interval);
        CHECK(out.forms[i].icc->interval->low == Approx(low[i]).margin(0.0006));
        CHECK(out.forms[i].icc->interval->high == Approx(high[i]).margin(0.006));
    }
    CHECK(*out.forms[0].p == Approx(0.16477).margin(5e-6));  // the same print, from memory
    CHECK(out.warnings.size() == 1);                         // six targets are few
}

TEST_CASE("an interval of an intraclass correlation holds the truth as often as it says", "[statistics][icc]") {
    // brute force: marks with known components, judges drawn anew each time; the two-way random interval is approximate
    sim::Random random(1979);
    constexpr int kTrials = 2000;
    const double target_sd = 1.0, judge_sd = 0.5, error_sd = 1.0;
    const double absolute = 1.0 / (1.0 + 0.25 + 1.0), consistency = 1.0 / 2.0, one_way = 1.0 / 2.25;
    int holds[3] = {};
    for (int t = 0; t < kTrials; ++t) {
        Matrix crossed(12, 5), nested(12, 5);
        Vector judge(5);
        for (double& j : judge) j = random.normal(0.0, judge_sd);
        for (int i = 0; i < 12; ++i) {
            const double target = random.normal(0.0, target_sd);
            for (int j = 0; j < 5; ++j) {
                const double error = random.normal(0.0, error_sd);
                crossed(i, j) = target + judge(j) + error;
                nested(i, j) = target + random.normal(0.0, judge_sd) + error;
            }
        }
        const auto both = intraclass_correlations(crossed).forms;
        const auto own = intraclass_correlations(nested).forms;
        const auto within = [](const Estimate& e, double truth) {
            return truth >= e.interval->low && truth <= e.interval->high;
        };
        holds[0] += within(*own[0].icc, one_way);
        holds[1] += within(*both[1].icc, absolute);
        holds[2] += within(*both[2].icc, consistency);
    }
    // exact 95 %: 1900 +- 3.5 binomial standard deviations of 9.7; the approximate one within two percentage points
    CHECK(holds[0] == Approx(1900).margin(34));
    CHECK(holds[2] == Approx(1900).margin(34));
    CHECK(holds[1] == Approx(1900).margin(54));
}

TEST_CASE("tables without an intraclass correlation are refused or say so", "[statistics][icc]") {
    CHECK(refused_at([] { (void)intraclass_correlations(Matrix::Zero(1, 4)); }) == "marks");
    CHECK(refused_at([] { (void)intraclass_correlations(Matrix()); }) == "marks");
    CHECK(refused_at([] { (void)intraclass_correlations(Matrix::Ones(5, 3)); }) == "marks");
    CHECK(refused_at([] { (void)intraclass_correlations(Matrix::Constant(5, 3, 0.1)); }) == "marks");
    CHECK(refused_at([] { (void)intraclass_correlations(table({{1, 2}, {2, 1}})); }) == "marks");  // equal means
    CHECK(refused_at([] { (void)intraclass_correlations(table({{1, 2}, {kNan, 4}})); }) == "marks, row 2, column 1");
    CHECK(refused_at([] { (void)intraclass_correlations(shrout_fleiss(), 1.0); }) == "confidence");
    CHECK(refused_at([] { (void)intraclass_correlations(shrout_fleiss(), kNan); }) == "confidence");
    // judges who agree but for their severity: consistency 1, agreement less, no interval
    const auto forms = intraclass_correlations(table({{1, 2}, {2, 3}, {4, 5}})).forms;
    CHECK(forms[2].icc->value == 1.0);
    CHECK(forms[1].icc->value < 1.0);
    CHECK_FALSE(forms[2].icc->interval);
    CHECK_FALSE(forms[1].icc->interval);
    CHECK(forms[0].icc->interval);
    // all alike
    for (const auto& form : intraclass_correlations(table({{1, 1}, {2, 2}, {4, 4}})).forms)
        CHECK(form.icc->value == Approx(1.0));
    // targets that differ less than judges of one target: negative, told
    const auto negative = intraclass_correlations(table({{1, 9}, {9, 2}, {1, 9}}));
    CHECK(negative.forms[0].icc->value < 0.0);
    CHECK_FALSE((negative.forms[4].icc && negative.forms[4].icc->interval));
    CHECK(negative.warnings.size() == 3);
}

TEST_CASE("kappa is that of published tables", "[statistics][kappa]") {
    // common teaching tables (from memory)
    CHECK(kappa(table({{20, 5}, {10, 15}}), KappaWeights::unweighted).kappa.value == Approx(0.40));
    CHECK(kappa(table({{45, 15}, {25, 15}}), KappaWeights::unweighted).kappa.value == Approx(0.1304).margin(5e-5));
    CHECK(kappa(table({{25, 35}, {5, 35}}), KappaWeights::unweighted).kappa.value == Approx(0.2593).margin(5e-5));
    // Fleiss, Statistical Methods for Rates and Proportions, diagnoses of 100 patients (from memory, three decimals)
    const Kappa fleiss = kappa(table({{75, 1, 4}, {5, 4, 1}, {0, 0, 10}}), KappaWeights::unweighted);
    CHECK(fleiss.kappa.value == Approx(0.676).margin(5e-4));
    CHECK(fleiss.null_standard_error == Approx(0.076).margin(5e-4));
    CHECK(fleiss.standard_error == Approx(0.087).margin(1e-3));
    CHECK(fleiss.kappa.interval->low == Approx(fleiss.kappa.value - 1.959964 * fleiss.standard_error));
}

TEST_CASE("kappa agrees with what it must equal", "[statistics][kappa]") {
    const Matrix counts = table({{11, 4, 1, 0}, {3, 9, 5, 1}, {0, 6, 12, 3}, {1, 0, 2, 8}});
    const double n = counts.sum();
    // Fleiss and Cohen 1973, Educ Psychol Meas 33:613-9: squared weights give an intraclass correlation of the grades,
    // 2 cov / (var + var + (difference of means)^2) over n
    double a = 0, b = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j) {
            a += counts(i, j) * i / n, b += counts(i, j) * j / n;
            aa += counts(i, j) * i * i / n, bb += counts(i, j) * j * j / n, ab += counts(i, j) * i * j / n;
        }
    const double expected = 2.0 * (ab - a * b) / (aa - a * a + bb - b * b + (a - b) * (a - b));
    CHECK(kappa(counts, KappaWeights::quadratic).kappa.value == Approx(expected).epsilon(1e-12));
    // two grades: every weighting is the same
    const Matrix two = table({{20, 5}, {10, 15}});
    const Kappa plain = kappa(two, KappaWeights::unweighted);
    for (const KappaWeights weights : {KappaWeights::linear, KappaWeights::quadratic}) {
        CHECK(kappa(two, weights).kappa.value == Approx(plain.kappa.value));
        CHECK(kappa(two, weights).standard_error == Approx(plain.standard_error));
    }
    // the standard error is the delta method's: derivatives by differences, multinomial covariance
    for (const KappaWeights weights : {KappaWeights::unweighted, KappaWeights::linear, KappaWeights::quadratic}) {
        // kappa does not hang on the size of the table, so large counts take a small change of a share
        const Matrix large = counts * 1e6;
        Matrix slope(4, 4);
        for (int i = 0; i < 4; ++i)
            for (int j = 0; j < 4; ++j) {
                Matrix up = large, down = large;
                up(i, j) += 100.0, down(i, j) = std::max(0.0, down(i, j) - 100.0);
                slope(i, j) = (kappa(up, weights).kappa.value - kappa(down, weights).kappa.value) * n * 1e6 /
                              (up(i, j) - down(i, j));
            }
        double mean = 0, square = 0;
        for (int i = 0; i < 4; ++i)
            for (int j = 0; j < 4; ++j) {
                mean += slope(i, j) * counts(i, j) / n;
                square += slope(i, j) * slope(i, j) * counts(i, j) / n;
            }
        CHECK(kappa(counts, weights).standard_error == Approx(std::sqrt((square - mean * mean) / n)).epsilon(1e-5));
    }
}

TEST_CASE("kappa refuses what has none", "[statistics][kappa]") {
    const auto at = [](const Matrix& counts) { return refused_at([&] { (void)kappa(counts, KappaWeights::linear); }); };
    CHECK(at(Matrix::Ones(1, 1)) == "counts");
    CHECK(at(Matrix::Ones(2, 3)) == "counts");
    CHECK(at(Matrix::Zero(2, 2)) == "counts");
    CHECK(at(table({{5, 0}, {0, 0}})) == "counts");  // one grade only
    CHECK(at(table({{5, -1}, {0, 3}})) == "counts, row 1, column 2");
    CHECK(at(table({{5, 1}, {0.5, 3}})) == "counts, row 2, column 1");
    CHECK(at(table({{5, 1}, {kNan, 3}})) == "counts, row 2, column 1");
    CHECK(refused_at([] { (void)kappa(Matrix::Ones(2, 2), KappaWeights::linear, 0.0); }) == "confidence");
    const std::vector<int> one{0, 1, 2}, other{0, 2, 2};
    CHECK(count_grades(one, other, 3) == table({{1, 0, 0}, {0, 0, 1}, {0, 0, 1}}));
    CHECK(refused_at([&] { (void)count_grades(one, other, 2); }) == "pair 2");
    CHECK(refused_at([&] { (void)count_grades(one, std::vector<int>{0}, 3); }) == "grades of the other rater");
    CHECK(refused_at([&] { (void)count_grades({}, {}, 3); }) == "grades");
    CHECK(refused_at([&] { (void)count_grades(one, other, 1); }) == "grades");
    // no disagreement: 1, without an interval
    const Kappa whole = kappa(table({{30, 0}, {0, 30}}), KappaWeights::unweighted);
    CHECK(whole.kappa.value == 1.0);
    CHECK_FALSE(whole.kappa.interval);
    CHECK(whole.warnings.size() == 1);
}
