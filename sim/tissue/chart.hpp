#pragma once

#include <array>
#include <utility>
#include <vector>

#include "sim/core/vec.hpp"

/// A regular chart (s, t) over face, jaw and neck, both sides, on a smooth base shape of the patient.
///
/// s runs round the head from the patient's right to the left, t from the brow down to the root of the neck. Rows
/// follow the jaw: they are cut by planes that tilt down more and more under the chin. The base shape is the skin's
/// large forms (no nose, lids, lips, ears), so that no fold or wing of the nose can fold the chart.

namespace sim {
class SkinField;
}

namespace sim::fe {

struct ChartSettings {
    double edge_m = 4.0 * kMm;     ///< of a cell in the treated region, nominal; accepted 2 to 8 mm
    double margin_m = 70.0 * kMm;  ///< beyond it on each side where the body goes on so far; accepted 20 to 70 mm
    double most_bytes = 4e9;       ///< that its factor may be estimated to take; > 0; assumed, half of a small machine
};

/// @throws InputError naming the setting outside its range
void validate(const ChartSettings& settings);

/// Nodes along s and t of a chart with these settings: no head is needed to know. @pre edge and margin > 0
struct ChartSize {
    double wide = 0.0, high = 0.0;  ///< whole numbers, which for tiny cells no int holds
};
[[nodiscard]] ChartSize chart_size(const ChartSettings& settings);

struct Chart {
    int wide = 0, high = 0;        ///< nodes along s and t
    std::vector<double> s_m, t_m;  ///< nominal coordinates of the node lines
    int left = 0, right = 0;       ///< first and last node line along s of the treated region
    int top = 0, bottom = 0;       ///< the same along t
    std::vector<Vec3> base_m;      ///< node (i, j) is j * wide + i
    std::vector<Vec3> outward;     ///< unit normals of the base shape there, smoothed over the neighbours

    [[nodiscard]] std::size_t at(int i, int j) const {
        return static_cast<std::size_t>(j) * static_cast<std::size_t>(wide) + static_cast<std::size_t>(i);
    }
    [[nodiscard]] bool treated(int i, int j) const { return i >= left && i <= right && j >= top && j <= bottom; }
};

/// A cell of the chart and a place in it.
struct ChartCell {
    int i = 0, j = 0;
    double a = 0.0, b = 0.0;  ///< along s and t, 0 .. 1 within the cell; beyond where the place lies off the chart
};
[[nodiscard]] ChartCell cell_of(const Chart& chart, double s_m, double t_m);
/// Its four columns, each with its share of the place.
[[nodiscard]] std::array<std::pair<int, double>, 4> corners(const Chart& chart, const ChartCell& cell);

/// About 20 ms. @throws InputError as validate
[[nodiscard]] Chart build_chart(const SkinField& skin, const ChartSettings& settings);

/// Values at the nodes of a chart, each replaced by a mean of itself and its neighbours, `rounds` times.
/// Template over the kind of value: lengths and directions alike.
template <class Value>
void smooth_over(const Chart& chart, std::vector<Value>& values, int rounds) {
    for (int round = 0; round < rounds; ++round) {
        const std::vector<Value> before = values;
        for (int j = 0; j < chart.high; ++j)
            for (int i = 0; i < chart.wide; ++i) {
                const Value& left = before[chart.at(i > 0 ? i - 1 : i, j)];
                const Value& right = before[chart.at(i + 1 < chart.wide ? i + 1 : i, j)];
                const Value& above = before[chart.at(i, j > 0 ? j - 1 : j)];
                const Value& below = before[chart.at(i, j + 1 < chart.high ? j + 1 : j)];
                values[chart.at(i, j)] = 0.5 * before[chart.at(i, j)] + 0.125 * (left + right + above + below);
            }
    }
}

}  // namespace sim::fe
