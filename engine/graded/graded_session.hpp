#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/crypto.hpp"
#include "engine/files/rubric.hpp"
#include "engine/files/scenario.hpp"

/// A graded session: who does which scenarios, in which anatomy, by when, at which machines. An instructor plans it,
/// issues it, and seals it for each station; a station may be without a network.
///
/// Graded use is supervised: who owns a machine owns its keys, and no file can tell who held the mouse.

namespace graded {

inline constexpr std::int64_t kGradedSchema = 1;
inline constexpr std::size_t kMostScenarios = 40, kMostPeople = 500, kMostKeys = 40;
inline constexpr double kMostMinutes = 240.0;

/// Somebody who sits at a station, or a station itself, with the public keys that it signs with.
struct Party {
    std::string name;
    std::vector<files::PublicKey> keys;
    friend bool operator==(const Party&, const Party&) = default;
};

/// What an instructor writes.
struct Plan {
    std::string title;
    std::string opens_at, closes_at;  ///< "2026-12-01T08:00:00Z": no attempt begins outside
    double minutes = 0.0;             ///< for each attempt; 0: no limit
    bool common_form = true;          ///< one anatomy a scenario for all; else one each, matched in difficulty
    std::vector<std::string> scenarios;
    std::vector<Party> learners, stations;
};

/// @throws files::FileError naming place, value and what is accepted: a name that comes twice, a key that is none, a
///         session that closes before it opens ...
[[nodiscard]] Plan parse_plan(const std::string& text, const std::string& file);

/// A scenario with all that it needs, as it was when the session was issued.
struct Form {
    files::SourceText scenario, rubric;
    std::optional<files::SourceText> patient;  ///< nothing for the slab
    friend bool operator==(const Form&, const Form&) = default;
};

/// One attempt that one learner may make. Its id is that of the attempt.
struct Slot {
    std::string id;  ///< 32 hexadecimal digits
    std::size_t learner = 0, form = 0;
    std::uint64_t variant_seed = 0;
    friend bool operator==(const Slot&, const Slot&) = default;
};

struct Session {
    std::string id;  ///< 32 hexadecimal digits
    std::string issued_at;
    files::PublicKey issuer{};
    Plan plan;
    std::vector<Form> forms;  ///< in the order of the plan's scenarios
    std::vector<Slot> slots;

    [[nodiscard]] const Slot* slot(const std::string& slot_id) const;
    [[nodiscard]] const Form& form_of(const Slot& slot) const { return forms[slot.form]; }
    [[nodiscard]] const Party& learner_of(const Slot& slot) const { return plan.learners[slot.learner]; }
};

/// The anatomy for a learner (index) at a scenario (index).
using SeedFor = std::function<std::uint64_t(std::size_t form, std::size_t learner)>;

/// One slot for each learner and scenario.
/// @pre one form for each scenario of the plan
[[nodiscard]] Session issue(Plan plan, std::vector<Form> forms, const SeedFor& seed_for, const files::KeyPair& issuer);

/// What the instructor keeps: JSON, signed. It tells every anatomy: not for learners' eyes.
[[nodiscard]] std::string session_text(const Session& session, const files::KeyPair& issuer);
/// @throws files::FileError, also where the signature is not the issuer's
[[nodiscard]] Session parse_session(const std::string& text, const std::string& file);

/// The session for one station's eyes, JSON around a sealed box. @throws sim::InputError for a key that is none
[[nodiscard]] std::string bundle_text(const std::string& session_text, const files::PublicKey& station);
/// @throws files::FileError where it is sealed for another station, was touched, or is no bundle
[[nodiscard]] Session open_bundle(const std::string& text, const std::string& file, const files::KeyPair& station);

/// Seconds since 1970 of "2026-12-01T08:00:00Z"; nothing for anything else.
[[nodiscard]] std::optional<std::int64_t> seconds_of(const std::string& utc);
[[nodiscard]] std::string utc_of(std::int64_t seconds);

}  // namespace graded
