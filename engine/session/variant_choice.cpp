#include "engine/session/variant_choice.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <span>
#include <utility>
#include <vector>

#include "sim/anatomy/head.hpp"
#include "sim/anatomy/structures.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"

namespace session {

namespace {

constexpr int kCountedSeeds = 4000;  // their shares are known to less than one in a hundred
constexpr int kRareDraws = 200, kRareShare = 20;
constexpr int kRoomDraws = 24;
constexpr int kPlacesAlong = 16;  // of a vector: one every 4 mm or so
// seeds are told to people after the attempt: short enough to be written down
constexpr std::uint64_t kMostSeed = 999'999;

/// Which of the named courses one side has, as small numbers.
std::vector<int> courses(const sim::SideVariants& side) {
    const auto& nerve = side.facial_nerve;
    return {static_cast<int>(side.facial_artery.fold),
            static_cast<int>(side.facial_artery.end),
            side.facial_artery.superior_labial ? 1 : 0,
            side.facial_artery.inferior_labial ? 1 : 0,
            static_cast<int>(side.temporal.division),
            side.temporal.transverse_facial_arteries,
            nerve.frontal_branches,
            nerve.marginal.branches,
            nerve.marginal.below_border() ? 1 : 0,
            nerve.zygomatic_superficial_to_duct ? 1 : 0,
            static_cast<int>(side.parotid.duct),
            (side.parotid.facial_process ? 1 : 0) + (side.parotid.facial_process_past_masseter ? 1 : 0),
            side.parotid.accessory_gland ? 1 : 0};
}

/// -ln of the share of each course, by figure and value.
using Surprise = std::vector<std::map<int, double>>;

Surprise count_courses() {
    Surprise out;
    for (int seed = 1; seed <= kCountedSeeds; ++seed) {
        const sim::PlacedVariants drawn = sim::sample_variants(static_cast<std::uint64_t>(seed));
        for (const sim::SideVariants* side : {&drawn.left, &drawn.right}) {
            const std::vector<int> values = courses(*side);
            out.resize(values.size());
            for (std::size_t k = 0; k < values.size(); ++k) ++out[k][values[k]];
        }
    }
    for (auto& figure : out)
        for (auto& [value, count] : figure) count = -std::log(count / (2.0 * kCountedSeeds));
    return out;
}

double distance_to_wall_m(const sim::Vec3& p_m, const sim::Structure& structure) {
    double nearest_m = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i + 1 < structure.line.size(); ++i) {
        const sim::StructureNode &a = structure.line[i], &b = structure.line[i + 1];
        const sim::Vec3 way = b.position_m - a.position_m;
        const double length2 = glm::dot(way, way);
        const double t = length2 > 0.0 ? std::clamp(glm::dot(p_m - a.position_m, way) / length2, 0.0, 1.0) : 0.0;
        const double wall_m = a.radius_m + t * (b.radius_m - a.radius_m);
        nearest_m = std::min(nearest_m, glm::length(p_m - a.position_m - t * way) - wall_m);
    }
    return nearest_m;
}

/// The middle of the superficial fat below a vector.
std::vector<sim::Vec3> plane_below(const sim::Anatomy& anatomy, const sim::PlannedVector& vector) {
    std::vector<sim::Vec3> out;
    for (int i = 0; i < kPlacesAlong; ++i) {
        const double t = i / (kPlacesAlong - 1.0);
        const sim::SkinPoint skin = anatomy.nearest_skin(vector.entry_m + t * (vector.end_m - vector.entry_m));
        const sim::LayerPoint layers = anatomy.layers_at(skin.position_m - 1.0 * sim::kMm * skin.normal);
        const double depth_m =
            0.5 * (layers.bottom_of(sim::Layer::skin) + layers.bottom_of(sim::Layer::superficial_fat));
        out.push_back(skin.position_m - depth_m * skin.normal);
    }
    return out;
}

/// Room along the plan for any number of seeds: the plane below it does not hang on them.
class Room {
 public:
    Room(const sim::HeadTissue& tissue, const sim::Scenario& scenario) : placer_(tissue), plan_(scenario.plan) {
        SIM_ASSERT(!plan_.empty());
        const sim::Head bare(std::shared_ptr<const sim::HeadTissue>(&tissue, [](const sim::HeadTissue*) {}), {}, {},
                             placer_.landmarks());
        for (const sim::PlannedVector& vector : plan_) planes_.push_back(plane_below(bare, vector));
    }

    [[nodiscard]] double of(std::uint64_t seed) const {
        const sim::Placement placed = placer_.place(sim::sample_variants(seed));
        double sum_m = 0.0;
        for (std::size_t v = 0; v < plan_.size(); ++v) {
            double least_m = std::numeric_limits<double>::infinity();
            for (const sim::Structure& structure : placed.structures) {
                const bool counts = structure.kind == sim::StructureKind::artery ||
                                    structure.kind == sim::StructureKind::nerve ||
                                    structure.kind == sim::StructureKind::duct;
                if (!counts || structure.side != plan_[v].side) continue;
                for (const sim::Vec3& place_m : planes_[v])
                    least_m = std::min(least_m, distance_to_wall_m(place_m, structure));
            }
            sum_m += least_m;
        }
        return sum_m / static_cast<double>(plan_.size());
    }

 private:
    sim::StructurePlacer placer_;
    std::span<const sim::PlannedVector> plan_;
    std::vector<std::vector<sim::Vec3>> planes_;
};

std::uint64_t seed_from(sim::Random& random) { return 1 + random.next() % kMostSeed; }

std::uint64_t rare_seed(sim::Random& random) {
    std::vector<std::pair<double, std::uint64_t>> drawn;
    for (int i = 0; i < kRareDraws; ++i) {
        const std::uint64_t seed = seed_from(random);
        drawn.emplace_back(-rarity(sim::sample_variants(seed)), seed);
    }
    std::sort(drawn.begin(), drawn.end());
    return drawn[random.next() % (kRareDraws / kRareShare)].second;
}

std::uint64_t seed_by_room(const sim::HeadTissue& tissue, const sim::Scenario& scenario, std::uint64_t before,
                           bool harder, sim::Random& random) {
    const Room room(tissue, scenario);
    const double sign = harder ? 1.0 : -1.0, now_m = sign * room.of(before);
    std::vector<std::pair<double, std::uint64_t>> drawn;
    for (int i = 0; i < kRoomDraws; ++i) {
        const std::uint64_t seed = seed_from(random);
        if (seed != before) drawn.emplace_back(sign * room.of(seed), seed);
    }
    std::sort(drawn.begin(), drawn.end());
    const auto answer = static_cast<std::size_t>(
        std::count_if(drawn.begin(), drawn.end(), [&](const auto& one) { return one.first < now_m; }));
    return drawn[answer == 0 ? 0 : random.next() % answer].second;
}

}  // namespace

std::string_view name_of(VariantWish wish) {
    static constexpr std::array<std::string_view, kVariantWishes> names{"as written", "same",   "another",
                                                                        "rare",       "harder", "easier"};
    return names[static_cast<std::size_t>(wish)];
}

double rarity(const sim::PlacedVariants& variants) {
    static const Surprise surprise = count_courses();
    double sum = 0.0;
    for (const sim::SideVariants* side : {&variants.left, &variants.right}) {
        const std::vector<int> values = courses(*side);
        for (std::size_t k = 0; k < values.size(); ++k) {
            const auto at = surprise[k].find(values[k]);
            sum += at == surprise[k].end() ? std::log(2.0 * kCountedSeeds) : at->second;
        }
    }
    return sum;
}

double room_m(const sim::HeadTissue& tissue, const sim::Scenario& scenario, std::uint64_t seed) {
    return Room(tissue, scenario).of(seed);
}

std::uint64_t choose_variant(const VariantAsked& asked, const sim::HeadTissue* tissue, const sim::Scenario& scenario) {
    const std::uint64_t written = scenario.patient.variant_seed, last = asked.before.value_or(written);
    if (tissue == nullptr || asked.wish == VariantWish::as_written) return written;
    if (asked.wish == VariantWish::same) return last;
    sim::Random random(asked.entropy);
    if (asked.wish == VariantWish::rare) return rare_seed(random);
    if (asked.wish != VariantWish::another && !scenario.plan.empty())
        return seed_by_room(*tissue, scenario, last, asked.wish == VariantWish::harder, random);
    std::uint64_t seed = seed_from(random);
    while (seed == last) seed = seed_from(random);
    return seed;
}

}  // namespace session
