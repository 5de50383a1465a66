#pragma once

#include <unistd.h>

#include <filesystem>
#include <string>

/// A folder of a test's own, gone when the test ends.

namespace support {

class Scratch {
 public:
    Scratch() {
        std::string pattern = (std::filesystem::temp_directory_path() / "planekeeper_test_XXXXXX").string();
        folder_ = mkdtemp(pattern.data());
    }
    ~Scratch() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;

    [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }
    [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

 private:
    std::filesystem::path folder_;
};

}  // namespace support
