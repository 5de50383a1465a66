#include "sim/anatomy/ligaments.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/structures.hpp"
#include "sim/anatomy/structures_side.hpp"
#include "tests/support/heads.hpp"

// Published places and strengths of the retaining ligaments. Mean over the four patients and both sides within one
// published SD.

namespace {

using sim::kMm;
using sim::Ligament;
using sim::Vec3;

const Ligament& find(const sim::Placement& placement, std::string_view name, sim::Side side) {
    for (const Ligament& ligament : placement.ligaments)
        if (ligament.name == name && ligament.side == side) return ligament;
    FAIL("no " << name);
    return placement.ligaments.front();
}

Vec3 seen(sim::Side side, const Vec3& p) { return side == sim::Side::right ? Vec3(-p.x, p.y, p.z) : p; }

constexpr const char* kNames[] = {"zygomatic ligament",  "masseteric ligament, upper",  "masseteric ligament, lower",
                                  "mandibular ligament", "platysma-auricular ligament", "temporal adhesion"};

/// Along the skin, at the height of a point, from the midline: rays from straight ahead round to the point.
double arc_from_midline_m(const sim::HeadTissue& tissue, const Vec3& skin_m, double midline_x_m) {
    const Vec3 axis(midline_x_m, skin_m.y, skin_m.z - 30.0 * kMm);
    const Vec3 to = skin_m - axis;
    const double last = std::atan2(to.x, to.z);
    constexpr int kRays = 60;
    double arc_m = 0.0;
    std::optional<Vec3> before;
    for (int i = 0; i <= kRays; ++i) {
        const double angle = last * i / kRays;
        const Vec3 out(std::sin(angle), 0.0, std::cos(angle));
        const auto hit = tissue.ray_to_skin(axis + out * 0.15, -out);
        if (!hit) continue;
        if (before) arc_m += glm::length(hit->position_m - *before);
        before = hit->position_m;
    }
    return arc_m;
}

}  // namespace

TEST_CASE("ligaments stand where published, on every patient and side", "[oracle][ligaments]") {
    double zygomatic_mm = 0.0, lateral_mm = 0.0, above_mm = 0.0;
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const sim::HeadTissue& tissue = support::patient_tissue(patient);
        const sim::StructurePlacer placer(tissue);
        const sim::Placement placement = placer.place({});
        CHECK(placement.ligaments.size() == 2 * std::size(kNames));
        for (const sim::Side side : {sim::Side::left, sim::Side::right}) {
            const sim::SidePoints& points = placer.points(side);
            const Ligament& zygomatic = find(placement, "zygomatic ligament", side);
            const Vec3 site = tissue.nearest_skin(zygomatic.superficial_m[1]).position_m;
            zygomatic_mm += glm::length(seen(side, site) - points.tragus) / kMm / 8.0;

            const Ligament& mandibular = find(placement, "mandibular ligament", side);
            const Vec3 on_smas = mandibular.superficial_m[1];
            const Vec3 skin = tissue.nearest_skin(on_smas).position_m;
            lateral_mm += arc_from_midline_m(tissue, skin, tissue.bony_points().menton_m.x) / kMm / 8.0;
            above_mm += points.border.height_of_m(seen(side, on_smas)) / kMm / 8.0;
        }
    }
    CAPTURE(zygomatic_mm, lateral_mm, above_mm);
    CHECK(std::abs(zygomatic_mm - 44.9) < 9.7);  // PRS 2013 (PMID 23358020), 22 hemifaces
    CHECK(std::abs(lateral_mm - 51.1) < 4.5);    // Kang 2016, J Craniomaxillofac Surg 44:1126-30, 20 hemifaces
    CHECK(std::abs(above_mm - 9.1) < 3.1);       // same
}

TEST_CASE("strengths, and their published rank", "[oracle][ligaments]") {
    const sim::Placement placement = sim::place_structures(support::patient_tissue(0), 0);
    const auto strength = [&](const char* name) { return find(placement, name, sim::Side::left).strength_n; };
    // Hong et al. 2025, Aesthetic Plast Surg; 10.1007/s00266-025-05060-y: blunt 21 G, two heads
    CHECK(strength("zygomatic ligament") == 9.16);
    CHECK(strength("mandibular ligament") == 3.64);
    CHECK(strength("temporal adhesion") == 3.16);
    // Brandt et al. 2012, Arch Facial Plast Surg 14:289-94: zygomatic strongest
    for (const char* name : kNames) CHECK(strength(name) <= strength("zygomatic ligament"));
}

TEST_CASE("ligaments are sheets that cross the layers they are said to cross", "[oracle][ligaments]") {
    const sim::HeadTissue& tissue = support::patient_tissue(1);
    const sim::StructurePlacer placer(tissue);
    sim::PlacementOptions to_skin;
    to_skin.mandibular_ligament_reaches_skin = true;
    const sim::Placement plain = placer.place({}), reaching = placer.place({}, to_skin);
    for (const Ligament& ligament : plain.ligaments) {
        INFO(ligament.name << ", " << name_of(ligament.side));
        REQUIRE(ligament.deep_m.size() == ligament.superficial_m.size());
        REQUIRE(ligament.deep_m.size() >= 2);
        for (std::size_t i = 0; i < ligament.deep_m.size(); ++i)
            CHECK(tissue.depth_m(ligament.deep_m[i]) > tissue.depth_m(ligament.superficial_m[i]) + 0.5 * kMm);
        CHECK(ligament.stretch_m > 0.0);
        CHECK(ligament.half_thickness_m > 0.0);
        CHECK_FALSE(ligament.source.empty());
    }
    // the zygomatic ligament reaches the skin (Mirontsev 2024, Medicina 60:681); the mandibular one stops at platysma
    // (Minelli 2023, Aesthetic Plast Surg 47:170-80) unless the switch says otherwise
    const auto layer_of = [&](const sim::Placement& placement, const char* name) {
        return tissue.layers_at(find(placement, name, sim::Side::left).superficial_m[1]).layer;
    };
    CHECK(layer_of(plain, "zygomatic ligament") == sim::Layer::skin);
    CHECK(layer_of(plain, "mandibular ligament") == sim::Layer::smas);
    CHECK(layer_of(reaching, "mandibular ligament") == sim::Layer::skin);
}
