#include "sim/tissue/layered.hpp"

#include <algorithm>
#include <cmath>

#include "sim/anatomy/head.hpp"
#include "sim/core/errors.hpp"
#include "sim/tissue/factor.hpp"

namespace sim::fe {

namespace {

double ramp(double x, double from, double to) {
    const double t = std::clamp((x - from) / (to - from), 0.0, 1.0);
    return t * t * (3.0 - 2.0 * t);
}

/// Where SMAS glides over what lies beneath: one map for every laxity. Bound: over cheekbone, arch and temple; about
/// the ear and behind it; on the parotid, with whose capsule it is one; on the nose. The places are read from surgical
/// description (from memory), the widths of the bands are assumed.
double mobility_at(const HeadTissue& tissue, const Vec3& p) {
    constexpr double kBandM = 25.0 * kMm, kBelowArchM = 15.0 * kMm, kBeforeCanalM = 15.0 * kMm;
    const BonySide& bone = tissue.bony_points().side(p.x < 0.0 ? Side::right : Side::left);
    double arch_y = 0.0;
    for (const Vec3& q : bone.arch_lower_border_m) arch_y += q.y / static_cast<double>(bone.arch_lower_border_m.size());
    const double up_from = arch_y - kBelowArchM;
    const double up = ramp(p.y, up_from, up_from + kBandM);
    const double back_from = -bone.ear_canal_m.z - kBeforeCanalM;
    const double back = ramp(-p.z, back_from, back_from + kBandM);
    // on the neck skin and platysma glide over the sternomastoid too: the bound zone is the mastoid's
    const double on_mastoid = ramp(p.y, bone.gonion_m.y - 15.0 * kMm, bone.gonion_m.y + 10.0 * kMm);
    const double nose = ramp(p.z, 88.0 * kMm, 96.0 * kMm) * ramp(p.y, -36.0 * kMm, -26.0 * kMm);
    return (1.0 - up) * (1.0 - back * on_mastoid) * (1.0 - nose) * (1.0 - tissue.windows_at(p).parotid);
}

/// Between bound and gliding: blended in the logarithm, since it spans decades.
double blend(double mobility, double gliding, double held) {
    return std::exp(mobility * std::log(gliding) + (1.0 - mobility) * std::log(held));
}

/// Shear stiffness per thickness.
double glide_of(double mobility, const TissueParameters& p) {
    return blend(mobility, p.glide_pa_per_m, p.held_pa_per_m);
}

/// Springs at the rim as an endless sheet on a shear foundation would push back: sqrt(D k) per length, shared by the
/// node levels that bound SMAS and skin.
void add_edge(const HexMesh& mesh, const TissueParameters& p, LayeredBody& body) {
    constexpr std::array<int, 4> kLevelsHeld{3, 4, 6, 7};
    const Chart& chart = mesh.chart;
    const auto skin = [&](int i, int j) {
        return mesh.cells.node_m[static_cast<std::size_t>(mesh.node(static_cast<int>(chart.at(i, j)), kCellsDeep))];
    };
    const auto put = [&](int i, int j, double length_m) {
        const int column = static_cast<int>(chart.at(i, j));
        const double plane = 1.0 - p.poisson * p.poisson;
        const double sheet = (p.skin_pa * mesh.thickness_m(column, CellLayer::skin) +
                              p.smas_pa * mesh.thickness_m(column, CellLayer::smas)) /
                             plane;
        const double k = glide_of(body.mobility[static_cast<std::size_t>(column)], p);
        const double spring = p.edge_share * std::sqrt(sheet * k) * length_m;
        for (const int level : kLevelsHeld)
            body.edge_n_per_m[static_cast<std::size_t>(mesh.free_node(column, level))] += 0.25 * spring;
    };
    const auto half = [](const Vec3& a, const Vec3& b) { return 0.5 * glm::length(a - b); };
    for (int i = 0; i < chart.wide; ++i)
        for (const int j : {0, chart.high - 1})
            put(i, j, half(skin(std::min(i + 1, chart.wide - 1), j), skin(std::max(i - 1, 0), j)));
    for (int j = 0; j < chart.high; ++j)
        for (const int i : {0, chart.wide - 1})
            put(i, j, half(skin(i, std::min(j + 1, chart.high - 1)), skin(i, std::max(j - 1, 0))));
}

struct LayerStuff {
    double youngs_pa, density_kg_per_m3;
};

LayerStuff stuff_of(CellLayer layer, const TissueParameters& p) {
    switch (layer) {
        case CellLayer::muscle:
            return {p.muscle_pa, p.muscle_kg_per_m3};
        case CellLayer::deep_fat:
        case CellLayer::glide:
            return {p.deep_fat_pa, p.fat_kg_per_m3};
        case CellLayer::smas:
            return {p.smas_pa, p.muscle_kg_per_m3};
        case CellLayer::fat_lower:
        case CellLayer::fat_upper:
            return {p.fat_pa, p.fat_kg_per_m3};
        case CellLayer::skin:
            break;
    }
    return {p.skin_pa, p.skin_kg_per_m3};
}

}  // namespace

LayeredBody make_body(const HexMesh& mesh, const HeadTissue& tissue, const TissueParameters& parameters) {
    validate(parameters);
    LayeredBody body;
    for (int c = 0; c < mesh.columns(); ++c)
        body.mobility.push_back(mobility_at(tissue, mesh.cells.node_m[static_cast<std::size_t>(mesh.node(c, 4))]));
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const auto layer = static_cast<CellLayer>(c % kCellsDeep);
        const LayerStuff stuff = stuff_of(layer, parameters);
        Elastic material{stuff.youngs_pa, parameters.poisson};
        double mobility = 0.0;
        double thickness_m = 0.0;
        for (std::size_t a = 0; a < 4; ++a) {
            const int column = mesh.cells.cell[c][a] / kLevels;
            mobility += 0.25 * body.mobility[static_cast<std::size_t>(column)];
            thickness_m += 0.25 * mesh.thickness_m(column, layer);
        }
        if (layer == CellLayer::deep_fat)
            material.youngs_pa = blend(mobility, parameters.deep_fat_pa, parameters.held_deep_pa);
        if (layer == CellLayer::glide) {
            material =
                Elastic::of_shear_and_bulk(glide_of(mobility, parameters) * thickness_m, parameters.glide_bulk_pa);
        }
        body.material.push_back(material);
        body.density_kg_per_m3.push_back(stuff.density_kg_per_m3);
        body.tension_pa.push_back(layer == CellLayer::skin ? parameters.skin_tension_pa : 0.0);
    }
    body.edge_n_per_m.assign(static_cast<std::size_t>(mesh.cells.free_nodes), 0.0);
    add_edge(mesh, parameters, body);
    return body;
}

SparseUpper stiffness_of(const HexMesh& mesh, const LayeredBody& body, ElementForm form, bool tension) {
    Assembly assembly(mesh.cells);
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const CellNodes nodes = mesh.cells.nodes_of(c);
        CellMatrix k = stiffness(nodes, body.material[c], form);
        if (tension && body.tension_pa[c] > 0.0) k += tension_stiffness(nodes, body.tension_pa[c]);
        assembly.add(c, k);
    }
    for (int n = 0; n < mesh.cells.free_nodes; ++n)
        if (body.edge_n_per_m[static_cast<std::size_t>(n)] > 0.0)
            assembly.add_spring(n, body.edge_n_per_m[static_cast<std::size_t>(n)]);
    return assembly.take();
}

Eigen::MatrixXd unit_gravity_loads(const HexMesh& mesh, const LayeredBody& body) {
    Eigen::MatrixXd load = Eigen::MatrixXd::Zero(mesh.cells.unknowns(), 3);
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const auto volumes = nodal_volumes_m3(mesh.cells.nodes_of(c));
        for (std::size_t a = 0; a < 8; ++a) {
            const int node = mesh.cells.free_index[static_cast<std::size_t>(mesh.cells.cell[c][a])];
            if (node < 0) continue;
            for (int r = 0; r < 3; ++r) load(3 * node + r, r) += body.density_kg_per_m3[c] * volumes[a];
        }
    }
    return load;
}

std::vector<int> elimination_order(const HexMesh& mesh) {
    return dissection_order(mesh.chart.wide, mesh.chart.high, 3 * kCellsDeep);
}

}  // namespace sim::fe
