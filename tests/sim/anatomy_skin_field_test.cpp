#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include <glm/geometric.hpp>

#include "sim/anatomy/skin_field.hpp"
#include "sim/anatomy/skin_points.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"

using namespace sim;
using Catch::Matchers::WithinAbs;

namespace {

HeadParameters uneven_patient() {
    HeadParameters p;
    p.asymmetry = 0.0;
    p.laxity_left = 0.7;
    p.nasolabial_left = 0.6;
    p.jowl_right = 0.8;
    p.submental_right = 0.7;
    p.marionette_left = 0.5;
    p.tear_trough_right = 0.9;
    return p;
}

glm::vec3 random_place(Random& random) {
    return {random.uniform(-70.0, 70.0), random.uniform(-150.0, 120.0), random.uniform(-60.0, 115.0)};
}

}  // namespace

TEST_CASE("exchanging left and right mirrors the face", "[sim][skin]") {
    const SkinField face(uneven_patient());
    const SkinField mirror(mirrored(uneven_patient()));
    Random random(5);
    for (int i = 0; i < 2000; ++i) {
        const glm::vec3 p = random_place(random);
        REQUIRE_THAT(face.value_mm(p), WithinAbs(static_cast<double>(mirror.value_mm({-p.x, p.y, p.z})), 2e-3));
    }
    CHECK(std::abs(face.value_mm({33, -72, 66}) - face.value_mm({-33, -72, 66})) > 0.5f);  // it is uneven at all
}

TEST_CASE("rest frame and back", "[sim][skin]") {
    HeadParameters p;
    p.asymmetry = 1.0;
    p.asymmetry_seed = 77;
    const SkinField face(p);
    Random random(6);
    for (int i = 0; i < 500; ++i) {
        const glm::vec3 place = random_place(random);
        REQUIRE(glm::distance(face.from_rest_mm(face.rest_mm(place)), place) < 1e-3f);
    }
}

TEST_CASE("every field of the head is refused outside its range, by name", "[sim][skin]") {
    for (const HeadParameterField& field : head_parameter_fields()) {
        for (const double bad : {field.low - 1.0, field.high + 1.0, std::numeric_limits<double>::quiet_NaN()}) {
            HeadParameters p;
            p.*field.member = bad;
            try {
                validate(p);
                FAIL("accepted " << field.name << " = " << bad);
            } catch (const InputError& error) {
                CHECK(error.place().find(field.name) != std::string::npos);
            }
        }
    }
    CHECK_NOTHROW(validate(HeadParameters{}));
}

TEST_CASE("face points lie on the skin", "[sim][skin]") {
    const SkinField face(uneven_patient());
    const FaceLandmarks at = face_points_mm(face);
    for (const glm::vec3& p :
         {at.sellion, at.nasion, at.pronasale, at.subnasale, at.stomion, at.pogonion, at.gnathion, at.menton,
          at.gonion.left, at.gonion.right, at.zygion.left, at.alare.right, at.cheilion.left, at.tragion.left,
          at.otobasion_inferius.right, at.endocanthion.left, at.exocanthion.right}) {
        CHECK(std::abs(face.value_mm(p)) < 0.05f);
    }
    CHECK(at.nasion.y > at.sellion.y);
    CHECK(at.sellion.y > at.pronasale.y);
    CHECK(at.pronasale.y > at.subnasale.y);
    CHECK(at.subnasale.y > at.labrale_superius.y);
    CHECK(at.labrale_superius.y > at.stomion.y);
    CHECK(at.stomion.y > at.labrale_inferius.y);
    CHECK(at.labrale_inferius.y > at.pogonion.y);
    CHECK(at.pogonion.y > at.menton.y);
}
