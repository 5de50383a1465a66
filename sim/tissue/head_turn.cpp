#include "sim/tissue/head_turn.hpp"

#include <algorithm>

#include "sim/core/errors.hpp"
#include "sim/tissue/gone_round.hpp"

namespace sim::fe {

namespace {

/// Forces on a cell's nodes that hold it in that shape, in the frame it has been turned back to.
Eigen::Matrix<double, 24, 1> held_by_n(const CellNodes& nodes_m, const Elastic& material,
                                       const std::array<Vec3, 8>& moved_m) {
    Eigen::Matrix<double, 24, 1> moved;
    for (int a = 0; a < 8; ++a)
        for (int r = 0; r < 3; ++r) moved[3 * a + r] = moved_m[static_cast<std::size_t>(a)][r];
    return stiffness(nodes_m, material, ElementForm::mean_dilatation) * moved;
}

constexpr int kFields = 3;  ///< of an angle

}  // namespace

HeadTurn::HeadTurn(TetheredBody& body, const TurningNeck& neck) : body_(body), neck_(neck) {
    SIM_ASSERT(neck.top_m > neck.bottom_m);
    for (int k = 0; k < kAngles; ++k) {
        const int steps = k < kAngles / 2 ? k - kAngles / 2 : k - kAngles / 2 + 1;  // -3, -2, -1, 1, 2, 3
        angle_rad_[static_cast<std::size_t>(k)] = kMostTurnRad * steps / (kAngles / 2);
    }
}

void HeadTurn::prepare_next() {
    if (ready()) return;
    if (prepared_ == 0) field_m_.resize(body_.mesh().cells.unknowns(), Eigen::Index{kFields} * kAngles);
    const double turn_rad = angle_rad_[static_cast<std::size_t>(prepared_)];
    Eigen::MatrixXd force_n(field_m_.rows(), kFields);
    force_n.col(0) = twist_force_n(turn_rad);
    force_n.col(1) = weight_n(turn_rad, {1.0, 0.0, 0.0});
    force_n.col(2) = weight_n(turn_rad, {0.0, 0.0, 1.0});
    field_m_.middleCols(Eigen::Index{kFields} * prepared_, kFields) = body_.response().solve(force_n);
    ++prepared_;
}

double HeadTurn::share_of(int node) const {
    return neck_.share(body_.mesh().cells.node_m[static_cast<std::size_t>(node)].y);
}

Eigen::VectorXd HeadTurn::twist_force_n(double turn_rad) const {
    const HexMesh& mesh = body_.mesh();
    const CellsGoneRound round(mesh.cells, neck_, turn_rad);
    Eigen::VectorXd force_n = Eigen::VectorXd::Zero(mesh.cells.unknowns());
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const CellsGoneRound::Cell* const cell = round.of(c);
        if (cell == nullptr) continue;
        const auto held_n = held_by_n(mesh.cells.nodes_of(c), body_.body().material[c], cell->way_m);
        for (std::size_t a = 0; a < 8; ++a) {
            const int node = mesh.cells.free_index[static_cast<std::size_t>(mesh.cells.cell[c][a])];
            if (node >= 0) force_n.segment<3>(3 * node) -= held_n.segment<3>(3 * static_cast<Eigen::Index>(a));
        }
    }
    return force_n;
}

/// Gravity's change in the frame that goes round.
Eigen::VectorXd HeadTurn::weight_n(double turn_rad, const Vec3& gravity_change) const {
    const HexMesh& mesh = body_.mesh();
    Eigen::VectorXd out = Eigen::VectorXd::Zero(mesh.cells.unknowns());
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        const int node = mesh.cells.free_index[n];
        if (node < 0) continue;
        const Vec3 pull = about_vertical(gravity_change, turn_rad * share_of(static_cast<int>(n)));
        for (int r = 0; r < 3; ++r) out[3 * node + r] = body_.gravity_loads()(3 * node + r, r) * pull[r];
    }
    return out;
}

Eigen::VectorXd HeadTurn::string_twist_m(double turn_rad) const {
    const HexMesh& mesh = body_.mesh();
    const NeckTurn round{neck_, turn_rad};
    Eigen::VectorXd moved_m = Eigen::VectorXd::Zero(body_.string_columns().cols());
    for (const StringSite& site : body_.strings()) {
        const Vec3 top = position_m(mesh, site.top), bottom = position_m(mesh, site.bottom);
        const Vec3 rest = top - bottom;
        const Vec3 turned = about_vertical(rest + round.moved_m(top) - round.moved_m(bottom), -round.angle_rad(top.y));
        for (int r = 0; r < 3; ++r) moved_m[site.string.first + r] = (turned - rest)[r];
    }
    return moved_m;
}

Eigen::VectorXd HeadTurn::slack_m(double turn_rad, const Vec3& gravity_change) {
    while (!ready()) prepare_next();
    // Lagrange's polynomial through the angles solved ahead and through what is known at 0: gravity, and no twist
    Eigen::VectorXd weights(Eigen::Index{kFields} * kAngles);
    double at_rest = 1.0;
    for (std::size_t k = 0; k < kAngles; ++k) {
        at_rest *= 1.0 - turn_rad / angle_rad_[k];
        double weight = turn_rad / angle_rad_[k];
        for (std::size_t j = 0; j < kAngles; ++j)
            if (j != k) weight *= (turn_rad - angle_rad_[j]) / (angle_rad_[k] - angle_rad_[j]);
        weights.segment<kFields>(kFields * static_cast<Eigen::Index>(k)) =
            weight * Eigen::Vector3d(1.0, gravity_change.x, gravity_change.z);
    }
    return field_m_ * weights + body_.fields().gravity_field_m * Eigen::Vector3d(at_rest * gravity_change.x,
                                                                                 gravity_change.y,
                                                                                 at_rest * gravity_change.z);
}

Eigen::VectorXd HeadTurn::slack_solved_m(double turn_rad, const Vec3& gravity_change) {
    const Eigen::VectorXd force_n = twist_force_n(turn_rad) + weight_n(turn_rad, gravity_change);
    return body_.response().solve(force_n);
}

void HeadTurn::turn_skin(double turn_rad, Eigen::VectorXd& moved_m) const {
    const HexMesh& mesh = body_.mesh();
    for (int c = 0; c < mesh.columns(); ++c) {
        const Vec3 u(moved_m[3 * c], moved_m[3 * c + 1], moved_m[3 * c + 2]);
        const Vec3 turned = about_vertical(u, -turn_rad * share_of(mesh.node(c, kCellsDeep)));
        for (int r = 0; r < 3; ++r) moved_m[3 * c + r] = turned[r];
    }
}

void HeadTurn::turn_whole(double turn_rad, Eigen::VectorXd& moved_m) const {
    const HexMesh& mesh = body_.mesh();
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        const int node = mesh.cells.free_index[n];
        if (node < 0) continue;
        const Vec3 u(moved_m[3 * node], moved_m[3 * node + 1], moved_m[3 * node + 2]);
        const Vec3 turned = about_vertical(u, -turn_rad * share_of(static_cast<int>(n)));
        for (int r = 0; r < 3; ++r) moved_m[3 * node + r] = turned[r];
    }
}

Eigen::VectorXd HeadTurn::load_n(double turn_rad, const Vec3& gravity_change, const TetherState& tethers) const {
    return weight_n(turn_rad, gravity_change) + body_.string_columns() * tethers.force_n;
}

SkinSettled HeadTurn::settle_skin(double turn_rad, const Vec3& gravity_change, const TetherState& start) {
    require_within("turn_rad", turn_rad, -kMostTurnRad, kMostTurnRad);
    validate(body_.mesh(), {gravity_change, {}});
    const Eigen::VectorXd slack = slack_m(turn_rad, gravity_change);
    TetherProblem problem;
    problem.compliance_m_per_n = body_.string_compliance();
    for (const StringSite& site : body_.strings()) problem.strings.push_back(site.string);
    problem.load_m = body_.string_columns().transpose() * slack + string_twist_m(turn_rad);
    SkinSettled out;
    out.tethers = solve_tethers(problem, start.force_n);
    require_settled(out.tethers, "head turned");
    out.skin_m = skin_rows(body_.mesh(), slack);
    body_.add_string_skin(out.tethers.force_n, out.skin_m);
    turn_skin(turn_rad, out.skin_m);
    return out;
}

Eigen::VectorXd HeadTurn::beside_m(double turn_rad, const Vec3& gravity_change, const TetherState& tethers) {
    return slack_m(turn_rad, gravity_change) + body_.response().solve(body_.string_columns() * tethers.force_n);
}

Eigen::VectorXd HeadTurn::whole_m(double turn_rad, const Vec3& gravity_change, const TetherState& tethers) {
    Eigen::VectorXd out = beside_m(turn_rad, gravity_change, tethers);
    turn_whole(turn_rad, out);
    return out;
}

HeadTurn::Turned HeadTurn::settle(double turn_rad, const Vec3& gravity_change, const TetherState& start) {
    Turned out;
    out.tethers = settle_skin(turn_rad, gravity_change, start).tethers;
    const Eigen::VectorXd moved_m = whole_m(turn_rad, gravity_change, out.tethers);
    const HexMesh& mesh = body_.mesh();
    const NeckTurn round{neck_, turn_rad};
    out.displacement_m.resize(3 * static_cast<Eigen::Index>(mesh.cells.node_m.size()));
    for (std::size_t n = 0; n < mesh.cells.node_m.size(); ++n) {
        Vec3 u = round.moved_m(mesh.cells.node_m[n]);
        if (const int node = mesh.cells.free_index[n]; node >= 0)
            u += Vec3(moved_m[3 * node], moved_m[3 * node + 1], moved_m[3 * node + 2]);
        for (int r = 0; r < 3; ++r) out.displacement_m[3 * static_cast<Eigen::Index>(n) + r] = u[r];
    }
    return out;
}

}  // namespace sim::fe
