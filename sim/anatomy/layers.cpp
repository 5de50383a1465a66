#include "sim/anatomy/layers.hpp"

#include <algorithm>

#include <glm/geometric.hpp>

#include "sim/core/errors.hpp"

namespace sim {
namespace {

using glm::vec3;

constexpr std::string_view kMeng = "skin Meng 2022, BMC Med Imaging 22:113, dermis and entry echo, in-vivo ultrasound";
constexpr std::string_view kMengKim =
    "skin Meng 2022, BMC Med Imaging 22:113; fat order and ends Kim 2019, Clin Anat; values between them assumed";
constexpr std::string_view kKim = "fat Kim 2019, Clin Anat, order and ends; values between them, skin and SMAS assumed";
constexpr std::string_view kMemory = "from memory";
constexpr std::string_view kAssumed = "assumed";

// name, place, skin of a woman and a man, superficial fat, SMAS
constexpr LayerSite kSites[] = {
    {"radix and dorsum", {0, 14, 92}, 1.12f, 1.23f, 1.61f, 0.5f, kMengKim},
    {"supra-orbital", {30, 38, 84}, 1.06f, 1.39f, 1.65f, 0.8f, kKim},
    {"glabella", {0, 38, 94}, 1.09f, 1.35f, 1.8f, 0.8f, kMeng},
    {"forehead", {22, 62, 84}, 1.06f, 1.39f, 2.4f, 0.7f, kMengKim},
    {"temple", {60, 32, 40}, 0.98f, 1.25f, 2.6f, 1.2f, kMengKim},
    {"vertex", {0, 120, 0}, 1.2f, 1.4f, 3.0f, 1.1f, kAssumed},
    {"occiput", {0, 20, -85}, 1.3f, 1.5f, 4.0f, 1.1f, kAssumed},
    {"parietal", {66, 60, -20}, 1.2f, 1.4f, 3.0f, 1.1f, kAssumed},
    {"eyelid", {31, 12, 78}, 0.75f, 0.85f, 1.0f, 0.5f, kMeng},
    {"zygoma", {50, -2, 64}, 1.07f, 1.33f, 3.6f, 0.9f, kMeng},
    {"infra-orbital", {27, -8, 80}, 1.15f, 1.38f, 4.6f, 0.4f, kKim},
    {"cheek", {46, -28, 62}, 1.2f, 1.45f, 3.1f, 0.8f, kKim},
    {"pre-auricle", {64, -10, 16}, 1.15f, 1.4f, 2.4f, 1.4f, kMemory},
    {"lower cheek over masseter", {56, -38, 26}, 1.15f, 1.4f, 3.2f, 1.2f, kMemory},
    {"perioral", {20, -48, 84}, 1.35f, 1.5f, 5.14f, 0.40f, kKim},
    {"mouth corner", {28, -45, 80}, 1.5f, 1.65f, 5.0f, 0.6f, kMemory},
    {"marionette",
     {29, -60, 72},
     1.4f,
     1.55f,
     5.3f,
     0.7f,
     "skin and subcutis 6.7 at the depressor anguli oris, 45 cadavers, Aesthet Surg J"},
    {"chin", {0, -74, 89}, 1.3f, 1.5f, 4.2f, 0.6f, kMemory},
    {"jowl",
     {36, -70, 58},
     1.02f,
     1.25f,
     5.0f,
     0.9f,
     "thinner skin, thicker fat, deeper SMAS than cheek: 200 by ultrasound, Dermatol Surg 2022;48:527; values from "
     "memory"},
    {"jaw angle", {50, -54, 14}, 1.1f, 1.3f, 3.4f, 1.3f, kMemory},
    {"submandibular", {34, -82, 38}, 1.09f, 1.23f, 4.2f, 1.2f, kMeng},
    {"submental", {0, -90, 52}, 1.1f, 1.25f, 5.6f, 1.1f, kMemory},
    {"neck, lateral", {45, -105, 4}, 1.16f, 1.17f, 3.2f, 1.2f, kMeng},
    {"neck, front", {0, -125, 34}, 1.16f, 1.17f, 3.0f, 1.0f, kMeng},
    {"neck, low", {30, -165, 12}, 1.16f, 1.17f, 3.4f, 1.1f, kMeng},
    {"nape", {10, -90, -60}, 1.5f, 1.7f, 4.5f, 1.2f, kAssumed},
    {"ear", {74, 2, -16}, 1.0f, 1.1f, 0.8f, 0.5f, kAssumed},
    {"lip", {0, -44, 94}, 1.0f, 1.1f, 2.2f, 0.5f, kMemory},
    {"nose tip", {0, -14, 108}, 1.4f, 1.5f, 2.0f, 0.5f, kMemory},
};

constexpr float kLeastFatMm = 0.5f, kLeastSmasMm = 0.35f;

}  // namespace

std::span<const LayerSite> layer_sites() { return kSites; }

LayerMap::LayerMap(const HeadParameters& parameters) : parameters_(parameters) {
    left_ = corrected(true);
    right_ = corrected(false);
}

std::array<float, 3> LayerMap::target_mm(std::size_t index, bool left) const {
    // skin thins with age in women at four sites (Meng 2022); fat thins with age, men have less of it (Dermatol Surg
    // 2022;48:527); how much is assumed
    constexpr float kSkinThinsShare = 0.10f, kFatThinsShare = 0.10f, kMansFatShare = 0.10f;
    constexpr float kJowlMm = 1.6f, kSubmentalMm = 3.0f;
    const HeadParameters& p = parameters_;
    const auto f = [](double v) { return static_cast<float>(v); };
    const LayerSite& site = kSites[index];
    const float male = f(p.male);
    const float age = glm::clamp(f((p.age_years - 30.0) / 40.0), 0.0f, 1.0f);
    float skin = glm::mix(site.skin_woman_mm, site.skin_man_mm, male);
    const bool thins =
        site.name == "forehead" || site.name == "glabella" || site.name == "zygoma" || site.name == "submandibular";
    if (thins) skin *= 1.0f - kSkinThinsShare * age * (1.0f - male);
    float fat = site.fat_mm * (1.0f - kFatThinsShare * age) * (1.0f - kMansFatShare * male);
    if (site.name == "jowl") fat += kJowlMm * f(left ? p.jowl_left : p.jowl_right);
    if (site.name == "submental") fat += kSubmentalMm * f(left ? p.submental_left : p.submental_right);
    return {skin, fat, site.smas_mm};
}

std::array<float, 3> LayerMap::blend(const Values& values, const vec3& place_mm) const {
    constexpr float kSoft2Mm2 = 90.0f;  // under about 10 mm from a site the map is flat
    std::array<float, 3> sum{};
    float weights = 0.0f;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const vec3 off = place_mm - kSites[i].place_mm;
        const float r2 = glm::dot(off, off) + kSoft2Mm2;
        const float w = 1.0f / (r2 * r2);
        weights += w;
        for (std::size_t k = 0; k < 3; ++k) sum[k] += w * values[i][k];
    }
    for (float& v : sum) v /= weights;
    return sum;
}

LayerMap::Values LayerMap::corrected(bool left) const {
    constexpr int kRounds = 2;
    constexpr float kStep = 0.6f;  // of the miss at a site: neighbours keep the map smooth
    Values values;
    for (std::size_t i = 0; i < std::size(kSites); ++i) values.push_back(target_mm(i, left));
    const Values targets = values;
    for (int round = 0; round < kRounds; ++round) {
        Values misses;
        for (std::size_t i = 0; i < values.size(); ++i) {
            const auto now = blend(values, kSites[i].place_mm);
            misses.push_back({targets[i][0] - now[0], targets[i][1] - now[1], targets[i][2] - now[2]});
        }
        for (std::size_t i = 0; i < values.size(); ++i)
            for (std::size_t k = 0; k < 3; ++k) values[i][k] += kStep * misses[i][k];
    }
    return values;
}

LayerThickness LayerMap::at(const vec3& place_mm, double left_share) const {
    std::array<float, 3> v = left_share > 0.0 ? blend(left_, place_mm) : blend(right_, place_mm);
    if (left_share > 0.0 && left_share < 1.0) {
        const auto other = blend(right_, place_mm);
        for (std::size_t k = 0; k < 3; ++k) v[k] = glm::mix(other[k], v[k], static_cast<float>(left_share));
    }
    const auto to_m = [](float mm) { return static_cast<double>(mm) * kMm; };
    return {to_m(v[0]), to_m(std::max(v[1], kLeastFatMm)), to_m(std::max(v[2], kLeastSmasMm))};
}

}  // namespace sim
