#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "engine/files/verify.hpp"

/// What the columns of an attempt say, worked out from its file and from nothing else.

namespace records {

struct HeadingPoints {
    std::string heading;            ///< key: "plane_accuracy"
    double points = 0.0, of = 0.0;  ///< of > 0
    friend bool operator==(const HeadingPoints&, const HeadingPoints&) = default;
};

struct AttemptFacts {
    std::string id;            ///< the header's attempt_id, 32 hexadecimal digits
    std::string content_hash;  ///< SHA-256 of the file, hexadecimal
    std::string learner_key;   ///< fingerprint of the header's public key
    std::string scenario, scenario_hash, rubric_hash;
    std::string mode;     ///< "coached", "solo", "graded"
    std::string seed;     ///< variant of the anatomy, 0 to 2^64 - 1 in decimal digits
    std::string devices;  ///< "keys mouse": what the hands were moved with
    std::int64_t aids_asked = 0;
    std::string started_at;  ///< "2026-03-01T10:15:00Z"
    std::int64_t steps = 0;  ///< of sim::kStepS
    bool finished = false;   ///< its signed end is there
    std::string verdict;     ///< "pass", "fail", "incomplete"; "" while it is unfinished
    double points = 0.0, of = 0.0;
    std::int64_t scoring_version = 1;
    std::string program_version;
    std::vector<HeadingPoints> headings;  ///< (H) those that were measured, in scoring's order
};

/// The bytes of an attempt in a file, unless its seal or the ledger tells that its end was cut off.
/// @param ledger of who made it @throws RecordsError (bad_input) naming the first fault; FileError
[[nodiscard]] std::string sealed_bytes(const std::filesystem::path& file, const std::filesystem::path& ledger);

/// Fingerprint of a signing key: SHA-256 of its 32 public bytes, hexadecimal.
/// @param public_key 64 hexadecimal digits
/// @throws RecordsError (bad_input)
[[nodiscard]] std::string fingerprint_of(std::string_view public_key);

/// Verify an attempt, score it by its own rubric and its own version of the measures.
///
/// @param bytes the whole file
/// @param name  stands for it in messages
/// @throws RecordsError (bad_input) when it is not an attempt, not intact (the first fault is named), or cannot be
/// scored
[[nodiscard]] AttemptFacts facts_of(std::string_view bytes, const std::string& name);

/// What is kept of an attempt and is not what its file says, in words: "column points is 3, its file says 4". Points
/// that differ by no more than 1e-6 are the same.
[[nodiscard]] std::vector<std::string> differences(const AttemptFacts& kept, const AttemptFacts& is);

/// "2026-03-01T10:15:00Z" and nothing else: a moment in UTC (RFC 3339).
[[nodiscard]] bool is_moment(std::string_view text);

}  // namespace records
