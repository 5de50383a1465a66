#include "engine/statistics/generalisability.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>

namespace statistics {

namespace {

constexpr std::size_t kMostOfAFacet = 1000;
constexpr std::size_t kFewPersons = 20;   // assumed
constexpr std::size_t kLeastNearCut = 5;  // assumed

/// Means over all that an index leaves out, and sums of squares of effects.
struct CubeMeans {
    explicit CubeMeans(const MarkCube& cube)
        : persons(cube.persons),
          raters(cube.raters),
          cases(cube.cases),
          person(persons),
          rater(raters),
          case_(cases),
          person_rater(persons * raters),
          person_case(persons * cases),
          rater_case(raters * cases) {
        const auto share_p = 1.0 / static_cast<double>(persons), share_r = 1.0 / static_cast<double>(raters),
                   share_c = 1.0 / static_cast<double>(cases);
        for (std::size_t p = 0; p < persons; ++p)
            for (std::size_t c = 0; c < cases; ++c)
                for (std::size_t r = 0; r < raters; ++r) {
                    const double x = cube.at(p, c, r);
                    grand += x * share_p * share_c * share_r;
                    person[p] += x * share_c * share_r;
                    rater[r] += x * share_p * share_c;
                    case_[c] += x * share_p * share_r;
                    person_rater[p * raters + r] += x * share_c;
                    person_case[p * cases + c] += x * share_r;
                    rater_case[r * cases + c] += x * share_p;
                }
    }
    std::size_t persons, raters, cases;
    double grand = 0.0;
    std::vector<double> person, rater, case_, person_rater, person_case, rater_case;
};

struct Line {
    double ss = 0.0, df = 0.0;
    [[nodiscard]] double ms() const { return df > 0.0 ? ss / df : 0.0; }
};

double square(double x) { return x * x; }

/// Lines of the crossed analysis p x r x c; those of one case alone are 0.
struct CrossedLines {
    Line p, r, c, pr, pc, rc, prc;

    CrossedLines(const MarkCube& cube, const CubeMeans& m) {
        const auto np = static_cast<double>(m.persons), nr = static_cast<double>(m.raters),
                   nc = static_cast<double>(m.cases);
        for (const double x : m.person) p.ss += nr * nc * square(x - m.grand);
        for (const double x : m.rater) r.ss += np * nc * square(x - m.grand);
        for (const double x : m.case_) c.ss += np * nr * square(x - m.grand);
        for (std::size_t i = 0; i < m.persons; ++i)
            for (std::size_t j = 0; j < m.raters; ++j)
                pr.ss += nc * square(m.person_rater[i * m.raters + j] - m.person[i] - m.rater[j] + m.grand);
        for (std::size_t i = 0; i < m.persons; ++i)
            for (std::size_t k = 0; k < m.cases; ++k)
                pc.ss += nr * square(m.person_case[i * m.cases + k] - m.person[i] - m.case_[k] + m.grand);
        for (std::size_t j = 0; j < m.raters; ++j)
            for (std::size_t k = 0; k < m.cases; ++k)
                rc.ss += np * square(m.rater_case[j * m.cases + k] - m.rater[j] - m.case_[k] + m.grand);
        for (std::size_t i = 0; i < m.persons; ++i)
            for (std::size_t k = 0; k < m.cases; ++k)
                for (std::size_t j = 0; j < m.raters; ++j)
                    prc.ss +=
                        square(cube.at(i, k, j) - m.person_rater[i * m.raters + j] - m.person_case[i * m.cases + k] -
                               m.rater_case[j * m.cases + k] + m.person[i] + m.rater[j] + m.case_[k] - m.grand);
        p.df = np - 1.0, r.df = nr - 1.0, c.df = nc - 1.0;
        pr.df = p.df * r.df, pc.df = p.df * c.df, rc.df = r.df * c.df, prc.df = p.df * r.df * c.df;
    }
};

void check_cube(const MarkCube& cube, Design design) {
    require_count("persons", cube.persons, 2);
    require_count("raters", cube.raters, 2);
    if (design == Design::persons_raters ? cube.cases != 1 : cube.cases < 2)
        throw InputError("cases", std::to_string(cube.cases), design == Design::persons_raters ? "1" : "at least 2");
    require_as_long("marks", cube.marks.size(), cube.persons * cube.cases * cube.raters);
    require_finite("marks", cube.marks);
    const auto [least, most] = std::minmax_element(cube.marks.begin(), cube.marks.end());
    if (*least == *most) throw InputError("marks", "the same mark everywhere", "marks that differ");
}

std::vector<VarianceComponent> crossed_two(const CrossedLines& a, double np, double nr) {
    // of one case the interaction p x r is all that is left
    const double residual = a.pr.ms();
    return {{Source::person, "person", a.p.df, a.p.ms(), (a.p.ms() - residual) / nr},
            {Source::rater, "rater", a.r.df, a.r.ms(), (a.r.ms() - residual) / np},
            {Source::residual, "person x rater, and the rest", a.pr.df, residual, residual}};
}

std::vector<VarianceComponent> crossed_three(const CrossedLines& a, double np, double nr, double nc) {
    const double e = a.prc.ms(), pr = a.pr.ms(), pc = a.pc.ms(), rc = a.rc.ms();
    return {{Source::person, "person", a.p.df, a.p.ms(), (a.p.ms() - pr - pc + e) / (nr * nc)},
            {Source::rater, "rater", a.r.df, a.r.ms(), (a.r.ms() - pr - rc + e) / (np * nc)},
            {Source::case_, "case", a.c.df, a.c.ms(), (a.c.ms() - pc - rc + e) / (np * nr)},
            {Source::person_rater, "person x rater", a.pr.df, pr, (pr - e) / nc},
            {Source::person_case, "person x case", a.pc.df, pc, (pc - e) / nr},
            {Source::rater_case, "rater x case", a.rc.df, rc, (rc - e) / np},
            {Source::residual, "person x rater x case, and the rest", a.prc.df, e, e}};
}

std::vector<VarianceComponent> nested(const CrossedLines& a, double np, double nr, double nc) {
    // raters within cases take up what belonged to raters in the crossed table
    const Line rc{a.r.ss + a.rc.ss, a.r.df + a.rc.df}, prc{a.pr.ss + a.prc.ss, a.pr.df + a.prc.df};
    const double e = prc.ms(), pc = a.pc.ms();
    return {{Source::person, "person", a.p.df, a.p.ms(), (a.p.ms() - pc) / (nr * nc)},
            {Source::case_, "case", a.c.df, a.c.ms(), (a.c.ms() - rc.ms() - pc + e) / (np * nr)},
            {Source::rater_case, "rater within case", rc.df, rc.ms(), (rc.ms() - e) / np},
            {Source::person_case, "person x case", a.pc.df, pc, (pc - e) / nr},
            {Source::residual, "person x rater within case, and the rest", prc.df, e, e}};
}

/// What rounding leaves of an effect that is not there is no negative variance.
void settle(GStudy& study) {
    double total = 0.0, scale = 0.0;
    for (const VarianceComponent& part : study.components) scale = std::max(scale, std::abs(part.estimate));
    for (VarianceComponent& part : study.components) {
        if (std::abs(part.estimate) < 1e-12 * scale) part.estimate = 0.0;
        part.variance = std::max(0.0, part.estimate);
        total += part.variance;
        if (part.negative())
            study.warnings.push_back("The variance of " + std::string(part.name) + " came out below 0 (" +
                                     words_of(part.estimate) + ") and is gone on with as 0.");
    }
    for (VarianceComponent& part : study.components) part.share = part.variance / total;
    if (study.persons < kFewPersons)
        study.warnings.push_back("Only " + std::to_string(study.persons) + " persons: the components are rough.");
}

/// Variance of the mean mark over persons, raters and cases of the study about the universe's.
double variance_of_mean(const GStudy& study, const DecisionStudy& decision) {
    const auto np = static_cast<double>(study.persons);
    return (study.variance(Source::person) + decision.relative_error_variance) / np +
           (decision.absolute_error_variance - decision.relative_error_variance);
}

void near_cut(const GStudy& study, const DecisionStudy& decision, CutStudy& out) {
    if (study.person_error_ms.empty() || decision.raters != study.raters) return;
    double sum = 0.0;
    for (std::size_t p = 0; p < study.persons; ++p)
        if (std::abs(study.person_means[p] - out.cut) <= out.sem) {
            sum += study.person_error_ms[p] / static_cast<double>(study.raters);
            ++out.persons_near_cut;
        }
    if (out.persons_near_cut >= kLeastNearCut)
        out.sem_near_cut = std::sqrt(sum / static_cast<double>(out.persons_near_cut));
    else
        out.warnings.push_back(
            "Fewer than 5 persons lie within one standard error of the cut: none is given for there.");
}

/// Verdicts of pairs of normal scores. No error or no persons' variance: limits of the formulas.
void verdicts(const GStudy& study, const DecisionStudy& decision, CutStudy& out) {
    const double universe = study.variance(Source::person), error = decision.absolute_error_variance;
    if (!(universe + error > 0.0) || error == 0.0) {
        out.consistency = out.consistency_kappa = out.accuracy = 1.0;
        return;
    }
    const double observed_z = (out.cut - study.mean) / std::sqrt(universe + error);
    const double pass = 1.0 - normal_below(observed_z), fail = normal_below(observed_z);
    const double phi = universe / (universe + error);
    const double both = both_above(observed_z, observed_z, phi);
    out.consistency = 1.0 - 2.0 * (pass - both);
    const double chance = pass * pass + fail * fail;
    out.consistency_kappa = chance < 1.0 ? (out.consistency - chance) / (1.0 - chance) : 0.0;
    if (universe == 0.0) {
        // all have the same universe score, and pass or fail by it
        out.accuracy = study.mean >= out.cut ? pass : fail;
        return;
    }
    const double universe_z = (out.cut - study.mean) / std::sqrt(universe);
    const double agree = both_above(universe_z, observed_z, std::sqrt(phi));
    out.accuracy = 1.0 - (pass - agree) - ((1.0 - normal_below(universe_z)) - agree);
}

}  // namespace

double GStudy::variance(Source source) const {
    for (const VarianceComponent& part : components)
        if (part.source == source) return part.variance;
    return 0.0;
}

GStudy generalisability_study(const MarkCube& cube, Design design) {
    check_cube(cube, design);
    const CubeMeans means(cube);
    const CrossedLines lines(cube, means);
    const auto np = static_cast<double>(cube.persons), nr = static_cast<double>(cube.raters),
               nc = static_cast<double>(cube.cases);
    GStudy out{design, cube.persons, cube.raters, cube.cases, means.grand, {}, means.person, {}, {}};
    if (design == Design::persons_raters) {
        out.components = crossed_two(lines, np, nr);
        for (std::size_t p = 0; p < cube.persons; ++p)
            out.person_error_ms.push_back(variance_of({cube.marks.data() + p * cube.raters, cube.raters}));
    } else {
        out.components =
            design == Design::persons_raters_cases ? crossed_three(lines, np, nr, nc) : nested(lines, np, nr, nc);
    }
    settle(out);
    return out;
}

DecisionStudy decision_study(const GStudy& study, std::size_t raters, std::size_t cases) {
    const auto check = [](const char* place, std::size_t count) {
        if (count < 1 || count > kMostOfAFacet)
            throw InputError(place, std::to_string(count), "1 to " + std::to_string(kMostOfAFacet));
    };
    check("raters of the decision", raters);
    check("cases of the decision", cases);
    if (study.design == Design::persons_raters && cases != 1)
        throw InputError("cases of the decision", std::to_string(cases), "1 where the study had no cases");
    const auto nr = static_cast<double>(raters), nc = static_cast<double>(cases);
    DecisionStudy out{raters, cases, 0.0, 0.0, {}, {}, 0.0, 0.0};
    out.relative_error_variance = study.variance(Source::person_rater) / nr + study.variance(Source::person_case) / nc +
                                  study.variance(Source::residual) / (nr * nc);
    out.absolute_error_variance = out.relative_error_variance + study.variance(Source::rater) / nr +
                                  study.variance(Source::case_) / nc + study.variance(Source::rater_case) / (nr * nc);
    const double universe = study.variance(Source::person);
    if (universe + out.relative_error_variance > 0.0) out.g = universe / (universe + out.relative_error_variance);
    if (universe + out.absolute_error_variance > 0.0) out.phi = universe / (universe + out.absolute_error_variance);
    out.sem_relative = std::sqrt(out.relative_error_variance);
    out.sem_absolute = std::sqrt(out.absolute_error_variance);
    return out;
}

CutStudy cut_study(const GStudy& study, const DecisionStudy& decision, double cut, double confidence) {
    if (!usable(cut)) throw InputError("cut", cut, kUsable);
    require_share("confidence", confidence);
    CutStudy out;
    out.cut = cut;
    out.sem = decision.sem_absolute;
    const double distance = square(study.mean - cut) - variance_of_mean(study, decision);
    if (distance < 0.0)
        out.warnings.push_back(
            "The mean lies so near the cut that their distance is within its error; it counts as 0.");
    const double signal = study.variance(Source::person) + std::max(0.0, distance);
    if (signal + decision.absolute_error_variance > 0.0)
        out.phi_lambda = signal / (signal + decision.absolute_error_variance);
    const double half = normal_quantile(0.5 + confidence / 2.0) * out.sem;
    out.doubtful = {cut - half, cut + half};
    near_cut(study, decision, out);
    verdicts(study, decision, out);
    return out;
}

double both_above(double h, double k, double rho) {
    require_finite("limits", std::vector<double>{h, k});
    if (!(rho > -1.0 && rho < 1.0)) throw InputError("correlation", rho, "between -1 and 1, neither of them");
    // d P / d rho is the density at (h, k) (Plackett 1954, Biometrika 41:351-60); rho = sin(angle) takes out its root
    const double start = (1.0 - normal_below(h)) * (1.0 - normal_below(k));
    const auto density = [h, k](double angle) {
        const double cosine = std::cos(angle);
        return std::exp(-(h * h + k * k - 2.0 * h * k * std::sin(angle)) / (2.0 * cosine * cosine));
    };
    const double integral =
        boost::math::quadrature::gauss_kronrod<double, 31>::integrate(density, 0.0, std::asin(rho), 15, 1e-12);
    return start + integral / (2.0 * std::acos(-1.0));
}

}  // namespace statistics
