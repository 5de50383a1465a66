#include "engine/view/moved_patient.hpp"

#include <algorithm>
#include <cmath>
#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "sim/core/errors.hpp"
#include "sim/tissue/moved_body.hpp"

namespace view {

namespace {

std::vector<glm::vec3> normals_of(const Surface& surface, std::span<const glm::vec3> moved_mm) {
    std::vector<glm::vec3> sums(surface.vertices.size(), glm::vec3(0.0f));
    const auto at = [&](std::uint32_t i) {
        return surface.vertices[i].position_mm + (moved_mm.empty() ? glm::vec3(0.0f) : moved_mm[i]);
    };
    for (std::size_t k = 0; k + 2 < surface.triangles.size(); k += 3) {
        const std::uint32_t a = surface.triangles[k], b = surface.triangles[k + 1], c = surface.triangles[k + 2];
        const glm::vec3 normal = glm::cross(at(b) - at(a), at(c) - at(a));
        for (const std::uint32_t i : {a, b, c}) sums[i] += normal;
    }
    for (glm::vec3& sum : sums) {
        const float length = glm::length(sum);
        if (length > 0.0f) sum /= length;
    }
    return sums;
}

/// What a posture does to one vertex of a part; nothing where it has no say.
glm::vec3 move_of(const std::vector<std::vector<glm::vec3>>* moves, std::size_t part, std::size_t vertex) {
    if (moves == nullptr || part >= moves->size() || (*moves)[part].empty()) return glm::vec3(0.0f);
    return (*moves)[part][vertex];
}

/// Between two postures, part by part.
class Between {
 public:
    using Moves = std::vector<std::vector<glm::vec3>>;
    Between(const PatientMoves* from, const PatientMoves* to, Moves PatientMoves::*which, float share)
        : from_(from == nullptr ? nullptr : &(from->*which)),
          to_(to == nullptr ? nullptr : &(to->*which)),
          share_(share) {}

    [[nodiscard]] bool moves(std::size_t part) const { return says(from_, part) || says(to_, part); }
    [[nodiscard]] glm::vec3 at(std::size_t part, std::size_t vertex) const {
        return glm::mix(move_of(from_, part, vertex), move_of(to_, part, vertex), share_);
    }

 private:
    static bool says(const Moves* moves, std::size_t part) {
        return moves != nullptr && part < moves->size() && !(*moves)[part].empty();
    }
    const Moves* from_;
    const Moves* to_;
    float share_;
};

using Meshes = std::vector<std::shared_ptr<const ObjectMesh>>;

Meshes moved_meshes(const Meshes& rest, const Between& moves) {
    Meshes out = rest;
    for (std::size_t part = 0; part < rest.size(); ++part) {
        if (!rest[part] || !moves.moves(part)) continue;
        auto mesh = std::make_shared<ObjectMesh>(*rest[part]);
        for (std::size_t i = 0; i < mesh->vertices.size(); ++i) mesh->vertices[i].position_mm += moves.at(part, i);
        out[part] = std::move(mesh);
    }
    return out;
}

}  // namespace

std::vector<glm::vec3> turns_of(const Surface& rest, std::span<const glm::vec3> moved_mm) {
    SIM_ASSERT(moved_mm.size() == rest.vertices.size());
    std::vector<glm::vec3> turns = normals_of(rest, moved_mm);
    const std::vector<glm::vec3> before = normals_of(rest, {});
    for (std::size_t i = 0; i < turns.size(); ++i) turns[i] -= before[i];
    return turns;
}

SceneParts moved_parts(const SceneParts& rest, const PatientMoves* from, const PatientMoves* to, float share) {
    SceneParts out = rest;
    const Between places(from, to, &PatientMoves::surfaces_mm, share);
    const Between turns(from, to, &PatientMoves::surface_turns, share);
    for (std::size_t part = 0; part < rest.surfaces.size(); ++part) {
        if (!places.moves(part)) continue;
        auto surface = std::make_shared<Surface>(*rest.surfaces[part]);
        surface->rest = rest.surfaces[part];
        float most = 0.0f;
        for (std::size_t i = 0; i < surface->vertices.size(); ++i) {
            const glm::vec3 move = places.at(part, i);
            most = std::max(most, glm::dot(move, move));
            surface->vertices[i].position_mm += move;
            surface->vertices[i].normal = glm::normalize(surface->vertices[i].normal + turns.at(part, i));
        }
        surface->moved_most_mm = std::sqrt(most);
        out.surfaces[part] = std::move(surface);
    }
    out.on_skin = moved_meshes(rest.on_skin, {from, to, &PatientMoves::on_skin_mm, share});
    out.inside = moved_meshes(rest.inside, {from, to, &PatientMoves::inside_mm, share});
    return out;
}

MovedAnatomy::MovedAnatomy(std::shared_ptr<const sim::Anatomy> rest, std::shared_ptr<const sim::fe::MovedBody> body)
    : rest_(std::move(rest)), body_(std::move(body)) {
    const auto move = [this](sim::Vec3& p_m) { p_m += body_->moved_m(p_m); };
    structures_.assign(rest_->structures().begin(), rest_->structures().end());
    for (sim::Structure& structure : structures_) {
        for (sim::StructureNode& node : structure.line) move(node.position_m);
        for (sim::Station& station : structure.stations) move(station.position_m);
    }
    ligaments_.assign(rest_->ligaments().begin(), rest_->ligaments().end());
    for (sim::Ligament& ligament : ligaments_)
        for (std::vector<sim::Vec3>* line : {&ligament.deep_m, &ligament.superficial_m})
            for (sim::Vec3& p : *line) move(p);
    landmarks_.assign(rest_->landmarks().begin(), rest_->landmarks().end());
    for (sim::Landmark& landmark : landmarks_) move(landmark.skin.position_m);
    index_structures();
}

sim::LayerPoint MovedAnatomy::layers_at(const sim::Vec3& p_m) const { return rest_->layers_at(body_->rest_of(p_m)); }

sim::Vec3 MovedAnatomy::inward_at(const sim::Vec3& p_m) const {
    const sim::Vec3 rest_m = body_->rest_of(p_m);
    return body_->turned(rest_m, rest_->inward_at(rest_m));
}

std::optional<sim::SkinPoint> MovedAnatomy::ray_to_rest(const sim::Vec3& origin_m, const sim::Vec3& direction) const {
    // the ray is shifted back by what the skin under it has moved, until it stays
    constexpr int kRounds = 12;
    constexpr double kCloseM = 1e-6;
    sim::Vec3 moved(0.0);
    std::optional<sim::SkinPoint> hit;
    for (int round = 0; round < kRounds; ++round) {
        hit = rest_->ray_to_skin(origin_m - moved, direction);
        if (!hit) return hit;
        const sim::Vec3 next = body_->moved_m(hit->position_m);
        const bool close = glm::length(next - moved) < kCloseM;
        moved = next;
        if (close) break;
    }
    return hit;
}

std::optional<sim::SkinPoint> MovedAnatomy::ray_to_skin(const sim::Vec3& origin_m, const sim::Vec3& direction) const {
    std::optional<sim::SkinPoint> hit = ray_to_rest(origin_m, direction);
    if (hit) *hit = shown(*hit);
    return hit;
}

sim::SkinPoint MovedAnatomy::shown(sim::SkinPoint at) const {
    at.normal = body_->turned(at.position_m, at.normal);
    at.position_m += body_->moved_m(at.position_m);
    return at;
}

sim::SkinPoint MovedAnatomy::nearest_skin(const sim::Vec3& p_m) const {
    return shown(rest_->nearest_skin(body_->rest_of(p_m)));
}

}  // namespace view
