#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/anatomy/variants.hpp"
#include "sim/scenario.hpp"

namespace sim {
struct HeadTissue;
}

/// Which course vessels, nerves and ducts take in an attempt, where the learner asks for another than the one that the
/// scenario was written with.

namespace session {

enum class VariantWish : std::uint8_t { as_written, same, another, rare, harder, easier };
inline constexpr int kVariantWishes = static_cast<int>(VariantWish::easier) + 1;
[[nodiscard]] std::string_view name_of(VariantWish wish);  ///< "as written"

/// How unlikely the courses are that the shares of the published studies draw, both sides together: the sum of -ln of
/// the share of each named course. The shares are counted over 4,000 seeds, so that no table is kept twice. 0 for what
/// everybody has.
[[nodiscard]] double rarity(const sim::PlacedVariants& variants);

/// How near the middle of the target plane below each planned vector comes to an artery, a nerve or a duct of its side:
/// mean over the vectors of the least distance to a wall, in metres. Smaller is harder. @pre the plan is not empty
[[nodiscard]] double room_m(const sim::HeadTissue& tissue, const sim::Scenario& scenario, std::uint64_t seed);

/// What the learner asks for.
struct VariantAsked {
    VariantWish wish = VariantWish::as_written;
    std::optional<std::uint64_t> before;  ///< seed of the attempt before; the scenario's own where there is none
    std::uint64_t entropy = 0;            ///< different for each attempt
};

/// A seed that answers the wish. "same" is the one before; "another" is drawn evenly; "rare" comes from the rarest
/// twentieth of seeds; "harder" and "easier" leave less and more room along the plan than the seed before, as far as 24
/// draws hold one that does, else the one that comes nearest to it.
/// @param tissue of the patient; null for flat tissue, whose structures lie where the scenario has them: the scenario's
///               own seed is returned
[[nodiscard]] std::uint64_t choose_variant(const VariantAsked& asked, const sim::HeadTissue* tissue,
                                           const sim::Scenario& scenario);

}  // namespace session
