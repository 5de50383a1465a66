#include <catch2/catch.hpp>

#include <cmath>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include <glm/geometric.hpp>
#include <nlohmann/json.hpp>

#include "sim/anatomy/skin_points.hpp"
#include "tests/support/patients.hpp"

/// Widths and heights of the patients' faces against published norms of both sexes.
///
/// Heights from nasion are measured from the skin over the suture, kNasionAboveSellionMm above the deepest point of the
/// root: the place at which the floor takes the published depth of nasion too.

using namespace sim;

namespace {

/// Millimetres.
struct Norm {
    double mean, sd;
};

struct Measure {
    std::string name;
    std::function<float(const FaceLandmarks&)> of;
    Norm woman, man;
    std::string source;
};

float across(const SidedPoint& p) { return glm::distance(p.left, p.right); }

// Farkas, Katic, Forrest 2005, J Craniofac Surg 16:615 (North American White, 18 to 30 years); values from memory.
// Zhuang and Bradtmiller 2005, J Occup Environ Hyg 2:567 (3997 US workers, caliper over soft tissue); values from
// memory.
const std::string kFarkas = "Farkas 2005, from memory";
const std::string kZhuang = "Zhuang 2005, from memory";

const std::vector<Measure>& measures() {
    using L = FaceLandmarks;
    static const std::vector<Measure> all = {
        {"bizygomatic width", [](const L& l) { return across(l.zygion); }, {129.9, 5.3}, {137.1, 4.3}, kFarkas},
        {"bigonial width over soft tissue",
         [](const L& l) { return across(l.gonion); },
         {110.1, 8.9},
         {120.4, 10.4},
         kZhuang},
        {"mouth width", [](const L& l) { return across(l.cheilion); }, {50.2, 3.5}, {54.5, 3.0}, kFarkas},
        {"nasal width", [](const L& l) { return across(l.alare); }, {33.2, 3.9}, {36.6, 4.1}, kZhuang},
        {"intercanthal width", [](const L& l) { return across(l.endocanthion); }, {31.8, 2.3}, {33.3, 2.7}, kFarkas},
        {"biocular width", [](const L& l) { return across(l.exocanthion); }, {87.8, 3.2}, {91.2, 3.0}, kFarkas},
        {"lower face height",
         [](const L& l) { return glm::distance(l.subnasale, l.gnathion); },
         {64.3, 4.0},
         {72.6, 4.5},
         kFarkas},
        {"mandible height",
         [](const L& l) { return glm::distance(l.stomion, l.gnathion); },
         {43.4, 3.1},
         {50.7, 4.0},
         kFarkas},
        {"nose height",
         [](const L& l) { return glm::distance(l.nasion, l.subnasale); },
         {50.6, 3.1},
         {54.8, 3.3},
         kFarkas},
        {"face height",
         [](const L& l) { return glm::distance(l.nasion, l.gnathion); },
         {111.4, 4.8},
         {124.7, 5.7},
         kFarkas},
        {"menton to sellion",
         [](const L& l) { return glm::distance(l.sellion, l.menton); },
         {113.4, 6.1},
         {122.7, 7.0},
         kZhuang},
    };
    return all;
}

const Norm& norm(const Measure& m, const HeadParameters& head) { return head.male > 0.5 ? m.man : m.woman; }

}  // namespace

TEST_CASE("each patient's face lies within two published standard deviations", "[oracle][anthropometry]") {
    for (const auto& [name, head] : support::patients()) {
        const FaceLandmarks points = face_points_mm(SkinField(head));
        for (const Measure& m : measures()) {
            const double sds = (static_cast<double>(m.of(points)) - norm(m, head).mean) / norm(m, head).sd;
            INFO(name << ": " << m.name << " " << m.of(points) << " mm, " << sds << " SD from " << m.source);
            CHECK(std::fabs(sds) <= 2.0);
        }
    }
}

TEST_CASE("the mean of each sex lies within one published standard deviation", "[oracle][anthropometry]") {
    for (const bool men : {false, true}) {
        for (const Measure& m : measures()) {
            double sum = 0.0;
            int n = 0;
            for (const auto& [name, head] : support::patients()) {
                if ((head.male > 0.5) != men) continue;
                sum += static_cast<double>(m.of(face_points_mm(SkinField(head))));
                ++n;
            }
            REQUIRE(n == 2);
            const Norm& published = men ? m.man : m.woman;
            const double sds = (sum / n - published.mean) / published.sd;
            INFO((men ? "men: " : "women: ") << m.name << " " << sum / n << " mm, " << sds << " SD from " << m.source);
            CHECK(std::fabs(sds) <= 1.0);
        }
    }
}

TEST_CASE("the tests' patients are the shipped ones", "[oracle][anthropometry]") {
    for (const auto& [name, head] : support::patients()) {
        INFO(name);
        std::ifstream in("scenarios/patients/" + std::string(name) + ".json");
        REQUIRE(in);
        const nlohmann::json json = nlohmann::json::parse(in);
        CHECK(json.at("schema_version") == 1);
        for (const HeadParameterField& f : head_parameter_fields()) {
            INFO(f.name);
            CHECK(json.at(std::string(f.name)).get<double>() == head.*f.member);
        }
        CHECK(json.at("asymmetry_seed").get<std::uint64_t>() == head.asymmetry_seed);
    }
}
