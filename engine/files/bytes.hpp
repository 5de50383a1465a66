#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

/// Whole files in and out of memory, without trusting what lies under a name.

namespace files {

inline constexpr std::uint64_t kDocumentBytes = 4ULL << 20;  ///< scenario, rubric, patient, script
inline constexpr std::uint64_t kAttemptBytes = 64ULL << 20;  ///< an attempt: some ten hours of work

/// The bytes of a regular file.
///
/// A file over `most_bytes` is refused by its size, unread; so are directories, devices and pipes.
/// @throws FileError for anything that is not a readable regular file within the size
[[nodiscard]] std::string read_bytes(const std::filesystem::path& path, std::uint64_t most_bytes);

/// Write a file so that its name holds the old bytes or the new ones, never a part: temporary neighbour, then rename.
///
/// @param mode permission bits of the new file
/// @throws FileError when the disk is full or the folder cannot be written; the old file is then untouched
void write_atomically(const std::filesystem::path& path, std::string_view bytes, unsigned mode = 0644);

/// Append to an open descriptor until all is written. @return 0, or the errno that stopped it
[[nodiscard]] int write_all(int descriptor, std::string_view bytes);

/// The same at an offset, over what may stand there.
[[nodiscard]] int write_all_at(int descriptor, std::string_view bytes, std::uint64_t offset);

/// "No space left on device": the words for an errno, whatever the threads do.
[[nodiscard]] std::string words_of_errno(int error);

/// Offset of the first byte that is not well-formed UTF-8 (RFC 3629), or npos.
[[nodiscard]] std::size_t first_bad_utf8(std::string_view text);

/// An open descriptor that closes itself.
class Descriptor {
 public:
    Descriptor() = default;
    explicit Descriptor(int number) : number_(number) {}
    Descriptor(Descriptor&& other) noexcept : number_(other.release()) {}
    Descriptor& operator=(Descriptor&& other) noexcept;
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor();

    [[nodiscard]] int number() const { return number_; }
    [[nodiscard]] bool open() const { return number_ >= 0; }
    int release() {
        const int number = number_;
        number_ = -1;
        return number;
    }

 private:
    int number_ = -1;
};

}  // namespace files
