#include "sim/anatomy/hairs.hpp"

#include <array>
#include <cmath>
#include <span>

#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "sim/anatomy/skin_parts.hpp"

/// All figures drawn by eye (assumed).

namespace sim {
namespace {

using glm::vec2;
using glm::vec3;
using skin::ramp;

constexpr std::uint64_t kBrowStream = 1, kLashStream = 2;

class HairCutter {
 public:
    explicit HairCutter(const SkinField& field) : field_(field), form_(field.form()) {}

    HairMesh cut() {
        const Random random(field_.parameters().asymmetry_seed + 11U);
        for (const float side : {-1.0f, 1.0f}) {
            Random lashes = random.fork(kLashStream + (side > 0.0f ? 1U : 0U));
            upper_lashes(side, lashes);
            lower_lashes(side, lashes);
        }
        Random brows = random.fork(kBrowStream);
        brow_strands(brows);
        return std::move(mesh_);
    }

 private:
    static float chance(Random& random) { return static_cast<float>(random.uniform()); }

    /// The skin at a place of the frontal plane, in the rest frame.
    [[nodiscard]] vec3 on_skin(const vec2& at) const {
        constexpr float kBeforeFaceMm = 110.0f, kNearMm = 0.02f;
        vec3 p(at, kBeforeFaceMm);
        for (int k = 0; k < 60; ++k) {
            const float d = skin::value_at_rest(form_, p);
            if (d < kNearMm) break;
            p.z -= 0.8f * d;
        }
        return p;
    }

    [[nodiscard]] vec3 outward(const vec3& rest_mm) const {
        constexpr float kStepMm = 0.6f;
        vec3 slope(0.0f);
        for (int axis = 0; axis < 3; ++axis) {
            vec3 step(0.0f);
            step[axis] = kStepMm;
            slope[axis] = skin::value_at_rest(form_, rest_mm + step) - skin::value_at_rest(form_, rest_mm - step);
        }
        return glm::normalize(slope);
    }

    /// Brought out of the skin, should the skin curve up to it.
    [[nodiscard]] vec3 cleared(vec3 p) const {
        constexpr float kClearMm = 0.15f;
        for (int k = 0; k < 3; ++k) {
            const float d = skin::value_at_rest(form_, p);
            if (d >= kClearMm) break;
            p += outward(p) * (kClearMm - d + 0.02f);
        }
        return p;
    }

    /// A strip along points of the rest frame, as wide as `width_mm` at its root and pointed at its end.
    ///
    /// @param facing of the strip's flat side; @param turn_rad of the strip about its own length: strips that all lie
    ///        flat would vanish from the side
    void strand(std::span<const vec3> line, const vec3& facing, float turn_rad, float width_mm, HairKind kind) {
        const auto base = static_cast<std::uint32_t>(mesh_.vertices.size());
        for (std::size_t i = 0; i < line.size(); ++i) {
            const vec3 along = glm::normalize(line[std::min(i + 1, line.size() - 1)] - line[i > 0 ? i - 1 : 0]);
            const vec3 flat = glm::normalize(glm::cross(along, facing));
            const vec3 up = glm::cross(flat, along);
            const vec3 across = flat * std::cos(turn_rad) + up * std::sin(turn_rad);
            const float share = static_cast<float>(i) / static_cast<float>(line.size() - 1);
            const float half_mm = 0.5f * width_mm * (1.0f - 0.75f * share * share);
            if (i + 1 == line.size()) {
                mesh_.vertices.push_back({field_.from_rest_mm(line[i]), up, kind});
                continue;
            }
            // rounded for light: the two edges look a little apart
            for (const float edge : {-1.0f, 1.0f})
                mesh_.vertices.push_back({field_.from_rest_mm(line[i] + across * (edge * half_mm)),
                                          glm::normalize(up + 0.5f * edge * across), kind});
        }
        const auto pieces = static_cast<std::uint32_t>(line.size() - 1);
        for (std::uint32_t i = 0; i < pieces; ++i) {
            const std::uint32_t a = base + 2 * i;
            for (const std::uint32_t k : {a, a + 1, a + 2}) mesh_.triangles.push_back(k);
            if (i + 1 == pieces) continue;
            for (const std::uint32_t k : {a + 1, a + 3, a + 2}) mesh_.triangles.push_back(k);
        }
    }

    struct Lash {
        vec3 root{}, normal{}, direction{};
        float length_mm = 0.0f, curl = 0.0f, width_mm = 0.0f, turn_rad = 0.0f;
    };
    template <std::size_t Points>
    void lash(const Lash& l) {
        std::array<vec3, Points> line;
        for (std::size_t i = 0; i < Points; ++i) {
            const float t = static_cast<float>(i) / static_cast<float>(Points - 1);
            line[i] = l.root + l.direction * (l.length_mm * t * (1.0f - 0.15f * t)) +
                      l.normal * (l.length_mm * l.curl * t * t);
            if (i > 0) line[i] = cleared(line[i]);
        }
        strand(line, l.normal, l.turn_rad, l.width_mm, HairKind::lash);
    }

    /// Closed lids bring the upper lashes down over the lower ones; they fan outwards and curl off the cheek.
    void upper_lashes(float side, Random& random) {
        const float male = form_.male;
        const int count = static_cast<int>(std::lround(66.0f - 12.0f * male));
        float gather = 0.0f;  // of neighbours, whose ends run together
        for (int k = 0; k < count; ++k) {
            const float u = (static_cast<float>(k) + chance(random)) / static_cast<float>(count);
            if (k % 4 == 0) gather = chance(random) - 0.5f;
            const float x = 17.4f + 27.0f * u;
            Lash l;
            l.root = on_skin({side * x, skin::lid_line_y(x) - 0.05f + 0.35f * (chance(random) - 0.5f)});
            l.normal = outward(l.root);
            l.root -= l.normal * 0.1f;
            const float fan = 0.62f * (u - 0.36f) + 0.16f * gather + 0.12f * (chance(random) - 0.5f);
            l.direction = glm::normalize(vec3(side * fan, -0.93f, 0.30f) + 0.25f * l.normal);
            // longest over the outer third, short at both corners
            const float reach = ramp(-0.05f, 0.42f, u) * ramp(1.12f, 0.80f, u);
            l.length_mm =
                (6.4f - 2.0f * male - 0.9f * form_.age) * (0.42f + 0.58f * reach) * (0.78f + 0.30f * chance(random));
            l.curl = 0.16f + 0.16f * chance(random);
            l.width_mm = 0.155f - 0.02f * male;
            l.turn_rad = k % 2 == 0 ? 0.6f : -0.6f;
            lash<4>(l);
        }
    }

    void lower_lashes(float side, Random& random) {
        const float male = form_.male;
        const int count = static_cast<int>(std::lround(34.0f - 8.0f * male));
        for (int k = 0; k < count; ++k) {
            const float u = (static_cast<float>(k) + chance(random)) / static_cast<float>(count);
            const float x = 18.5f + 25.0f * u;
            Lash l;
            l.root = on_skin({side * x, skin::lid_line_y(x) - 1.0f + 0.3f * (chance(random) - 0.5f)});
            l.normal = outward(l.root);
            l.root -= l.normal * 0.1f;
            const float fan = 0.8f * (u - 0.4f) + 0.3f * (chance(random) - 0.5f);
            l.direction = glm::normalize(vec3(side * fan, -0.95f, 0.1f) + 0.3f * l.normal);
            l.length_mm = (2.9f - 0.7f * male) * (0.5f + 0.5f * ramp(0.0f, 0.4f, u)) * (0.7f + 0.5f * chance(random));
            l.curl = 0.05f;
            l.width_mm = 0.10f;
            l.turn_rad = k % 2 == 0 ? 0.5f : -0.5f;
            lash<3>(l);
        }
    }

    /// Some of the painted hairs, off the skin: they catch light and break the outline.
    void brow_strands(Random& random) {
        constexpr std::size_t kStrands = 170;
        const std::vector<BrowHair> hairs = brow_hairs(form_, random);
        for (std::size_t k = 0; k < kStrands; ++k) {
            const BrowHair& hair = hairs[k * hairs.size() / kStrands];
            if (hair.strength < 0.45f) continue;
            const vec2 along = hair.to - hair.from;
            const vec2 middle = 0.5f * (hair.from + hair.to) + vec2(-along.y, along.x) * hair.bend;
            constexpr float kTipLiftMm = 0.55f;
            std::array<vec3, 3> line{on_skin(hair.from), on_skin(middle), on_skin(hair.to)};
            const vec3 normal = outward(line[1]);
            line[1] = cleared(line[1] + normal * (0.6f * kTipLiftMm));
            line[2] = cleared(line[2] + normal * kTipLiftMm);
            const float width_mm = 0.105f + 0.03f * form_.male;
            strand(line, normal, k % 2 == 0 ? 0.35f : -0.35f, width_mm,
                   hair.grey ? HairKind::grey_brow : HairKind::brow);
        }
    }

    const SkinField& field_;
    const skin::Form& form_;
    HairMesh mesh_;
};

}  // namespace

std::vector<BrowHair> brow_hairs(const skin::Form& form, Random& random) {
    const auto chance = [&random] { return static_cast<float>(random.uniform()); };
    const float male = form.male;
    const int count = static_cast<int>(820.0f + 330.0f * male - 220.0f * form.age);
    std::vector<BrowHair> hairs;
    for (const float side : {-1.0f, 1.0f}) {
        for (int k = 0; k < count; ++k) {
            const float s = std::pow(chance(), 0.9f);
            const float x = 12.5f - 1.5f * male + 39.0f * s + 1.6f * (chance() - 0.5f);
            const float thick =
                (2.1f + 1.5f * male) * (0.55f + 0.45f * ramp(-0.02f, 0.18f, s)) * (1.0f - 0.72f * ramp(0.30f, 1.0f, s));
            const float across = chance() + chance() - 1.0f;
            const float y = skin::brow_line_y(form, x) + across * thick;
            const float slope = skin::brow_line_y(form, x + 1.0f) - skin::brow_line_y(form, x);
            float angle = s < 0.28f ? 1.25f - 2.6f * s : 0.52f - 0.5f * s;
            angle +=
                (s > 0.2f ? std::atan(slope) : 0.0f) - (s > 0.15f ? 0.35f * across : 0.0f) + 0.25f * (chance() - 0.5f);
            const float length_mm = (4.0f + 2.6f * chance()) * (1.0f - 0.35f * s) * (1.0f + 0.15f * male);
            const float dense = ramp(1.04f, 0.85f, s) * (0.35f + 0.65f * ramp(0.0f, 0.16f + 0.05f * chance(), s));
            BrowHair hair;
            hair.from = {side * x, y};
            hair.to = hair.from + length_mm * vec2(side * std::cos(angle), std::sin(angle));
            hair.bend = side * -0.06f;
            hair.strength = (0.55f + 0.34f * chance()) * dense;
            hair.grey = chance() < 0.24f * ramp(0.45f, 1.1f, form.age);
            hairs.push_back(hair);
        }
    }
    return hairs;
}

HairMesh build_hairs(const SkinField& field) { return HairCutter(field).cut(); }

}  // namespace sim
