#include <cmath>
#include <limits>

#include "sim/anatomy/distance_grid.hpp"
#include "sim/anatomy/floor_field.hpp"
#include "sim/anatomy/floor_field_depths.hpp"
#include "sim/anatomy/head_grids.hpp"
#include "sim/anatomy/layers.hpp"
#include "sim/anatomy/skin_shapes.hpp"
#include "sim/core/errors.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr double kCellM = 2.0 * kMm;
// brow to 15 mm above the collar bones, nose to the back of the ear
constexpr Vec3 kLowM{-0.088, -0.182, -0.060};
constexpr Vec3 kHighM{0.088, 0.070, 0.118};
constexpr double kReachM = 45.0 * kMm;

vec3 to_mm(const Vec3& p_m) { return vec3(p_m * 1000.0); }

/// Folds must not print through to the SMAS, nor bone edges to the fascia: at depth the distance gives way to its own
/// blurred copy.
void smooth_away_from_surface(const GridBox& box, std::vector<float>& inward_m, float from_m, float to_m, int passes,
                              const ParallelFor& parallel) {
    const std::vector<float> soft = blurred(box, inward_m, passes, parallel);
    for (std::size_t i = 0; i < inward_m.size(); ++i)
        inward_m[i] += skin::ramp(from_m, to_m, inward_m[i]) * (soft[i] - inward_m[i]);
}

/// Outer face of the chewing muscles and of the deep fascia that spans from arch to jaw; elsewhere a thin sheet of
/// mimetic muscle, periosteum or mucosa's muscle on the floor (1.2 mm, from memory).
float fascia_cover_mm(const FloorField& floor, const vec3& p) {
    constexpr float kSheetMm = 1.2f;
    constexpr float kBridgeMm = 10.0f;
    const float muscle = skin::join_soft(floor.masseter_mm(p), floor.temporalis_mm(p), kBridgeMm);
    const float bone = skin::join_soft(floor.bone_mm(p), floor.lining_mm(p), 4.0f) - kSheetMm;
    return skin::join_soft(skin::join_soft(muscle, bone, kBridgeMm), floor.fascia_mm(p) - 0.8f, kBridgeMm);
}

/// 0 outside a rounded rectangle seen from the side, 1 well inside.
float footprint(const glm::vec2& from_centre, const glm::vec2& half, float power) {
    const auto edge = [power](float v) { return std::pow(std::fabs(v), power); };
    return skin::ramp(-0.5f, 0.5f, 1.0f - edge(from_centre.x / half.x) - edge(from_centre.y / half.y));
}

/// Footprints from memory of their borders: parotid from ear and mastoid over the back of the masseter, from arch to
/// jaw angle; the glide space over the lower half of the masseter.
void set_windows(const FloorField& floor, const vec3& p_mm, const vec3& place_mm, DeepNode& node) {
    const vec3& q = place_mm;
    const float beside = skin::ramp(30.0f, 40.0f, q.x);
    node[DeepValue::parotid] =
        beside * footprint({q.z - 3.0f - 0.15f * (q.y + 30.0f), q.y + 30.0f}, {19.0f, 25.0f}, 2.4f);
    node[DeepValue::premasseter] =
        beside * footprint({q.z - 32.0f - 0.10f * (q.y + 38.0f), q.y + 38.0f}, {11.0f, 15.0f}, 2.6f);
    node[DeepValue::masseter] = skin::ramp(2.0f, -2.0f, floor.masseter_mm(p_mm));
}

/// The auricle is skin through and through: a plate of a few millimetres has no planes to find.
double skin_of_auricle_m(const SkinField& skin, const vec3& p, double skin_m) {
    constexpr double kThroughM = 9.0e-3;                  // more than half of any auricle
    constexpr float kStandsMm = 1.5f, kAllOfItMm = 3.5f;  // off the head that would be there without it, assumed
    const bool beside = std::fabs(p.x) > 50.0f && p.y > -45.0f && p.y < 50.0f && p.z < 15.0f;
    if (!beside) return skin_m;
    const auto share = static_cast<double>(skin::ramp(kStandsMm, kAllOfItMm, skin.large_forms_mm(p)));
    return skin_m + share * (kThroughM - skin_m);
}

double vertex_depth_m(const SkinField& skin, const FloorField& floor) {
    for (const DepthSite& site : depth_sites(skin))
        if (site.table->name == "vertex")
            if (const auto depth_mm = bone_depth_mm(floor, site.skin_mm)) return static_cast<double>(*depth_mm) * kMm;
    SIM_ASSERT(false && "no bone below the vertex");
    return 0.0;
}

struct PartGrids {
    std::vector<float> depth, bone, lining, fascia, cover;
};

PartGrids part_grids(const GridBox& box, const SkinField& skin, const FloorField& floor, const ParallelFor& parallel,
                     const Progress& progress) {
    const auto say = [&](double f, std::string_view what) {
        if (progress) progress(f, what);
    };
    constexpr int kParts = 5;
    const Field fields[kParts] = {
        [&](const Vec3& p) { return static_cast<double>(skin.value_mm(to_mm(p))) * kMm; },
        [&](const Vec3& p) { return static_cast<double>(floor.bone_mm(to_mm(p))) * kMm; },
        [&](const Vec3& p) { return static_cast<double>(floor.lining_mm(to_mm(p))) * kMm; },
        [&](const Vec3& p) { return static_cast<double>(floor.fascia_mm(to_mm(p))) * kMm; },
        [&](const Vec3& p) { return static_cast<double>(fascia_cover_mm(floor, to_mm(p))) * kMm; }};
    constexpr std::string_view kNames[kParts] = {"skin", "bone", "mouth", "neck", "deep fascia"};
    std::vector<DistanceTransform> transforms(kParts, DistanceTransform(box, kReachM));
    for (std::size_t i = 0; i < kParts; ++i) {
        say(0.15 + 0.1 * static_cast<double>(i), kNames[i]);
        transforms[i].sample(fields[i], parallel);
    }
    say(0.65, "distances");
    parallel(kParts, [&](int i) { transforms[static_cast<std::size_t>(i)].sweep(); });
    PartGrids parts;
    std::vector<float>* const out[kParts] = {&parts.depth, &parts.bone, &parts.lining, &parts.fascia, &parts.cover};
    for (std::size_t i = 0; i < kParts; ++i) *out[i] = transforms[i].distances_m(parallel);
    for (float& v : parts.depth) v = -v;
    return parts;
}

std::vector<float> floor_grid(const PartGrids& parts) {
    constexpr float kJoinM = 4e-3f;
    std::vector<float> floor(parts.bone.size());
    for (std::size_t i = 0; i < floor.size(); ++i)
        floor[i] = skin::join_soft(skin::join_soft(parts.bone[i], parts.lining[i], kJoinM), parts.fascia[i], kJoinM);
    return floor;
}

}  // namespace

void LayerNode::set_m(LayerValue name, double length_m) {
    const double count = std::round(length_m / kStepM);
    SIM_ASSERT(std::abs(count) <= std::numeric_limits<std::int16_t>::max());
    steps[static_cast<std::size_t>(name)] = static_cast<std::int16_t>(count);
}

std::shared_ptr<const HeadTissue> build_head_tissue(const HeadParameters& parameters, const ParallelFor& parallel,
                                                    const Progress& progress) {
    const auto say = [&](double f, std::string_view what) {
        if (progress) progress(f, what);
    };
    say(0.0, "bone fitted to the face");
    auto grids = std::make_unique<HeadGrids>(parameters);
    grids->box = GridBox::covering(kLowM, kHighM, kCellM);
    const GridBox& box = grids->box;
    const FloorField floor(grids->young);
    grids->bony = find_bony_points(floor);
    grids->vertex_depth_m = vertex_depth_m(grids->skin, floor);

    PartGrids parts = part_grids(box, grids->skin, floor, parallel, progress);
    std::vector<float> floor_m = floor_grid(parts);
    smooth_away_from_surface(box, parts.depth, 2e-3f, 6e-3f, 3, parallel);
    smooth_away_from_surface(box, floor_m, 1e-3f, 5e-3f, 4, parallel);
    // the fascia is a sheet of its own: it bridges the edges of bone and muscle, so it is smooth on its surface too
    smooth_away_from_surface(box, parts.cover, -6e-3f, -3e-3f, 6, parallel);

    say(0.85, "layers");
    const LayerMap map(parameters);
    grids->layers.resize(box.size());
    grids->deep.resize(box.size());
    parallel(box.nodes.z, [&](int z) {
        for (int y = 0; y < box.nodes.y; ++y)
            for (int x = 0; x < box.nodes.x; ++x) {
                constexpr float kBlendMm = 10.0f;  // across the midline
                const std::size_t i = box.index(x, y, z);
                const vec3 p = to_mm(box.position_m(x, y, z));
                const vec3 place = floor.table_place_mm(p);
                const float left = skin::ramp(-kBlendMm, kBlendMm, grids->young.rest_mm(p).x);
                const LayerThickness t = map.at(place, static_cast<double>(left));
                const FloorDistances d{static_cast<double>(parts.bone[i]), static_cast<double>(parts.lining[i]),
                                       static_cast<double>(parts.fascia[i])};
                LayerNode& node = grids->layers[i];
                node.set_m(LayerValue::depth, static_cast<double>(parts.depth[i]));
                node.set_m(LayerValue::floor, static_cast<double>(floor_m[i]));
                node.set_m(LayerValue::fascia, static_cast<double>(parts.cover[i]));
                node.set_m(LayerValue::skin, skin_of_auricle_m(grids->skin, p, t.skin_m));
                node.set_m(LayerValue::fat, static_cast<double>(t.fat_m));
                node.set_m(LayerValue::smas, static_cast<double>(t.smas_m));
                node.set_kind(d.nearest());
                DeepNode& deep = grids->deep[i];
                deep.value = {parts.bone[i], parts.lining[i], parts.fascia[i]};
                set_windows(floor, p, place, deep);
            }
    });
    auto tissue = std::make_shared<HeadTissue>();
    tissue->grids = std::move(grids);
    say(1.0, "tissue");
    return tissue;
}

}  // namespace sim
