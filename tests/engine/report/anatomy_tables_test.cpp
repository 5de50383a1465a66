#include "engine/report/anatomy_tables.hpp"

#include <catch2/catch.hpp>
#include <limits>

#include "sim/anatomy/slab.hpp"
#include "sim/core/errors.hpp"

// The tables of `pk anatomy` against a patient whose every number is known: the slab with one vessel.

namespace {

using report::TableFormat;
using sim::kMm;

class MarkedSlab final : public sim::Anatomy {
 public:
    MarkedSlab() : slab_({}) {
        sim::Structure vessel;
        vessel.name = "a \"thick\", straight vessel";
        vessel.side = sim::Side::right;
        vessel.line = {{{-10 * kMm, 0, -5 * kMm}, 1.0 * kMm}, {{10 * kMm, 0, -5 * kMm}, 1.0 * kMm}};
        vessel.stations = {{"middle", {0, 0, -5 * kMm}, 5 * kMm, 1.0 * kMm, true}};
        structures_ = {vessel};
        sim::Landmark landmark;
        landmark.name = "cheek";
        landmark.side = sim::Side::left;
        landmark.skin = slab_.nearest_skin({12.5 * kMm, -3 * kMm, 0});
        landmark.depth_m = 15 * kMm;
        landmark.bottom_m = slab_.layers_at({0, 0, 0}).bottom_m;
        landmarks_ = {landmark};
        index_structures();
    }
    sim::LayerPoint layers_at(const sim::Vec3& p) const override { return slab_.layers_at(p); }
    sim::Vec3 inward_at(const sim::Vec3& p) const override { return slab_.inward_at(p); }
    std::optional<sim::SkinPoint> ray_to_skin(const sim::Vec3& o, const sim::Vec3& d) const override {
        return slab_.ray_to_skin(o, d);
    }
    sim::SkinPoint nearest_skin(const sim::Vec3& p) const override { return slab_.nearest_skin(p); }

 private:
    sim::Slab slab_;
};

}  // namespace

TEST_CASE("landmarks table: thicknesses from the layer bottoms", "[tables]") {
    const MarkedSlab patient;
    CHECK(report::landmarks_table(patient, TableFormat::csv) ==
          "landmark,side,x_mm,y_mm,z_mm,depth_mm,skin_mm,superficial_fat_mm,smas_mm,deep_mm\r\n"
          "cheek,left,12.500,-3.000,0.000,15.000,1.500,4.500,1.000,8.000\r\n");
    CHECK(report::landmarks_table(patient, TableFormat::json) ==
          "[\n  {\"landmark\": \"cheek\", \"side\": \"left\", \"x_mm\": 12.500, \"y_mm\": -3.000, \"z_mm\": 0.000, "
          "\"depth_mm\": 15.000, \"skin_mm\": 1.500, \"superficial_fat_mm\": 4.500, \"smas_mm\": 1.000, "
          "\"deep_mm\": 8.000}\n]\n");
}

TEST_CASE("structures table: names are quoted as RFC 4180 and RFC 8259 want them", "[tables]") {
    const MarkedSlab patient;
    CHECK(report::structures_table(patient, TableFormat::csv) ==
          "structure,side,station,x_mm,y_mm,z_mm,depth_mm,radius_mm\r\n"
          "\"a \"\"thick\"\", straight vessel\",right,middle,0.000,0.000,-5.000,5.000,1.000\r\n");
    CHECK(report::structures_table(patient, TableFormat::json)
              .find("\"structure\": \"a \\\"thick\\\", straight vessel\"") != std::string::npos);
    CHECK(report::structures_table(sim::Slab({}), TableFormat::json) == "[\n]\n");
}

TEST_CASE("a point: its layer, and the nearest wall with its distance", "[tables]") {
    const MarkedSlab patient;
    const std::string csv = report::point_table(patient, {2.0, 0.0, -6.5}, TableFormat::csv);
    // 6.5 deep: half-way through the SMAS from 6 to 7; 1.5 from the centre line, so 0.5 from the wall
    CHECK(csv.find("2.000,0.000,-6.500,SMAS or platysma,0.500,6.500,1.500,6.000,7.000,10.000,15.000,bone,"
                   "\"a \"\"thick\"\", straight vessel\",right,0.500\r\n") != std::string::npos);
    const std::string lonely = report::point_table(sim::Slab({}), {2.0, 0.0, -6.5}, TableFormat::csv);
    CHECK(lonely.find(",bone,,,\r\n") != std::string::npos);
    CHECK(report::point_table(sim::Slab({}), {2.0, 0.0, -6.5}, TableFormat::json).find("\"distance_mm\": null") !=
          std::string::npos);
}

TEST_CASE("a point that is no place on a head is refused by axis and value", "[tables]") {
    const sim::Slab patient({});
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(report::point_table(patient, {nan, 0, 0}, TableFormat::csv), sim::InputError);
    CHECK_THROWS_AS(report::point_table(patient, {0, 0, 301.0}, TableFormat::csv), sim::InputError);
    CHECK_THROWS_WITH(report::point_table(patient, {0, -1e9, 0}, TableFormat::csv), Catch::Contains("at: y"));
}
