#pragma once

#include <string>
#include <vector>

#include "engine/graded/graded_session.hpp"
#include "tools/pk/records.hpp"

namespace pk {

/// An attempt that nothing speaks against, for its slot of the session.
struct Accepted {
    const graded::Slot* slot = nullptr;
    std::string bytes;
};

/// Put a session and what was accepted of it into a school's store. Again with more, or the same, it goes on.
///
/// @param new_learners  learners of the session whose keys the store does not know are added by their names in the
/// plan;
///                      otherwise their attempts are told as not kept
/// @return attempts that could not be kept, each told with its reason on standard error
std::size_t keep_in_records(const RecordsArguments& arguments, const graded::Session& session,
                            const std::vector<Accepted>& accepted, bool new_learners);

}  // namespace pk
