#include "engine/files/cache.hpp"

#include <algorithm>
#include <filesystem>
#include <system_error>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"

namespace files {

namespace fs = std::filesystem;

namespace {

void say(std::string* note, const std::string& words) {
    if (note != nullptr) *note = words;
}

fs::path file_of(const std::string& key) { return user_cache_folder() / (hex(sha256(key)) + ".blob"); }

/// Oldest first, until the folder is within its size.
void prune(const fs::path& folder) {
    std::error_code ignored;
    std::vector<fs::directory_entry> blobs;
    std::uint64_t total = 0;
    for (const auto& entry : fs::directory_iterator(folder, ignored)) {
        if (entry.path().extension() != ".blob") continue;
        blobs.push_back(entry);
        total += entry.file_size(ignored);
    }
    std::sort(blobs.begin(), blobs.end(), [&](const auto& a, const auto& b) {
        std::error_code quiet;
        return a.last_write_time(quiet) < b.last_write_time(quiet);
    });
    for (const auto& blob : blobs) {
        if (total <= kCacheFolderBytes) return;
        total -= blob.file_size(ignored);
        fs::remove(blob.path(), ignored);
    }
}

}  // namespace

std::optional<std::string> cached(const std::string& key, std::string* note) {
    const fs::path file = file_of(key);
    std::error_code ignored;
    if (!fs::exists(file, ignored)) return std::nullopt;
    try {
        std::string bytes = read_bytes(file, kCacheFileBytes);
        constexpr std::size_t kHash = sizeof(Hash);
        // the first 32 bytes are the hash of the rest
        if (bytes.size() > kHash &&
            view_of(sha256(std::string_view(bytes).substr(kHash))) == std::string_view(bytes).substr(0, kHash))
            return bytes.substr(kHash);
        say(note, file.string() + ": damaged, built anew");
    } catch (const FileError& error) {
        say(note, error.what());
    }
    fs::remove(file, ignored);
    return std::nullopt;
}

void keep_in_cache(const std::string& key, std::string_view bytes, std::string* note) {
    try {
        const fs::path file = file_of(key);
        std::error_code error;
        fs::create_directories(file.parent_path(), error);
        const Hash hash = sha256(bytes);
        write_atomically(file, std::string(view_of(hash)) + std::string(bytes), 0600);
        prune(file.parent_path());
    } catch (const FileError& failure) {
        say(note, std::string("not kept in the cache: ") + failure.what());
    }
}

}  // namespace files
