#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// SHA-256 (FIPS 180-4) and Ed25519 (RFC 8032), by libsodium.

namespace files {

using Hash = std::array<std::uint8_t, 32>;
using PublicKey = std::array<std::uint8_t, 32>;
using Signature = std::array<std::uint8_t, 64>;

/// A signing key. The secret half is libsodium's: 32 bytes of seed, then the public key.
struct KeyPair {
    PublicKey public_key{};
    std::array<std::uint8_t, 64> secret{};
};

[[nodiscard]] Hash sha256(std::string_view bytes);

/// h = SHA-256(previous || record): one link of a chain.
[[nodiscard]] Hash chained(const Hash& previous, std::string_view record);

[[nodiscard]] KeyPair new_key_pair();                                              ///< from the system's randomness
[[nodiscard]] KeyPair key_pair_of_seed(const std::array<std::uint8_t, 32>& seed);  ///< RFC 8032 5.1.5
[[nodiscard]] Signature sign(const KeyPair& key, std::string_view message);
[[nodiscard]] bool signature_holds(const PublicKey& key, std::string_view message, const Signature& signature);

[[nodiscard]] std::string random_id();  ///< 32 hexadecimal digits

/// Lower-case hexadecimal.
template <std::size_t N>
[[nodiscard]] std::string hex(const std::array<std::uint8_t, N>& bytes) {
    static constexpr std::string_view digits = "0123456789abcdef";
    std::string text;
    text.reserve(2 * N);
    for (const std::uint8_t byte : bytes) {
        text.push_back(digits[byte >> 4U]);
        text.push_back(digits[byte & 15U]);
    }
    return text;
}

/// The bytes behind lower-case hexadecimal of exactly the right length; nothing for anything else.
template <std::size_t N>
[[nodiscard]] std::optional<std::array<std::uint8_t, N>> from_hex(std::string_view text) {
    if (text.size() != 2 * N) return std::nullopt;
    std::array<std::uint8_t, N> bytes{};
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        const int digit = c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
        if (digit < 0) return std::nullopt;
        bytes[i / 2] =
            static_cast<std::uint8_t>((static_cast<unsigned>(bytes[i / 2]) << 4U) | static_cast<unsigned>(digit));
    }
    return bytes;
}

/// Bytes as text, for hashing.
template <std::size_t N>
[[nodiscard]] std::string_view view_of(const std::array<std::uint8_t, N>& bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

}  // namespace files
