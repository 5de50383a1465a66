#pragma once

#include <filesystem>
#include <string>
#include <vector>

/// Inputs that led a coverage-guided fuzzer to something new, kept in one file for each reader.

namespace fuzz {

/// Lines "LENGTH\n" followed by so many bytes and a line end, after a first line that names the format.
/// @throws files::FileError
[[nodiscard]] std::vector<std::string> read_corpus(const std::filesystem::path& file);

/// Shortest first, as far as they fit into `most_bytes`. @return how many were kept
std::size_t write_corpus(const std::filesystem::path& file, std::vector<std::string> inputs, std::size_t most_bytes);

}  // namespace fuzz
