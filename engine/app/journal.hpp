#pragma once

#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>

/// A plain list of what happened, one line each, for tests and for finding out what went wrong on somebody's machine.

namespace app {

class Journal {
 public:
    /// @param file empty: nothing is written
    /// @throws std::runtime_error naming the file
    explicit Journal(const std::filesystem::path& file);

    /// "MILLISECONDS WHAT DETAIL", written through at once.
    void note(const std::string& what, const std::string& detail = "");
    [[nodiscard]] bool on() const { return out_.is_open(); }

 private:
    std::ofstream out_;
    std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

}  // namespace app
