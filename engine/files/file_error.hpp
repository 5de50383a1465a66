#pragma once

#include <stdexcept>
#include <string>

namespace files {

/// Something on disk that cannot be used: which file, which place in it, what stands there and what would be accepted.
/// what() is one line for people. Thrown before anything on disk is changed.
class FileError : public std::runtime_error {
 public:
    /// @param place    "tray[0].gauge", "line 3, column 7", or empty for the file as a whole
    /// @param value    what stands there, or what is wrong: "99", "a directory"
    /// @param accepted "16 to 30"
    FileError(std::string file, std::string place, std::string value, std::string accepted)
        : std::runtime_error(file + ": " + (place.empty() ? "" : place + ": ") + value +
                             " is not accepted; accepted: " + accepted),
          file_(std::move(file)),
          place_(std::move(place)),
          value_(std::move(value)),
          accepted_(std::move(accepted)) {}

    [[nodiscard]] const std::string& file() const { return file_; }
    [[nodiscard]] const std::string& place() const { return place_; }
    [[nodiscard]] const std::string& value() const { return value_; }
    [[nodiscard]] const std::string& accepted() const { return accepted_; }

 private:
    std::string file_, place_, value_, accepted_;
};

}  // namespace files
