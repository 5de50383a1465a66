#include <algorithm>
#include <catch2/catch.hpp>

#include "sim/core/random.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/response.hpp"
#include "tests/support/coarse_tissue.hpp"

using sim::kMm;
using sim::Vec3;
using sim::fe::ChartPlace;

namespace {

sim::fe::TetheredBody& body() { return support::shared_coarse_body(); }
const sim::fe::Settled& lying() { return support::coarse_body_lying(); }

std::vector<Vec3> places_in_the_treated_region(int count, double low_level, double high_level) {
    sim::Random random(5);
    std::vector<Vec3> out;
    for (int k = 0; k < count; ++k)
        out.push_back(sim::fe::position_m(body().mesh(), {random.uniform(-0.10, 0.10), random.uniform(0.02, 0.15),
                                                          random.uniform(low_level, high_level)}));
    return out;
}

}  // namespace

TEST_CASE("what follows the skin moves as the mesh's skin there", "[sim][tissue]") {
    const std::vector<Vec3> places = places_in_the_treated_region(200, 7.0, 7.0);
    const auto weights = sim::fe::follow_skin(body().mesh(), places, 25.0 * kMm);
    REQUIRE(weights.places() == places.size());
    const auto skin = body().settle_skin(sim::fe::lying_down());
    std::vector<glm::vec3> at_once_mm;
    weights.moved_mm(skin.skin_m, at_once_mm);
    REQUIRE(at_once_mm.size() == places.size());
    for (std::size_t k = 0; k < places.size(); ++k) {
        const Vec3 follows = weights.moved_m(k, skin.skin_m);
        CHECK(glm::length(Vec3(at_once_mm[k]) - follows / kMm) < 1e-5);  // rounding of single precision
        CHECK(glm::length(follows - body().skin_moved_m(lying(), places[k])) < 0.01 * kMm);
    }
}

TEST_CASE("crown and nape keep still, nose and ears go along", "[sim][tissue]") {
    const std::vector<Vec3> places{{0.0, 0.13, 0.0}, {0.0, 0.0, -0.12}, {0.0, -0.02, 0.125}};
    const auto weights = sim::fe::follow_skin(body().mesh(), places, 25.0 * kMm);
    const auto skin = body().settle_skin(sim::fe::lying_down());
    CHECK(glm::length(weights.moved_m(0, skin.skin_m)) < 0.05 * kMm);
    CHECK(glm::length(weights.moved_m(1, skin.skin_m)) < 0.05 * kMm);
    CHECK(glm::length(weights.moved_m(2, skin.skin_m)) > 0.5 * kMm);
}

TEST_CASE("a place among the layers moves as the mesh does there, and is found back", "[sim][tissue]") {
    const auto lattice = std::make_shared<const sim::fe::ChartLattice>(body().mesh());
    const sim::fe::MovedBody moved(lattice, lying().displacement_m);
    std::vector<double> off_m;
    int not_found_back = 0;
    for (const Vec3& p : places_in_the_treated_region(300, 0.5, 7.0)) {
        const auto at = sim::fe::locate(body().mesh(), p);
        REQUIRE(at);
        // the mesh's own field there, without the patch's spread
        const Vec3 field = read(sim::fe::patch_at(body().mesh(), *at, 1e-6), lying().displacement_m);
        off_m.push_back(glm::length(moved.moved_m(p) - field));
        const Vec3 now = p + moved.moved_m(p);
        const Vec3 rest = moved.rest_of(now);
        if (!(glm::length(rest + moved.moved_m(rest) - now) < 0.02 * kMm)) ++not_found_back;
    }
    // a lattice of 5 mm; motion is about 3 mm, most of it within the glide space of 1.5 mm
    std::sort(off_m.begin(), off_m.end());
    CAPTURE(off_m[150], off_m[285], off_m.back(), not_found_back);
    CHECK(off_m[150] < 0.02 * kMm);
    CHECK(off_m[285] < 0.2 * kMm);
    CHECK(off_m.back() < 0.5 * kMm);
    CHECK(not_found_back <= 3);  // of 300: where the deep fat is thinnest small strains fold it
    CHECK(glm::length(moved.moved_m({0.0, -0.02, 0.0})) < 1e-9);  // the middle of the head
    CHECK(moved.moved_m({0.5, 0.0, 0.0}) == Vec3(0.0));
}
