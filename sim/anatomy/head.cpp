#include "sim/anatomy/head.hpp"

#include <cmath>

#include "sim/anatomy/floor_field_depths.hpp"
#include "sim/anatomy/head_grids.hpp"
#include "sim/anatomy/layers.hpp"
#include "sim/core/errors.hpp"

namespace sim {
namespace {

/// One step in along the way in, aimed at `wanted(p)` metres below the skin.
template <class Wanted>
Vec3 walk(const HeadTissue& tissue, const SkinPoint& from, const Wanted& wanted) {
    constexpr int kSteps = 400;
    constexpr double kStepM = 0.5 * kMm;
    constexpr double kCloseM = 1e-7;
    Vec3 p = from.position_m;
    for (int i = 0; i < kSteps; ++i) {
        const double off = wanted(p) - tissue.depth_m(p);
        if (std::abs(off) < kCloseM) break;
        p += tissue.inward_at(p) * std::clamp(off, -kStepM, kStepM);
    }
    return p;
}

/// The vertex lies above the grid: its depth was kept when the bone was at hand, its layers come from the map alone.
void complete_vertex(const HeadTissue& tissue, const DepthSite& site, Landmark& mark) {
    constexpr double kSheetM = 1.2 * kMm;  // loose tissue and periosteum under the galea (from memory)
    SIM_ASSERT(site.table->name == "vertex");
    mark.skin = {Vec3(site.skin_mm) * kMm, glm::normalize(Vec3(tissue.skin_field().gradient(site.skin_mm)))};
    mark.depth_m = tissue.grids->vertex_depth_m;
    const LayerThickness wanted = LayerMap(tissue.parameters()).at(site.skin_mm, 0.5);
    mark.bottom_m = layer_bottoms(0.0, mark.depth_m, mark.depth_m - kSheetM, wanted);
}

}  // namespace

Vec3 walk_in(const HeadTissue& tissue, const SkinPoint& from, double depth_m) {
    return walk(tissue, from, [depth_m](const Vec3&) { return depth_m; });
}

Vec3 walk_in_to(const HeadTissue& tissue, const SkinPoint& from, Layer layer, double fraction) {
    SIM_ASSERT(layer >= Layer::skin && layer <= Layer::muscle);
    const auto index = static_cast<std::size_t>(layer) - 1;
    return walk(tissue, from, [&](const Vec3& p) {
        const LayerPoint at = tissue.layers_at(p);
        const double top = index == 0 ? 0.0 : at.bottom_m[index - 1];
        return top + fraction * (at.bottom_m[index] - top);
    });
}

std::optional<double> soft_tissue_depth_m(const HeadTissue& tissue, const SkinPoint& skin) {
    constexpr double kReachM = 45.0 * kMm;
    constexpr double kLeastM = 0.1 * kMm;
    constexpr double kCaution = 0.8;
    constexpr int kHalvings = 30;
    const glm::vec3 skin_mm(skin.position_m * 1000.0);
    const Vec3 normal(glm::normalize(tissue.skin_field().gradient(skin_mm, kNormalSmoothingMm)));
    std::optional<double> best;
    for (const Vec3& ray : depth_rays(normal)) {
        const double limit = best.value_or(kReachM);
        double before = 0.0;
        for (double t = 0.0; t < limit;) {
            const double d = tissue.bone_distance_m(skin.position_m + ray * t);
            if (d < 0.0) {
                double low = before;
                double high = t;
                for (int i = 0; i < kHalvings; ++i) {
                    const double middle = 0.5 * (low + high);
                    (tissue.bone_distance_m(skin.position_m + ray * middle) < 0.0 ? high : low) = middle;
                }
                best = high;
                break;
            }
            before = t;
            t += std::max(kCaution * d, kLeastM);
        }
    }
    return best;
}

std::vector<Landmark> depth_landmarks(const HeadTissue& tissue) {
    std::vector<Landmark> landmarks;
    for (const DepthSite& site : depth_sites(tissue.skin_field())) {
        Landmark mark;
        mark.name = site.table->name;
        mark.side = site.side;
        if (!tissue.grids->box.contains(Vec3(site.skin_mm) * kMm)) {
            complete_vertex(tissue, site, mark);
        } else {
            mark.skin = tissue.nearest_skin(Vec3(site.skin_mm) * kMm);
            const LayerPoint layers = tissue.layers_at(mark.skin.position_m);
            mark.bottom_m = layers.bottom_m;
            mark.depth_m = soft_tissue_depth_m(tissue, mark.skin).value_or(layers.bottom_of(Layer::muscle));
        }
        landmarks.push_back(std::move(mark));
    }
    return landmarks;
}

Head::Head(std::shared_ptr<const HeadTissue> tissue, std::vector<Structure> structures, std::vector<Ligament> ligaments,
           std::vector<Landmark> landmarks)
    : tissue_(std::move(tissue)) {
    SIM_ASSERT(tissue_ != nullptr);
    structures_ = std::move(structures);
    ligaments_ = std::move(ligaments);
    landmarks_ = std::move(landmarks);
    index_structures();
}

}  // namespace sim
