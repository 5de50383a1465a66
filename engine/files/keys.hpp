#pragma once

#include <filesystem>

#include "engine/files/crypto.hpp"

/// The learner's signing key: a file in the user's data folder that nobody else may read.
///
/// A learner who owns the machine owns the key: signatures show tampering by others and by accident, not by its owner.

namespace files {

/// The key of this user, made on first use. File mode 0600 in a folder of mode 0700.
/// @throws FileError when others may read the file, or it is not a key, or it cannot be made
[[nodiscard]] KeyPair load_or_create_keys();
[[nodiscard]] KeyPair load_or_create_keys(const std::filesystem::path& file);

}  // namespace files
