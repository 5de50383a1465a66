#include "engine/statistics/generalisability.hpp"

#include <cmath>
#include <map>

#include "engine/statistics/agreement.hpp"
#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

using namespace statistics;
using statistics_test::kInfinity;
using statistics_test::kNan;
using statistics_test::refused_at;

namespace {

MarkCube shrout_fleiss_cube() {
    const Matrix marks = statistics_test::shrout_fleiss();
    MarkCube cube{6, 4, 1, {}};
    for (int p = 0; p < 6; ++p)
        for (int r = 0; r < 4; ++r) cube.marks.push_back(marks(p, r));
    return cube;
}

/// Ten persons, three tasks, four raters within each: Brennan 2001, Generalizability Theory, synthetic data set 4
/// (data from memory; that they give the components printed there to four digits shows that both are remembered right).
MarkCube brennan_cube() {
    return {10, 4, 3, {5, 6, 5, 5, 5, 3, 4, 5, 6, 7, 3, 3, 9, 3, 7, 7, 7, 5, 5, 5, 7, 7, 5, 2, 3, 4, 3, 3, 5, 3,
                       3, 5, 6, 5, 1, 6, 7, 5, 5, 3, 3, 1, 4, 3, 5, 3, 3, 5, 9, 2, 9, 7, 7, 7, 3, 7, 2, 7, 5, 3,
                       3, 4, 3, 5, 3, 3, 6, 3, 4, 5, 1, 2, 7, 3, 7, 7, 7, 5, 5, 7, 5, 5, 5, 4, 5, 8, 5, 7, 7, 5,
                       5, 4, 3, 2, 1, 1, 9, 9, 8, 8, 6, 6, 6, 5, 5, 8, 1, 1, 4, 4, 4, 3, 3, 5, 6, 5, 5, 7, 1, 1}};
}

MarkCube random_cube(std::size_t persons, std::size_t raters, std::size_t cases, sim::Random& random) {
    MarkCube cube{persons, raters, cases, {}};
    std::vector<double> p(persons), c(cases), r(raters * cases);
    for (double& x : p) x = random.normal();
    for (double& x : c) x = random.normal();
    for (double& x : r) x = random.normal();
    for (std::size_t i = 0; i < persons; ++i)
        for (std::size_t k = 0; k < cases; ++k)
            for (std::size_t j = 0; j < raters; ++j)
                cube.marks.push_back(50.0 + 3.0 * p[i] + 2.0 * c[k] + r[k * raters + j] + random.normal(0.0, 2.0));
    return cube;
}

/// Mean product of marks whose pair of cells shares exactly the facets of a set: bit 0 person, 1 rater, 2 case.
std::map<int, double> mean_products(const MarkCube& cube, bool nested) {
    std::map<int, double> sum, count;
    const std::size_t n = cube.marks.size();
    for (std::size_t a = 0; a < n; ++a)
        for (std::size_t b = 0; b < n; ++b) {
            const bool person = a / (cube.cases * cube.raters) == b / (cube.cases * cube.raters);
            const bool case_ = a / cube.raters % cube.cases == b / cube.raters % cube.cases;
            const bool rater = a % cube.raters == b % cube.raters && (case_ || !nested);
            const int shared = (person ? 1 : 0) + (rater ? 2 : 0) + (case_ ? 4 : 0);
            sum[shared] += cube.marks[a] * cube.marks[b], count[shared] += 1.0;
        }
    for (auto& [shared, value] : sum) value /= count[shared];
    return sum;
}

double estimate(const GStudy& study, Source source) {
    for (const VarianceComponent& part : study.components)
        if (part.source == source) return part.estimate;
    FAIL("no such component");
    return 0.0;
}

}  // namespace

TEST_CASE("variance components are those of published tables", "[statistics][gstudy]") {
    SECTION("persons by raters") {
        const GStudy study = generalisability_study(shrout_fleiss_cube(), Design::persons_raters);
        // that a G study of one facet gives ICC(3,k) = .91 and ICC(2,k) = .62 of Shrout and Fleiss 1979
        const DecisionStudy four = decision_study(study, 4, 1), one = decision_study(study, 1, 1);
        CHECK(*four.g == Approx(0.91).margin(0.005));
        CHECK(*four.phi == Approx(0.62).margin(0.005));
        CHECK(*one.g == Approx(0.71).margin(0.005));
        CHECK(*one.phi == Approx(0.29).margin(0.005));
        const auto forms = intraclass_correlations(statistics_test::shrout_fleiss()).forms;
        CHECK(*four.phi == Approx(forms[4].icc->value));
    }
    SECTION("persons by raters within tasks") {
        const GStudy study = generalisability_study(brennan_cube(), Design::persons_raters_within_cases);
        CHECK(study.mean == Approx(4.75));
        CHECK(estimate(study, Source::person) == Approx(0.4731).margin(5e-5));
        CHECK(estimate(study, Source::case_) == Approx(0.3252).margin(5e-5));
        CHECK(estimate(study, Source::rater_case) == Approx(0.6475).margin(5e-5));
        CHECK(estimate(study, Source::person_case) == Approx(0.5596).margin(5e-5));
        CHECK(estimate(study, Source::residual) == Approx(2.3802).margin(5e-5));
        CHECK(study.components.size() == 5);
    }
}

TEST_CASE("variance components are what products of pairs of marks say", "[statistics][gstudy]") {
    // an independent way: the mean product of two marks that share a set of facets is the mean squared plus the
    // components within that set, so that components are differences of such means
    sim::Random random(2001);
    const MarkCube cube = random_cube(7, 3, 4, random);
    auto m = mean_products(cube, false);
    const GStudy crossed = generalisability_study(cube, Design::persons_raters_cases);
    CHECK(estimate(crossed, Source::person) == Approx(m[1] - m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::rater) == Approx(m[2] - m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::case_) == Approx(m[4] - m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::person_rater) == Approx(m[3] - m[1] - m[2] + m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::person_case) == Approx(m[5] - m[1] - m[4] + m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::rater_case) == Approx(m[6] - m[2] - m[4] + m[0]).margin(1e-9));
    CHECK(estimate(crossed, Source::residual) ==
          Approx(m[7] - m[6] - m[5] - m[3] + m[4] + m[2] + m[1] - m[0]).margin(1e-9));
    m = mean_products(cube, true);
    const GStudy nested = generalisability_study(cube, Design::persons_raters_within_cases);
    CHECK(estimate(nested, Source::person) == Approx(m[1] - m[0]).margin(1e-9));
    CHECK(estimate(nested, Source::case_) == Approx(m[4] - m[0]).margin(1e-9));
    CHECK(estimate(nested, Source::rater_case) == Approx(m[6] - m[4]).margin(1e-9));
    CHECK(estimate(nested, Source::person_case) == Approx(m[5] - m[4] - m[1] + m[0]).margin(1e-9));
    CHECK(estimate(nested, Source::residual) == Approx(m[7] - m[6] - m[5] + m[4]).margin(1e-9));
}

TEST_CASE("a decision study shrinks each error by what it is averaged over", "[statistics][gstudy]") {
    GStudy study;
    study.design = Design::persons_raters_cases;
    const Source sources[] = {Source::person,      Source::rater,      Source::case_,   Source::person_rater,
                              Source::person_case, Source::rater_case, Source::residual};
    for (std::size_t i = 0; i < 7; ++i) {
        VarianceComponent part;
        part.source = sources[i];
        part.variance = static_cast<double>(1U << i);  // 1 2 4 8 16 32 64
        study.components.push_back(part);
    }
    const DecisionStudy d = decision_study(study, 2, 4);
    // by hand: 8/2 + 16/4 + 64/8 = 16; and 2/2 + 4/4 + 32/8 = 6
    CHECK(d.relative_error_variance == 16.0);
    CHECK(d.absolute_error_variance == 22.0);
    CHECK(*d.g == Approx(1.0 / 17.0));
    CHECK(*d.phi == Approx(1.0 / 23.0));
    CHECK(d.sem_absolute == Approx(std::sqrt(22.0)));
    CHECK(refused_at([&] { (void)decision_study(study, 0, 1); }) == "raters of the decision");
    CHECK(refused_at([&] { (void)decision_study(study, 1, 1001); }) == "cases of the decision");
    study.design = Design::persons_raters;
    CHECK(refused_at([&] { (void)decision_study(study, 1, 2); }) == "cases of the decision");
}

TEST_CASE("an estimate below zero is told and gone on with as zero", "[statistics][gstudy]") {
    // raters who do not differ at all, persons who hardly do
    const GStudy study = generalisability_study({3, 2, 1, {1, 9, 9, 1, 6, 5}}, Design::persons_raters);
    CHECK(study.components[0].negative());
    CHECK(study.variance(Source::person) == 0.0);
    CHECK(study.components[0].estimate < 0.0);
    CHECK(study.warnings.size() == 3);
    CHECK(*decision_study(study, 2, 1).phi == 0.0);
    double shares = 0.0;
    for (const VarianceComponent& part : study.components) shares += part.share;
    CHECK(shares == Approx(1.0));
}

TEST_CASE("a bivariate normal quadrant", "[statistics][gstudy]") {
    // Sheppard 1899: at the means 1/4 + asin(rho) / 2 pi
    for (const double rho : {-0.95, -0.3, 0.0, 0.5, 0.9, 0.999})
        CHECK(both_above(0.0, 0.0, rho) == Approx(0.25 + std::asin(rho) / (2.0 * std::acos(-1.0))).margin(1e-10));
    // independent
    CHECK(both_above(1.0, -0.5, 0.0) == Approx((1.0 - normal_below(1.0)) * normal_below(0.5)).margin(1e-12));
    // integrating the other way round: over x, P(Y >= k given x), by the midpoint rule
    double sum = 0.0;
    for (int i = 0; i < 200000; ++i) {
        const double x = 0.7 + (i + 0.5) * 5e-5;
        sum += std::exp(-x * x / 2.0) * normal_below((0.8 * x + 0.2) / 0.6) * 5e-5;
    }
    CHECK(both_above(0.7, -0.2, 0.8) == Approx(sum / std::sqrt(2.0 * std::acos(-1.0))).margin(1e-9));
    CHECK(refused_at([] { (void)both_above(0.0, 0.0, 1.0); }) == "correlation");
    CHECK(refused_at([] { (void)both_above(kInfinity, 0.0, 0.5); }) == "limits, number 1");
}

TEST_CASE("a cut's figures", "[statistics][gstudy][cut]") {
    const GStudy study = generalisability_study(brennan_cube(), Design::persons_raters_within_cases);
    const DecisionStudy decision = decision_study(study, 4, 3);
    // phi(lambda) grows with the distance of the cut from the mean and is phi at its least (Brennan and Kane 1977)
    const CutStudy at_mean = cut_study(study, decision, study.mean);
    CHECK(*at_mean.phi_lambda == Approx(*decision.phi));
    CHECK(at_mean.warnings.size() == 1);
    const CutStudy far = cut_study(study, decision, study.mean + 2.0);
    // by hand: (sigma_p + 4 - var of mean) / (that + Delta)
    const double delta = 0.55957 / 3 + 2.38025 / 12, absolute = delta + 0.32515 / 3 + 0.64753 / 12;
    const double signal = 0.47315 + 4.0 - ((0.47315 + delta) / 10 + absolute - delta);
    CHECK(*far.phi_lambda == Approx(signal / (signal + absolute)).margin(1e-4));
    CHECK(far.doubtful.high - far.cut == Approx(1.959964 * std::sqrt(absolute)).margin(1e-4));

    // verdicts by brute force: the same persons seen twice
    sim::Random random(80);
    constexpr int kPersons = 400000;
    const double cut = study.mean - 0.4;
    const CutStudy low = cut_study(study, decision, cut);
    int same = 0, right = 0;
    for (int i = 0; i < kPersons; ++i) {
        const double universe = random.normal(study.mean, std::sqrt(study.variance(Source::person)));
        const bool first = universe + random.normal(0.0, decision.sem_absolute) >= cut;
        const bool second = universe + random.normal(0.0, decision.sem_absolute) >= cut;
        same += first == second, right += first == (universe >= cut);
    }
    CHECK(low.consistency == Approx(same / double(kPersons)).margin(0.0035));  // over 4 standard errors
    CHECK(low.accuracy == Approx(right / double(kPersons)).margin(0.0035));
    CHECK(low.consistency_kappa > 0.0);
    CHECK(low.consistency_kappa < low.consistency);
    CHECK(refused_at([&] { (void)cut_study(study, decision, kNan); }) == "cut");
    CHECK(refused_at([&] { (void)cut_study(study, decision, 1.0, 2.0); }) == "confidence");
}

TEST_CASE("the error near the cut is that of those near it", "[statistics][gstudy][cut]") {
    // raters agree about weak persons and not about strong ones
    MarkCube cube{20, 2, 1, {}};
    for (int p = 0; p < 20; ++p) {
        const double spread = p < 10 ? 0.5 : 4.0;
        cube.marks.push_back(10.0 * (p / 10) + 0.1 * p + (p % 2 == 0 ? spread : -spread));
        cube.marks.push_back(10.0 * (p / 10) + 0.1 * p - (p % 2 == 0 ? spread : -spread));
    }
    const GStudy study = generalisability_study(cube, Design::persons_raters);
    const CutStudy low = cut_study(study, decision_study(study, 2, 1), 0.5);
    const CutStudy high = cut_study(study, decision_study(study, 2, 1), 11.5);
    REQUIRE(low.sem_near_cut);
    REQUIRE(high.sem_near_cut);
    CHECK(low.persons_near_cut == 10);
    CHECK(*low.sem_near_cut == Approx(0.5));  // two marks at +-s: variance 2 s^2, of their mean s^2
    CHECK(*high.sem_near_cut == Approx(4.0));
    CHECK_FALSE(cut_study(study, decision_study(study, 2, 1), 60.0).sem_near_cut);
    CHECK_FALSE(cut_study(study, decision_study(study, 3, 1), 0.5).sem_near_cut);
}

TEST_CASE("studies of what is no cube are refused", "[statistics][gstudy]") {
    const auto at = [](const MarkCube& cube, Design design) {
        return refused_at([&] { (void)generalisability_study(cube, design); });
    };
    CHECK(at({1, 2, 1, {1, 2}}, Design::persons_raters) == "persons");
    CHECK(at({2, 1, 1, {1, 2}}, Design::persons_raters) == "raters");
    CHECK(at({2, 2, 2, std::vector<double>(8)}, Design::persons_raters) == "cases");
    CHECK(at({2, 2, 1, {1, 2, 3, 4}}, Design::persons_raters_cases) == "cases");
    CHECK(at({2, 2, 1, {1, 2, 3}}, Design::persons_raters) == "marks");
    CHECK(at({2, 2, 1, {1, 1, 1, 1}}, Design::persons_raters) == "marks");
    CHECK(at({2, 2, 1, {1, kNan, 3, 4}}, Design::persons_raters) == "marks, number 2");
}
