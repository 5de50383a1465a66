#include "sim/instruments/shaft_beam.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

constexpr std::size_t kBand = 4;  // diagonal and three below: two unknowns a node, neighbours couple
constexpr std::size_t kUnknowns = 2 * (static_cast<std::size_t>(kBeamNodes) - 1);

// Lower band of a symmetric matrix: row[i][b] is the entry (i, i - b).
struct BandedSystem {
    std::array<std::array<double, kBand>, kUnknowns> row;
    std::array<double, kUnknowns> right;
    std::size_t size;
};

// stiffness of one cubic element of length h: EI / h^3 times this, unknowns w0, s0, w1, s1
std::array<std::array<double, 4>, 4> element_stiffness(double ei, double h) {
    const double a = ei / (h * h * h);
    const double b = a * h;
    const double c = b * h;
    return {{{12 * a, 6 * b, -12 * a, 6 * b},
             {6 * b, 4 * c, -6 * b, 2 * c},
             {-12 * a, -6 * b, 12 * a, -6 * b},
             {6 * b, 2 * c, -6 * b, 4 * c}}};
}

void assemble(double ei, std::span<const BeamNode> nodes, BandedSystem& system) {
    system.size = 2 * (nodes.size() - 1);
    for (std::size_t i = 0; i < system.size; ++i) {
        system.row[i] = {};
        system.right[i] = 0.0;
    }
    for (std::size_t e = 0; e + 1 < nodes.size(); ++e) {
        const auto k = element_stiffness(ei, nodes[e + 1].along_m - nodes[e].along_m);
        // the clamp's two unknowns are zero and left out, so that the first element gives its second half only
        for (std::size_t r = e == 0 ? 2 : 0; r < 4; ++r)
            for (std::size_t c = e == 0 ? 2 : 0; c <= r; ++c) system.row[2 * e + r - 2][r - c] += k[r][c];
    }
    for (std::size_t n = 1; n < nodes.size(); ++n) {
        system.row[2 * n - 2][0] += nodes[n].spring_n_per_m;
        system.right[2 * n - 2] += nodes[n].spring_n_per_m * nodes[n].target_m + nodes[n].load_n;
    }
}

// LDL^T in place, then both substitutions; the matrix is positive definite for any springs >= 0.
void solve(BandedSystem& s) {
    for (std::size_t i = 0; i < s.size; ++i) {
        auto& row = s.row[i];
        const std::size_t reach = std::min(i, kBand - 1);
        for (std::size_t b = reach; b >= 1; --b) {  // entry (i, j), j = i - b
            const std::size_t j = i - b;
            for (std::size_t m = b + 1; m <= reach; ++m)  // columns left of j that both rows hold
                row[b] -= row[m] * s.row[j][m - b];
        }
        for (std::size_t b = 1; b <= reach; ++b) {
            const double scaled = row[b] / s.row[i - b][0];
            row[0] -= row[b] * scaled;
            s.right[i] -= scaled * s.right[i - b];
            row[b] = scaled;
        }
    }
    for (std::size_t i = 0; i < s.size; ++i) s.right[i] /= s.row[i][0];
    for (std::size_t i = s.size; i-- > 0;)
        for (std::size_t b = 1; b <= std::min(i, kBand - 1); ++b) s.right[i - b] -= s.row[i][b] * s.right[i];
}

}  // namespace

bool solve_beam(double stiffness_n_m2, std::span<const BeamNode> nodes, BeamShape& shape) {
    SIM_ASSERT(nodes.size() >= 2 && nodes.size() <= static_cast<std::size_t>(kBeamNodes));
    BandedSystem system;
    assemble(stiffness_n_m2, nodes, system);
    solve(system);
    shape.offset_m[0] = shape.slope[0] = 0.0;
    bool finite = true;
    for (std::size_t n = 1; n < nodes.size(); ++n) {
        shape.offset_m[n] = system.right[2 * n - 2];
        shape.slope[n] = system.right[2 * n - 1];
        finite = finite && std::isfinite(shape.offset_m[n]) && std::isfinite(shape.slope[n]);
    }
    const auto k = element_stiffness(stiffness_n_m2, nodes[1].along_m - nodes[0].along_m);
    shape.hand_force_n = k[0][2] * shape.offset_m[1] + k[0][3] * shape.slope[1];
    shape.hand_moment_n_m = k[1][2] * shape.offset_m[1] + k[1][3] * shape.slope[1];
    return finite;
}

}  // namespace sim
