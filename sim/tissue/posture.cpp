#include "sim/tissue/posture.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"

namespace sim::fe {

namespace {

constexpr double kSmasBottom = 3.0, kSmasTop = 4.0, kMuscleTop = 1.0;  ///< levels

/// The string of a site: SMAS hangs at the bottom of a circle of that radius about an anchor above it, just taut.
/// Where the skin faces down there is no way to hang along it, and the string is straight.
void hang(const HexMesh& mesh, double radius_m, double stiffness_n_per_m, double tension_n, StringSite& site) {
    const Vec3 out = position_m(mesh, site.top) - position_m(mesh, site.bottom);
    const Vec3 normal = glm::normalize(out);
    const Vec3 up = Vec3(0.0, 1.0, 0.0) - normal.y * normal;
    site.string.rest_m = out - radius_m * up;
    site.string.stiffness_n_per_m = stiffness_n_per_m;
    site.string.length_m = std::max(1e-5, glm::length(site.string.rest_m) - tension_n / stiffness_n_per_m);
}

/// Draws the radii of the strings' circles.
class Radii {
 public:
    explicit Radii(const TissueParameters& p) : p_(p), random_(Random(p.seed).fork(0x57a1)) {}

    double draw(double height_m, bool ligament) {
        constexpr double kMouthM = -40.0 * kMm;  // from about the mouth to the cheekbone
        const double share = std::clamp((height_m - kMouthM) / -kMouthM, 0.0, 1.0);
        const double upper = 1.0 + (p_.upper_slack_share - 1.0) * share * share * (3.0 - 2.0 * share);
        const double spread = std::sqrt(std::log(1.0 + p_.slack_cv * p_.slack_cv));
        const double scatter = std::exp(spread * random_.normal() - 0.5 * spread * spread);
        return p_.slack_radius_m * upper * (ligament ? p_.ligament_slack_share : 1.0) * scatter;
    }
    double jitter(double reach) { return random_.uniform(-reach, reach); }

 private:
    const TissueParameters& p_;
    Random random_;
};

void add_septa(const HexMesh& mesh, const TissueParameters& p, Radii& radii, std::vector<StringSite>& sites) {
    constexpr double kSideM = 150.0 * kMm, kAboveM = 20.0 * kMm, kBelowM = 20.0 * kMm, kJitter = 0.25;
    const double top = mesh.chart.t_m[static_cast<std::size_t>(mesh.chart.top)] - kAboveM;
    const double bottom = mesh.chart.t_m[static_cast<std::size_t>(mesh.chart.bottom)] + kBelowM;
    for (double s = -kSideM; s <= kSideM; s += p.string_spacing_m)
        for (double t = top; t <= bottom; t += p.string_spacing_m) {
            StringSite site;
            site.of = "septum";
            const double at_s = s + radii.jitter(kJitter * p.string_spacing_m);
            const double at_t = t + radii.jitter(kJitter * p.string_spacing_m);
            site.top = {at_s, at_t, kSmasBottom};
            site.bottom = {at_s, at_t, kMuscleTop};
            const double radius = radii.draw(position_m(mesh, site.top).y, false);
            hang(mesh, radius, p.septum_n_per_m, p.string_tension_n, site);
            sites.push_back(site);
        }
}

void add_ligament(const HexMesh& mesh, const Ligament& ligament, const TissueParameters& p, Radii& radii,
                  std::vector<StringSite>& sites) {
    constexpr double kApartM = 3.5 * kMm;  // fibres of a sheet; assumed
    for (std::size_t k = 0; k + 1 < ligament.superficial_m.size(); ++k) {
        const Vec3& a = ligament.superficial_m[k];
        const Vec3& b = ligament.superficial_m[k + 1];
        const int count = std::max(1, static_cast<int>(std::lround(glm::length(b - a) / kApartM)));
        for (int i = 0; i < count; ++i) {
            const auto place = locate(mesh, a + (b - a) * ((i + 0.5) / count));
            if (!place) continue;  // beyond the mesh: temporal adhesion of a high brow
            StringSite site;
            site.of = ligament.name;
            site.to_floor = true;
            site.top = {place->s_m, place->t_m, kSmasTop};
            site.bottom = {place->s_m, place->t_m, 0.0};
            const double radius = radii.draw(position_m(mesh, site.top).y, true);
            hang(mesh, radius, p.ligament_n_per_m, p.string_tension_n, site);
            sites.push_back(site);
        }
    }
}

using Triplets = std::vector<Eigen::Triplet<double>>;

SparseColumns gather(int unknowns, int columns, const Triplets& entries) {
    SparseColumns out(unknowns, columns);
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

SparseColumns side_by_side(const SparseColumns& a, const SparseColumns& b) {
    Triplets entries;
    for (int k = 0; k < a.cols(); ++k)
        for (SparseColumns::InnerIterator it(a, k); it; ++it) entries.emplace_back(it.row(), k, it.value());
    for (int k = 0; k < b.cols(); ++k)
        for (SparseColumns::InnerIterator it(b, k); it; ++it)
            entries.emplace_back(it.row(), static_cast<int>(a.cols()) + k, it.value());
    return gather(static_cast<int>(a.rows()), static_cast<int>(a.cols() + b.cols()), entries);
}

ChartPlace along(const ThreadPath& path, double f) {
    const auto mix = [f](double a, double b) { return a + f * (b - a); };
    return {mix(path.far_end.s_m, path.near_end.s_m), mix(path.far_end.t_m, path.near_end.t_m),
            mix(path.far_end.level, path.near_end.level)};
}

void validate(const TissueLoad& load) {
    for (std::size_t k = 0; k < load.threads.size(); ++k) {
        const std::string place = "threads[" + std::to_string(k) + "]";
        if (!(load.threads[k].pull_n >= 0.0 && load.threads[k].pull_n <= 20.0))
            throw InputError(place + ".pull_n", load.threads[k].pull_n, "0 to 20");
        if (!(load.threads[k].barbs >= 2 && load.threads[k].barbs <= 200))
            throw InputError(place + ".barbs", load.threads[k].barbs, "2 to 200");
    }
}

}  // namespace

std::vector<StringSite> place_strings(const Head& head, const HexMesh& mesh, const TissueParameters& parameters) {
    std::vector<StringSite> sites;
    Radii radii(parameters);
    add_septa(mesh, parameters, radii, sites);
    for (const Ligament& ligament : head.ligaments()) add_ligament(mesh, ligament, parameters, radii, sites);
    for (std::size_t i = 0; i < sites.size(); ++i) sites[i].string.first = static_cast<int>(3 * i);
    return sites;
}

SparseColumns string_columns(const HexMesh& mesh, const std::vector<StringSite>& sites) {
    Triplets entries;
    for (const StringSite& site : sites) {
        const auto put = [&](const ChartPlace& place, double sign) {
            for (const auto& [node, weight] : patch_at(mesh, place).weight)
                for (int r = 0; r < 3; ++r) entries.emplace_back(3 * node + r, site.string.first + r, sign * weight);
        };
        put(site.top, 1.0);
        if (!site.to_floor) put(site.bottom, -1.0);
    }
    return gather(mesh.cells.unknowns(), static_cast<int>(3 * sites.size()), entries);
}

SparseColumns barb_columns(const HexMesh& mesh, const ThreadPath& path) {
    Triplets entries;
    for (int k = 0; k < path.barbs; ++k) {
        const double f = static_cast<double>(k) / (path.barbs - 1);
        const double step = 0.5 / (path.barbs - 1);
        const Vec3 direction =
            glm::normalize(position_m(mesh, along(path, f + step)) - position_m(mesh, along(path, f - step)));
        for (const auto& [node, weight] : patch_at(mesh, along(path, f)).weight)
            for (int r = 0; r < 3; ++r) entries.emplace_back(3 * node + r, k, weight * direction[r]);
    }
    return gather(mesh.cells.unknowns(), path.barbs, entries);
}

TetheredBody::TetheredBody(const Head& head, const ChartSettings& settings, const TissueParameters& parameters)
    : mesh_(build_mesh(head.tissue(), settings)),
      body_(make_body(mesh_, head.tissue(), parameters)),
      response_(mesh_, body_),
      sites_(place_strings(head, mesh_, parameters)),
      columns_(fe::string_columns(mesh_, sites_)),
      compliance_(response_.compliance(columns_)),
      gravity_load_(unit_gravity_loads(mesh_, body_)),
      gravity_field_(response_.solve(gravity_load_)),
      gravity_moved_(columns_.transpose() * gravity_field_) {}

Settled TetheredBody::settle(const TissueLoad& load) {
    validate(load);
    const Vec3& g = load.gravity_change_m_per_s2;
    const Eigen::Vector3d gravity(g.x, g.y, g.z);
    SparseColumns all = columns_;
    TetherProblem problem;
    for (const StringSite& site : sites_) problem.strings.push_back(site.string);
    std::vector<ThreadLine> lines;
    for (const ThreadPath& path : load.threads) {
        ThreadLine line;
        for (int k = 0; k < path.barbs; ++k) line.tissue.push_back(static_cast<int>(all.cols()) + k);
        line.spacing_m =
            glm::length(position_m(mesh_, path.near_end) - position_m(mesh_, path.far_end)) / (path.barbs - 1);
        lines.push_back(line);
        all = side_by_side(all, barb_columns(mesh_, path));
    }
    const Eigen::Index strings = columns_.cols();
    const Eigen::Index barbs = all.cols() - strings;
    problem.compliance_m_per_n = compliance_;
    if (barbs > 0) {
        const SparseColumns only = all.rightCols(barbs);
        const Eigen::MatrixXd cross = response_.cross_compliance(all, only);
        problem.compliance_m_per_n.conservativeResize(all.cols(), all.cols());
        problem.compliance_m_per_n.topRightCorner(strings, barbs) = cross.topRows(strings);
        problem.compliance_m_per_n.bottomLeftCorner(barbs, strings) = cross.topRows(strings).transpose();
        problem.compliance_m_per_n.bottomRightCorner(barbs, barbs) =
            0.5 * (cross.bottomRows(barbs) + cross.bottomRows(barbs).transpose());
    }
    problem.load_m.resize(all.cols());
    problem.load_m.head(strings) = gravity_moved_ * gravity;
    if (barbs > 0) problem.load_m.tail(barbs) = all.rightCols(barbs).transpose() * (gravity_field_ * gravity);
    Eigen::VectorXd start = Eigen::VectorXd::Zero(all.cols());
    for (std::size_t k = 0; k < lines.size(); ++k) add_thread(problem, lines[k], load.threads[k].pull_n, start);

    Settled out;
    out.tethers = solve_tethers(problem, start);
    out.force_n = gravity_load_ * gravity + all * out.tethers.force_n.head(all.cols());
    out.displacement_m = response_.solve(out.force_n);
    Eigen::Index node = all.cols();
    for (const ThreadPath& path : load.threads) {
        node += path.barbs;
        out.thread_pulled_in_m.push_back(out.tethers.moved_m[node - 1]);
    }
    return out;
}

Vec3 TetheredBody::skin_moved_m(const Settled& settled, const Vec3& near_m) const {
    const auto place = locate(mesh_, near_m);
    SIM_ASSERT(place.has_value());
    return read(patch_at(mesh_, {place->s_m, place->t_m, static_cast<double>(kCellsDeep)}), settled.displacement_m);
}

}  // namespace sim::fe
