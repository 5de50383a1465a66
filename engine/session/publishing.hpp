#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/crypto.hpp"
#include "engine/session/prepare.hpp"

/// Before others are graded by a case it is tried: capable hands reach its goal, which may be to defer, and careless
/// ones do not. What was tried is written down and signed, so that a case which was changed afterwards is found.

namespace session {

/// What the hands of a script came to.
struct Trial {
    std::string script_hash;
    std::string verdict;
    double points = 0.0, possible = 0.0;
    std::vector<std::string> reasons;  ///< why not more: critical faults, then the costliest losses
    friend bool operator==(const Trial&, const Trial&) = default;
};

/// @throws sim::InputError, files::FileError where the script cannot be played
[[nodiscard]] Trial try_script(const Prepared& prepared, const std::string& script, const std::string& file);

struct Publication {
    std::string scenario, scenario_hash, patient_hash, rubric_hash;  ///< patient_hash "" for flat tissue
    Trial capable, careless;
    std::string program_version, published_at;
    files::PublicKey publisher{};
    friend bool operator==(const Publication&, const Publication&) = default;
};

/// A case as it is tried before others are graded by it.
struct Tryout {
    std::string capable, careless;     ///< scripts
    Trial well, badly;                 ///< what each came to
    std::vector<std::string> refused;  ///< why it is not fit to be published; empty: it is
};
/// @param capable, careless scripts; composed by performers where empty
/// @throws sim::InputError, files::FileError where a script cannot be composed or played
[[nodiscard]] Tryout try_out(const Prepared& prepared, std::string capable = "", std::string careless = "");

/// Why a case is not fit to be published, in words; empty: it is.
[[nodiscard]] std::vector<std::string> refusals(const Trial& capable, const Trial& careless);

[[nodiscard]] Publication publication_of(const Prepared& prepared, Trial capable, Trial careless,
                                         const files::KeyPair& publisher);
[[nodiscard]] std::string publication_text(const Publication& publication, const files::KeyPair& publisher);
/// @throws files::FileError, also where the signature does not hold
[[nodiscard]] Publication parse_publication(const std::string& text, const std::string& file);

/// What has changed since it was published, in words; empty: nothing.
[[nodiscard]] std::vector<std::string> changes_since(const Publication& publication, const Prepared& now);

/// Copy a case with its patient, its rubric where it brings one, scripts and publication to where the trainer finds it.
/// @param scenario its file @returns where it lies now
/// @throws files::FileError for a name that is shipped, or a folder that cannot be written
std::filesystem::path publish(const std::filesystem::path& scenario, const Prepared& prepared,
                              const Publication& publication, const std::string& capable, const std::string& careless,
                              const files::KeyPair& publisher);

}  // namespace session
