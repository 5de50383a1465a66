#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "engine/report/anatomy_tables.hpp"
#include "engine/view/ultrasound.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/anatomy/structures.hpp"
#include "tests/support/heads.hpp"

/// Depths read off the picture of a probe against what `pk anatomy at` prints for the place that was read.

using sim::kMm;
using sim::Vec3;

namespace {

std::shared_ptr<const sim::Head> head_of(std::size_t patient) {
    // lives as long as the test program
    const std::shared_ptr<const sim::HeadTissue> tissue(&support::patient_tissue(patient), [](const auto*) {});
    sim::Placement placed = sim::place_structures(*tissue, 0);
    return std::make_shared<const sim::Head>(tissue, std::move(placed.structures), std::move(placed.ligaments),
                                             std::move(placed.landmarks));
}

/// As `pk anatomy at X Y Z --json` prints it.
nlohmann::json anatomy_at(const sim::Anatomy& anatomy, const Vec3& p_m) {
    return nlohmann::json::parse(report::point_table(anatomy, p_m / kMm, report::TableFormat::json)).at(0);
}

constexpr std::array<const char*, sim::kTissueLayers> kBottoms{"skin_bottom_mm", "superficial_fat_bottom_mm",
                                                               "smas_bottom_mm", "deep_fat_bottom_mm", "floor_mm"};
constexpr int kBand = 6;  // columns to either side that are looked at together: speckle is uneven

/// Brightest row near a row, over a narrow band of columns; middle of a plateau.
int brightest(const view::EchoPicture& picture, int column, int row, int reach) {
    double most = -1.0;
    int first = row, last = row;
    for (int r = std::max(0, row - reach); r <= std::min(picture.rows - 1, row + reach); ++r) {
        double sum = 0.0;
        for (int c = column - kBand; c <= column + kBand; ++c) sum += picture.at(c, r);
        if (sum > most) first = r;
        if (sum >= most) last = r;
        most = std::max(most, sum);
    }
    return (first + last) / 2;
}

}  // namespace

TEST_CASE("layer depths read off the probe's picture are those of the anatomy within a pixel", "[oracle][ultrasound]") {
    // cheek, jowl, jaw line and temple of both sides; held square to the skin, across and along
    const std::array<Vec3, 4> places_mm{Vec3(52, -25, 45), Vec3(48, -60, 55), Vec3(58, -45, 25), Vec3(60, 25, 35)};
    int read = 0;
    std::array<int, sim::kTissueLayers> each{};
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const auto head = head_of(patient);
        view::Ultrasound probe(head);
        for (const Vec3& place : places_mm)
            for (const double side : {1.0, -1.0})
                for (const double turn : {0.0, 0.5 * sim::kPi}) {
                    const sim::SkinPoint skin = head->nearest_skin(kMm * Vec3(side * place.x, place.y, place.z));
                    const view::EchoPicture& picture = probe.look(view::probe_on(skin, turn), {}, 0.0);
                    const view::ProbeMap& map = probe.map();
                    const int line = map.grid.lines / 2, column = 2 * line;
                    const double x_m = map.grid.x_m(line);
                    const double pixel_mm = picture.pixel_m / kMm;
                    // what the table says straight below the footprint's middle, as depths of the picture
                    for (std::size_t k = 0; k < kBottoms.size(); ++k) {
                        const double y_m = map.depth_of_m(line, static_cast<sim::Layer>(k + 1));
                        const int wanted = static_cast<int>(std::lround(y_m / picture.pixel_m));
                        if (wanted + 12 >= picture.rows) continue;
                        // two edges nearer than the window, or a vessel's wall in it, cannot be told apart
                        const double window_mm = 0.35;
                        bool alone = true;
                        for (int e = 0; e <= sim::kTissueLayers; ++e)
                            alone = alone && (e == static_cast<int>(k) + 1 ||
                                              std::fabs(map.depth_of_m(line, static_cast<sim::Layer>(e)) - y_m) >
                                                  2.0 * window_mm * kMm);
                        const Vec3 there = map.place_m(line, y_m);
                        const nlohmann::json before = anatomy_at(*head, there);
                        if (!before["distance_mm"].is_null() && before["distance_mm"].get<double>() < 1.0)
                            alone = false;
                        // aslant the beam hears an edge at several depths at once
                        const double square = map.lines[static_cast<std::size_t>(line)].square[k + 1];
                        if (!alone || square < std::cos(12.0 * sim::kPi / 180.0)) continue;

                        const int row = brightest(picture, column, wanted, static_cast<int>(window_mm / pixel_mm));
                        const Vec3 p_m = skin.position_m + x_m * map.pose.along +
                                         (row * picture.pixel_m - map.depth_of_m(line, sim::Layer::outside) +
                                          map.lines[static_cast<std::size_t>(line)].skin_mm * kMm) *
                                             map.pose.inward;
                        const nlohmann::json at = anatomy_at(*head, p_m);
                        const double off_mm = at["depth_mm"].get<double>() - at[kBottoms[k]].get<double>();
                        INFO(support::patients()[patient].name
                             << " " << side * place.x << " " << place.y << " turn " << turn << ": " << kBottoms[k]
                             << " read at row " << row << ", off by " << off_mm << " mm, " << at["floor"] << ", square "
                             << square);
                        CHECK(std::fabs(off_mm) <= pixel_mm);
                        ++read;
                        ++each[k];
                    }
                }
    }
    CHECK(read >= 150);
    for (const int count : each) CHECK(count >= 15);
}

TEST_CASE("an artery of a head is dark where its course crosses the plane", "[oracle][ultrasound]") {
    for (std::size_t patient = 0; patient < 4; ++patient) {
        const auto head = head_of(patient);
        view::Ultrasound probe(head);
        for (const sim::Structure& artery : head->structures()) {
            if (artery.name != "facial artery") continue;
            for (const sim::Station& station : artery.stations) {
                if (station.name.find("antegonial") == std::string::npos) continue;
                // across its course, and pressed on a little, as in a fold the footprint's middle has no contact
                const sim::SkinPoint skin = head->nearest_skin(station.position_m);
                const view::EchoPicture& picture = probe.look(view::probe_on(skin, 0.0, 2.0 * kMm), {}, 0.0);
                const Vec3 off = station.position_m - skin.position_m;
                const view::ProbeMap& map = probe.map();
                const int line = static_cast<int>(
                    std::lround(glm::dot(off, map.pose.along) / map.grid.line_m() + 0.5 * (map.grid.lines - 1)));
                REQUIRE(line >= 0);
                REQUIRE(line < map.grid.lines);
                const double y_mm =
                    map.lines[static_cast<std::size_t>(line)].y_mm(glm::dot(off, map.pose.inward) / kMm);
                const int row = static_cast<int>(std::lround(y_mm * kMm / picture.pixel_m));
                double inside = 0.0, about = 0.0;
                int n = 0;
                const int far = static_cast<int>(std::lround(2.2 * station.radius_m / picture.pixel_m));
                for (int d = -5; d <= 5; ++d)
                    for (int e = -5; e <= 5; ++e) {
                        inside += picture.at(2 * line + d, row + e);
                        about +=
                            0.5 * (picture.at(2 * line + d + far, row + e) + picture.at(2 * line + d - far, row + e));
                        ++n;
                    }
                INFO(support::patients()[patient].name << " " << sim::name_of(artery.side) << " " << station.name);
                CHECK(inside / n < 20.0);
                CHECK(inside / n < 0.5 * about / n);
            }
        }
    }
}
