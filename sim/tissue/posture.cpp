#include "sim/tissue/posture.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <new>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/held_threads.hpp"

namespace sim::fe {

namespace {

constexpr double kLeastThreadM = 1.0 * kMm;
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

ChartPlace along(const ThreadPath& path, double f) {
    const auto mix = [f](double a, double b) { return a + f * (b - a); };
    return {mix(path.far_end.s_m, path.near_end.s_m), mix(path.far_end.t_m, path.near_end.t_m),
            mix(path.far_end.level, path.near_end.level)};
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

void refuse_degenerate(const HexMesh& mesh) {
    const MeshQuality q = quality_of(mesh);
    if (q.least_jacobian >= kJacobianRefused) return;
    const auto mm = [](double m) { return std::to_string(std::lround(m / kMm)); };
    throw FactorError(FactorTrouble::degenerate_cells,
                      "tissue: mesh: a cell of " + std::string(name_of(static_cast<CellLayer>(q.worst_layer))) +
                          " at " + mm(q.worst_m.x) + " " + mm(q.worst_m.y) + " " + mm(q.worst_m.z) +
                          " mm has a scaled Jacobian of " + std::to_string(q.least_jacobian) + ", accepted from " +
                          std::to_string(kJacobianRefused));
}

void refuse_too_large(const ChartSettings& settings) {
    constexpr int kPerColumn = 3 * kCellsDeep;
    const ChartSize size = chart_size(settings);
    // a column's own block is kept whatever the order: what that alone makes too large is not worth counting further
    double bytes = sizeof(double) * size.wide * size.high * kPerColumn * kPerColumn;
    if (bytes <= settings.most_bytes)
        bytes =
            sizeof(double) * dissection_entries(static_cast<int>(size.wide), static_cast<int>(size.high), kPerColumn);
    if (bytes <= settings.most_bytes) return;
    char text[160];
    std::snprintf(text, sizeof text,
                  "tissue: mesh: cells of %.3g mm make %.3g unknowns, whose factor takes at least %.0f MB; accepted up "
                  "to %.0f MB",
                  settings.edge_m / kMm, size.wide * size.high * kPerColumn, bytes / 1e6, settings.most_bytes / 1e6);
    throw FactorError(FactorTrouble::too_large, text);
}

void validate(const HexMesh& mesh, const TissueLoad& load) {
    constexpr double kMostGravity = 50.0;  // m/s2, five times the earth's; assumed
    constexpr std::size_t kMostThreads = 40;
    for (int k = 0; k < 3; ++k)
        require_within(std::string("gravity_change_m_per_s2.") + "xyz"[k], load.gravity_change_m_per_s2[k],
                       -kMostGravity, kMostGravity);
    if (!(load.threads.size() <= kMostThreads))
        throw InputError("threads", static_cast<double>(load.threads.size()), "up to 40 threads");
    for (std::size_t k = 0; k < load.threads.size(); ++k) {
        const ThreadPath& path = load.threads[k];
        const std::string thread = "threads[" + std::to_string(k) + "].";
        require_within(thread + "pull_n", path.pull_n, 0.0, 20.0);
        require_within(thread + "barbs", path.barbs, 2.0, 200.0);
        for (const auto& [end, place] : {std::pair("far_end", path.far_end), std::pair("near_end", path.near_end)}) {
            require_within(thread + end + ".s_m", place.s_m, mesh.chart.s_m.front(), mesh.chart.s_m.back());
            require_within(thread + end + ".t_m", place.t_m, mesh.chart.t_m.front(), mesh.chart.t_m.back());
            require_within(thread + end + ".level", place.level, 0.0, kCellsDeep);
        }
        if (!(glm::length(position_m(mesh, path.near_end) - position_m(mesh, path.far_end)) >= kLeastThreadM))
            throw InputError(thread + "near_end", "less than 1 mm from the far end", "a thread of 1 mm or more");
    }
}

NotSettled::NotSettled(const TetherState& state, const std::string& of)
    : std::runtime_error([&] {
          char text[160];
          std::snprintf(text, sizeof text,
                        ": strings, barbs and threads not settled after %d iterations: forces are off by %.1e of the "
                        "largest, accepted up to %.0e",
                        state.iterations, state.residual, TetherSettings{}.tolerance);
          return "tissue: " + of + text;
      }()),
      iterations_(state.iterations),
      residual_(state.residual) {}

void require_settled(const TetherState& state, const std::string& of) {
    if (!state.converged) throw NotSettled(state, of);
}

TetheredBody::TetheredBody(const Head& head, const ChartSettings& settings, const TissueParameters& parameters,
                           const Progress& progress, std::optional<StringFields> kept) {
    std::string doing = "start";
    const Progress note = [&](double fraction, std::string_view what) {
        doing = what;
        if (progress) progress(fraction, what);
    };
    try {
        build(head, settings, parameters, note, std::move(kept));
    } catch (const std::bad_alloc&) {
        throw FactorError(FactorTrouble::out_of_memory, "tissue: " + doing + ": memory could not be had");
    }
}

void TetheredBody::build(const Head& head, const ChartSettings& settings, const TissueParameters& parameters,
                         const Progress& progress, std::optional<StringFields> kept) {
    // shares of a build without kept fields; measured at 4 mm
    constexpr double kMeshDone = 0.03, kFactorDone = 0.15;
    progress(0.0, "meshing the tissue");
    if (settings.edge_m > 0.0 && settings.margin_m > 0.0) refuse_too_large(settings);
    validate(settings);
    validate(parameters);
    mesh_ = build_mesh(head.tissue(), settings);
    refuse_degenerate(mesh_);
    neck_ = turning_neck(head.tissue());
    body_ = make_body(mesh_, head.tissue(), parameters);
    sites_ = place_strings(head, mesh_, parameters);
    columns_ = fe::string_columns(mesh_, sites_);
    gravity_load_ = unit_gravity_loads(mesh_, body_);
    progress(kMeshDone, "factoring the tissue");
    response_.emplace(mesh_, body_);
    progress(kFactorDone, "hanging the tissue");
    if (kept) {
        fields_ = std::move(*kept);
        check_fields();
    } else {
        work_out_fields([&](double fraction, std::string_view what) {
            progress(kFactorDone + (1.0 - kFactorDone) * fraction, what);
        });
    }
    gravity_moved_ = columns_.transpose() * fields_.gravity_field_m;
    for (const StringSite& site : sites_) posture_.strings.push_back(site.string);
    progress(1.0, "tissue ready");
}

void TetheredBody::work_out_fields(const Progress& progress) {
    const Eigen::Index coordinates = columns_.cols(), skin = 3 * mesh_.columns();
    const SparseColumns transposed = columns_.transpose();
    Eigen::MatrixXd compliance(coordinates, coordinates);
    fields_.skin_m_per_n.resize(skin, coordinates);
    response_->each_batch(columns_, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
        compliance.middleCols(first, moved.cols()).noalias() = transposed * moved;
        for (int c = 0; c < mesh_.columns(); ++c)
            fields_.skin_m_per_n.block(3 * c, first, 3, moved.cols()) =
                moved.middleRows(3 * mesh_.free_node(c, kCellsDeep), 3).cast<float>();
        progress(static_cast<double>(first) / static_cast<double>(coordinates), "hanging the tissue");
    });
    fields_.compliance_m_per_n = 0.5 * (compliance + compliance.transpose());
    fields_.gravity_field_m = response_->solve(gravity_load_);
}

void TetheredBody::check_fields() const {
    const auto wants = [](const char* field, const auto& matrix, Eigen::Index rows, Eigen::Index columns) {
        if (matrix.rows() != rows || matrix.cols() != columns)
            throw InputError(std::string("kept tissue: ") + field,
                             std::to_string(matrix.rows()) + " x " + std::to_string(matrix.cols()),
                             std::to_string(rows) + " x " + std::to_string(columns));
        if (!matrix.allFinite()) throw InputError(std::string("kept tissue: ") + field, "not finite", "numbers");
    };
    wants("compliance", fields_.compliance_m_per_n, columns_.cols(), columns_.cols());
    wants("gravity field", fields_.gravity_field_m, mesh_.cells.unknowns(), 3);
    wants("skin", fields_.skin_m_per_n, 3 * mesh_.columns(), columns_.cols());
}

Eigen::VectorXd TetheredBody::gravity_skin_m(const Vec3& change) const {
    Eigen::VectorXd out(3 * mesh_.columns());
    for (int c = 0; c < mesh_.columns(); ++c)
        out.segment<3>(3 * c) = fields_.gravity_field_m.middleRows<3>(3 * mesh_.free_node(c, kCellsDeep)) *
                                Eigen::Vector3d(change.x, change.y, change.z);
    return out;
}

Eigen::VectorXd TetheredBody::gravity_moved_m(const Vec3& change) const {
    return gravity_moved_ * Eigen::Vector3d(change.x, change.y, change.z);
}

void TetheredBody::add_string_skin(const Eigen::VectorXd& force_n, Eigen::VectorXd& skin_m) const {
    // most strings are slack most of the time
    for (Eigen::Index k = 0; k < columns_.cols(); ++k)
        if (force_n[k] != 0.0) skin_m += force_n[k] * fields_.skin_m_per_n.col(k).cast<double>();
}

SkinSettled TetheredBody::settle_skin(const Vec3& gravity_change, const TetherState& start) {
    validate(mesh_, {gravity_change, {}});
    if (posture_.compliance_m_per_n.size() == 0) posture_.compliance_m_per_n = fields_.compliance_m_per_n;
    posture_.load_m = gravity_moved_m(gravity_change);
    SkinSettled out;
    out.tethers = solve_tethers(posture_, start.force_n);
    out.skin_m = gravity_skin_m(gravity_change);
    add_string_skin(out.tethers.force_n, out.skin_m);
    return out;
}

Eigen::VectorXd TetheredBody::load_n(const Vec3& change, const TetherState& tethers) const {
    return gravity_load_ * Eigen::Vector3d(change.x, change.y, change.z) +
           columns_ * tethers.force_n.head(columns_.cols());
}

Eigen::VectorXd TetheredBody::whole_m(const Vec3& change, const TetherState& tethers) {
    return response_->solve(load_n(change, tethers));
}

const FiniteStrain& TetheredBody::finite_strain() {
    if (!finite_strain_) finite_strain_ = std::make_shared<const FiniteStrain>(finite_strain_of(mesh_, body_));
    return *finite_strain_;
}

Settled TetheredBody::settle(const TissueLoad& load) {
    validate(mesh_, load);
    const Vec3& g = load.gravity_change_m_per_s2;
    HeldThreads threads(*this, load.threads);
    std::vector<double> pull_n;
    for (const ThreadPath& path : load.threads) pull_n.push_back(path.pull_n);
    HeldThreads::Pulled pulled = threads.pull(g, pull_n);
    Settled out;
    out.tethers = std::move(pulled.settled.tethers);
    out.thread_pulled_in_m = std::move(pulled.pulled_in_m);
    out.force_n = gravity_load_ * Eigen::Vector3d(g.x, g.y, g.z) +
                  threads.columns() * out.tethers.force_n.head(threads.columns().cols());
    out.displacement_m = response_->solve(out.force_n);
    return out;
}

Vec3 TetheredBody::skin_moved_m(const Settled& settled, const Vec3& near_m) const {
    const auto place = locate(mesh_, near_m);
    SIM_ASSERT(place.has_value());
    return read(patch_at(mesh_, {place->s_m, place->t_m, static_cast<double>(kCellsDeep)}), settled.displacement_m);
}

}  // namespace sim::fe
