#include "sim/tissue/final_shape.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include <glm/mat3x3.hpp>
#include <glm/matrix.hpp>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

constexpr std::size_t kNodes = 8, kPoints = 8;

/// The deformation's gradient: column s is the slope of the place along axis s of the reference shape.
glm::dmat3 gradient_of(const CellPoint& point, const std::array<Vec3, kNodes>& moved_m) {
    glm::dmat3 f(1.0);
    for (std::size_t a = 0; a < kNodes; ++a)
        for (int s = 0; s < 3; ++s) f[s] += moved_m[a] * point.gradient_1_m[a][s];
    return f;
}

double squared(const glm::dmat3& f) { return glm::dot(f[0], f[0]) + glm::dot(f[1], f[1]) + glm::dot(f[2], f[2]); }

/// As the cell has it.
std::array<Vec3, kNodes> nodes_moved(const CellMesh& mesh, std::size_t cell, const Eigen::VectorXd& moved_m,
                                     const CellsGoneRound::Cell* round) {
    std::array<Vec3, kNodes> out{};
    for (std::size_t a = 0; a < kNodes; ++a) {
        const int n = mesh.free_index[static_cast<std::size_t>(mesh.cell[cell][a])];
        if (n >= 0) out[a] = {moved_m[3 * n], moved_m[3 * n + 1], moved_m[3 * n + 2]};
        if (round != nullptr) out[a] = round->way_m[a] + round->to_cell(a, out[a]);
    }
    return out;
}

/// Back to each node's own frame. @param force_n on the cell's nodes, as the cell has it
void add_slope(const CellMesh& mesh, std::size_t cell, const std::array<Vec3, kNodes>& force_n,
               const CellsGoneRound::Cell* round, Eigen::VectorXd& slope_n) {
    for (std::size_t a = 0; a < kNodes; ++a) {
        const int n = mesh.free_index[static_cast<std::size_t>(mesh.cell[cell][a])];
        if (n < 0) continue;
        const Vec3 own = round != nullptr ? round->to_node(a, force_n[a]) : force_n[a];
        slope_n.segment<3>(3 * n) += Eigen::Vector3d(own.x, own.y, own.z);
    }
}

}  // namespace

FiniteStrain::FiniteStrain(const CellMesh& mesh, std::span<const Elastic> material, std::span<const double> tension_pa,
                           std::span<const char> slides, std::span<const double> spring_n_per_m)
    : mesh_(mesh), spring_n_per_m_(spring_n_per_m.begin(), spring_n_per_m.end()) {
    SIM_ASSERT(material.size() == mesh.cell.size() && tension_pa.size() == mesh.cell.size());
    cells_.resize(mesh.cell.size());
    for (std::size_t c = 0; c < cells_.size(); ++c) {
        Cell& cell = cells_[c];
        const CellNodes nodes = mesh.nodes_of(c);
        cell.point = integration_points(nodes);
        for (const CellPoint& point : cell.point) {
            if (!(point.volume_m3 > 0.0))
                throw InputError("mesh.cell[" + std::to_string(c) + "].volume_m3", point.volume_m3, "more than 0");
            cell.volume_m3 += point.volume_m3;
        }
        Vec3 up{};
        for (std::size_t a = 0; a < 4; ++a) up += nodes[a + 4] - nodes[a];
        cell.normal = glm::normalize(up);
        cell.shear_pa = material[c].shear_pa();
        cell.bulk_pa = material[c].bulk_pa();
        cell.tension_pa = tension_pa[c];
        if (!slides.empty() && slides[c] != 0)
            sliding_.emplace_back(c, stiffness(nodes, material[c], ElementForm::mean_dilatation));
    }
    // what slides is not asked again among the rest
    for (const auto& [c, k] : sliding_) cells_[c].volume_m3 = 0.0;
}

FiniteStrain finite_strain_of(const HexMesh& mesh, const LayeredBody& body) {
    std::vector<char> slides(mesh.cells.cell.size());
    for (std::size_t c = 0; c < slides.size(); ++c) {
        const auto layer = static_cast<CellLayer>(c % kCellsDeep);
        slides[c] = layer == CellLayer::glide || layer == CellLayer::deep_fat ? 1 : 0;
    }
    return {mesh.cells, body.material, body.tension_pa, slides, body.edge_n_per_m};
}

double FiniteStrain::energy_j(const Eigen::VectorXd& moved_m, Eigen::VectorXd* slope_n,
                              const CellsGoneRound* round) const {
    SIM_ASSERT(moved_m.size() == mesh_.unknowns());
    double sum_j = 0.0;
    if (slope_n != nullptr) slope_n->setZero(moved_m.size());
    std::array<glm::dmat3, kPoints> f;
    std::array<double, kPoints> j{};
    for (std::size_t c = 0; c < cells_.size(); ++c) {
        const Cell& cell = cells_[c];
        if (cell.volume_m3 == 0.0) continue;
        const CellsGoneRound::Cell* const turned = round != nullptr ? round->of(c) : nullptr;
        const std::array<Vec3, kNodes> moved = nodes_moved(mesh_, c, moved_m, turned);
        double mean_j = 0.0;
        for (std::size_t q = 0; q < kPoints; ++q) {
            f[q] = gradient_of(cell.point[q], moved);
            j[q] = glm::determinant(f[q]);
            if (!(j[q] > 0.0)) return std::numeric_limits<double>::infinity();
            mean_j += cell.point[q].volume_m3 / cell.volume_m3 * j[q];
        }
        const double pressure_pa = cell.bulk_pa * (mean_j - 1.0);
        sum_j += 0.5 * cell.volume_m3 * pressure_pa * (mean_j - 1.0);
        std::array<Vec3, kNodes> force{};
        for (std::size_t q = 0; q < kPoints; ++q) {
            const double volume = cell.point[q].volume_m3, scale = std::pow(j[q], -2.0 / 3.0), i1 = squared(f[q]);
            sum_j += 0.5 * volume * cell.shear_pa * (scale * i1 - 3.0);
            // what the skin's tension stores: half of it times the squared slope of the displacement in the layer; its
            // ground goes round with a turned head, as in the linear body
            glm::dmat3 in_plane(0.0);
            if (cell.tension_pa > 0.0) {
                glm::dmat3 slope = f[q] - glm::dmat3(1.0);
                if (turned != nullptr) slope -= gradient_of(cell.point[q], turned->way_m) - glm::dmat3(1.0);
                const Vec3 along = slope * cell.normal;
                for (int s = 0; s < 3; ++s) in_plane[s] = slope[s] - along * cell.normal[s];
                sum_j += 0.5 * volume * cell.tension_pa * squared(in_plane);
            }
            if (slope_n == nullptr) continue;
            const glm::dmat3 inverse_transposed = glm::transpose(glm::inverse(f[q]));
            const glm::dmat3 stress = cell.shear_pa * scale * (f[q] - (i1 / 3.0) * inverse_transposed) +
                                      (pressure_pa * j[q]) * inverse_transposed + cell.tension_pa * in_plane;
            for (std::size_t a = 0; a < kNodes; ++a) force[a] += volume * (stress * cell.point[q].gradient_1_m[a]);
        }
        if (slope_n != nullptr) add_slope(mesh_, c, force, turned, *slope_n);
    }
    for (const auto& [c, k] : sliding_) {
        const CellsGoneRound::Cell* const turned = round != nullptr ? round->of(c) : nullptr;
        const std::array<Vec3, kNodes> moved = nodes_moved(mesh_, c, moved_m, turned);
        std::array<Vec3, kNodes> force{};
        const Eigen::Map<const Eigen::Matrix<double, 24, 1>> u(&moved[0].x);
        Eigen::Map<Eigen::Matrix<double, 24, 1>> held_n(&force[0].x);
        held_n = k * u;
        sum_j += 0.5 * u.dot(held_n);
        if (slope_n != nullptr) add_slope(mesh_, c, force, turned, *slope_n);
    }
    for (std::size_t n = 0; n < spring_n_per_m_.size(); ++n) {
        const auto moved = moved_m.segment<3>(3 * static_cast<Eigen::Index>(n));
        sum_j += 0.5 * spring_n_per_m_[n] * moved.squaredNorm();
        if (slope_n != nullptr) slope_n->segment<3>(3 * static_cast<Eigen::Index>(n)) += spring_n_per_m_[n] * moved;
    }
    return sum_j;
}

double FiniteStrain::least_volume_ratio(const Eigen::VectorXd& moved_m, const CellsGoneRound* round) const {
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t c = 0; c < cells_.size(); ++c) {
        if (cells_[c].volume_m3 == 0.0) continue;
        const std::array<Vec3, kNodes> moved =
            nodes_moved(mesh_, c, moved_m, round != nullptr ? round->of(c) : nullptr);
        for (const CellPoint& point : cells_[c].point)
            least = std::min(least, glm::determinant(gradient_of(point, moved)));
    }
    return least;
}

FinalShapeSearch::FinalShapeSearch(const FiniteStrain& body, LinearSolve solve, Eigen::VectorXd force_n,
                                   Eigen::VectorXd start_m, const FinalShapeSettings& settings,
                                   std::shared_ptr<const CellsGoneRound> round)
    : body_(body),
      solve_(std::move(solve)),
      force_n_(std::move(force_n)),
      start_m_(std::move(start_m)),
      settings_(settings),
      round_(std::move(round)) {
    SIM_ASSERT(start_m_.size() == 0 || start_m_.size() == force_n_.size());
    out_.moved_m = Eigen::VectorXd::Zero(force_n_.size());
}

void FinalShapeSearch::begin() {
    begun_ = true;
    Eigen::VectorXd load_n = force_n_;
    if (round_) {  // what going round strains is a load too
        out_.moved_m.setZero();
        static_cast<void>(body_.energy_j(out_.moved_m, &slope_n_, round_.get()));
        load_n -= slope_n_;
    }
    load_ = std::sqrt(std::max(0.0, load_n.dot(start_m_.size() > 0 ? start_m_ : solve_(load_n))));
    // the linear answer may turn cells inside out: then from less of it, in the end from rest
    for (double share = start_m_.size() > 0 ? 1.0 : 0.0;; share = share > 0.1 ? 0.5 * share : 0.0) {
        if (share > 0.0)
            out_.moved_m = share * start_m_;
        else
            out_.moved_m.setZero();
        energy_j_ = body_.energy_j(out_.moved_m, &slope_n_, round_.get());
        if (share == 0.0 || std::isfinite(energy_j_)) break;
    }
    energy_j_ -= force_n_.dot(out_.moved_m);
}

void FinalShapeSearch::keep(const Eigen::VectorXd& step_m, const Eigen::VectorXd& change_n) {
    constexpr std::size_t kMostKept = 12;
    const double along = step_m.dot(change_n);
    if (!(along > 1e-14 * step_m.norm() * change_n.norm())) return;
    kept_.push_back({step_m, change_n, 1.0 / along});
    if (kept_.size() > kMostKept) kept_.pop_front();
}

/// Two-loop recursion.
Eigen::VectorXd FinalShapeSearch::descent(Eigen::VectorXd residual_n) const {
    std::vector<double> share(kept_.size());
    for (std::size_t k = kept_.size(); k-- > 0;) {
        share[k] = kept_[k].scale * kept_[k].step_m.dot(residual_n);
        residual_n -= share[k] * kept_[k].change_n;
    }
    Eigen::VectorXd out = solve_(residual_n);
    for (std::size_t k = 0; k < kept_.size(); ++k)
        out += (share[k] - kept_[k].scale * kept_[k].change_n.dot(out)) * kept_[k].step_m;
    return out;
}

bool FinalShapeSearch::end() {
    ended_ = true;
    out_.least_volume_ratio = body_.least_volume_ratio(out_.moved_m, round_.get());
    return false;
}

bool FinalShapeSearch::step(const std::function<bool()>& give_way) {
    constexpr double kDescends = 1e-4, kLeastStep = 1e-6;
    if (ended_) return false;
    if (!begun_) begin();
    if (!(load_ > 0.0)) {
        out_.converged = true;
        return end();
    }
    const auto told = [&] { return give_way && give_way(); };
    if (told()) return true;
    const Eigen::VectorXd residual_n = force_n_ - slope_n_;
    Eigen::VectorXd way_m = descent(residual_n);
    double downhill_j = residual_n.dot(way_m);
    if (!(downhill_j > 0.0)) {
        kept_.clear();
        way_m = solve_(residual_n);
        downhill_j = std::max(0.0, residual_n.dot(way_m));
    }
    // twice what the energy still lies above its least, by what is known of the curvature (Newton decrement)
    out_.residual = std::sqrt(downhill_j) / load_;
    out_.converged = out_.residual <= settings_.tolerance;
    if (out_.converged || out_.iterations == settings_.most_iterations) return end();
    Eigen::VectorXd next_m, next_slope_n;
    double share = 1.0, next_j = 0.0;
    for (;; share *= 0.5) {
        if (told()) return true;
        next_m = out_.moved_m + share * way_m;
        next_j = body_.energy_j(next_m, &next_slope_n, round_.get()) - force_n_.dot(next_m);
        if (next_j <= energy_j_ - kDescends * share * downhill_j) break;
        if (share < kLeastStep) return end();  // no way down that can be told: as near as it gets
    }
    keep(next_m - out_.moved_m, next_slope_n - slope_n_);
    out_.moved_m = std::move(next_m);
    energy_j_ = next_j;
    slope_n_.swap(next_slope_n);
    ++out_.iterations;
    return true;
}

FinalShape final_shape(const FiniteStrain& body, const LinearSolve& solve, const Eigen::VectorXd& force_n,
                       const Eigen::VectorXd& start_m, const FinalShapeSettings& settings,
                       std::shared_ptr<const CellsGoneRound> round) {
    FinalShapeSearch search(body, solve, force_n, start_m, settings, std::move(round));
    while (search.step()) {
    }
    return search.found();
}

}  // namespace sim::fe
