#include "engine/view/lean_look.hpp"

#include <catch2/catch.hpp>

namespace {

/// A face window of 100 mm, plain but for one square from 40 to 50 mm along both ways.
view::SkinImages images() {
    auto face = std::make_shared<view::Image>();
    face->width = face->height = 640;
    for (int y = 0; y < 640; ++y)
        for (int x = 0; x < 640; ++x) {
            const bool inside = x >= 256 && x < 320 && y >= 256 && y < 320;
            const auto shade = static_cast<std::uint8_t>(inside ? 120 : 255);
            face->rgba.insert(face->rgba.end(), {shade, shade, shade, 0});
        }
    view::SkinImages out;
    out.lean_face = face;
    out.face_window_mm = {0, 0, 100};
    return out;
}

/// A small triangle at a place of the face, turned to the front or away.
bool falls_on(const view::PaintedPlaces& places, float x_mm, float y_mm, float normal_z = 1.0f, float z_mm = 90.0f) {
    std::vector<view::SurfaceVertex> vertices(3);
    for (std::size_t k = 0; k < 3; ++k) {
        vertices[k].rest_mm = {x_mm + (k == 1 ? 1.0f : 0.0f), y_mm + (k == 2 ? 1.0f : 0.0f), z_mm};
        vertices[k].normal = {0, 0, normal_z};
    }
    const std::vector<std::uint32_t> triangle{0, 1, 2};
    return places.fall_on(vertices, triangle);
}

}  // namespace

TEST_CASE("only triangles under the painting are looked up in it", "[view]") {
    const view::PaintedPlaces places(images());
    CHECK(falls_on(places, 45.0f, 45.0f));
    CHECK(falls_on(places, 39.0f, 45.0f));  // so near that a small picture would blend it in
    CHECK_FALSE(falls_on(places, 20.0f, 45.0f));
    CHECK_FALSE(falls_on(places, 45.0f, 70.0f));
    CHECK_FALSE(falls_on(places, 45.0f, 45.0f, -0.5f));        // turned away
    CHECK_FALSE(falls_on(places, 45.0f, 45.0f, 1.0f, 10.0f));  // the back of the head
}

TEST_CASE("a picture without lines and paint leaves lean skin as it is", "[view]") {
    view::SkinImages images;
    auto plain = std::make_shared<view::Image>(), flat = std::make_shared<view::Image>();
    plain->width = plain->height = flat->width = flat->height = 2;
    for (int i = 0; i < 4; ++i) {
        plain->rgba.insert(plain->rgba.end(), {0, 0, 0, 0});
        flat->rgba.insert(flat->rgba.end(), {128, 128, 128, 0});
    }
    images.face = plain;
    images.relief = images.detail = flat;
    view::work_out_lean_images(images, {});
    for (std::size_t i = 0; i < 16; ++i) CHECK(images.lean_face->rgba[i] == (i % 4 == 3 ? 0 : 255));
}
