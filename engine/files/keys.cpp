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

void make_folder_of_owner(const fs::path& folder) {
    std::error_code error;
    if (folder.empty() || fs::exists(folder, error)) return;
    fs::create_directories(folder, error);
    if (!error) fs::permissions(folder, fs::perms::owner_all, fs::perm_options::replace, error);
    if (error) throw FileError(folder.string(), "", error.message(), "a folder that can be made and written");
}

}  // namespace

KeyPair load_or_create_keys() { return load_or_create_keys(user_data_folder() / "signing.key"); }

KeyPair load_or_create_keys(const fs::path& file) {
    std::error_code ignored;
    if (!fs::exists(file, ignored)) {
        make_folder_of_owner(file.parent_path());
        const KeyPair made = new_key_pair();
        // a whole file under another name, then a link: two programs that start together end up with one key
        const fs::path whole = file.string() + "." + random_id();
        write_atomically(whole, hex(made.secret) + "\n", 0600);
        std::error_code taken;
        fs::create_hard_link(whole, file, taken);
        fs::remove(whole, ignored);
        if (!taken) return made;
        if (taken != std::errc::file_exists)
            throw FileError(file.string(), "", taken.message(), "a folder in which a key can be made");
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
