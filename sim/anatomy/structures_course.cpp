#include "sim/anatomy/structures_course.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"

namespace sim {

namespace {

constexpr double kOutsideM = 0.2;  // farther from the midline or the face than any skin

double top_of(const LayerPoint& at, Layer layer) {
    return layer == Layer::skin ? 0.0 : at.bottom_of(static_cast<Layer>(static_cast<int>(layer) - 1));
}

SkinPoint must_hit(const SideTissue& tissue, const Vec3& from, const Vec3& direction, const char* what) {
    const auto hit = tissue.ray_to_skin(from, direction);
    if (!hit)
        throw InputError(std::string("structures: ray ") + what, "y = " + std::to_string(from.y / kMm) + " mm",
                         "a head whose skin the ray meets");
    return *hit;
}

/// Two unit vectors that span the skin at a point.
std::array<Vec3, 2> skin_axes(const Vec3& normal) {
    const Vec3 aid = std::abs(normal.y) < 0.9 ? Vec3(0, 1, 0) : Vec3(0, 0, 1);
    const Vec3 u = glm::normalize(glm::cross(aid, normal));
    return {u, glm::cross(normal, u)};
}

}  // namespace

double DepthRule::depth_m(const LayerPoint& at) const {
    const double top_m = top_of(at, layer);
    return top_m + fraction * (at.bottom_of(layer) - top_m) + offset_m;
}

Vec3 brought_to(const SideTissue& tissue, Vec3 p_m, const DepthRule& rule) {
    // long ways go in short steps, because the way in turns; the last steps close the gap
    constexpr int kMaxSteps = 40;
    constexpr double kLongestStepM = 2.0 * kMm;
    constexpr double kCloseM = 1e-6;
    for (int i = 0; i < kMaxSteps; ++i) {
        const LayerPoint at = tissue.layers_at(p_m);
        const double missing_m = rule.depth_m(at) - at.depth_m;
        if (std::abs(missing_m) < kCloseM) break;
        p_m += tissue.inward_at(p_m) * std::clamp(missing_m, -kLongestStepM, kLongestStepM);
    }
    return p_m;
}

SkinPoint skin_from_side(const SideTissue& tissue, double y_m, double z_m) {
    return must_hit(tissue, {kOutsideM, y_m, z_m}, {-1, 0, 0}, "from the side");
}

SkinPoint skin_from_front(const SideTissue& tissue, double x_m, double y_m) {
    return must_hit(tissue, {x_m, y_m, kOutsideM}, {0, 0, -1}, "from the front");
}

SkinSearch search_skin(const SideTissue& tissue, const SkinPoint& start, const SkinResiduals& residuals) {
    constexpr int kMaxSteps = 20;
    constexpr double kProbeM = 0.7 * kMm;
    constexpr double kLongestStepM = 8.0 * kMm;
    constexpr double kCloseM = 0.02 * kMm;
    constexpr double kLeastDamping = 1e-3;  // against the unit slopes of distances
    constexpr double kStiffen = 10.0, kRelax = 0.2;

    const auto miss = [](const std::array<double, 2>& r) { return std::hypot(r[0], r[1]); };
    SkinPoint here = start;
    std::array<double, 2> r = residuals(here);
    SkinSearch best{here, miss(r)};
    double damping = kLeastDamping;
    for (int i = 0; i < kMaxSteps && best.miss_m > kCloseM; ++i) {
        const auto axes = skin_axes(here.normal);
        std::array<std::array<double, 2>, 2> slope{};
        for (std::size_t k = 0; k < 2; ++k) {
            const SkinPoint probe = tissue.nearest_skin(here.position_m + axes[k] * kProbeM);
            const auto moved = residuals(probe);
            for (std::size_t j = 0; j < 2; ++j) slope[j][k] = (moved[j] - r[j]) / kProbeM;
        }
        // normal equations of the 2x2 least-squares step
        const double a = slope[0][0] * slope[0][0] + slope[1][0] * slope[1][0] + damping;
        const double b = slope[0][0] * slope[0][1] + slope[1][0] * slope[1][1];
        const double c = slope[0][1] * slope[0][1] + slope[1][1] * slope[1][1] + damping;
        const double g0 = slope[0][0] * r[0] + slope[1][0] * r[1];
        const double g1 = slope[0][1] * r[0] + slope[1][1] * r[1];
        const double determinant = a * c - b * b;
        double s0 = -(c * g0 - b * g1) / determinant;
        double s1 = -(a * g1 - b * g0) / determinant;
        const double length_m = std::hypot(s0, s1);
        if (length_m > kLongestStepM) {
            s0 *= kLongestStepM / length_m;
            s1 *= kLongestStepM / length_m;
        }
        const SkinPoint next = tissue.nearest_skin(here.position_m + axes[0] * s0 + axes[1] * s1);
        const auto next_r = residuals(next);
        if (miss(next_r) < best.miss_m) {
            best = {next, miss(next_r)};
            here = next;
            r = next_r;
            damping = std::max(kLeastDamping, kRelax * damping);
        } else {
            damping *= kStiffen;  // overshot a fold: a shorter step, nearer to straight downhill
        }
    }
    return best;
}

namespace {

struct RawNode {
    Vec3 p{};
    std::size_t from = 0;  ///< the course point before it
    double share = 0.0;    ///< way to the next one, 0..1
    double radius_m = 0.0;
    int station = -1;      ///< index of the course point that it is, or -1
    bool refused = false;  ///< its depth was not to be had
};

/// Point of the centripetal Catmull-Rom spline between p1 and p2 (Barry & Goldman 1988, SIGGRAPH 22:199-204).
Vec3 spline(const Vec3& p0, const Vec3& p1, const Vec3& p2, const Vec3& p3, double share) {
    const auto knot = [](double t, const Vec3& a, const Vec3& b) {
        return t + std::sqrt(std::max(glm::length(b - a), 1e-6));
    };
    const double t0 = 0.0, t1 = knot(t0, p0, p1), t2 = knot(t1, p1, p2), t3 = knot(t2, p2, p3);
    const double t = t1 + share * (t2 - t1);
    const Vec3 a1 = (t1 - t) / (t1 - t0) * p0 + (t - t0) / (t1 - t0) * p1;
    const Vec3 a2 = (t2 - t) / (t2 - t1) * p1 + (t - t1) / (t2 - t1) * p2;
    const Vec3 a3 = (t3 - t) / (t3 - t2) * p2 + (t - t2) / (t3 - t2) * p3;
    const Vec3 b1 = (t2 - t) / (t2 - t0) * a1 + (t - t0) / (t2 - t0) * a2;
    const Vec3 b2 = (t3 - t) / (t3 - t1) * a2 + (t - t1) / (t3 - t1) * a3;
    return (t2 - t) / (t2 - t1) * b1 + (t - t1) / (t2 - t1) * b2;
}

std::vector<RawNode> sample_spline(std::span<const CoursePoint> points, std::span<const Vec3> at, double step_m) {
    std::vector<RawNode> nodes;
    const std::size_t last = at.size() - 1;
    for (std::size_t i = 0; i < last; ++i) {
        // the ends are continued straight on
        const Vec3 before = i > 0 ? at[i - 1] : 2.0 * at[0] - at[1];
        const Vec3 after = i + 1 < last ? at[i + 2] : 2.0 * at[last] - at[last - 1];
        const int pieces = std::max(1, static_cast<int>(std::lround(glm::length(at[i + 1] - at[i]) / step_m)));
        for (int k = 0; k < pieces; ++k) {
            const double share = static_cast<double>(k) / pieces;
            nodes.push_back({spline(before, at[i], at[i + 1], after, share), i, share,
                             points[i].radius_m + share * (points[i + 1].radius_m - points[i].radius_m),
                             k == 0 ? static_cast<int>(i) : -1});
        }
    }
    nodes.push_back({at[last], last - 1, 1.0, points[last].radius_m, static_cast<int>(last)});
    return nodes;
}

class CourseLayer {
 public:
    CourseLayer(const SideTissue& tissue, std::span<const CoursePoint> points, const CourseOptions& options)
        : tissue_(tissue), points_(points), options_(options) {}

    /// Ends, where other structures join, and published depths stay as they are, but for those that bone refuses.
    [[nodiscard]] bool held(const std::vector<RawNode>& nodes, std::size_t i) const {
        if (i == 0 || i + 1 == nodes.size()) return true;
        return nodes[i].station >= 0 && points_[static_cast<std::size_t>(nodes[i].station)].placed && !nodes[i].refused;
    }

    /// Note which published depths bone has refused.
    void note_refused(std::vector<RawNode>& nodes) const {
        for (RawNode& node : nodes) {
            if (node.station < 0) continue;
            const LayerPoint at = tissue_.layers_at(node.p);
            const DepthRule& rule = points_[static_cast<std::size_t>(node.station)].rule;
            node.refused = std::abs(at.depth_m - rule.depth_m(at)) > kGaveWayM;
        }
    }

    /// Every node to the depth that the rules of its neighbours want, softened along the course, so that a step in a
    /// layer's thickness makes no step in the course.
    void bring_to_depth(std::vector<RawNode>& nodes) const {
        std::vector<double> wanted_m(nodes.size()), next_m(nodes.size());
        for (std::size_t i = 0; i < nodes.size(); ++i)
            wanted_m[i] = held_in_tissue(nodes[i], tissue_.layers_at(nodes[i].p));
        constexpr int kPasses = 5;
        for (int pass = 0; pass < kPasses; ++pass) {
            for (std::size_t i = 0; i < nodes.size(); ++i)
                next_m[i] =
                    held(nodes, i) ? wanted_m[i] : 0.25 * (wanted_m[i - 1] + 2.0 * wanted_m[i] + wanted_m[i + 1]);
            wanted_m.swap(next_m);
        }
        for (std::size_t i = 0; i < nodes.size(); ++i) bring(nodes[i], wanted_m[i]);
    }

    /// Out of bone and under the skin; where tissue is thin, midway between the two.
    void keep_between(RawNode& node) const {
        constexpr double kALittleM = 1e-5;
        for (int i = 0; i < 8; ++i) {
            const double bone_m = tissue_.bone_distance_m(node.p);
            const double depth_m = tissue_.layers_at(node.p).depth_m;
            const double room_m = std::min(node.radius_m + options_.clearance_m, 0.5 * std::max(0.0, bone_m + depth_m));
            if (room_m - bone_m > kALittleM)
                node.p += tissue_.away_from_bone_at(node.p) * (room_m - bone_m);
            else if (room_m - depth_m > kALittleM)
                node.p += tissue_.inward_at(node.p) * (room_m - depth_m);
            else
                break;
        }
    }

    /// Towards the least bending: every inner node moves to where the second differences about it are smallest, so
    /// that the course passes its held places as a spline would, without a corner there; named places move less far.
    void soften(std::vector<RawNode>& nodes, int passes) const {
        constexpr double kNamedShare = 0.7, kShare = 0.6;
        std::vector<Vec3> next(nodes.size());
        for (int pass = 0; pass < passes; ++pass) {
            for (std::size_t i = 0; i < nodes.size(); ++i) {
                next[i] = nodes[i].p;
                if (held(nodes, i)) continue;
                next[i] += (least_bent(nodes, i) - nodes[i].p) * kShare * (nodes[i].station >= 0 ? kNamedShare : 1.0);
            }
            for (std::size_t i = 0; i < nodes.size(); ++i) nodes[i].p = next[i];
        }
    }

    /// Where skin and bone leave less room than the radius, what lies there is flattened: the radius gives way.
    void fit_radius(RawNode& node) const {
        constexpr double kLeastRadiusM = 0.25e-3;
        const double room_m = std::min(tissue_.bone_distance_m(node.p), tissue_.layers_at(node.p).depth_m);
        node.radius_m = std::min(node.radius_m, std::max(kLeastRadiusM, room_m - options_.clearance_m));
    }

 private:
    /// Place of an inner node that makes the sum of the squared second differences it takes part in least.
    [[nodiscard]] static Vec3 least_bent(const std::vector<RawNode>& nodes, std::size_t i) {
        const Vec3& before = nodes[i - 1].p;
        const Vec3& after = nodes[i + 1].p;
        Vec3 sum = 2.0 * (before + after);
        double weight = 4.0;
        if (i >= 2) {
            sum += 2.0 * before - nodes[i - 2].p;
            weight += 1.0;
        }
        if (i + 2 < nodes.size()) {
            sum += 2.0 * after - nodes[i + 2].p;
            weight += 1.0;
        }
        return sum / weight;
    }

    [[nodiscard]] double held_in_tissue(const RawNode& node, const LayerPoint& at) const {
        const DepthRule& before = points_[node.from].rule;
        const DepthRule& after = points_[node.from + 1].rule;
        const double s = node.share * node.share * (3.0 - 2.0 * node.share);
        double wanted_m = before.depth_m(at);
        if (s > 0.0) wanted_m += s * (after.depth_m(at) - wanted_m);
        const double room_m = node.radius_m + options_.clearance_m;
        wanted_m =
            std::min(wanted_m, std::max(0.5 * at.bottom_of(Layer::muscle), at.bottom_of(Layer::muscle) - room_m));
        // what belongs below the SMAS stays there, however little room there is
        const auto deep = [](const DepthRule& rule) { return rule.layer > Layer::smas; };
        if (deep(before) && deep(after)) wanted_m = std::max(wanted_m, at.bottom_of(Layer::smas) + kBelowSmasM);
        return std::max(wanted_m, std::min(room_m, 0.5 * at.bottom_of(Layer::muscle)));
    }

    void bring(RawNode& node, double wanted_m) const {
        constexpr double kCloseM = 5e-6, kLongestStepM = 2.0 * kMm;
        for (int i = 0; i < 30; ++i) {
            const double missing_m = wanted_m - tissue_.layers_at(node.p).depth_m;
            if (std::abs(missing_m) < kCloseM) break;
            node.p += tissue_.inward_at(node.p) * std::clamp(missing_m, -kLongestStepM, kLongestStepM);
        }
    }

    static constexpr double kBelowSmasM = 0.4e-3;  // assumed

    const SideTissue& tissue_;
    std::span<const CoursePoint> points_;
    const CourseOptions& options_;
};

}  // namespace

Course lay_course(const SideTissue& tissue, std::span<const CoursePoint> points, const CourseOptions& options) {
    SIM_ASSERT(points.size() >= 2);
    std::vector<Vec3> at;
    for (const CoursePoint& point : points) at.push_back(brought_to(tissue, point.position_m, point.rule));

    std::vector<RawNode> nodes = sample_spline(points, at, options.step_m);
    const CourseLayer layer(tissue, points, options);
    // to depth and out of bone, then soften what that bent, and once more
    constexpr int kRounds = 3;
    for (int round = 0; round < kRounds; ++round) {
        layer.bring_to_depth(nodes);
        for (RawNode& node : nodes) layer.keep_between(node);
        layer.note_refused(nodes);
        layer.soften(nodes, 4);
    }
    // like a band drawn over the bone; bone has the last word
    constexpr int kBandRounds = 8;
    for (int round = 0; round < kBandRounds; ++round) {
        for (RawNode& node : nodes) layer.keep_between(node);
        if (round + 1 < kBandRounds) layer.soften(nodes, 1);
    }
    for (RawNode& node : nodes) layer.fit_radius(node);

    Course course;
    for (const RawNode& node : nodes) {
        course.line.push_back({node.p, node.radius_m});
        if (node.station < 0) continue;
        const CoursePoint& point = points[static_cast<std::size_t>(node.station)];
        if (point.station.empty()) continue;
        const LayerPoint found = tissue.layers_at(node.p);
        const bool as_told = std::abs(found.depth_m - point.rule.depth_m(found)) < kGaveWayM;
        course.stations.push_back(
            {point.station, node.p, found.depth_m, node.radius_m, point.placed && !point.gave_way && as_told});
    }
    return course;
}

Polyline::Polyline(std::vector<Vec3> points_m) : points_m_(std::move(points_m)) {
    SIM_ASSERT(points_m_.size() >= 2);
    along_m_.push_back(0.0);
    for (std::size_t i = 1; i < points_m_.size(); ++i)
        along_m_.push_back(along_m_.back() + glm::length(points_m_[i] - points_m_[i - 1]));
}

Vec3 Polyline::at(double along_m) const {
    if (!(along_m > 0.0)) return points_m_.front();
    for (std::size_t i = 1; i < points_m_.size(); ++i)
        if (along_m < along_m_[i]) {
            const double share = (along_m - along_m_[i - 1]) / (along_m_[i] - along_m_[i - 1]);
            return points_m_[i - 1] + share * (points_m_[i] - points_m_[i - 1]);
        }
    return points_m_.back();
}

double Polyline::along_at_chord(double chord_m) const { return along_at_chord(chord_m, points_m_.front()); }

double Polyline::along_at_chord(double chord_m, const Vec3& from_m) const {
    constexpr double kStepM = 0.1 * kMm;
    for (double along = nearest_in_plan(from_m).along_m; along < length_m(); along += kStepM)
        if (glm::length(at(along) - from_m) >= chord_m) return along;
    return length_m();
}

Polyline::Foot Polyline::nearest_in_plan(const Vec3& p_m) const {
    Foot best;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i + 1 < points_m_.size(); ++i) {
        const Vec3 d = points_m_[i + 1] - points_m_[i];
        const Vec3 e = p_m - points_m_[i];
        const double length2 = d.x * d.x + d.z * d.z;
        const double share = length2 > 0.0 ? std::clamp((d.x * e.x + d.z * e.z) / length2, 0.0, 1.0) : 0.0;
        const Vec3 foot = points_m_[i] + share * d;
        const double distance = std::hypot(p_m.x - foot.x, p_m.z - foot.z);
        if (distance < least) {
            least = distance;
            best = {foot, along_m_[i] + share * (along_m_[i + 1] - along_m_[i])};
        }
    }
    return best;
}

}  // namespace sim
