#include "sim/tissue/ccx_deck.hpp"

#include <cmath>
#include <cstdio>
#include <map>

#include "sim/tissue/read_out.hpp"

namespace sim::fe {

namespace {

std::string number(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.11e", value);  // 18 characters at most
    return text;
}

/// Near a half what counts is how far from it: all digits, 19 characters at most.
std::string poisson_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.16f", value);
    return text;
}

/// A body whose moduli come in few kinds: those of the glide space in steps of 5 %.
LayeredBody few_materials(const LayeredBody& body) {
    static constexpr double kStep = 1.05;
    LayeredBody out = body;
    for (std::size_t c = 0; c < out.material.size(); ++c)
        if (static_cast<CellLayer>(c % kCellsDeep) == CellLayer::glide) {
            Elastic& glide = out.material[c];
            const auto stepped = [](double pa) { return std::pow(kStep, std::round(std::log(pa) / std::log(kStep))); };
            glide = Elastic::of_shear_and_bulk(stepped(glide.shear_pa()), stepped(glide.bulk_pa()));
        }
    return out;
}

/// The mesh with the columns of its rim held too.
HexMesh with_held_rim(const HexMesh& mesh) {
    HexMesh out = mesh;
    const Chart& chart = mesh.chart;
    std::vector<char> held(mesh.cells.node_m.size(), 0);
    for (int j = 0; j < chart.high; ++j)
        for (int i = 0; i < chart.wide; ++i) {
            const bool rim = i == 0 || j == 0 || i + 1 == chart.wide || j + 1 == chart.high;
            const int column = static_cast<int>(chart.at(i, j));
            for (int level = 0; level < kLevels; ++level)
                held[static_cast<std::size_t>(mesh.node(column, level))] = rim || level == 0;
        }
    out.cells.hold(held);
    return out;
}

/// Elimination order when whole columns are missing: the full order without them.
std::vector<int> order_without_rim(const HexMesh& full, const HexMesh& held) {
    std::vector<int> order;
    for (const int unknown : elimination_order(full)) {
        const int column = unknown / (3 * kCellsDeep);
        const int level = unknown % (3 * kCellsDeep) / 3 + 1;
        const int node = held.cells.free_index[static_cast<std::size_t>(full.node(column, level))];
        if (node >= 0) order.push_back(3 * node + unknown % 3);
    }
    return order;
}

/// Forces on the nodes that move in the model, three a node.
Eigen::VectorXd nodal_forces(const Head& head, TetheredBody& body, DeckLoad load) {
    if (load == DeckLoad::upright) return body.gravity_loads() * Eigen::Vector3d(0.0, -kGravityMPerS2, 0.0);
    TissueLoad asked;
    if (load == DeckLoad::supine) asked.gravity_change_m_per_s2 = lying_down();
    if (load == DeckLoad::thread) asked.threads = lifting_paths(head, body.mesh(), Side::left, 1, 1.0);
    const Settled settled = body.settle(asked);
    require_settled(settled.tethers, load == DeckLoad::supine ? "lying down" : "one thread");
    return settled.force_n;
}

void write_nodes_and_cells(const HexMesh& mesh, const LayeredBody& body, std::string& out) {
    out += "*NODE,NSET=NALL\n";
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        const Vec3 p = mesh.cells.node_m[n] / kMm;
        out += std::to_string(n + 1) + ',' + number(p.x) + ',' + number(p.y) + ',' + number(p.z) + '\n';
    }
    std::map<std::pair<double, double>, std::vector<std::size_t>> kinds;
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c)
        kinds[{body.material[c].youngs_pa, body.material[c].poisson}].push_back(c);
    int kind = 0;
    for (const auto& [material, cells] : kinds) {
        const std::string name = std::to_string(++kind);
        out += "*ELEMENT,TYPE=C3D8,ELSET=E" + name + '\n';
        for (const std::size_t c : cells) {
            out += std::to_string(c + 1);
            for (const int node : mesh.cells.cell[c]) out += ',' + std::to_string(node + 1);
            out += '\n';
        }
        out += "*MATERIAL,NAME=M" + name + "\n*ELASTIC\n" + number(material.first * 1e-6) + ',' +
               poisson_text(material.second) + "\n*SOLID SECTION,ELSET=E" + name + ",MATERIAL=M" + name + '\n';
    }
}

void write_step(const HexMesh& mesh, const Eigen::VectorXd& force_n, std::string& out) {
    out += "*BOUNDARY\n";
    for (std::size_t n = 0; n < mesh.cells.free_index.size(); ++n)
        if (mesh.cells.free_index[n] < 0) out += std::to_string(n + 1) + ",1,3\n";
    out += "*STEP\n*STATIC\n*CLOAD\n";
    for (std::size_t n = 0; n < mesh.cells.free_index.size(); ++n)
        for (int r = 0; r < 3; ++r) {
            const int node = mesh.cells.free_index[n];
            if (node < 0 || force_n[3 * node + r] == 0.0) continue;
            out += std::to_string(n + 1) + ',' + std::to_string(r + 1) + ',' + number(force_n[3 * node + r]) + '\n';
        }
    out += "*NODE PRINT,NSET=NALL\nU\n*END STEP\n";
}

}  // namespace

DeckProblem deck_problem(const Head& head, TetheredBody& body, DeckLoad load) {
    DeckProblem out;
    out.mesh = with_held_rim(body.mesh());
    out.body = few_materials(body.body());
    out.body.edge_n_per_m.assign(static_cast<std::size_t>(out.mesh.cells.free_nodes), 0.0);  // held instead
    out.order = order_without_rim(body.mesh(), out.mesh);
    const Eigen::VectorXd all = nodal_forces(head, body, load);
    out.force_n.resize(out.mesh.cells.unknowns());
    for (std::size_t n = 0; n < out.mesh.cells.free_index.size(); ++n)
        if (const int node = out.mesh.cells.free_index[n]; node >= 0)
            out.force_n.segment<3>(3 * node) = all.segment<3>(3 * body.mesh().cells.free_index[n]);
    return out;
}

Factor DeckProblem::factor() const { return {stiffness_of(mesh, body, ElementForm::full, false), order}; }

Deck write_deck(const DeckProblem& problem, const Eigen::VectorXd& displacement_m) {
    const HexMesh& mesh = problem.mesh;
    Deck out;
    out.input =
        "** face, jaw and neck: training aid, not a medical device, not a plan for a real patient\n"
        "** mm, N, MPa\n";
    write_nodes_and_cells(mesh, problem.body, out.input);
    write_step(mesh, problem.force_n, out.input);
    out.table = "node,x_mm,y_mm,z_mm,ux_mm,uy_mm,uz_mm\n";
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        out.table += std::to_string(n + 1);
        for (int r = 0; r < 3; ++r) out.table += ',' + number(mesh.cells.node_m[n][r] / kMm);
        const int node = mesh.cells.free_index[n];
        for (int r = 0; r < 3; ++r) out.table += ',' + number(node < 0 ? 0.0 : displacement_m[3 * node + r] / kMm);
        out.table += '\n';
    }
    return out;
}

Deck make_deck(const Head& head, TetheredBody& body, DeckLoad load) {
    const DeckProblem problem = deck_problem(head, body, load);
    return write_deck(problem, problem.factor().solve(problem.force_n));
}

}  // namespace sim::fe
