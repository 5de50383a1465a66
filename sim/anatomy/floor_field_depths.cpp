#include "sim/anatomy/floor_field_depths.hpp"

#include <cmath>

#include <Eigen/Cholesky>

#include "sim/anatomy/skin_points.hpp"
#include "sim/core/errors.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr float kNo = kNoDepth;
constexpr std::string_view kLebanese =
    "222 adults, cephalograms, Forensic Sci Int 2018, 10.1016/j.forsciint.2018.10.021";

// name, paired, left out, pooled, woman, man, other
constexpr DepthLandmark kTable[] = {
    {"vertex", false, false, 5.0f},
    {"supraglabella", false, false, kNo, 3.5f, 4.25f},
    {"glabella", false, false, 5.5f, 4.75f, 5.25f},
    {"nasion", false, true, kNo, 5.5f, 6.5f},
    {"mid-nasal", false, false, 4.0f},
    {"rhinion", false, false, 3.0f, 2.75f, 3.0f, 3.07f, kLebanese},
    {"subnasale", false, true, 13.0f, kNo, kNo, 15.61f, kLebanese},
    {"mid-philtrum", false, false, 11.5f, 8.5f, 10.0f},
    {"labrale superius", false, false, kNo, 9.0f, 9.75f},
    {"labrale inferius", false, false, 13.0f, 10.0f, 11.0f},
    {"mentolabial sulcus", false, true, 11.0f, 9.5f, 10.75f},
    {"pogonion", false, false, 11.5f, 10.0f, 11.25f},
    {"gnathion", false, true, 8.5f},
    {"menton", false, false, 7.0f, 5.75f, 7.25f},
    {"frontal eminence", true, true, kNo, 3.5f, 4.25f},
    {"mid-supra-orbital", true, false, 6.0f, 6.75f, 8.25f},
    {"sub-orbital", true, false, kNo, 5.75f, 5.75f},
    {"lateral orbit", true, true, kNo, 10.75f, 10.0f},
    {"zygion", true, false, 6.0f, 7.5f, 7.25f},
    {"inferior malar", true, false, kNo, 12.75f, 13.25f},
    {"supraglenoid", true, false, kNo, 8.0f, 8.5f},
    {"alar curvature", true, false, 9.5f},
    {"supra-canine", true, true, 9.5f},
    {"infra-canine", true, true},
    {"supra-M2", true, false, 26.0f, 19.25f, 19.5f},
    {"infra-M2", true, true, 20.0f, 15.5f, 16.0f},
    {"occlusal line", true, false, kNo, 17.0f, 18.25f},
    {"mid-ramus", true, true, 17.5f},
    {"gonion", true, false, 10.0f, 12.0f, 11.5f},
    {"mid-mandibular border", true, true},
    {"mid-infraorbital", true, true},
    {"tragion", true, true},
    {"cheilion", true, true},
    {"alare", true, true},
    {"antegonial notch", true, true},
    {"otobasion inferius", true, true},
};

/// A line of sight on the even face of this patient, left side.
struct Sight {
    vec3 origin, direction;
};

Sight from_front(float x, float y) { return {{x, y, 140.0f}, {0.0f, 0.0f, -1.0f}}; }

/// Towards a place 52 mm beside the midline, from the left and, with `from_ahead`, somewhat from the front.
Sight from_side(float y, float z, float from_ahead = 0.0f) {
    const vec3 direction = glm::normalize(vec3(-1.0f, 0.0f, -from_ahead));
    return {vec3(52.0f, y, z) - direction * 100.0f, direction};
}

/// Where the tables' positions lie, in the table's order. Soft-tissue points come from the face; the rest are the
/// tables' descriptions read onto this head (from memory).
std::vector<Sight> sights(const SkinField& skin) {
    const FaceLandmarks face = face_points_mm(skin);
    const float male = static_cast<float>(skin.parameters().male);
    const auto rest = [&](const vec3& p) { return skin.rest_mm(p); };
    const auto ahead_of = [&](const vec3& p) {
        const vec3 q = rest(p);
        return from_front(q.x, q.y);
    };
    const auto beside = [&](const vec3& p) {
        const vec3 q = rest(p);
        return from_side(q.y, q.z);
    };
    const vec3 menton = rest(face.menton);
    const vec3 gonion = rest(face.gonion.left);
    const vec3 lips(0.0f, 0.5f * (rest(face.labrale_superius).y + rest(face.subnasale).y), 0.0f);
    const float lower = rest(face.pogonion).y + 68.0f;  // how much lower this chin is than a woman's, <= 0 for men
    constexpr float kBonyMentonZ = 68.0f;
    return {
        {{0.0f, 170.0f, -8.0f}, {0.0f, -1.0f, 0.0f}},                    // vertex
        from_front(0.0f, 54.0f),                                         // supraglabella
        from_front(0.0f, 36.0f),                                         // glabella
        from_front(0.0f, rest(face.sellion).y + kNasionAboveSellionMm),  // nasion
        from_front(0.0f, 12.0f),                                         // mid-nasal
        from_front(0.0f, 5.0f),                                          // rhinion
        from_front(0.0f, rest(face.subnasale).y),
        from_front(0.0f, lips.y),  // mid-philtrum
        ahead_of(face.labrale_superius),
        ahead_of(face.labrale_inferius),
        ahead_of(face.sublabiale),  // mentolabial sulcus
        from_front(0.0f, rest(face.pogonion).y - 3.0f),
        {{0.0f, menton.y - 60.0f, 145.0f}, glm::normalize(vec3(0.0f, 0.72f, -0.72f))},  // gnathion
        {{0.0f, -170.0f, kBonyMentonZ}, {0.0f, 1.0f, 0.0f}},                            // menton
        from_front(28.0f, 66.0f),                                                       // frontal eminence
        from_front(30.0f, 38.0f),                                                       // mid-supra-orbital
        from_front(30.0f, -6.0f),                                                       // sub-orbital
        from_side(-1.0f, 56.0f, 0.7f),                  // lateral orbit: 10 mm below the outer rim
        from_side(0.0f, 26.0f),                         // zygion
        from_side(-16.0f, 56.0f, 1.0f),                 // inferior malar
        from_side(9.0f, 9.0f),                          // supraglenoid
        from_front(16.5f + 2.5f * male, -19.0f),        // alar curvature
        from_front(18.0f, -33.0f),                      // supra-canine
        from_front(17.0f, -59.0f + 0.6f * lower),       // infra-canine
        from_side(-31.0f, 47.0f, 0.5f),                 // supra-M2
        from_side(-57.0f + 0.4f * lower, 44.0f, 0.5f),  // infra-M2
        from_side(-44.0f, 38.0f),                       // occlusal line
        from_side(-31.0f, 22.0f),                       // mid-ramus
        from_side(gonion.y, gonion.z + 2.0f, -0.1f),    // gonion
        from_side(-66.0f + 0.7f * lower, 44.0f, 0.5f),  // mid-mandibular border
        from_front(30.0f, -2.0f),                       // mid-infraorbital
        beside(face.tragion.left),
        ahead_of(face.cheilion.left),
        ahead_of(face.alare.left - vec3(0.5f, 0.0f, 0.0f)),
        from_side(-59.0f + 0.5f * lower, 28.0f),                         // antegonial notch
        beside(face.otobasion_inferius.left + vec3(0.0f, -3.0f, 3.0f)),  // just before and below the lobule
    };
}

}  // namespace

bool DepthLandmark::has_depth() const {
    return !(std::isnan(pooled_mm) && std::isnan(woman_mm) && std::isnan(other_mm));
}

float DepthLandmark::target_mm(float male) const {
    constexpr float kApartMm = 3.0f;
    if (std::isnan(woman_mm)) return std::isnan(other_mm) ? pooled_mm : 0.5f * (pooled_mm + other_mm);
    const float own = glm::mix(woman_mm, man_mm, male);
    if (std::isnan(pooled_mm)) return own;
    const float both = 0.5f * (woman_mm + man_mm);
    const float middle = std::fabs(pooled_mm - both) > kApartMm ? 0.5f * (pooled_mm + both) : pooled_mm;
    return middle + own - both;
}

std::span<const DepthLandmark> depth_landmark_table() { return kTable; }

std::vector<DepthSite> depth_sites(const SkinField& skin) {
    const std::vector<Sight> lines = sights(skin);
    SIM_ASSERT(lines.size() == std::size(kTable));
    std::vector<DepthSite> sites;
    const auto look = [&](std::size_t row, Side side, float sign) {
        // the line is drawn on the even face; its skin point goes to where this face has it
        const vec3 mirror(sign, 1.0f, 1.0f);
        const vec3 origin = skin.from_rest_mm(lines[row].origin * mirror);
        const vec3 further = skin.from_rest_mm((lines[row].origin + 60.0f * lines[row].direction) * mirror);
        if (const auto hit = skin_along_ray_mm(skin, origin, glm::normalize(further - origin)))
            sites.push_back({&kTable[row], side, *hit});
    };
    for (std::size_t row = 0; row < lines.size(); ++row) {
        if (kTable[row].paired) {
            look(row, Side::left, 1.0f);
            look(row, Side::right, -1.0f);
        } else {
            look(row, Side::midline, 1.0f);
        }
    }
    return sites;
}

std::optional<vec3> skin_along_ray_mm(const SkinField& skin, const vec3& origin, const vec3& direction) {
    constexpr float kReachMm = 420.0f;
    constexpr float kCaution = 0.6f;  // the field may read more than the distance where folds lie on it
    constexpr float kLeastMm = 0.1f;
    constexpr int kHalvings = 14;  // of at most some 100 mm: leaves 6 um
    float before = 0.0f;
    for (float t = 0.0f; t < kReachMm;) {
        const float value = skin.value_mm(origin + direction * t);
        if (value < 0.0f) {
            float low = before;
            float high = t;
            for (int i = 0; i < kHalvings; ++i) {
                const float middle = 0.5f * (low + high);
                (skin.value_mm(origin + direction * middle) < 0.0f ? high : low) = middle;
            }
            return origin + direction * high;
        }
        before = t;
        t += std::max(kCaution * value, kLeastMm);
    }
    return std::nullopt;
}

std::array<Vec3, 13> depth_rays(const Vec3& normal) {
    constexpr double kFirstTiltRad = 0.22;
    constexpr double kSecondTiltRad = 0.44;  // 25 degrees
    const Vec3 helper = std::abs(normal.y) < 0.9 ? Vec3(0.0, 1.0, 0.0) : Vec3(1.0, 0.0, 0.0);
    const Vec3 u = glm::normalize(glm::cross(normal, helper));
    const Vec3 v = glm::cross(normal, u);
    std::array<Vec3, 13> rays;
    for (std::size_t k = 0; k < rays.size(); ++k) {
        const double tilt = k == 0 ? 0.0 : k < 7 ? kFirstTiltRad : kSecondTiltRad;
        const double around = static_cast<double>(k) * kPi / 3.0;
        rays[k] = -glm::normalize(normal + std::tan(tilt) * (std::cos(around) * u + std::sin(around) * v));
    }
    return rays;
}

std::optional<float> bone_depth_mm(const FloorField& floor, const vec3& skin_mm) {
    constexpr float kReachMm = 45.0f;
    constexpr float kCaution = 0.6f;
    constexpr float kLeastMm = 0.2f;
    constexpr int kHalvings = 12;
    const vec3 normal = glm::normalize(floor.young().gradient(skin_mm, kNormalSmoothingMm));
    std::optional<float> best;
    for (const Vec3& direction : depth_rays(Vec3(normal))) {
        const vec3 ray(direction);
        const float limit = best.value_or(kReachMm);
        float before = 0.0f;
        for (float t = 0.0f; t < limit;) {
            const float value = floor.bone_mm(skin_mm + ray * t);
            if (value < 0.0f) {
                float low = before;
                float high = t;
                for (int i = 0; i < kHalvings; ++i) {
                    const float middle = 0.5f * (low + high);
                    (floor.bone_mm(skin_mm + ray * middle) < 0.0f ? high : low) = middle;
                }
                best = high;
                break;
            }
            before = t;
            t += std::max(kCaution * value, kLeastMm);
        }
    }
    return best;
}

std::vector<double> ridge_weights(std::span<const vec3> centres, std::span<const double> residuals, float width_mm,
                                  double ridge) {
    const auto n = static_cast<Eigen::Index>(centres.size());
    Eigen::MatrixXd gram(n, n);
    Eigen::VectorXd right(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        right[i] = residuals[static_cast<std::size_t>(i)];
        for (Eigen::Index j = 0; j < n; ++j) {
            const vec3 off = centres[static_cast<std::size_t>(i)] - centres[static_cast<std::size_t>(j)];
            gram(i, j) = static_cast<double>(std::exp(-0.5f * glm::dot(off, off) / (width_mm * width_mm))) +
                         (i == j ? ridge : 0.0);
        }
    }
    const Eigen::VectorXd weights = gram.ldlt().solve(right);
    return {weights.data(), weights.data() + n};
}

}  // namespace sim
