#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

#include "engine/records/store.hpp"

/// From one laptop's trainer into a school's records.

namespace cohort {

struct PutIn {
    std::size_t added = 0, already = 0, refused = 0;
    std::string first_trouble;  ///< of a file, folder or list that could not be used; empty: none
};

/// Every whole attempt that learners made by themselves at this machine. Whose key nobody has in the store is added by
/// the name that they have here, or gets the key where the store has one learner of this name and no key of theirs.
/// Graded attempts are left out: they come by collecting a session, which looks for what speaks against them.
/// @param folder the trainer's data folder
/// @throws RecordsError for what speaks against all of it: a lost database, a role
[[nodiscard]] PutIn put_in_own(records::Store& store, const records::Actor& actor, const std::filesystem::path& folder);

/// "2 put in, 0 were there already. 1 refused, the first: ..."
[[nodiscard]] std::string words_of(const PutIn& put);

}  // namespace cohort
