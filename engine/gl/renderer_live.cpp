#include <algorithm>
#include <glm/geometric.hpp>
#include <iterator>
#include <utility>

#include "engine/gl/renderer.hpp"
#include "engine/gl/renderer_parts.hpp"

/// Vertices that a live tip moves: only they travel to the card, and only their triangles are looked at anew.

namespace gl {

void Renderer::follow_live(SurfaceOnCard& card, const view::Surface& surface,
                           const std::shared_ptr<const view::VertexMoves>& live) {
    LiveOnCard& on_card = card.live;
    if (on_card.holds.lock() == live && (live != nullptr || on_card.vertices.empty())) return;
    std::vector<std::uint32_t> touched = std::exchange(on_card.vertices, {});
    on_card.holds = live;
    on_card.most_mm = live ? live->most_mm : 0.0f;
    if (live) {
        on_card.vertices = live->vertex;
        std::vector<std::uint32_t> both;
        std::set_union(touched.begin(), touched.end(), live->vertex.begin(), live->vertex.end(),
                       std::back_inserter(both));
        touched = std::move(both);
    }
    if (on_card.corners.first.empty()) on_card.corners = corners_of(surface.vertices.size(), card.triangles);
    if (on_card.place_mm.empty())
        for (const view::SurfaceVertex& vertex : surface.vertices) on_card.place_mm.push_back(vertex.position_mm);
    // few long pieces travel sooner than many short ones: what lies between goes along
    constexpr std::uint32_t kGap = 24;
    std::vector<view::SurfaceVertex> piece;
    std::size_t moved = 0;
    for (std::size_t k = 0; k < touched.size();) {
        std::size_t end = k + 1;
        while (end < touched.size() && touched[end] - touched[end - 1] <= kGap) ++end;
        const std::uint32_t first = touched[k], last = touched[end - 1];
        piece.assign(surface.vertices.begin() + first, surface.vertices.begin() + last + 1);
        for (; live && moved < live->vertex.size() && live->vertex[moved] <= last; ++moved) {
            view::SurfaceVertex& vertex = piece[live->vertex[moved] - first];
            vertex.position_mm += live->move_mm[moved];
            vertex.normal = glm::normalize(vertex.normal + live->turn[moved]);
        }
        card.mesh.replace_vertices(first, bytes_of(piece), sizeof(view::SurfaceVertex));
        for (std::size_t i = k; i < end; ++i) on_card.place_mm[touched[i]] = piece[touched[i] - first].position_mm;
        k = end;
    }
    turn_planes(card, touched);
}

/// Which triangles face the eye is told from where they are now.
void Renderer::turn_planes(SurfaceOnCard& card, const std::vector<std::uint32_t>& touched) {
    LiveOnCard& live = card.live;
    live.turned.resize(card.planes.size(), 0);
    ++live.turn;
    for (const std::uint32_t v : touched)
        for (std::uint32_t k = live.corners.first[v]; k < live.corners.first[v + 1]; ++k) {
            const std::uint32_t t = live.corners.of[k];
            if (std::exchange(live.turned[t], live.turn) == live.turn) continue;
            const std::uint32_t* corner = &card.triangles[3 * static_cast<std::size_t>(t)];
            card.planes[t] = plane_of(live.place_mm[corner[0]], live.place_mm[corner[1]], live.place_mm[corner[2]]);
        }
}

}  // namespace gl
