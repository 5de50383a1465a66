#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// What is slow to compute, kept by content and build. Never needed: a damaged, missing or unwritable cache costs time
/// only.

namespace files {

inline constexpr std::uint64_t kCacheFileBytes = 256ULL << 20;
inline constexpr std::uint64_t kCacheFolderBytes = 1ULL << 30;  ///< older files go when it grows past this

/// @param key what the bytes were computed from: content hash, build
/// @param note filled in with why a file that is there was not used
[[nodiscard]] std::optional<std::string> cached(const std::string& key, std::string* note = nullptr);

/// Keep bytes. @param note filled in with why they could not be kept
void keep_in_cache(const std::string& key, std::string_view bytes, std::string* note = nullptr);

}  // namespace files
