#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "engine/records/store.hpp"

/// Attempts as statements of the Experience API, version 1.0.3, for a school's learning record store.
///
/// One statement an attempt. Names stay here: the actor is an account whose name is the learner's id. What scoring says
/// is the result; a pass says nothing about treating a patient, and the statement's extension carries that caution.

namespace records {

struct XapiSettings {
    /// IRL of the system in which the accounts are: the school's own address. The default is nobody's (RFC 2606).
    std::string home_page = "https://planekeeper.example/learners";
};

/// Id of the statement about an attempt in its present state: the same each time, so that it is one however often it is
/// sent; a later state of the attempt (finished after it was stopped) has another.
/// @return a UUID (RFC 4122) of version 4, whose bits are those of a hash instead of a random draw
[[nodiscard]] std::string statement_id(const AttemptFacts& facts);

/// actor, verb (passed, failed, terminated when it was ended before its work was done, suspended while unfinished),
/// object (the scenario), result (score, success, completion, duration of the simulated time), context, timestamp (when
/// it began).
/// @throws RecordsError (bad_input) for a home page that is no http(s) IRL
[[nodiscard]] nlohmann::ordered_json statement_of(const AttemptRow& row, const XapiSettings& settings);

/// "PT23.16S": ISO 8601 duration to 0.01 s, which is as exact as 1.0.3 lets a receiver compare.
/// @param seconds >= 0
[[nodiscard]] std::string duration_text(double seconds);

}  // namespace records
