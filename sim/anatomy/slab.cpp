#include "sim/anatomy/slab.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "sim/core/errors.hpp"

namespace sim {

Slab::Slab(SlabParameters parameters) : floor_(parameters.floor) {
    double depth_m = 0.0;
    for (std::size_t i = 0; i < bottom_m_.size(); ++i) {
        if (!(parameters.thickness_m[i] > 0.0 && parameters.thickness_m[i] < 0.1))
            throw InputError("slab.thickness_m[" + std::to_string(i) + "]", parameters.thickness_m[i], "> 0 and < 0.1");
        depth_m += parameters.thickness_m[i];
        bottom_m_[i] = depth_m;
    }
    for (const Structure& structure : parameters.structures)
        if (structure.line.size() < 2)
            throw InputError("slab.structures." + structure.name + ".line", static_cast<double>(structure.line.size()),
                             "at least 2 nodes");
    for (const Ligament& ligament : parameters.ligaments)
        if (ligament.deep_m.size() < 2 || ligament.deep_m.size() != ligament.superficial_m.size())
            throw InputError("slab.ligaments." + ligament.name, static_cast<double>(ligament.deep_m.size()),
                             "two edges of the same number of vertices, at least 2");
    structures_ = std::move(parameters.structures);
    ligaments_ = std::move(parameters.ligaments);
    index_structures();
}

LayerPoint Slab::layers_at(const Vec3& p_m) const {
    LayerPoint out;
    out.depth_m = -p_m.z;
    out.bottom_m = bottom_m_;
    out.floor = floor_;
    if (out.depth_m < 0.0) return out;
    double top_m = 0.0;
    for (std::size_t i = 0; i < bottom_m_.size(); ++i) {
        if (out.depth_m < bottom_m_[i]) {
            out.layer = static_cast<Layer>(i + 1);
            out.fraction = (out.depth_m - top_m) / (bottom_m_[i] - top_m);
            return out;
        }
        top_m = bottom_m_[i];
    }
    out.layer = Layer::floor;
    return out;
}

Vec3 Slab::inward_at(const Vec3&) const { return {0.0, 0.0, -1.0}; }

std::optional<SkinPoint> Slab::ray_to_skin(const Vec3& origin_m, const Vec3& direction) const {
    if (!(origin_m.z >= 0.0 && direction.z < 0.0)) return std::nullopt;
    Vec3 hit = origin_m - direction * (origin_m.z / direction.z);
    hit.z = 0.0;
    if (!(std::abs(hit.x) <= kHalfWidthM && std::abs(hit.y) <= kHalfWidthM)) return std::nullopt;
    return SkinPoint{hit, {0.0, 0.0, 1.0}};
}

SkinPoint Slab::nearest_skin(const Vec3& p_m) const { return {{p_m.x, p_m.y, 0.0}, {0.0, 0.0, 1.0}}; }

}  // namespace sim
