#include <algorithm>
#include <cmath>

#include "sim/anatomy/head_grids.hpp"
#include "sim/anatomy/layers.hpp"

namespace sim {
namespace {

/// All eight values at a point between the nodes of its cell.
template <class Name>
GridNode<Name> between(const GridBox& box, const std::vector<GridNode<Name>>& nodes, const GridCell& cell) {
    const float x = static_cast<float>(cell.t.x);
    const float y = static_cast<float>(cell.t.y);
    const float z = static_cast<float>(cell.t.z);
    GridNode<Name> sum;
    const auto add_row = [&](std::size_t first, float weight) {
        const GridNode<Name>& a = nodes[first];
        const GridNode<Name>& b = nodes[first + 1];
        const float wb = weight * x;
        const float wa = weight - wb;
        for (std::size_t k = 0; k < 8; ++k) sum.value[k] += wa * a.value[k] + wb * b.value[k];
    };
    const std::size_t sy = box.stride_y();
    const std::size_t sz = box.stride_z();
    add_row(cell.index, (1.0f - y) * (1.0f - z));
    add_row(cell.index + sy, y * (1.0f - z));
    add_row(cell.index + sz, (1.0f - y) * z);
    add_row(cell.index + sz + sy, y * z);
    return sum;
}

/// Six lengths of the layer grid between the nodes of a cell, metres.
struct LayerLengths {
    std::array<float, 8> value{};
    [[nodiscard]] double operator[](LayerValue name) const {
        return static_cast<double>(value[static_cast<std::size_t>(name)]);
    }
};

LayerLengths between(const GridBox& box, const std::vector<LayerNode>& nodes, const GridCell& cell) {
    const float x = static_cast<float>(cell.t.x);
    const float y = static_cast<float>(cell.t.y);
    const float z = static_cast<float>(cell.t.z);
    constexpr float kStepM = static_cast<float>(LayerNode::kStepM);
    LayerLengths sum;
    const auto add_row = [&](std::size_t first, float weight) {
        const LayerNode& a = nodes[first];
        const LayerNode& b = nodes[first + 1];
        const float wb = weight * x;
        const float wa = weight - wb;
        for (std::size_t k = 0; k < 8; ++k)
            sum.value[k] += wa * static_cast<float>(a.steps[k]) + wb * static_cast<float>(b.steps[k]);
    };
    const std::size_t sy = box.stride_y();
    const std::size_t sz = box.stride_z();
    const float upper = kStepM * z;
    const float lower = kStepM - upper;
    add_row(cell.index, (1.0f - y) * lower);
    add_row(cell.index + sy, y * lower);
    add_row(cell.index + sz, (1.0f - y) * upper);
    add_row(cell.index + sz + sy, y * upper);
    return sum;
}

std::size_t nearest_node(const GridBox& box, const GridCell& cell) {
    return cell.index + (cell.t.x > 0.5 ? 1 : 0) + (cell.t.y > 0.5 ? box.stride_y() : 0) +
           (cell.t.z > 0.5 ? box.stride_z() : 0);
}

/// Slope over one cell, so that it has no jumps at cell faces.
template <class Value>
Vec3 slope(const Vec3& p_m, double half_step_m, const Value& value) {
    Vec3 g{};
    for (int k = 0; k < 3; ++k) {
        Vec3 step{};
        step[k] = half_step_m;
        g[k] = (value(p_m + step) - value(p_m - step)) / (2.0 * half_step_m);
    }
    return g;
}

Vec3 unit_or(const Vec3& v, const Vec3& otherwise) {
    const double length = glm::length(v);
    return length > 1e-9 ? v / length : otherwise;
}

constexpr Vec3 kBackwards{0.0, 0.0, -1.0};

Vec3 into_box(const GridBox& box, const Vec3& p_m) {
    return glm::clamp(p_m, box.low_m, box.low_m + box.cell_m * Vec3(box.nodes - 1));
}

}  // namespace

HeadTissue::HeadTissue() = default;
HeadTissue::~HeadTissue() = default;

FloorKind FloorDistances::nearest() const {
    if (bone_m <= lining_m && bone_m <= fascia_m) return FloorKind::bone;
    return lining_m <= fascia_m ? FloorKind::lining : FloorKind::fascia;
}

LayerPoint HeadTissue::layers_at(const Vec3& p_m) const {
    using V = LayerValue;
    const GridCell cell(grids->box, p_m);
    const LayerLengths v = between(grids->box, grids->layers, cell);
    LayerPoint point;
    point.depth_m = v[V::depth];
    point.bottom_m = layer_bottoms(point.depth_m, v[V::floor], v[V::fascia], {v[V::skin], v[V::fat], v[V::smas]});
    point.floor = grids->layers[nearest_node(grids->box, cell)].kind();
    if (point.depth_m < 0.0) return point;
    if (v[V::floor] <= 0.0) {
        point.layer = Layer::floor;
        return point;
    }
    // counted, not searched: which layer a random point lies in is nothing that a processor could guess
    std::size_t k = 0;
    for (std::size_t i = 0; i + 1 < kTissueLayers; ++i)
        k += static_cast<std::size_t>(point.depth_m > point.bottom_m[i]);
    const double top_m = k > 0 ? point.bottom_m[k - 1] : 0.0;
    point.layer = static_cast<Layer>(k + 1);
    point.fraction = std::clamp((point.depth_m - top_m) / (point.bottom_m[k] - top_m), 0.0, 1.0);
    return point;
}

double HeadTissue::depth_m(const Vec3& p_m) const {
    return LayerNode::kStepM * trilinear(grids->box, GridCell(grids->box, p_m), [this](std::size_t i) {
               return static_cast<double>(grids->layers[i][LayerValue::depth]);
           });
}

Vec3 HeadTissue::inward_at(const Vec3& p_m) const {
    const Vec3 p = into_box(grids->box, p_m);
    return unit_or(slope(p, 0.5 * grids->box.cell_m, [this](const Vec3& q) { return depth_m(q); }), kBackwards);
}

FloorDistances HeadTissue::floor_distances_m(const Vec3& p_m) const {
    const DeepNode v = between(grids->box, grids->deep, GridCell(grids->box, p_m));
    return {static_cast<double>(v[DeepValue::bone]), static_cast<double>(v[DeepValue::lining]),
            static_cast<double>(v[DeepValue::fascia])};
}

Vec3 HeadTissue::away_from_bone_at(const Vec3& p_m) const {
    const Vec3 p = into_box(grids->box, p_m);
    return unit_or(slope(p, 0.5 * grids->box.cell_m, [this](const Vec3& q) { return bone_distance_m(q); }),
                   -kBackwards);
}

HeadTissue::Windows HeadTissue::windows_at(const Vec3& p_m) const {
    const DeepNode v = between(grids->box, grids->deep, GridCell(grids->box, p_m));
    return {static_cast<double>(v[DeepValue::parotid]), static_cast<double>(v[DeepValue::masseter]),
            static_cast<double>(v[DeepValue::premasseter])};
}

SkinPoint HeadTissue::nearest_skin(const Vec3& p_m) const {
    constexpr int kRounds = 24;
    constexpr double kCloseM = 1e-8;
    constexpr double kLeastSlope = 0.3;  // behind the ear two ways out meet
    Vec3 p = into_box(grids->box, p_m);
    for (int i = 0; i < kRounds; ++i) {
        const double d = depth_m(p);
        if (std::abs(d) < kCloseM) break;
        const Vec3 g = slope(p, 0.5 * grids->box.cell_m, [this](const Vec3& q) { return depth_m(q); });
        p -= g * (d / std::max(glm::dot(g, g), kLeastSlope));
        p = into_box(grids->box, p);
    }
    return {p, -inward_at(p)};
}

std::optional<SkinPoint> HeadTissue::ray_to_skin(const Vec3& origin_m, const Vec3& direction) const {
    constexpr double kCaution = 0.8;
    constexpr double kLeastM = 0.05 * kMm;
    constexpr int kHalvings = 44;
    const GridBox& box = grids->box;
    const Vec3 high = box.low_m + box.cell_m * Vec3(box.nodes - 1);
    double enter = 0.0;
    double leave = std::numeric_limits<double>::infinity();
    for (int k = 0; k < 3; ++k) {
        const double a = (box.low_m[k] - origin_m[k]) / direction[k];
        const double b = (high[k] - origin_m[k]) / direction[k];
        if (std::isnan(a) || std::isnan(b)) return std::nullopt;  // along a face of the box
        enter = std::max(enter, std::min(a, b));
        leave = std::min(leave, std::max(a, b));
    }
    if (!(enter < leave)) return std::nullopt;
    // a ray that comes in through unmodelled tissue has met no modelled skin
    if (depth_m(origin_m + direction * enter) > 0.0) return std::nullopt;
    double before = enter;
    for (double t = enter; t < leave;) {
        const double d = depth_m(origin_m + direction * t);
        if (d >= 0.0) {
            double low = before;
            double far = t;
            for (int i = 0; i < kHalvings; ++i) {
                const double middle = 0.5 * (low + far);
                (depth_m(origin_m + direction * middle) >= 0.0 ? far : low) = middle;
            }
            const Vec3 p = origin_m + direction * far;
            return SkinPoint{p, -inward_at(p)};
        }
        before = t;
        t += std::max(-kCaution * d, kLeastM);
    }
    return std::nullopt;
}

const HeadParameters& HeadTissue::parameters() const { return grids->skin.parameters(); }
const SkinField& HeadTissue::skin_field() const { return grids->skin; }
const SkinField& HeadTissue::young_reference() const { return grids->young; }
const BonyPoints& HeadTissue::bony_points() const { return grids->bony; }

}  // namespace sim
