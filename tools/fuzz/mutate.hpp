#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

/// A seeded mutation fuzzer over every reader of files: good inputs are damaged in ways that files are damaged, and a
/// reader may answer with a FileError or with success, never with anything else.

namespace fuzz {

/// A reader, and good inputs to start from.
struct Target {
    std::string name;
    std::vector<std::string> seeds;
    std::function<void(const std::string& bytes)> read;  ///< throws FileError for what it refuses
    bool all_refused = false;                            ///< signed or sealed: perhaps no mutant is read
    bool none_refused = false;                           ///< says what is wrong in its answer
};

/// Readers of engine/graded, for targets().
[[nodiscard]] std::vector<Target> graded_targets(const std::string& scenarios);

/// Tables, models and an attempt that grows. @param attempts whole ones
[[nodiscard]] std::vector<Target> other_targets(const std::string& scenarios, const std::vector<std::string>& attempts);

/// Every reader of engine/files and engine/graded. @param scenarios the folder of that name
[[nodiscard]] std::vector<Target> targets(const std::string& scenarios);

/// A damaged copy: bits, bytes, numbers and keywords exchanged, pieces cut, doubled or moved.
[[nodiscard]] std::string mutated(const Target& target, std::uint64_t seed);

struct Outcome {
    std::int64_t read = 0, refused = 0;
    std::string failure;  ///< empty: none; what was thrown that is no FileError, with target and seed
};

/// Try `count` mutants, seeds `first` to `first + count - 1`.
[[nodiscard]] Outcome run(const Target& target, std::uint64_t first, std::int64_t count);

}  // namespace fuzz
