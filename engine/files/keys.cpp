#include "engine/files/keys.hpp"

#include <sys/stat.h>

#include <system_error>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"

namespace files {

namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t kKeyBytes = 4096;

void refuse_if_others_may_read(const fs::path& file) {
    struct stat about {};
    if (stat(file.c_str(), &about) != 0) return;  // read_bytes will say why
    if ((about.st_mode & 077U) != 0)
        throw FileError(file.string(), "permissions", "readable by others",
                        "0600: a key that others can read signs nothing (chmod 600 the file if nobody has read it)");
}

}  // namespace

KeyPair load_or_create_keys() { return load_or_create_keys(user_data_folder() / "signing.key"); }

KeyPair load_or_create_keys(const fs::path& file) {
    std::error_code ignored;
    if (!fs::exists(file, ignored)) {
        const KeyPair made = new_key_pair();
        write_atomically(file, hex(made.secret) + "\n", 0600);
        return made;
    }
    refuse_if_others_may_read(file);
    std::string text = read_bytes(file, kKeyBytes);
    while (!text.empty() && text.back() == '\n') text.pop_back();
    const auto secret = from_hex<64>(text);
    if (!secret) throw FileError(file.string(), "", "not a signing key", "128 hexadecimal digits");
    KeyPair key;
    key.secret = *secret;
    std::copy(secret->begin() + 32, secret->end(), key.public_key.begin());
    if (!signature_holds(key.public_key, "planekeeper", sign(key, "planekeeper")))
        throw FileError(file.string(), "", "halves that do not belong together", "a key that this program made");
    return key;
}

}  // namespace files
