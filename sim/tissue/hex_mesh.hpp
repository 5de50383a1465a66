#pragma once

#include <array>
#include <string>
#include <vector>

#include "sim/tissue/assembly.hpp"
#include "sim/tissue/chart.hpp"

/// Hexahedra between skin and floor of a patient: one column of seven cells under each node of the chart.
///
/// From the floor up: muscle, deep fat, glide space, SMAS or platysma, superficial fat in two, skin. Columns are
/// straight, along the way in from the base shape; nodes sit where the layers' bottoms cross them, evened out over the
/// neighbours. Beyond the modelled grid a column repeats the thicknesses of the nearest place inside. Lips and lids
/// are closed: what lies between them is tissue like the rest.

namespace sim {
struct HeadTissue;
}

namespace sim::fe {

inline constexpr int kCellsDeep = 7;
inline constexpr int kLevels = kCellsDeep + 1;  ///< node levels of a column, 0 on the floor, 7 on the skin

/// Cells of a column from the floor up.
enum class CellLayer : std::uint8_t { muscle, deep_fat, glide, smas, fat_lower, fat_upper, skin };
[[nodiscard]] std::string_view name_of(CellLayer layer);

struct HexMesh {
    Chart chart;
    CellMesh cells;               ///< node (column, level) is column * kLevels + level; the floor is held
    std::vector<double> depth_m;  ///< of every node below the column's top along the column, same index
    std::vector<Vec3> inward;     ///< unit, of each column
    int mended_columns = 0;       ///< whose floor was moved by more than 0.1 mm to keep cells proper ...
    double mended_most_m = 0.0;   ///< ... and by how much at most
    double mended_top_m = 0.0;    ///< most that a node of the skin was moved in one round; 0 for most faces

    [[nodiscard]] int columns() const { return chart.wide * chart.high; }
    [[nodiscard]] int node(int column, int level) const { return column * kLevels + level; }
    [[nodiscard]] int free_node(int column, int level) const { return column * kCellsDeep + level - 1; }
    [[nodiscard]] int cell(int i, int j, int layer) const { return (j * (chart.wide - 1) + i) * kCellsDeep + layer; }
    [[nodiscard]] double thickness_m(int column, CellLayer layer) const {
        const auto n = static_cast<std::size_t>(node(column, static_cast<int>(layer)));
        return depth_m[n] - depth_m[n + 1];
    }
};

/// About 0.3 s at 4 mm. @throws InputError as validate(ChartSettings)
[[nodiscard]] HexMesh build_mesh(const HeadTissue& tissue, const ChartSettings& settings);

/// What pk tissue mesh prints.
struct MeshQuality {
    int cells = 0, nodes = 0, unknowns = 0;
    double edge_mean_m = 0.0;  ///< of the skin's cells in the treated region
    double least_jacobian = 0.0, percentile_1_jacobian = 0.0;
    double share_under_limit = 0.0;  ///< of cells under kJacobianLimit
    Vec3 worst_m{};                  ///< middle of the worst cell
    int worst_layer = 0;
    struct Range {
        double least_m = 0.0, median_m = 0.0, most_m = 0.0;
    };
    std::array<Range, kCellsDeep> thickness;  ///< in the treated region, from the floor up
};
inline constexpr double kJacobianLimit = 0.2;

[[nodiscard]] MeshQuality quality_of(const HexMesh& mesh);

}  // namespace sim::fe
