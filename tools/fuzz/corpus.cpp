#include "tools/fuzz/corpus.hpp"

#include <algorithm>
#include <charconv>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"

namespace fuzz {

namespace {

constexpr std::string_view kFirstLine = "planekeeper corpus 1\n";
constexpr std::uint64_t kMostBytes = 16ULL << 20;

}  // namespace

std::vector<std::string> read_corpus(const std::filesystem::path& file) {
    const std::string text = files::read_bytes(file, kMostBytes);
    const auto refuse = [&](std::size_t at, const char* accepted) {
        throw files::FileError(file.string(), "byte " + std::to_string(at), "what stands there", accepted);
    };
    if (!text.starts_with(kFirstLine)) refuse(0, "planekeeper corpus 1");
    std::vector<std::string> out;
    for (std::size_t at = kFirstLine.size(); at < text.size();) {
        std::size_t length = 0;
        const auto [end, error] = std::from_chars(text.data() + at, text.data() + text.size(), length);
        const auto from = static_cast<std::size_t>(end - text.data()) + 1;
        if (error != std::errc{} || from > text.size() || length > text.size() - from) refuse(at, "a length");
        out.push_back(text.substr(from, length));
        at = from + length + 1;
    }
    return out;
}

std::size_t write_corpus(const std::filesystem::path& file, std::vector<std::string> inputs, std::size_t most_bytes) {
    std::sort(inputs.begin(), inputs.end(), [](const std::string& a, const std::string& b) {
        return a.size() != b.size() ? a.size() < b.size() : a < b;
    });
    std::string text(kFirstLine);
    std::size_t kept = 0;
    for (const std::string& one : inputs) {
        if (text.size() + one.size() + 12 > most_bytes) break;
        text += std::to_string(one.size()) + "\n" + one + "\n";
        ++kept;
    }
    std::filesystem::create_directories(file.parent_path());
    files::write_atomically(file, text);
    return kept;
}

}  // namespace fuzz
