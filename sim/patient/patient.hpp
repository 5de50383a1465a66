#pragma once

#include <optional>
#include <string_view>

#include "sim/patient/visit.hpp"

/// Deeds, injections and time on the patient; and what the patient does about what the instruments do.

namespace sim {

struct StepContext;
struct State;
struct Model;

/// Why a deed or an injection cannot be.
enum class DeedRefusal : std::uint8_t {
    no_visit,
    no_hand_there,
    nothing_in_skin,
    loaded,
    not_discarded,
    gone,
    not_on_tray,
};
inline constexpr int kDeedRefusals = 7;

/// Whether what a tray place holds now is not past its date. @pre tray is a number of the tray
[[nodiscard]] bool in_date(const Model& model, const Visit& visit, int tray);
[[nodiscard]] std::string_view words_of(DeedRefusal refusal);

[[nodiscard]] std::optional<DeedRefusal> refusal_of(const Model& model, const State& state, Deed deed, int subject);
[[nodiscard]] std::optional<DeedRefusal> refusal_of_injection(const Model& model, const State& state);

/// Patient's time: steps, and what was waited for.
[[nodiscard]] double patient_s(const State& state);

/// @pre refusal_of() has nothing against it
void do_deed(const StepContext& context, Deed deed, int subject);
void decide(const StepContext& context, Decision decision, HistoryItem reason);
void inject_here(const StepContext& context, double volume_ml);
/// The patient waits; nothing else happens meanwhile.
void let_pass(const StepContext& context, double seconds);

/// What an attempt finds that does not begin with the history. @pre the scenario has an opening
/// @throws InputError where no artery lies within 15 mm of the place that is said to bleed
void open_in_the_middle(const Model& model, Visit& visit);

/// A finger of the other hand has come to lie on the skin.
void touch_skin(const StepContext& context);

/// The patient stage: what this step's events and the time mean to the patient.
void patient(const StepContext& context);

/// Area that a place on the skin belongs to. @param fascia the floor there is deep cervical fascia
[[nodiscard]] SkinArea area_of(const Vec3& place_m, bool fascia);

/// Contact time until skin counts as prepared, s: 30 for alcoholic chlorhexidine, 120 for povidone-iodine. Assumed; the
/// product's instructions come first.
[[nodiscard]] double contact_time_s(bool mild);

}  // namespace sim
