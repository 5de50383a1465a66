#include "engine/files/cache.hpp"

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <vector>

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
    struct Blob {
        fs::path path;
        fs::file_time_type written;
        std::uint64_t bytes;
    };
    std::vector<Blob> blobs;
    std::uint64_t total = 0;
    std::error_code error;
    // another program may delete what is listed here: what cannot be looked at is passed over
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
        if (entry->path().extension() != ".blob") continue;
        std::error_code gone;
        const Blob blob{entry->path(), entry->last_write_time(gone), entry->file_size(gone)};
        if (gone) continue;
        blobs.push_back(blob);
        total += blob.bytes;
    }
    std::sort(blobs.begin(), blobs.end(), [](const Blob& a, const Blob& b) { return a.written < b.written; });
    for (const Blob& blob : blobs) {
        if (total <= kCacheFolderBytes) return;
        total -= blob.bytes;
        fs::remove(blob.path, error);
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
    } catch (const std::exception& error) {
        say(note, error.what());
    }
    fs::remove(file, ignored);
    return std::nullopt;
}

void keep_in_cache(const std::string& key, std::string_view bytes, std::string* note) {
    if (bytes.size() + sizeof(Hash) > kCacheFileBytes) return say(note, "not kept in the cache: too large");
    try {
        const fs::path file = file_of(key);
        std::error_code error;
        fs::create_directories(file.parent_path(), error);
        const Hash hash = sha256(bytes);
        write_atomically(file, std::string(view_of(hash)) + std::string(bytes), 0600);
        prune(file.parent_path());
    } catch (const std::exception& failure) {
        say(note, std::string("not kept in the cache: ") + failure.what());
    }
}

}  // namespace files
