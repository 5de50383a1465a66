#include "engine/view/skin_paint.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <glm/common.hpp>
#include <glm/geometric.hpp>
#include <limits>

#include "engine/view/shapes.hpp"
#include "sim/patient/patient.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr unsigned kPencil = 0x23466E;  // skin pencil, another than the plan's
constexpr unsigned kPulse = 0xA23B2C;
constexpr unsigned kBlood = 0x6E0F12;

// what a sign adds to blood and melanin of the skin, by eye
constexpr float kPallorBlood = -0.75f, kBruiseBlood = 1.9f, kDuskyBlood = 1.0f, kDuskyMelanin = 0.34f;
constexpr float kCoat = 0.65f;  // of iodine, as a swab leaves it

glm::vec3 millimetres(const Vec3& p_m) { return glm::vec3(p_m) * kMmPerM; }

float smooth(float from, float to, float x) {
    const float t = std::clamp((x - from) / (to - from), 0.0f, 1.0f);
    return t * t * (3.0f - 2.0f * t);
}

/// Between -1 and 1, over some millimetres: no patch of skin has a drawn outline.
float uneven(const glm::vec3& p_mm) {
    return 0.5f * std::sin(0.61f * p_mm.x + 0.37f * p_mm.z + 1.3f) * std::sin(0.53f * p_mm.y - 0.29f * p_mm.z + 0.4f) +
           0.5f * std::sin(1.07f * p_mm.y + 0.83f * p_mm.x) * std::sin(0.91f * p_mm.z - 0.47f * p_mm.y + 2.1f);
}

/// 1 in the middle of a patch, 0 outside it.
float share_of(const SkinSigns::Patch& patch, const glm::vec3& at_mm) {
    const float radius_mm = static_cast<float>(patch.radius_m) * kMmPerM;
    const float r = glm::length(at_mm - millimetres(patch.skin_m));
    if (r > 1.3f * radius_mm) return 0.0f;
    return (1.0f - smooth(0.45f, 1.0f, r / radius_mm + 0.22f * uneven(at_mm))) * static_cast<float>(patch.strength);
}

float rise_mm(const SkinSigns::Bleb& bleb, const glm::vec3& at_mm) {
    const float r = glm::length(at_mm - millimetres(bleb.skin_m)) / (static_cast<float>(bleb.radius_m) * kMmPerM);
    const float inside = std::max(0.0f, 1.0f - r * r);
    return static_cast<float>(bleb.height_m) * kMmPerM * inside * inside;
}

void lift(SurfaceVertex& vertex, const glm::vec3& at_mm, const SkinSigns::Bleb& bleb) {
    const glm::vec3 from = at_mm - millimetres(bleb.skin_m);
    const float radius_mm = static_cast<float>(bleb.radius_m) * kMmPerM, r = glm::length(from) / radius_mm;
    if (r >= 1.0f) return;
    const float height_mm = static_cast<float>(bleb.height_m) * kMmPerM, inside = 1.0f - r * r;
    vertex.position_mm += vertex.normal * rise_mm(bleb, at_mm);
    // d/dr of H (1 - r^2)^2 is -4 H r (1 - r^2)
    const glm::vec3 flat = from - vertex.normal * glm::dot(from, vertex.normal);
    const float away = glm::length(flat);
    if (away > 1e-4f)
        vertex.normal = glm::normalize(vertex.normal + flat / away * (4.0f * height_mm / radius_mm * r * inside));
    vertex.paint.x += kPallorBlood * static_cast<float>(bleb.pale) * smooth(0.0f, 0.6f, inside);
}

void colour(SurfaceVertex& vertex, const glm::vec3& at_mm, const SkinSigns& signs) {
    float pallor = 0.0f, red = 0.0f, dusky = 0.0f;
    for (const SkinSigns::Patch& one : signs.blanched) pallor = std::max(pallor, share_of(one, at_mm));
    for (const SkinSigns::Patch& one : signs.bruises) {
        const float share = share_of(one, at_mm);
        red = std::max(red, share * (1.0f - static_cast<float>(one.age)));
        dusky = std::max(dusky, share * static_cast<float>(one.age));
    }
    vertex.paint.x += pallor * kPallorBlood + red * kBruiseBlood + dusky * kDuskyBlood;
    vertex.paint.y += dusky * kDuskyMelanin + 0.3f * red * kDuskyMelanin;
}

/// How far up, and how far back, the face is wiped: below the eyes, and to the ear. By eye, after the landmarks.
class WipedEdge {
 public:
    explicit WipedEdge(const sim::Anatomy& anatomy) {
        for (const sim::Landmark& one : anatomy.landmarks()) {
            const glm::vec3 at = millimetres(one.skin.position_m);
            if (one.side == sim::Side::right) continue;
            if (one.name == "mid-infraorbital") inner_ = at;
            if (one.name == "lateral orbit") outer_ = at;
            if (one.name == "tragion") ear_ = at;
            if (one.name == "gnathion") chin_ = at;
        }
        known_ = inner_.x > 0.0f && outer_.x > inner_.x;
    }
    [[nodiscard]] float inside(const glm::vec3& p_mm) const {
        if (!known_) return 1.0f;
        constexpr float kSoftMm = 5.0f, kNeckMm = 55.0f, kBehindMm = 6.0f, kAboveMm = 8.0f;
        const float outwards = smooth(inner_.x - 8.0f, outer_.x, std::fabs(p_mm.x));
        const float top_mm = glm::mix(inner_.y - 4.0f, outer_.y + kAboveMm, outwards);
        const float below = 1.0f - smooth(top_mm - kSoftMm, top_mm, p_mm.y + uneven(p_mm));
        const float before = smooth(ear_.z - kBehindMm - kSoftMm, ear_.z - kBehindMm, p_mm.z + uneven(p_mm));
        const float above = smooth(chin_.y - kNeckMm - kSoftMm, chin_.y - kNeckMm, p_mm.y + uneven(p_mm));
        return below * before * above;
    }

 private:
    glm::vec3 inner_{}, outer_{}, ear_{}, chin_{};
    bool known_ = false;
};

void append_cross(ObjectMesh& mesh, const sim::Anatomy& anatomy, const Vec3& skin_m) {
    constexpr double kArmM = 3.0 * sim::kMm, kWidthM = 0.8 * sim::kMm;
    constexpr int kPieces = 12;
    const sim::SkinPoint at = anatomy.nearest_skin(skin_m);
    const Vec3 up = std::fabs(at.normal.y) < 0.9 ? Vec3(0, 1, 0) : Vec3(1, 0, 0);
    const Vec3 u = glm::normalize(glm::cross(up, at.normal)), w = glm::cross(at.normal, u);
    for (const Vec3& arm : {u + w, u - w}) {
        std::vector<sim::SkinPoint> line;
        for (int i = 0; i <= kPieces; ++i)
            line.push_back(
                anatomy.nearest_skin(at.position_m + glm::normalize(arm) * (kArmM * (2.0 * i / kPieces - 1.0))));
        append_stroke(mesh, line, kWidthM, {linear(kPencil), 0.0f});
    }
}

/// From where a vector's entry was marked to its end, a stroke each few millimetres.
void append_vector(ObjectMesh& mesh, const sim::Anatomy& anatomy, const Vec3& from_m, const Vec3& to_m) {
    constexpr double kDashM = 3.0 * sim::kMm, kWidthM = 0.8 * sim::kMm;
    constexpr int kPieces = 3;
    const int dashes = std::max(1, static_cast<int>(glm::length(to_m - from_m) / (2.0 * kDashM)));
    for (int d = 0; d < dashes; ++d) {
        std::vector<sim::SkinPoint> line;
        for (int i = 0; i <= kPieces; ++i)
            line.push_back(anatomy.nearest_skin(
                glm::mix(from_m, to_m, (d + 0.25 + 0.5 * i / kPieces) / static_cast<double>(dashes))));
        append_stroke(mesh, line, kWidthM, {linear(kPencil), 0.0f});
    }
}

/// Wide and thin as it fades.
void append_pulse(ObjectMesh& mesh, const sim::Anatomy& anatomy, const SkinSigns::Pulse& pulse) {
    constexpr double kFreshM = 4.0 * sim::kMm, kGoneM = 9.0 * sim::kMm, kWidthM = 1.2 * sim::kMm;
    append_ring(mesh, anatomy, anatomy.nearest_skin(pulse.skin_m), glm::mix(kGoneM, kFreshM, pulse.fresh),
                std::max(0.2 * sim::kMm, kWidthM * pulse.fresh), {linear(kPulse), 0.0f});
}

/// A flat dome.
void append_drop(ObjectMesh& mesh, const sim::Anatomy& anatomy, const SkinSigns::Drop& drop) {
    constexpr std::uint32_t kAround = 20, kRings = 4;
    constexpr float kFlat = 0.4f;
    const sim::SkinPoint at = anatomy.nearest_skin(drop.skin_m);
    const glm::vec3 n(at.normal),
        u = glm::normalize(glm::cross(n, std::fabs(n.y) < 0.9f ? glm::vec3(0, 1, 0) : glm::vec3(1, 0, 0)));
    const glm::vec3 w = glm::cross(n, u), centre = millimetres(at.position_m);
    const float radius = static_cast<float>(drop.radius_m) * kMmPerM;
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    for (std::uint32_t ring = 0; ring <= kRings; ++ring)
        for (std::uint32_t k = 0; k < kAround; ++k) {
            const float rise = 0.5f * static_cast<float>(sim::kPi) * static_cast<float>(ring) / kRings;
            const float turn = 2.0f * static_cast<float>(sim::kPi) * static_cast<float>(k) / kAround;
            const glm::vec3 out = std::cos(turn) * u + std::sin(turn) * w;
            mesh.vertices.push_back({centre + radius * (std::cos(rise) * out + kFlat * std::sin(rise) * n),
                                     glm::normalize(std::cos(rise) * kFlat * out + std::sin(rise) * n), linear(kBlood),
                                     0.15f});
        }
    for (std::uint32_t ring = 0; ring < kRings; ++ring)
        for (std::uint32_t k = 0; k < kAround; ++k) {
            const std::uint32_t a = first + ring * kAround + k, b = first + ring * kAround + (k + 1) % kAround;
            for (const std::uint32_t i : {a, b, a + kAround, b, b + kAround, a + kAround}) mesh.triangles.push_back(i);
        }
}

/// The nearest vertex of the skin to each new one of the mesh. @param about where these lie, and how far beyond a ring
void append_nearest(std::vector<std::uint32_t>& along, const ObjectMesh& mesh, const Surface& rest, const Vec3& about,
                    double reach_m) {
    constexpr float kRingMm = 16.0f;  // a ring and an edge of the skin's mesh
    const float around_mm = kRingMm + static_cast<float>(reach_m) * kMmPerM;
    const glm::vec3 middle = millimetres(about);
    std::vector<std::uint32_t> near;
    for (std::uint32_t i = 0; i < rest.vertices.size(); ++i)
        if (glm::length(rest.vertices[i].position_mm - middle) < around_mm) near.push_back(i);
    for (std::size_t k = along.size(); k < mesh.vertices.size(); ++k) {
        std::uint32_t best = 0;
        float least = std::numeric_limits<float>::max();
        for (const std::uint32_t i : near) {
            const float d = glm::length(rest.vertices[i].position_mm - mesh.vertices[k].position_mm);
            if (d >= least) continue;
            least = d;
            best = i;
        }
        along.push_back(best);
    }
}

}  // namespace

WipedAreas::WipedAreas(const Surface& rest, const sim::Anatomy& anatomy) {
    const WipedEdge edge(anatomy);
    for (std::vector<float>& share : share_) share.assign(rest.vertices.size(), 0.0f);
    for (std::size_t i = 0; i < rest.vertices.size(); ++i) {
        const glm::vec3& p_mm = rest.vertices[i].position_mm;
        const float inside = edge.inside(p_mm);
        if (!(inside > 0.0f)) continue;
        const Vec3 p_m = Vec3(p_mm) * sim::kMm;
        if (sim::area_of(p_m, anatomy.layers_at(p_m).floor == sim::FloorKind::fascia) == sim::SkinArea::neck) {
            share_[static_cast<std::size_t>(sim::SkinArea::neck)][i] = inside;
            continue;
        }
        const float left = smooth(-3.0f, 3.0f, p_mm.x);
        share_[static_cast<std::size_t>(sim::SkinArea::left_face)][i] = inside * left;
        share_[static_cast<std::size_t>(sim::SkinArea::right_face)][i] = inside * (1.0f - left);
    }
}

std::shared_ptr<const Surface> painted(const std::shared_ptr<const Surface>& rest,
                                       const std::shared_ptr<const Surface>& shown, const SkinSigns& signs,
                                       const WipedAreas* areas) {
    if (!signs.colours()) return shown;
    auto out = std::make_shared<Surface>(*shown);
    out->rest = shown->rest ? shown->rest : shown;
    for (std::size_t i = 0; i < out->vertices.size(); ++i) {
        SurfaceVertex& vertex = out->vertices[i];
        const glm::vec3& at_mm = rest->vertices[i].position_mm;
        if (areas != nullptr)
            for (std::size_t area = 0; area < signs.wiped.size(); ++area) {
                const float share = areas->share(static_cast<sim::SkinArea>(area), i);
                vertex.shade.w += kCoat * share * static_cast<float>(signs.wiped[area].brown);
                vertex.paint.w = std::max(vertex.paint.w, 0.7f * share * static_cast<float>(signs.wiped[area].wet));
            }
        for (const SkinSigns::Bleb& bleb : signs.blebs) lift(vertex, at_mm, bleb);
        colour(vertex, at_mm, signs);
    }
    double most_m = 0.0;
    for (const SkinSigns::Bleb& bleb : signs.blebs) most_m += bleb.height_m;
    out->moved_most_mm = shown->moved_most_mm + static_cast<float>(most_m) * kMmPerM;
    return out;
}

OnSkin on_skin_of(const SkinSigns& signs, const Surface& rest, const sim::Anatomy& anatomy) {
    auto mesh = std::make_shared<ObjectMesh>();
    std::vector<std::uint32_t> along;
    const auto then = [&](const Vec3& skin_m, double reach_m) { append_nearest(along, *mesh, rest, skin_m, reach_m); };
    for (const SkinSigns::Mark& mark : signs.marks) {
        append_cross(*mesh, anatomy, mark.skin_m);
        then(mark.skin_m, 0.0);
        if (!mark.from_m) continue;
        append_vector(*mesh, anatomy, *mark.from_m, mark.skin_m);
        then(0.5 * (*mark.from_m + mark.skin_m), 0.6 * glm::length(mark.skin_m - *mark.from_m));
    }
    for (const SkinSigns::Pulse& pulse : signs.pulses) {
        append_pulse(*mesh, anatomy, pulse);
        then(pulse.skin_m, 0.0);
    }
    for (const SkinSigns::Drop& drop : signs.drops) {
        append_drop(*mesh, anatomy, drop);
        then(drop.skin_m, 0.0);
    }
    if (along.empty()) return {};
    return {std::move(mesh), std::move(along)};
}

std::shared_ptr<const ObjectMesh> on_blebs(const std::shared_ptr<const ObjectMesh>& mesh, const ObjectMesh& rest,
                                           const SkinSigns& signs) {
    if (!mesh || signs.blebs.empty()) return mesh;
    auto out = std::make_shared<ObjectMesh>(*mesh);
    for (std::size_t k = 0; k < out->vertices.size(); ++k)
        for (const SkinSigns::Bleb& bleb : signs.blebs)
            out->vertices[k].position_mm += out->vertices[k].normal * rise_mm(bleb, rest.vertices[k].position_mm);
    return out;
}

std::shared_ptr<const ObjectMesh> carried(const OnSkin& signs, const Surface& rest, const Surface& shown,
                                          const VertexMoves* live) {
    if (!signs.mesh) return nullptr;
    auto out = std::make_shared<ObjectMesh>(*signs.mesh);
    for (std::size_t k = 0; k < out->vertices.size(); ++k) {
        const std::uint32_t i = signs.along[k];
        glm::vec3 move = shown.vertices[i].position_mm - rest.vertices[i].position_mm;
        if (live != nullptr) {
            const auto at = std::lower_bound(live->vertex.begin(), live->vertex.end(), i);
            if (at != live->vertex.end() && *at == i)
                move += live->move_mm[static_cast<std::size_t>(at - live->vertex.begin())];
        }
        out->vertices[k].position_mm += move;
    }
    return out;
}

}  // namespace view
