#include "sim/tissue/head_turn.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

Vec3 about_vertical(const Vec3& p, double rad) {
    const double c = std::cos(rad), s = std::sin(rad);
    return {c * p.x + s * p.z, p.y, c * p.z - s * p.x};
}

/// Forces on a cell's nodes that hold it in that shape, in the frame it has been turned back to.
Eigen::Matrix<double, 24, 1> held_by_n(const CellNodes& nodes_m, const Elastic& material,
                                       const std::array<Vec3, 8>& moved_m) {
    Eigen::Matrix<double, 24, 1> moved;
    for (int a = 0; a < 8; ++a)
        for (int r = 0; r < 3; ++r) moved[3 * a + r] = moved_m[static_cast<std::size_t>(a)][r];
    return stiffness(nodes_m, material, ElementForm::mean_dilatation) * moved;
}

}  // namespace

double TurningNeck::share(double y_m) const {
    const double t = std::clamp((top_m - y_m) / (top_m - bottom_m), 0.0, 1.0);
    return t * t * (3.0 - 2.0 * t);
}

TurningNeck turning_neck(const HeadTissue& tissue) {
    constexpr double kNeckM = 120.0 * kMm;  // chin to trunk; assumed
    const BonyPoints& bone = tissue.bony_points();
    const Vec3 between = 0.5 * (bone.side(Side::left).ear_canal_m + bone.side(Side::right).ear_canal_m);
    return {bone.menton_m.y, bone.menton_m.y - kNeckM, between};
}

HeadTurn::HeadTurn(TetheredBody& body, const TurningNeck& neck) : body_(body), neck_(neck) {
    SIM_ASSERT(neck.top_m > neck.bottom_m);
    Eigen::MatrixXd force_n(body.mesh().cells.unknowns(), kAngles);
    for (int k = 0; k < kAngles; ++k) {
        const int steps = k < kAngles / 2 ? k - kAngles / 2 : k - kAngles / 2 + 1;  // -3, -2, -1, 1, 2, 3
        angle_rad_[static_cast<std::size_t>(k)] = kMostTurnRad * steps / (kAngles / 2);
        force_n.col(k) = twist_force_n(angle_rad_[static_cast<std::size_t>(k)]);
    }
    twist_m_ = body.response().solve(force_n);
}

double HeadTurn::share_of(int node) const {
    return neck_.share(body_.mesh().cells.node_m[static_cast<std::size_t>(node)].y);
}

Vec3 HeadTurn::gone_round_m(const Vec3& p_m, double turn_rad) const {
    return neck_.axis_m + about_vertical(p_m - neck_.axis_m, -turn_rad * neck_.share(p_m.y));
}

/// Each cell is turned back by the mean of its nodes' shares; what is left of its nodes' way strains it.
Eigen::VectorXd HeadTurn::twist_force_n(double turn_rad) const {
    const HexMesh& mesh = body_.mesh();
    Eigen::VectorXd force_n = Eigen::VectorXd::Zero(mesh.cells.unknowns());
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const CellNodes nodes = mesh.cells.nodes_of(c);
        double mean = 0.0, least = 1.0, most = 0.0;
        for (const int node : mesh.cells.cell[c]) {
            const double share = share_of(node);
            mean += share / 8.0;
            least = std::min(least, share);
            most = std::max(most, share);
        }
        if (most == least) continue;  // goes round whole
        std::array<Vec3, 8> moved;
        for (std::size_t a = 0; a < 8; ++a)
            moved[a] = neck_.axis_m + about_vertical(gone_round_m(nodes[a], turn_rad) - neck_.axis_m, turn_rad * mean) -
                       nodes[a];
        const auto held_n = held_by_n(nodes, body_.body().material[c], moved);
        for (std::size_t a = 0; a < 8; ++a) {
            const int node = mesh.cells.free_index[static_cast<std::size_t>(mesh.cells.cell[c][a])];
            if (node >= 0) force_n.segment<3>(3 * node) -= held_n.segment<3>(3 * static_cast<Eigen::Index>(a));
        }
    }
    return force_n;
}

/// What going round does to the strings' coordinates, in the frame of their tops.
Eigen::VectorXd HeadTurn::string_twist_m(double turn_rad) const {
    const HexMesh& mesh = body_.mesh();
    Eigen::VectorXd moved_m = Eigen::VectorXd::Zero(body_.string_columns().cols());
    for (const StringSite& site : body_.strings()) {
        const Vec3 top = position_m(mesh, site.top), bottom = position_m(mesh, site.bottom);
        const Vec3 turned =
            about_vertical(gone_round_m(top, turn_rad) - gone_round_m(bottom, turn_rad), turn_rad * neck_.share(top.y));
        for (int r = 0; r < 3; ++r) moved_m[site.string.first + r] = (turned - (top - bottom))[r];
    }
    return moved_m;
}

Eigen::VectorXd HeadTurn::twist_m(double turn_rad) const {
    // Lagrange's polynomial through the angles solved ahead and through nothing at 0
    Eigen::VectorXd out = Eigen::VectorXd::Zero(twist_m_.rows());
    for (std::size_t k = 0; k < kAngles; ++k) {
        double weight = turn_rad / angle_rad_[k];
        for (std::size_t j = 0; j < kAngles; ++j)
            if (j != k) weight *= (turn_rad - angle_rad_[j]) / (angle_rad_[k] - angle_rad_[j]);
        out += weight * twist_m_.col(static_cast<Eigen::Index>(k));
    }
    return out;
}

Eigen::VectorXd HeadTurn::twist_solved_m(double turn_rad) { return body_.response().solve(twist_force_n(turn_rad)); }

HeadTurn::Turned HeadTurn::settle(double turn_rad, const Vec3& gravity_change, const TetherState& start) {
    require_within("turn_rad", turn_rad, -kMostTurnRad, kMostTurnRad);
    const HexMesh& mesh = body_.mesh();
    validate(mesh, {gravity_change, {}});
    Eigen::VectorXd weight_n = Eigen::VectorXd::Zero(mesh.cells.unknowns());
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        const int node = mesh.cells.free_index[n];
        if (node < 0) continue;
        const Vec3 pull = about_vertical(gravity_change, turn_rad * share_of(static_cast<int>(n)));
        for (int r = 0; r < 3; ++r) weight_n[3 * node + r] = body_.gravity_loads()(3 * node + r, r) * pull[r];
    }
    const Eigen::VectorXd slack_m = twist_m(turn_rad) + body_.response().solve(weight_n);

    TetherProblem problem;
    problem.compliance_m_per_n = body_.string_compliance();
    for (const StringSite& site : body_.strings()) problem.strings.push_back(site.string);
    problem.load_m = body_.string_columns().transpose() * slack_m + string_twist_m(turn_rad);
    Turned out;
    out.tethers = solve_tethers(problem, start.force_n);
    require_settled(out.tethers, "head turned");
    const Eigen::VectorXd moved_m = slack_m + body_.response().solve(body_.string_columns() * out.tethers.force_n);

    out.displacement_m.resize(3 * static_cast<Eigen::Index>(mesh.cells.node_m.size()));
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        const Vec3& p = mesh.cells.node_m[n];
        Vec3 u = gone_round_m(p, turn_rad) - p;
        if (const int node = mesh.cells.free_index[n]; node >= 0)
            u += about_vertical({moved_m[3 * node], moved_m[3 * node + 1], moved_m[3 * node + 2]},
                                -turn_rad * share_of(static_cast<int>(n)));
        for (int r = 0; r < 3; ++r) out.displacement_m[3 * static_cast<Eigen::Index>(n) + r] = u[r];
    }
    return out;
}

}  // namespace sim::fe
