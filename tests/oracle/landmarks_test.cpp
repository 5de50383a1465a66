#include "sim/anatomy/landmarks.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "sim/anatomy/head.hpp"
#include "tests/support/heads.hpp"

// The list of names in assets/ and the landmarks of a patient are the same list.

TEST_CASE("every landmark of the list is placed, left and right where paired", "[oracle][landmarks]") {
    std::ifstream file("assets/landmarks.json");
    REQUIRE(file);
    const nlohmann::json list = nlohmann::json::parse(file);
    std::set<std::string> wanted, known;
    for (const auto& entry : list.at("landmarks")) {
        const std::string name = entry.at("name");
        CHECK(known.insert(name).second);
        for (const std::string alias : entry.at("aliases")) CHECK(known.insert(alias).second);
        if (!entry.value("modelled", true)) continue;
        if (!entry.at("paired").get<bool>())
            wanted.insert(name + ", midline");
        else
            wanted.insert({name + ", left", name + ", right"});
    }
    const sim::HeadTissue& tissue = support::patient_tissue(0);
    std::set<std::string> placed;
    for (const sim::Landmark& landmark : sim::place_landmarks(tissue)) {
        INFO(landmark.name);
        CHECK(placed.insert(landmark.name + ", " + std::string(name_of(landmark.side))).second);
        CHECK(std::abs(tissue.depth_m(landmark.skin.position_m)) < 0.2e-3);
        CHECK(landmark.depth_m > 0.0);
        if (landmark.side == sim::Side::left) CHECK(landmark.skin.position_m.x > 0.0);
        if (landmark.side == sim::Side::right) CHECK(landmark.skin.position_m.x < 0.0);
        for (std::size_t i = 1; i < landmark.bottom_m.size(); ++i)
            CHECK(landmark.bottom_m[i] > landmark.bottom_m[i - 1]);
    }
    CHECK(placed == wanted);
}

TEST_CASE("the antegonial notch is the skin over the bony one", "[oracle][landmarks]") {
    const sim::HeadTissue& tissue = support::patient_tissue(0);
    for (const sim::Landmark& landmark : sim::place_landmarks(tissue)) {
        if (landmark.name != "antegonial notch") continue;
        const sim::Vec3 bone = tissue.bony_points().side(landmark.side).antegonial_notch_m;
        CHECK(glm::length(landmark.skin.position_m - bone) < 0.02);
        CHECK(tissue.depth_m(bone) > 0.0);
    }
}
