#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/core/vec.hpp"
#include "sim/procedure/deeds.hpp"

/// What a case says of its patient beyond the anatomy: the history, what they bear, what they may be given. Nothing
/// here changes during an attempt.

namespace sim {

/// What is asked in a consult. Common practice, no source; consumer leaflets of clinics and societies agree.
enum class HistoryItem : std::uint8_t {
    medicines,
    past_treatments,
    scarring,
    herpes,
    infection,
    immune_disease,
    pregnancy,
    allergy,
    expectations,
    body_image,
};
inline constexpr std::size_t kHistoryItems = 10;
[[nodiscard]] std::string_view key_of(HistoryItem item);       ///< "past_treatments": in files
[[nodiscard]] std::string_view question_of(HistoryItem item);  ///< "Earlier threads, fillers or surgery?"

enum class Decision : std::uint8_t { treat, defer, refer };
inline constexpr std::array<std::string_view, 3> kDecisions{"treat", "defer", "refer"};
[[nodiscard]] constexpr std::string_view name_of(Decision decision) {
    return kDecisions[static_cast<std::size_t>(decision)];
}

struct HistoryAnswer {
    std::string says;  ///< the patient's own words, short
    Decision calls_for = Decision::treat;
};

/// Lidocaine as it stands ready.
struct AnaestheticSpec {
    double mg_per_ml = 10.0;  ///< 1 % is 10 mg/ml: US prescribing label
    bool adrenaline = false;
};

/// What a school's protocol and formulary ask beyond label and product; 0: nothing.
struct LocalRules {
    double most_mg_per_kg = 0.0, most_mg = 0.0;  ///< of lidocaine; they hold where they are stricter than the label
    double contact_time_s = 0.0;                 ///< of any antiseptic, where it is longer than the product asks
    friend bool operator==(const LocalRules&, const LocalRules&) = default;
};

/// An attempt that begins in the middle of things: what asks for an answer is there already, and no pass is asked for.
struct Opening {
    std::optional<Vec3> bleeding_at_m;  ///< the artery nearest to this place has been opened
    bool gone_home = false;             ///< only the calls are left
    std::array<int, kCalls> heard{};    ///< in each call, a bit each in the order of CallFinding
};

struct VisitSpec {
    double weight_kg = 65.0;
    std::array<HistoryAnswer, kHistoryItems> history;
    AnaestheticSpec anaesthetic;
    LocalRules local;
    bool allergic_to_anaesthetic = false;
    double bears_pain = 5.0;         ///< of 10: above it the patient moves; assumed
    bool faints = false;             ///< at the first needle
    double swallows_every_s = 0.0;   ///< with an instrument in the skin; 0: holds still
    std::optional<Opening> opening;  ///< none: from the history on

    /// What the whole history calls for: the gravest of its answers.
    [[nodiscard]] Decision right_decision() const;
    /// Most that the label allows, mg: 4.5 mg/kg and 300 mg plain, 7 mg/kg and 500 mg with adrenaline (US prescribing
    /// label). Signs of too much hang on this one.
    [[nodiscard]] double label_limit_mg() const;
    /// Most that may be given here: the label's limit, or a stricter local one.
    [[nodiscard]] double limit_mg() const;
    [[nodiscard]] bool local_limit_holds() const { return limit_mg() < label_limit_mg(); }
};

/// @throws InputError naming the field, from "visit" on
void validate(const VisitSpec& visit);

}  // namespace sim
