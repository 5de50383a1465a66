#include "sim/tissue/element.hpp"

#include <algorithm>
#include <cmath>

#include <glm/mat3x3.hpp>
#include <glm/matrix.hpp>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

constexpr std::size_t kNodes = 8;

constexpr std::array<std::array<double, 3>, kNodes> kCorner{
    {{-1, -1, -1}, {1, -1, -1}, {1, 1, -1}, {-1, 1, -1}, {-1, -1, 1}, {1, -1, 1}, {1, 1, 1}, {-1, 1, 1}}};

/// The three neighbours of each corner, in an order that gives a positive volume in a proper cell.
constexpr std::array<std::array<std::size_t, 3>, kNodes> kNeighbours{
    {{1, 3, 4}, {2, 0, 5}, {3, 1, 6}, {0, 2, 7}, {7, 5, 0}, {4, 6, 1}, {5, 7, 2}, {6, 4, 3}}};

struct Shape {
    std::array<double, kNodes> value{};
    std::array<Vec3, kNodes> slope{};  ///< in the cell's own coordinates
};

Shape shape_at(const std::array<double, 3>& at) {
    Shape out;
    for (std::size_t a = 0; a < kNodes; ++a) {
        const double x = 1.0 + kCorner[a][0] * at[0];
        const double y = 1.0 + kCorner[a][1] * at[1];
        const double z = 1.0 + kCorner[a][2] * at[2];
        out.value[a] = 0.125 * x * y * z;
        out.slope[a] = 0.125 * Vec3(kCorner[a][0] * y * z, kCorner[a][1] * x * z, kCorner[a][2] * x * y);
    }
    return out;
}

/// Shape functions at the integration points, which lie at 1/sqrt(3) of the way to each corner.
const std::array<Shape, 8>& shapes() {
    static const std::array<Shape, 8> all = [] {
        std::array<Shape, 8> out;
        const double c = 1.0 / std::sqrt(3.0);
        for (std::size_t q = 0; q < 8; ++q)
            out[q] = shape_at({c * kCorner[q][0], c * kCorner[q][1], c * kCorner[q][2]});
        return out;
    }();
    return all;
}

/// Adds volume * (lame g_a g_b' + shear (g_b g_a' + g_a.g_b I)) for every pair of nodes.
void add_point(CellMatrix& k, const CellPoint& point, double lame_pa, double shear_pa) {
    for (std::size_t b = 0; b < kNodes; ++b)
        for (std::size_t a = 0; a < kNodes; ++a) {
            const Vec3& ga = point.gradient_1_m[a];
            const Vec3& gb = point.gradient_1_m[b];
            const double along = point.volume_m3 * shear_pa * glm::dot(ga, gb);
            for (int r = 0; r < 3; ++r)
                for (int s = 0; s < 3; ++s) {
                    const double across = point.volume_m3 * (lame_pa * ga[r] * gb[s] + shear_pa * gb[r] * ga[s]);
                    k(3 * static_cast<int>(a) + r, 3 * static_cast<int>(b) + s) += across + (r == s ? along : 0.0);
                }
        }
}

/// Adds bulk * V * (mean gradient)(mean gradient)': the one dilatation of the cell.
void add_mean_dilatation(CellMatrix& k, const std::array<CellPoint, 8>& points, double bulk_pa) {
    Eigen::Matrix<double, 24, 1> mean = Eigen::Matrix<double, 24, 1>::Zero();
    double volume_m3 = 0.0;
    for (const CellPoint& p : points) {
        volume_m3 += p.volume_m3;
        for (std::size_t a = 0; a < kNodes; ++a)
            for (int r = 0; r < 3; ++r) mean[3 * static_cast<int>(a) + r] += p.volume_m3 * p.gradient_1_m[a][r];
    }
    k.noalias() += (bulk_pa / volume_m3) * mean * mean.transpose();
}

}  // namespace

std::array<CellPoint, 8> integration_points(const CellNodes& nodes_m) {
    std::array<CellPoint, 8> out;
    for (std::size_t q = 0; q < 8; ++q) {
        const Shape& shape = shapes()[q];
        glm::dmat3 jacobian(0.0);  // column s: change of place along the cell's own coordinate s
        for (std::size_t a = 0; a < kNodes; ++a)
            for (int s = 0; s < 3; ++s) jacobian[s] += nodes_m[a] * shape.slope[a][s];
        out[q].volume_m3 = glm::determinant(jacobian);
        out[q].shape = shape.value;
        const glm::dmat3 back = glm::transpose(glm::inverse(jacobian));
        for (std::size_t a = 0; a < kNodes; ++a) out[q].gradient_1_m[a] = back * shape.slope[a];
    }
    return out;
}

CellMatrix stiffness(const CellNodes& nodes_m, const Elastic& material, ElementForm form) {
    const auto points = integration_points(nodes_m);
    CellMatrix k = CellMatrix::Zero();
    const bool mean = form == ElementForm::mean_dilatation;
    // with the mean dilatation the points carry the deviatoric part alone: lame = -2/3 shear there
    const double lame_pa = mean ? -2.0 / 3.0 * material.shear_pa() : material.lame_pa();
    for (const CellPoint& p : points) {
        SIM_ASSERT(p.volume_m3 > 0.0);
        add_point(k, p, lame_pa, material.shear_pa());
    }
    if (mean) add_mean_dilatation(k, points, material.bulk_pa());
    return 0.5 * (k + k.transpose());  // symmetric to the last bit
}

CellMatrix tension_stiffness(const CellNodes& nodes_m, double tension_pa) {
    Vec3 up{};
    for (std::size_t a = 0; a < 4; ++a) up += nodes_m[a + 4] - nodes_m[a];
    const Vec3 normal = glm::normalize(up);
    CellMatrix k = CellMatrix::Zero();
    for (const CellPoint& p : integration_points(nodes_m))
        for (std::size_t a = 0; a < kNodes; ++a)
            for (std::size_t b = 0; b < kNodes; ++b) {
                const Vec3& ga = p.gradient_1_m[a];
                const Vec3& gb = p.gradient_1_m[b];
                const double in_plane = glm::dot(ga, gb) - glm::dot(ga, normal) * glm::dot(gb, normal);
                for (int r = 0; r < 3; ++r)
                    k(3 * static_cast<int>(a) + r, 3 * static_cast<int>(b) + r) += tension_pa * p.volume_m3 * in_plane;
            }
    return 0.5 * (k + k.transpose());
}

std::array<double, 8> nodal_volumes_m3(const CellNodes& nodes_m) {
    std::array<double, 8> out{};
    for (const CellPoint& p : integration_points(nodes_m))
        for (std::size_t a = 0; a < kNodes; ++a) out[a] += p.shape[a] * p.volume_m3;
    return out;
}

double scaled_jacobian(const CellNodes& nodes_m) {
    double least = 1.0;
    for (std::size_t a = 0; a < kNodes; ++a) {
        std::array<Vec3, 3> edge;
        for (std::size_t i = 0; i < 3; ++i) {
            edge[i] = nodes_m[kNeighbours[a][i]] - nodes_m[a];
            const double length = glm::length(edge[i]);
            if (!(length > 0.0)) return 0.0;  // two corners in one place
            edge[i] /= length;
        }
        least = std::min(least, glm::dot(glm::cross(edge[0], edge[1]), edge[2]));
    }
    return least;
}

}  // namespace sim::fe
