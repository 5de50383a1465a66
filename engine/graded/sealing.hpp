#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "engine/files/crypto.hpp"

/// Text that only the holder of one key can open, by libsodium's sealed boxes (X25519, XSalsa20-Poly1305). Who sealed
/// it is not told by the box: what is inside is signed.

namespace graded {

/// @param reader Ed25519 key; the box is for the X25519 key that belongs to it
/// @throws sim::InputError when these bytes are no key
[[nodiscard]] std::string sealed_for(const files::PublicKey& reader, std::string_view text);

/// What lies in the box; nothing when it is for another key, or was touched.
[[nodiscard]] std::optional<std::string> opened(const files::KeyPair& reader, std::string_view box);

[[nodiscard]] std::string base64(std::string_view bytes);                     ///< RFC 4648, with padding
[[nodiscard]] std::optional<std::string> from_base64(std::string_view text);  ///< nothing for anything else

}  // namespace graded
