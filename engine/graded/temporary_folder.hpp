#pragma once

#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"

namespace graded {

/// A folder of one's own that goes with its object.
class TemporaryFolder {
 public:
    /// @throws files::FileError where none can be made
    TemporaryFolder() {
        std::string pattern = (std::filesystem::temp_directory_path() / "planekeeper_XXXXXX").string();
        if (::mkdtemp(pattern.data()) == nullptr)
            throw files::FileError(pattern, "", files::words_of_errno(errno), "a place for a folder");
        path_ = pattern;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;

    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
    std::filesystem::path path_;
};

}  // namespace graded
