#pragma once

#include <unistd.h>

#include <filesystem>
#include <string>

/// A folder of a test's own, gone when the test ends.

namespace support {

class Scratch {
 public:
    Scratch() : Scratch(std::filesystem::temp_directory_path()) {}
    explicit Scratch(const std::filesystem::path& under) {
        std::string pattern = (under / "planekeeper_test_XXXXXX").string();
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

    /// A folder in memory where there is room, for what asks the disk to write at once many hundred times; else the
    /// usual.
    [[nodiscard]] static std::filesystem::path in_memory() {
        constexpr std::uintmax_t kRoom = 2ULL << 30U;
        const std::filesystem::path memory = "/dev/shm";
        std::error_code none;
        const bool fits =
            std::filesystem::space(memory, none).available >= kRoom && !none && access(memory.c_str(), W_OK) == 0;
        return fits ? memory : std::filesystem::temp_directory_path();
    }

 private:
    std::filesystem::path folder_;
};

}  // namespace support
