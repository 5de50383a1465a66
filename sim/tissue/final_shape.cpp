#include "sim/tissue/final_shape.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <limits>
#include <string>

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

std::array<Vec3, kNodes> nodes_moved(const CellMesh& mesh, std::size_t cell, const Eigen::VectorXd& moved_m) {
    std::array<Vec3, kNodes> out{};
    for (std::size_t a = 0; a < kNodes; ++a) {
        const int n = mesh.free_index[static_cast<std::size_t>(mesh.cell[cell][a])];
        if (n >= 0) out[a] = {moved_m[3 * n], moved_m[3 * n + 1], moved_m[3 * n + 2]};
    }
    return out;
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

double FiniteStrain::energy_j(const Eigen::VectorXd& moved_m, Eigen::VectorXd* slope_n) const {
    SIM_ASSERT(moved_m.size() == mesh_.unknowns());
    double sum_j = 0.0;
    if (slope_n != nullptr) slope_n->setZero(moved_m.size());
    std::array<glm::dmat3, kPoints> f;
    std::array<double, kPoints> j{};
    for (std::size_t c = 0; c < cells_.size(); ++c) {
        const Cell& cell = cells_[c];
        if (cell.volume_m3 == 0.0) continue;
        const std::array<Vec3, kNodes> moved = nodes_moved(mesh_, c, moved_m);
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
            // what the skin's tension stores: half of it times the squared slope of the displacement in the layer
            glm::dmat3 in_plane(0.0);
            if (cell.tension_pa > 0.0) {
                const glm::dmat3 slope = f[q] - glm::dmat3(1.0);
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
        if (slope_n == nullptr) continue;
        for (std::size_t a = 0; a < kNodes; ++a) {
            const int n = mesh_.free_index[static_cast<std::size_t>(mesh_.cell[c][a])];
            if (n >= 0) slope_n->segment<3>(3 * n) += Eigen::Vector3d(force[a].x, force[a].y, force[a].z);
        }
    }
    for (const auto& [c, k] : sliding_) {
        const std::array<Vec3, kNodes> moved = nodes_moved(mesh_, c, moved_m);
        const Eigen::Map<const Eigen::Matrix<double, 24, 1>> u(&moved[0].x);
        const Eigen::Matrix<double, 24, 1> force = k * u;
        sum_j += 0.5 * u.dot(force);
        for (std::size_t a = 0; a < kNodes && slope_n != nullptr; ++a) {
            const int n = mesh_.free_index[static_cast<std::size_t>(mesh_.cell[c][a])];
            if (n >= 0) slope_n->segment<3>(3 * n) += force.segment<3>(3 * static_cast<Eigen::Index>(a));
        }
    }
    for (std::size_t n = 0; n < spring_n_per_m_.size(); ++n) {
        const auto moved = moved_m.segment<3>(3 * static_cast<Eigen::Index>(n));
        sum_j += 0.5 * spring_n_per_m_[n] * moved.squaredNorm();
        if (slope_n != nullptr) slope_n->segment<3>(3 * static_cast<Eigen::Index>(n)) += spring_n_per_m_[n] * moved;
    }
    return sum_j;
}

double FiniteStrain::least_volume_ratio(const Eigen::VectorXd& moved_m) const {
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t c = 0; c < cells_.size(); ++c) {
        if (cells_[c].volume_m3 == 0.0) continue;
        const std::array<Vec3, kNodes> moved = nodes_moved(mesh_, c, moved_m);
        for (const CellPoint& point : cells_[c].point)
            least = std::min(least, glm::determinant(gradient_of(point, moved)));
    }
    return least;
}

namespace {

/// The last steps and what they changed: a stand-in for the curvature beyond the linear body's (Nocedal 1980, Math
/// Comput 35:773).
class Memory {
 public:
    void keep(const Eigen::VectorXd& step, const Eigen::VectorXd& change) {
        constexpr std::size_t kMostKept = 12;
        const double along = step.dot(change);
        if (!(along > 1e-14 * step.norm() * change.norm())) return;
        kept_.push_back({step, change, 1.0 / along});
        if (kept_.size() > kMostKept) kept_.pop_front();
    }
    void forget() { kept_.clear(); }
    [[nodiscard]] bool empty() const { return kept_.empty(); }

    /// Two-loop recursion.
    [[nodiscard]] Eigen::VectorXd descent(Eigen::VectorXd residual,
                                          const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& solve) const {
        std::vector<double> share(kept_.size());
        for (std::size_t k = kept_.size(); k-- > 0;) {
            share[k] = kept_[k].scale * kept_[k].step.dot(residual);
            residual -= share[k] * kept_[k].change;
        }
        Eigen::VectorXd out = solve(residual);
        for (std::size_t k = 0; k < kept_.size(); ++k)
            out += (share[k] - kept_[k].scale * kept_[k].change.dot(out)) * kept_[k].step;
        return out;
    }

 private:
    struct Kept {
        Eigen::VectorXd step, change;
        double scale = 0.0;
    };
    std::deque<Kept> kept_;
};

}  // namespace

FinalShape final_shape(const FiniteStrain& body, const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& solve,
                       const Eigen::VectorXd& force_n, const Eigen::VectorXd& start_m,
                       const FinalShapeSettings& settings) {
    constexpr double kDescends = 1e-4, kLeastStep = 1e-6;
    FinalShape out;
    out.moved_m = Eigen::VectorXd::Zero(force_n.size());
    Eigen::VectorXd slope, next_slope;
    // the linear answer may turn cells inside out: then from less of it
    for (double share = 1.0; share > 0.05 && start_m.size() == force_n.size(); share *= 0.5)
        if (std::isfinite(body.energy_j(share * start_m, nullptr))) {
            out.moved_m = share * start_m;
            break;
        }
    double energy = body.energy_j(out.moved_m, &slope) - force_n.dot(out.moved_m);
    const double load = std::sqrt(std::max(0.0, force_n.dot(solve(force_n))));
    Memory memory;
    for (; load > 0.0; ++out.iterations) {
        const Eigen::VectorXd residual = force_n - slope;
        const Eigen::VectorXd linear = solve(residual);
        out.residual = std::sqrt(std::max(0.0, residual.dot(linear))) / load;
        out.converged = out.residual <= settings.tolerance;
        if (out.converged || out.iterations == settings.most_iterations) break;
        Eigen::VectorXd step = memory.empty() ? linear : memory.descent(residual, solve);
        double downhill = residual.dot(step);
        if (!(downhill > 0.0)) {
            memory.forget();
            step = linear;
            downhill = residual.dot(step);
        }
        double share = 1.0, next_energy = 0.0;
        Eigen::VectorXd next;
        for (;; share *= 0.5) {
            next = out.moved_m + share * step;
            next_energy = body.energy_j(next, &next_slope) - force_n.dot(next);
            if (next_energy <= energy - kDescends * share * downhill || share < kLeastStep) break;
        }
        if (share < kLeastStep) break;  // no way down that can be told: as near as it gets
        memory.keep(next - out.moved_m, next_slope - slope);
        out.moved_m = next;
        energy = next_energy;
        slope.swap(next_slope);
    }
    if (!(load > 0.0)) out.converged = true;
    out.least_volume_ratio = body.least_volume_ratio(out.moved_m);
    return out;
}

}  // namespace sim::fe
