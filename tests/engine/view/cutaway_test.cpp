#include "engine/view/cutaway.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/slab.hpp"

using sim::Vec3;

namespace {

const Vec3 kEye{0.02, -0.3, 0.3};

/// A shaft from the origin along x, so many metres long, bowed to the side and going down by a tenth.
std::vector<Vec3> shaft_of(double length_m, double bow_m = 0.0) {
    std::vector<Vec3> shaft;
    for (int i = 0; i <= 30; ++i) {
        const double x = length_m * i / 30.0;
        shaft.emplace_back(x, bow_m * std::sin(sim::kPi * x / 0.06), -0.001 - 0.1 * x);
    }
    return shaft;
}

/// A slab whose layers a sample can be checked against wherever it lies.
std::shared_ptr<const sim::Slab> slab() { return std::make_shared<const sim::Slab>(sim::SlabParameters{}); }

/// Where a sample of a face was drawn.
glm::vec3 place_of(const view::LayerFace& face, int column, int row) {
    const float u = static_cast<float>(column) / static_cast<float>(face.columns - 1),
                v = static_cast<float>(row) / static_cast<float>(face.rows - 1);
    glm::vec3 p = face.origin_mm + u * face.edge_u_mm + v * face.edge_v_mm;
    if (!face.rise_mm.empty()) p += face.normal * face.rise_mm[static_cast<std::size_t>(column)];
    return p;
}

/// The largest difference between what a cut shows and what lies there.
float worst_error(const view::Cutaway& cut, const sim::Anatomy& anatomy) {
    float worst = 0.0f;
    for (const view::LayerFace& face : *cut.faces())
        for (int column = 0; column < face.columns; ++column)
            for (int row = 0; row < face.rows; ++row) {
                const float shown = face.layer[static_cast<std::size_t>(column * face.rows + row)].x;
                const float there =
                    view::layer_coordinate(anatomy.layers_at(Vec3(place_of(face, column, row)) / 1000.0));
                worst = std::max(worst, std::fabs(shown - there));
            }
    return worst;
}

}  // namespace

TEST_CASE("a cut that grew shows at every place what lies there, as one made at once does", "[view]") {
    const auto anatomy = slab();
    view::Cutaway grown(anatomy, std::nullopt), fresh(anatomy, std::nullopt);
    for (int step = 1; step <= 300; ++step) {
        const double length_m = 0.06 * step / 300.0;
        grown.follow(shaft_of(length_m, 0.002), 0.0004, kEye);
        if (grown.faces() && step % 20 == 0) CHECK(worst_error(grown, *anatomy) < 2e-3f);
    }
    for (int rest = 0; rest < 100 && grown.unsettled(); ++rest) grown.follow(shaft_of(0.06, 0.002), 0.0004, kEye);
    CHECK_FALSE(grown.unsettled());
    fresh.follow(shaft_of(0.06, 0.002), 0.0004, kEye);
    CHECK(worst_error(grown, *anatomy) < 2e-3f);
    CHECK(worst_error(fresh, *anatomy) < 2e-3f);

    // both walls lie on the shaft: not farther from it than a column may be from where it is wanted
    for (const view::Cutaway* cut : {&grown, &fresh}) {
        const view::LayerFace& wall = cut->faces()->front();
        for (const Vec3& p_m : shaft_of(0.06, 0.002)) {
            const glm::vec3 from = glm::vec3(p_m) * 1000.0f - wall.origin_mm;
            const float share = glm::dot(from, wall.edge_u_mm) / glm::dot(wall.edge_u_mm, wall.edge_u_mm);
            const auto column = static_cast<std::size_t>(std::lround(share * static_cast<float>(wall.columns - 1)));
            CHECK(std::fabs(glm::dot(from, wall.normal) - wall.rise_mm[column] - 0.4f) <
                  view::CutSheet::kBendSlackMm + 0.1f);
        }
    }
    CHECK(glm::dot(grown.box()->axes[2], fresh.box()->axes[2]) > std::cos(0.036f));
}

TEST_CASE("no picture pays for more of a growing cut than its share and what is new", "[view]") {
    const auto anatomy = slab();
    view::Cutaway cut(anatomy, std::nullopt);
    cut.follow(shaft_of(0.010), 0.0004, kEye);
    const std::size_t at_first = cut.sampled();
    REQUIRE(at_first > 0);
    std::size_t most = 0, sum = 0;
    for (int step = 1; step <= 500; ++step) {
        cut.follow(shaft_of(0.010 + 0.0001 * step, 0.003), 0.0004, kEye);
        most = std::max(most, cut.sampled());
        sum += cut.sampled();
    }
    // what the box opens with a step has been asked ahead
    CHECK(most < view::Cutaway::kSamplesAPicture + 900);  // a face that shifts as one: 18 columns of 47
    // all of the wall's 120 columns of 92 samples at least once, but nothing like once a picture
    CHECK(sum > 100 * 92);
    CHECK(sum < 500 * 300);

    // a shaft at rest costs nothing once all is asked
    for (int rest = 0; rest < 100; ++rest) cut.follow(shaft_of(0.060, 0.003), 0.0004, kEye);
    const auto faces = cut.faces();
    cut.follow(shaft_of(0.060, 0.003), 0.0004, kEye);
    CHECK(cut.sampled() == 0);
    CHECK(cut.faces() == faces);
}

TEST_CASE("a growing cut keeps its columns, and says which ones are new", "[view]") {
    const auto anatomy = slab();
    view::Cutaway cut(anatomy, std::nullopt);
    cut.follow(shaft_of(0.020), 0.0004, kEye);
    const view::LayerFace before = cut.faces()->front();
    cut.follow(shaft_of(0.0225), 0.0004, kEye);
    const view::LayerFace after = cut.faces()->front();
    REQUIRE(after.sheet == before.sheet);
    REQUIRE(after.columns == before.columns + 5);  // 3 mm in columns of 0.6
    for (std::size_t i = 0; i < before.stamps.size(); ++i) CHECK(after.stamps[i] == before.stamps[i]);

    // drawn back and pushed again, it has them still
    cut.follow(shaft_of(0.020), 0.0004, kEye);
    CHECK(cut.faces()->front().columns == before.columns);
    cut.follow(shaft_of(0.0225), 0.0004, kEye);
    CHECK(cut.faces()->front().stamps == after.stamps);
}

TEST_CASE("another shaft in another place opens a cut of its own at once", "[view]") {
    const auto anatomy = slab();
    view::Cutaway cut(anatomy, std::nullopt);
    cut.follow(shaft_of(0.040), 0.0004, kEye);
    const auto sheet = cut.faces()->front().sheet;
    std::vector<Vec3> other;
    for (const Vec3& p : shaft_of(0.030)) other.emplace_back(p.y, 0.03 + p.x, p.z);
    cut.follow(other, 0.0004, {0.3, 0.0, 0.3});
    CHECK(cut.faces()->front().sheet != sheet);
    CHECK(worst_error(cut, *anatomy) < 2e-3f);
    CHECK(glm::dot(cut.box()->axes[0], glm::vec3(0, 1, 0)) > 0.9f);
}
