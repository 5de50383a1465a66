#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "engine/files/attempt.hpp"

/// An attempt's file followed while another program writes it. Opened read-only, anew at each look, and never locked:
/// whoever writes it does not notice.

namespace files {

class AttemptLines;

inline constexpr std::uint64_t kTailBytes = 1ULL << 20;  ///< most that one look reads, unless a line is longer

class AttemptTail {
 public:
    /// Reads nothing yet. @param file need not be there
    explicit AttemptTail(std::filesystem::path file);
    AttemptTail(AttemptTail&&) noexcept;
    AttemptTail& operator=(AttemptTail&&) noexcept;
    ~AttemptTail();

    /// Look again, and read the whole lines that were appended. A last line that is cut short waits for its rest. The
    /// line read last is looked at once more, so that another file under the same name is not taken for this one's end.
    /// @return lines came; else trouble() may say why not
    bool read_on(std::uint64_t most_bytes = kTailBytes);
    /// The same until there is nothing more for now. @return lines came
    bool read_all();

    [[nodiscard]] const std::filesystem::path& file() const { return file_; }
    /// All that the lines so far say. Its report tells whether a signed end has come, and is otherwise not filled in.
    [[nodiscard]] const LoadedAttempt& attempt() const { return *attempt_; }
    [[nodiscard]] bool begun() const { return lines_ > 0; }  ///< the header is there
    /// Why it is not, in words with the file's name; empty when it is.
    [[nodiscard]] std::string not_begun() const;
    [[nodiscard]] bool ended() const { return attempt_->report.finished; }
    [[nodiscard]] bool behind() const { return behind_; }  ///< more is there than was read

    /// Why nothing came at the last look, in words with the file's name; empty when all is well. What is missing may
    /// come back, unless given_up().
    [[nodiscard]] const std::string& trouble() const { return trouble_; }
    /// A line is not as it was written, or not known here: what comes after it is not read any more.
    [[nodiscard]] bool given_up() const { return given_up_; }

    /// How long nothing was appended, by this machine's clock; as the file's own time tells while it has not grown
    /// before these eyes.
    [[nodiscard]] double quiet_s() const;

 private:
    struct Seen {
        std::uint64_t bytes = 0;
        std::int64_t written_ns = -1;
        std::uint64_t number = 0;  ///< of the file on its disk
        friend bool operator==(const Seen&, const Seen&) = default;
    };
    bool look(int descriptor, std::uint64_t most_bytes);
    bool take(std::string_view piece);
    bool take_line(const ChainLine& line);
    void give_up(std::size_t line, const std::string& what, const std::string& accepted);

    std::filesystem::path file_;
    std::unique_ptr<LoadedAttempt> attempt_;
    std::unique_ptr<AttemptLines> reader_;
    std::size_t lines_ = 0;
    Hash hash_{};
    std::uint64_t whole_ = 0;  ///< bytes of the lines that were read
    std::string last_;         ///< the last of them
    std::uint64_t room_ = 0;   ///< for a line that is longer than what a look reads
    Seen seen_;
    bool behind_ = false, given_up_ = false;
    std::string trouble_;
    std::chrono::steady_clock::time_point grown_;
};

}  // namespace files
