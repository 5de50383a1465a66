#include "sim/anatomy/floor_field_shapes.hpp"

#include "sim/core/errors.hpp"

namespace sim::skeleton {

namespace {

float catmull_rom(float a, float b, float c, float d, float t) {
    return 0.5f * (2.0f * b + (c - a) * t + (2.0f * a - 5.0f * b + 4.0f * c - d) * t * t +
                   (3.0f * b - a - 3.0f * c + d) * t * t * t);
}

}  // namespace

Wall::Wall(std::span<const Node> nodes, float rounding) : rounding_(rounding) {
    SIM_ASSERT(nodes.size() >= 2);
    constexpr int kPieces = 3;  // between two nodes: the arches bend by less than 12 degrees a piece
    for (std::size_t i = 0; i + 1 < nodes.size(); ++i) {
        const Node& a = nodes[i > 0 ? i - 1 : 0];
        const Node& b = nodes[i];
        const Node& c = nodes[i + 1];
        const Node& d = nodes[std::min(i + 2, nodes.size() - 1)];
        for (int j = 0; j < kPieces; ++j) {
            const float t = static_cast<float>(j) / kPieces;
            const auto along = [&](float Node::*m) { return catmull_rom(a.*m, b.*m, c.*m, d.*m, t); };
            nodes_.push_back({along(&Node::x), along(&Node::z), along(&Node::top), along(&Node::bottom),
                              along(&Node::half), along(&Node::lean)});
        }
    }
    nodes_.push_back(nodes.back());
}

float Wall::distance(const glm::vec3& p, float grow) const {
    const glm::vec2 q(p.x, p.z);
    float nearest2 = skin::kFarMm;
    std::size_t piece = 0;
    float t = 0.0f;
    for (std::size_t i = 0; i + 1 < nodes_.size(); ++i) {
        const glm::vec2 a(nodes_[i].x, nodes_[i].z);
        const glm::vec2 edge = glm::vec2(nodes_[i + 1].x, nodes_[i + 1].z) - a;
        const float h = skin::clamp01(glm::dot(q - a, edge) / glm::dot(edge, edge));
        const glm::vec2 off = q - a - edge * h;
        const float d2 = glm::dot(off, off);
        if (d2 >= nearest2) continue;
        nearest2 = d2;
        piece = i;
        t = h;
    }
    const Node& a = nodes_[piece];
    const Node& b = nodes_[piece + 1];
    const glm::vec2 along(b.x - a.x, b.z - a.z);
    const glm::vec2 from_a(q.x - a.x, q.y - a.z);
    const float outward = along.x * from_a.y - along.y * from_a.x > 0.0f ? 1.0f : -1.0f;
    const float top = glm::mix(a.top, b.top, t);
    const float bottom = glm::mix(a.bottom, b.bottom, t);
    const float half_height = 0.5f * (top - bottom);
    const float middle = 0.5f * (top + bottom);
    const float lean = glm::mix(a.lean, b.lean, t) * glm::clamp((p.y - middle) / half_height, -1.0f, 1.0f);
    const float sideways = std::fabs(outward * std::sqrt(nearest2) - lean) - glm::mix(a.half, b.half, t);
    const float upright = std::fabs(p.y - middle) - half_height;
    const float inset = rounding_ - grow;
    return corner(sideways + inset, upright + inset) - rounding_;
}

float polygon(const glm::vec2& p, std::span<const glm::vec2> corners) {
    float nearest2 = skin::kFarMm;
    bool inside = false;
    for (std::size_t i = 0, j = corners.size() - 1; i < corners.size(); j = i++) {
        const glm::vec2 edge = corners[j] - corners[i];
        const glm::vec2 from = p - corners[i];
        const glm::vec2 off = from - edge * skin::clamp01(glm::dot(from, edge) / glm::dot(edge, edge));
        nearest2 = std::min(nearest2, glm::dot(off, off));
        const bool spans = (corners[i].y > p.y) != (corners[j].y > p.y);
        if (spans && p.x < edge.x * (p.y - corners[i].y) / edge.y + corners[i].x) inside = !inside;
    }
    return (inside ? -1.0f : 1.0f) * std::sqrt(nearest2);
}

}  // namespace sim::skeleton
