#pragma once

#include <filesystem>
#include <string>
#include <vector>

/// Attempts in the data folders of trainers, as one who looks on finds them: nothing is written, made or locked.

namespace files {

/// An attempt's file, and whose it is as far as folders tell.
struct FoundAttempt {
    std::filesystem::path file;
    std::string station;  ///< name of the folder that holds the data folder; empty where it was asked for itself
    std::string learner;  ///< as the learners' list there has it; empty for one of a graded session
    std::filesystem::file_time_type written;
};

struct FoundAttempts {
    std::size_t data_folders = 0;
    std::vector<FoundAttempt> attempts;  ///< the one written last first
    std::vector<std::string> trouble;    ///< lists and folders that cannot be read, with their names
};

/// @param folder a trainer's data folder, or one that holds such folders, each perhaps in a folder of its own; may be
///               missing, which is told in `trouble`
[[nodiscard]] FoundAttempts find_attempts(const std::filesystem::path& folder);

}  // namespace files
