#include <cmath>

#include "engine/statistics/agreement.hpp"
#include "engine/statistics/cusum.hpp"
#include "engine/statistics/generalisability.hpp"
#include "engine/statistics/items.hpp"
#include "engine/statistics/learning_curve.hpp"
#include "engine/statistics/standard_setting.hpp"
#include "sim/core/random.hpp"
#include "tests/engine/statistics/support.hpp"

// Tables of nasty numbers: each is refused by an InputError or gives figures that are numbers.

using namespace statistics;

namespace {

struct Nasty {
    sim::Random random;
    double number() {
        constexpr double kNumbers[] = {0.0,  1.0,  1.0,  2.0,   3.0,    -1.0,  0.5,   1e9,
                                       -1e9, 1e-9, 1e49, -1e49, 1e-300, 1e300, 5e-324};
        const std::uint64_t pick = random.next() % 40;
        if (pick < std::size(kNumbers)) return kNumbers[pick];
        if (pick == 39) return random.next() % 2 == 0 ? statistics_test::kNan : statistics_test::kInfinity;
        return random.normal();
    }
    std::vector<double> list() {
        std::vector<double> out(random.next() % 8);
        const bool same = random.next() % 8 == 0;
        for (double& x : out) x = same ? 3.0 : number();
        return out;
    }
    Matrix table() {
        Matrix out(static_cast<int>(random.next() % 6), static_cast<int>(random.next() % 6));
        const std::uint64_t kind = random.next() % 4;
        for (Eigen::Index r = 0; r < out.rows(); ++r)
            for (Eigen::Index c = 0; c < out.cols(); ++c)
                out(r, c) = kind == 0 ? double(random.next() % 3) : kind == 1 ? double(r + c) : number();
        return out;
    }
};

bool good(double x) { return std::isfinite(x); }
bool good(const std::optional<double>& x) { return !x || good(*x); }
bool good(const std::optional<Interval>& x) { return !x || (good(x->low) && good(x->high) && x->low <= x->high); }
bool good(const Estimate& x) { return good(x.value) && good(x.interval); }
bool good(const std::optional<Estimate>& x) { return !x || good(*x); }

template <typename Act>
int refused(Act act) {
    try {
        act();
        return 0;
    } catch (const sim::InputError&) {
        return 1;
    }
}

}  // namespace

TEST_CASE("nasty tables of marks give numbers or a refusal", "[statistics][hostile]") {
    Nasty nasty{sim::Random(1)};
    int refusals = 0;
    constexpr int kTables = 6000;
    for (int i = 0; i < kTables; ++i) {
        const Matrix marks = nasty.table();
        CAPTURE(marks);
        refusals += refused([&] {
            for (const auto& form : intraclass_correlations(marks).forms) {
                CAPTURE(form.name);
                CHECK(good(form.icc));
                CHECK(good(form.f));
                CHECK(good(form.p));
            }
        });
        refused([&] {
            const Kappa out = kappa(marks, KappaWeights::linear);
            CHECK(good(out.kappa));
        });
        refused([&] {
            const Angoff out = angoff(marks);
            CHECK(good(out.cut));
        });
        refused([&] {
            const ItemAnalysis out =
                item_analysis(marks, std::vector<double>(static_cast<std::size_t>(marks.cols()), 3.0));
            CHECK(good(out.alpha));
            CHECK(good(out.alpha_interval));
            for (const Item& item : out.items) CHECK((good(item.discrimination) && good(item.alpha_without)));
        });
        refused([&] {
            MarkCube cube{static_cast<std::size_t>(marks.rows()), static_cast<std::size_t>(marks.cols()), 1, {}};
            for (Eigen::Index r = 0; r < marks.rows(); ++r)
                for (Eigen::Index c = 0; c < marks.cols(); ++c) cube.marks.push_back(marks(r, c));
            const GStudy study = generalisability_study(cube, Design::persons_raters);
            const DecisionStudy decision = decision_study(study, 2, 1);
            CHECK(good(decision.g));
            CHECK(good(decision.phi));
            const CutStudy cut = cut_study(study, decision, nasty.number());
            CHECK(good(cut.phi_lambda));
            CHECK((cut.consistency >= -1e-9 && cut.consistency <= 1.0 + 1e-9));
            CHECK((cut.accuracy >= -1e-9 && cut.accuracy <= 1.0 + 1e-9));
            CHECK(good(cut.consistency_kappa));
        });
    }
    CHECK(refusals > kTables / 10);
    CHECK(refusals < kTables * 9 / 10);
}

TEST_CASE("nasty lists give numbers or a refusal", "[statistics][hostile]") {
    Nasty nasty{sim::Random(2)};
    int refusals = 0;
    constexpr int kLists = 6000;
    for (int i = 0; i < kLists; ++i) {
        const std::vector<double> a = nasty.list();
        std::vector<double> b = nasty.list();
        if (nasty.random.next() % 2 == 0) b.resize(a.size(), 2.0);
        CAPTURE(a, b);
        refusals += refused([&] {
            const auto out = borderline_regression(a, b, 2.0, 0.95, {1, 100});
            CHECK(good(out.cut));
            CHECK(good(out.resampled));
            for (const double z : out.line.standardised) CHECK(good(z));
        });
        refused([&] {
            const auto out = mean_difference(a, b);
            CHECK(good(out.standardised));
        });
        refused([&] {
            const Hofstee out = hofstee(std::vector<HofsteeJudge>{{0.0, 2.0, 0.0, 1.0}}, a);
            CHECK(good(out.cut));
        });
        refused([&] {
            const auto chart = measurement_cusum(a, nasty.number(), nasty.number());
            for (const double value : chart.above) CHECK(good(value));
        });
        refused([&] { (void)attempts_to_mark(a, nasty.number()); });
        std::vector<CurvePoint> points;
        for (std::size_t k = 0; k < std::min(a.size(), b.size()); ++k)
            points.push_back({nasty.random.next() % 3 == 0 ? a[k] : double(k + 1), b[k], k % 3});
        for (const CurveShape shape : {CurveShape::exponential, CurveShape::power})
            refused([&] {
                const auto curve = fit_learning_curve(points, shape);
                for (const Estimate* e : {&curve.level, &curve.gain, &curve.rate}) CHECK(good(*e));
                if (const auto reaches = curve_reaches(curve, nasty.number())) CHECK(good(*reaches));
            });
    }
    CHECK(refusals > kLists / 10);
    CHECK(refusals < kLists * 95 / 100);
}
