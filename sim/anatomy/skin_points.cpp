#include "sim/anatomy/skin_points.hpp"

#include "sim/anatomy/skin_parts.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr float kStepMm = 0.25f;  ///< of searches along the profile
constexpr float kOutsideMm = 135.0f;

/// Searches in the rest frame, where the lines of the face are drawn.
class Surveyor {
 public:
    explicit Surveyor(const SkinField& field) : field_(field) {}

    /// First skin from `origin` along the unit vector `direction`, by steps no longer than the field allows.
    [[nodiscard]] vec3 first_skin(const vec3& origin, const vec3& direction) const {
        constexpr int kMostSteps = 400;
        constexpr float kCloseMm = 1e-3f;
        constexpr float kCaution = 0.6f;  // the field over-reads where folds are laid on it
        vec3 p = origin;
        for (int i = 0; i < kMostSteps; ++i) {
            const float d = skin::value_at_rest(field_.form(), p);
            if (d < kCloseMm) break;
            p += direction * std::max(kCaution * d, kCloseMm);
        }
        return p;
    }
    [[nodiscard]] vec3 from_front(float x, float y) const { return first_skin({x, y, kOutsideMm}, {0, 0, -1}); }
    [[nodiscard]] vec3 from_side(float sign, float y, float z) const {
        return first_skin({sign * kOutsideMm, y, z}, {-sign, 0, 0});
    }

    /// Point of the midline between two heights that is foremost (or, with `deepest`, rearmost) along `direction`.
    [[nodiscard]] vec3 of_profile(float y_low, float y_high, const vec3& direction) const {
        vec3 best = from_front(0.0f, y_low);
        for (float y = y_low; y <= y_high; y += kStepMm) {
            const vec3 p = from_front(0.0f, y);
            if (glm::dot(p, direction) > glm::dot(best, direction)) best = p;
        }
        return best;
    }

    /// Most lateral skin point in a window of heights and depths.
    [[nodiscard]] vec3 widest(float sign, const glm::vec2& y_range, const glm::vec2& z_range, float step) const {
        vec3 best(0.0f);
        for (float y = y_range.x; y <= y_range.y; y += step) {
            for (float z = z_range.x; z <= z_range.y; z += step) {
                const vec3 p = from_side(sign, y, z);
                if (sign * p.x > sign * best.x) best = p;
            }
        }
        return best;
    }

    [[nodiscard]] vec3 place(const vec3& rest) const { return field_.from_rest_mm(rest); }
    [[nodiscard]] const skin::Form& form() const { return field_.form(); }

 private:
    const SkinField& field_;
};

template <class Find>
SidedPoint both_sides(const Surveyor& survey, const Find& find) {
    return {survey.place(find(1.0f)), survey.place(find(-1.0f))};
}

/// Lowest point of the chin from below.
vec3 find_menton(const Surveyor& survey) {
    vec3 lowest(0.0f);
    for (float z = 66.0f; z <= 92.0f; z += 2.0f * kStepMm) {
        const vec3 p = survey.first_skin({0.0f, -112.0f, z}, glm::normalize(vec3(0.0f, 1.0f, 0.0f)));
        if (p.y < lowest.y) lowest = p;
    }
    return lowest;
}

}  // namespace

FaceLandmarks face_points_mm(const SkinField& field) {
    const Surveyor survey(field);
    const skin::Form& form = survey.form();
    FaceLandmarks out;
    const vec3 forward(0, 0, 1);
    const vec3 sellion = survey.of_profile(8.0f, 32.0f, -forward);
    const vec3 subnasale = survey.of_profile(-33.0f, -20.0f, glm::normalize(vec3(0.0f, 0.5f, -1.0f)));
    const vec3 menton = find_menton(survey);
    const vec3 sublabiale = survey.of_profile(-66.0f, -52.0f, -forward);
    const vec3 pogonion = survey.of_profile(menton.y + 5.0f, sublabiale.y, forward);
    out.sellion = survey.place(sellion);
    out.nasion = survey.place(survey.from_front(0.0f, sellion.y + kNasionAboveSellionMm));
    out.subnasale = survey.place(subnasale);
    out.menton = survey.place(menton);
    out.sublabiale = survey.place(sublabiale);
    out.pogonion = survey.place(pogonion);
    out.pronasale = survey.place(survey.of_profile(-24.0f, -2.0f, forward));
    out.gnathion = survey.place(
        survey.first_skin(vec3(0.0f, -100.0f, 110.0f), glm::normalize(vec3(0.0f, 100.0f + menton.y + 3.0f, -38.0f))));
    const float line_y = skin::mouth_line_y(0.0f);
    out.stomion = survey.place(survey.from_front(0.0f, line_y));
    out.labrale_superius = survey.place(survey.from_front(0.0f, line_y + skin::lip_heights(form, 0.0f).x));
    out.labrale_inferius = survey.place(survey.from_front(0.0f, line_y - skin::lip_heights(form, 0.0f).y));

    constexpr float kInnerCornerX = 15.9f;
    constexpr float kOuterCornerX = 44.6f;
    out.endocanthion = both_sides(
        survey, [&](float s) { return survey.from_front(s * kInnerCornerX, skin::lid_line_y(kInnerCornerX)); });
    out.exocanthion = both_sides(
        survey, [&](float s) { return survey.from_front(s * kOuterCornerX, skin::lid_line_y(kOuterCornerX)); });
    const float corner_x = skin::mouth_half_width(form);
    out.cheilion = both_sides(
        survey, [&](float s) { return survey.from_front(s * corner_x, skin::mouth_line_y(skin::kMouthUnitMm)); });
    out.alare = both_sides(survey, [&](float s) { return survey.widest(s, {-22.0f, -12.0f}, {86.0f, 96.0f}, 1.0f); });
    out.zygion = both_sides(survey, [&](float s) { return survey.widest(s, {-12.0f, 10.0f}, {18.0f, 50.0f}, 2.0f); });
    const float angle_y = skin::jaw_angle_mm(form).y;
    const float angle_z = skin::jaw_angle_mm(form).z;
    out.gonion = both_sides(survey, [&](float s) { return survey.from_side(s, angle_y, angle_z); });
    out.tragion = both_sides(survey, [&](float s) { return survey.from_side(s, 3.0f, -1.0f); });
    out.otobasion_inferius = both_sides(survey, [&](float s) { return survey.from_side(s, -21.0f, -6.0f); });
    return out;
}

}  // namespace sim
