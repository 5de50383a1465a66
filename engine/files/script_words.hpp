#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The words of a script's line, taken from left to right, and how numbers and times are read from them.

namespace files {

/// Thousandths as people write them: "12.5".
[[nodiscard]] std::string decimal_text(std::int64_t thousandths);

class ScriptWords {
 public:
    /// @param file, line name the place in messages  @param text whose comment is left out
    ScriptWords(const std::string& file, int line, std::string_view text);

    [[nodiscard]] bool done() const { return next_ == words_.size(); }

    /// @throws FileError always, about this word
    [[noreturn]] void refuse(std::string_view word, const std::string& accepted) const;

    /// The next word. @throws FileError at the end of the line
    std::string_view take(const std::string& accepted);
    /// Take the next word if it is this one.
    bool took(std::string_view word);
    /// @throws FileError when the next word is another
    void expect(std::string_view word);

    /// A number within [low, high], all in thousandths. @throws FileError
    std::int64_t thousandths(std::int64_t low, std::int64_t high, std::string_view unit);
    /// @throws FileError
    std::int64_t whole(std::int64_t low, std::int64_t high);
    /// Index of the next word among these. @throws FileError with the nearest of them
    std::size_t one_of(std::span<const std::string> accepted);
    /// "1 s" or "250 ms", in steps, at least one. @throws FileError
    std::int64_t duration();
    /// "90 s" or "3 min", in whole seconds, at least one. @throws FileError
    std::int64_t long_time_s(std::int64_t most_s);
    /// @throws FileError when words are left
    void end() const;

 private:
    const std::string& file_;
    int line_;
    std::vector<std::string_view> words_;
    std::size_t next_ = 0;
};

}  // namespace files
