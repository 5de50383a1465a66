#include "sim/tissue/read_out.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

/// Middles of the superficial compartments and of regions, by x, y, z of the patient's left in a face of the usual
/// size; the nearest skin is taken (assumed: drawn from the published maps of the compartments).
struct NamedPlace {
    std::string_view name;
    Vec3 place_m;
};
const std::array<NamedPlace, 6> kCompartments{{{"jowl", {0.040, -0.072, 0.058}},
                                               {"nasolabial compartment", {0.030, -0.030, 0.078}},
                                               {"middle cheek compartment", {0.050, -0.028, 0.058}},
                                               {"medial cheek compartment", {0.036, -0.010, 0.076}},
                                               {"lateral cheek compartment", {0.062, -0.030, 0.025}},
                                               {"temple", {0.064, 0.030, 0.040}}}};

const Landmark* landmark(const Head& head, std::string_view name, Side side) {
    for (const Landmark& mark : head.landmarks())
        if (mark.name == name && mark.side == side) return &mark;
    return nullptr;
}

Vec3 mirrored(const Vec3& p, Side side) { return side == Side::right ? Vec3(-p.x, p.y, p.z) : p; }

/// Skin of the lower third, from the mouth to the jaw and from before the mouth's corner to the masseter.
PlaceMoved lower_third(const TetheredBody& body, const Settled& settled, Side side, bool most) {
    constexpr double kLowM = -0.080, kHighM = -0.045, kInnerM = 0.025, kBackM = 0.020;
    const HexMesh& mesh = body.mesh();
    PlaceMoved out{most ? "lower third, most" : "lower third, mean", side, {}, {}};
    int count = 0;
    for (int c = 0; c < mesh.columns(); ++c) {
        const Vec3& p = mesh.cells.node_m[static_cast<std::size_t>(mesh.node(c, kCellsDeep))];
        const double x = side == Side::right ? -p.x : p.x;
        if (x < kInnerM || p.y < kLowM || p.y > kHighM || p.z < kBackM) continue;
        const int n = 3 * mesh.free_node(c, kCellsDeep);
        const Vec3 u(settled.displacement_m[n], settled.displacement_m[n + 1], settled.displacement_m[n + 2]);
        out.at_m += p;
        ++count;
        if (!most)
            out.moved_m += u;
        else if (glm::length(u) > glm::length(out.moved_m))
            out.moved_m = u;
    }
    SIM_ASSERT(count > 0);
    out.at_m /= count;
    if (!most) out.moved_m /= count;
    return out;
}

}  // namespace

Vec3 compartment_m(const Head& head, std::string_view name, Side side) {
    const auto found = std::find_if(kCompartments.begin(), kCompartments.end(),
                                    [&](const NamedPlace& place) { return place.name == name; });
    SIM_ASSERT(found != kCompartments.end());
    return head.nearest_skin(mirrored(found->place_m, side)).position_m;
}

std::vector<PlaceMoved> posture_read_outs(const Head& head, const TetheredBody& body, const Settled& settled) {
    std::vector<PlaceMoved> out;
    for (const Side side : {Side::left, Side::right}) {
        const auto add = [&](std::string_view name, const Vec3& at) {
            out.push_back({std::string(name), side, at, body.skin_moved_m(settled, at)});
        };
        for (const std::string_view name : {"cheilion", "gonion"})
            if (const Landmark* mark = landmark(head, name, side)) add(name, mark->skin.position_m);
        for (const NamedPlace& place : kCompartments) add(place.name, compartment_m(head, place.name, side));
        out.push_back(lower_third(body, settled, side, false));
        out.push_back(lower_third(body, settled, side, true));
    }
    return out;
}

std::vector<ThreadPath> lifting_paths(const Head& head, const HexMesh& mesh, Side side, int count, double pull_n) {
    constexpr double kApartM = 12.0 * kMm, kLevel = 5.0;  // in the middle of the superficial fat
    constexpr Vec3 kFarM{0.042, -0.066, 0.056}, kNearM{0.066, -0.006, 0.024};
    if (!(count >= 1 && count <= 8)) throw InputError("threads", count, "1 to 8");
    const auto far = locate(mesh, head.nearest_skin(mirrored(kFarM, side)).position_m);
    const auto near = locate(mesh, head.nearest_skin(mirrored(kNearM, side)).position_m);
    SIM_ASSERT(far && near);
    const ChartPlace middle{0.5 * (far->s_m + near->s_m), 0.5 * (far->t_m + near->t_m), kLevel};
    const ChartMetric metric = metric_at(mesh, middle);
    // across the thread, in the plane of the skin, as steps of the chart
    const double run_s = (near->s_m - far->s_m) * metric.m_per_s;
    const double run_t = (near->t_m - far->t_m) * metric.m_per_t;
    const double run = std::hypot(run_s, run_t);
    std::vector<ThreadPath> out;
    for (int k = 0; k < count; ++k) {
        const double off = (k - 0.5 * (count - 1)) * kApartM;
        const double s = -off * run_t / run / metric.m_per_s;
        const double t = off * run_s / run / metric.m_per_t;
        ThreadPath path;
        path.far_end = {far->s_m + s, far->t_m + t, kLevel};
        path.near_end = {near->s_m + s, near->t_m + t, kLevel};
        path.pull_n = pull_n;
        out.push_back(path);
    }
    return out;
}

LiftMoved lift_read_out(const TetheredBody& body, const Settled& settled, const std::vector<ThreadPath>& paths) {
    const HexMesh& mesh = body.mesh();
    LiftMoved out;
    for (int c = 0; c < mesh.columns(); ++c)
        out.peak_m = std::max(out.peak_m, settled.displacement_m.segment<3>(3 * mesh.free_node(c, kCellsDeep)).norm());
    ChartPlace far{0.0, 0.0, kCellsDeep};
    Vec3 along{};
    for (const ThreadPath& path : paths) {
        far.s_m += path.far_end.s_m / static_cast<double>(paths.size());
        far.t_m += path.far_end.t_m / static_cast<double>(paths.size());
        along += position_m(mesh, path.near_end) - position_m(mesh, path.far_end);
    }
    out.jowl_along_m = glm::dot(read(patch_at(mesh, far), settled.displacement_m), glm::normalize(along));
    return out;
}

}  // namespace sim::fe
