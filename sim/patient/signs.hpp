#pragma once

#include <cstdint>
#include <string_view>

/// What a trainee can see, hear or be told before and while harm is done.

namespace sim {

enum class Sign : std::uint8_t {
    pain,                ///< more than the patient bears
    electric_pain,       ///< a nerve
    bruise_spreading,    ///< a vessel's wall has given way
    swelling_expanding,  ///< and nobody presses
    blanching,           ///< pallor beyond the bleb: fluid in a vessel
    clear_fluid,         ///< parotid or its duct
    taste,               ///< the cheek's lining
    tingling,            ///< round the mouth, ringing ears: first of anaesthetic toxicity
    agitation,
    seizure,
    pallor,    ///< sweating, slow pulse: a faint comes
    collapse,  ///< it has come
    swallow,   ///< a movement that cannot be helped is coming
};
inline constexpr int kSigns = static_cast<int>(Sign::swallow) + 1;
[[nodiscard]] std::string_view name_of(Sign sign);   ///< "bruise spreading"
[[nodiscard]] std::string_view words_of(Sign sign);  ///< what is seen, or what the patient says: a caption

/// What it asks for, in general terms: "Stop, lay flat, legs up." After common practice, no source; the local protocol
/// comes first.
[[nodiscard]] std::string_view response_words(Sign sign);

/// Whether the patient says it; otherwise it is seen.
[[nodiscard]] bool is_said(Sign sign);

}  // namespace sim
