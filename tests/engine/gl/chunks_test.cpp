#include "engine/gl/chunks.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <glm/ext/matrix_clip_space.hpp>
#include <glm/ext/matrix_transform.hpp>
#include <set>

namespace {

struct Ball {
    std::vector<view::SurfaceVertex> vertices;
    std::vector<std::uint32_t> triangles;
};

/// A sphere of 100 mm about the origin, seen from outside counter-clockwise.
Ball ball() {
    constexpr std::uint32_t kRound = 320, kUp = 160;
    constexpr float kTurn = 6.2831853f;
    Ball out;
    for (std::uint32_t j = 0; j <= kUp; ++j)
        for (std::uint32_t i = 0; i < kRound; ++i) {
            const float a = kTurn * static_cast<float>(i) / kRound, b = 0.5f * kTurn * static_cast<float>(j) / kUp;
            view::SurfaceVertex vertex;
            vertex.position_mm = 100.0f * glm::vec3(std::sin(b) * std::cos(a), std::cos(b), -std::sin(b) * std::sin(a));
            out.vertices.push_back(vertex);
        }
    for (std::uint32_t j = 0; j < kUp; ++j)
        for (std::uint32_t i = 0; i < kRound; ++i) {
            const std::uint32_t a = j * kRound + i, b = j * kRound + (i + 1) % kRound, c = a + kRound, d = b + kRound;
            for (const std::uint32_t k : {a, c, b, b, c, d}) out.triangles.push_back(k);
        }
    return out;
}

std::multiset<std::array<std::uint32_t, 3>> as_set(const std::vector<std::uint32_t>& triangles) {
    std::multiset<std::array<std::uint32_t, 3>> out;
    for (std::size_t t = 0; t + 2 < triangles.size(); t += 3)
        out.insert({triangles[t], triangles[t + 1], triangles[t + 2]});
    return out;
}

}  // namespace

TEST_CASE("chunks hold every triangle once, each within its ball", "[gl]") {
    Ball made = ball();
    const auto before = as_set(made.triangles);
    const std::vector<gl::Chunk> chunks = gl::make_chunks(made.vertices, made.triangles);
    CHECK(as_set(made.triangles) == before);
    std::uint32_t next = 0;
    for (const gl::Chunk& chunk : chunks) {
        CHECK(chunk.first == next);
        next += chunk.count;
        for (std::uint32_t i = chunk.first; i < next; ++i)
            REQUIRE(glm::length(made.vertices[made.triangles[i]].position_mm - chunk.centre) <= chunk.radius + 1e-3f);
    }
    CHECK(next == made.triangles.size());
}

TEST_CASE("a chunk with a triangle that is seen is never left out, and the far side is", "[gl]") {
    Ball made = ball();
    const std::vector<gl::Chunk> chunks = gl::make_chunks(made.vertices, made.triangles);
    const glm::mat4 projection = glm::perspective(0.6f, 1.5f, 10.0f, 2000.0f);
    std::size_t left_out = 0;
    for (int turn = 0; turn < 24; ++turn) {
        const float a = 0.26f * static_cast<float>(turn);
        const glm::vec3 eye(400.0f * std::sin(a), 150.0f * std::sin(3.0f * a), 400.0f * std::cos(a));
        const glm::mat4 seen = projection * glm::lookAt(eye, glm::vec3(40.0f, 0.0f, 0.0f), glm::vec3(0, 1, 0));
        for (const gl::Chunk& chunk : chunks) {
            bool shows = false;
            for (std::uint32_t i = chunk.first; i < chunk.first + chunk.count && !shows; i += 3) {
                const glm::vec3 p[3] = {made.vertices[made.triangles[i]].position_mm,
                                        made.vertices[made.triangles[i + 1]].position_mm,
                                        made.vertices[made.triangles[i + 2]].position_mm};
                const bool faces = glm::dot(glm::cross(p[1] - p[0], p[2] - p[0]), eye - p[0]) > 0.0f;
                for (const glm::vec3& corner : p) {
                    const glm::vec4 clip = seen * glm::vec4(corner, 1.0f);
                    shows = shows || (faces && std::fabs(clip.x) < clip.w && std::fabs(clip.y) < clip.w);
                }
            }
            const bool kept = gl::may_show(chunk, seen, eye, 0.0f);
            if (shows) CHECK(kept);
            if (!kept) ++left_out;
        }
    }
    CHECK(left_out > 24 * chunks.size() / 4);  // a convex body hides about half of itself
}

TEST_CASE("the cut is asked of a chunk that its box reaches, bend included", "[gl]") {
    gl::Chunk chunk;
    chunk.radius = 2.0f;
    view::CutBox box;
    box.axes = glm::mat3(1.0f);
    box.centre_mm = {0, 0, 0};
    box.half_mm = {10, 5, 5};
    chunk.centre = {11.0f, 0, 0};
    CHECK(gl::may_be_cut(chunk, box, 0.0f));
    chunk.centre = {0, 0, 8.0f};
    CHECK_FALSE(gl::may_be_cut(chunk, box, 0.0f));
    CHECK(gl::may_be_cut(chunk, box, 1.5f));
    box.bend.fill(2.0f);
    CHECK(gl::may_be_cut(chunk, box, 0.0f));
}

TEST_CASE("the triangles picked are those that face the eye", "[gl]") {
    Ball made = ball();
    static_cast<void>(gl::make_chunks(made.vertices, made.triangles));
    const std::vector<glm::vec4> planes = gl::planes_of(made.vertices, made.triangles);
    REQUIRE(planes.size() == made.triangles.size() / 3);
    for (const glm::vec3& eye : {glm::vec3(300, 50, 0), glm::vec3(-20, 140, 90), glm::vec3(0, 0, 104)}) {
        std::vector<std::uint32_t> facing, picked;
        for (std::size_t t = 0; t + 2 < made.triangles.size(); t += 3) {
            const glm::vec3 a = made.vertices[made.triangles[t]].position_mm,
                            b = made.vertices[made.triangles[t + 1]].position_mm,
                            c = made.vertices[made.triangles[t + 2]].position_mm;
            if (glm::dot(glm::cross(b - a, c - a), eye - a) > 0.0f)
                facing.insert(facing.end(), {made.triangles[t], made.triangles[t + 1], made.triangles[t + 2]});
        }
        gl::pick_facing(made.triangles, planes, eye, picked);
        const auto picked_set = as_set(picked);
        for (const auto& triangle : as_set(facing)) REQUIRE(picked_set.contains(triangle));
        // those seen edge on and, at the poles, those without an area may be among them
        CHECK(picked.size() < facing.size() + made.triangles.size() / 50);
    }
}

TEST_CASE("a tent raises what is near it", "[gl]") {
    gl::Chunk chunk;
    chunk.radius = 2.0f;
    view::Tent tent;
    tent.width_mm = 5.0f;
    tent.height_mm = -1.0f;
    chunk.centre = {9.0f, 0, 0};
    CHECK(gl::may_be_raised(chunk, tent, 0.0f));
    chunk.centre = {12.0f, 0, 0};
    CHECK_FALSE(gl::may_be_raised(chunk, tent, 0.0f));
    CHECK(gl::may_be_raised(chunk, tent, 3.0f));
    tent.height_mm = 0.0f;
    CHECK_FALSE(gl::may_be_raised(chunk, tent, 3.0f));
}

TEST_CASE("each vertex knows the triangles it is a corner of", "[gl]") {
    const std::vector<std::uint32_t> triangles{0, 1, 2, 2, 1, 3, 5, 0, 2};  // vertex 4 is in none
    const gl::Corners corners = gl::corners_of(6, triangles);
    const auto of = [&](std::uint32_t v) {
        return std::vector<std::uint32_t>(corners.of.begin() + corners.first[v],
                                          corners.of.begin() + corners.first[v + 1]);
    };
    CHECK(of(0) == std::vector<std::uint32_t>{0, 2});
    CHECK(of(2) == std::vector<std::uint32_t>{0, 1, 2});
    CHECK(of(3) == std::vector<std::uint32_t>{1});
    CHECK(of(4).empty());
}
