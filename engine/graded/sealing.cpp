#include "engine/graded/sealing.hpp"

#include <sodium.h>

#include "sim/core/errors.hpp"

namespace graded {

namespace {

const unsigned char* bytes_of(std::string_view text) { return reinterpret_cast<const unsigned char*>(text.data()); }
unsigned char* bytes_of(std::string& text) { return reinterpret_cast<unsigned char*>(text.data()); }

}  // namespace

std::string sealed_for(const files::PublicKey& reader, std::string_view text) {
    std::array<unsigned char, crypto_box_PUBLICKEYBYTES> box_key{};
    if (sodium_init() < 0 || crypto_sign_ed25519_pk_to_curve25519(box_key.data(), reader.data()) != 0)
        throw sim::InputError("key", files::hex(reader), "an Ed25519 public key");
    std::string box(text.size() + crypto_box_SEALBYTES, '\0');
    crypto_box_seal(bytes_of(box), bytes_of(text), text.size(), box_key.data());
    return box;
}

std::optional<std::string> opened(const files::KeyPair& reader, std::string_view box) {
    std::array<unsigned char, crypto_box_PUBLICKEYBYTES> box_key{};
    std::array<unsigned char, crypto_box_SECRETKEYBYTES> secret{};
    if (box.size() < crypto_box_SEALBYTES || sodium_init() < 0 ||
        crypto_sign_ed25519_pk_to_curve25519(box_key.data(), reader.public_key.data()) != 0 ||
        crypto_sign_ed25519_sk_to_curve25519(secret.data(), reader.secret.data()) != 0)
        return std::nullopt;
    std::string text(box.size() - crypto_box_SEALBYTES, '\0');
    const int failed = crypto_box_seal_open(bytes_of(text), bytes_of(box), box.size(), box_key.data(), secret.data());
    sodium_memzero(secret.data(), secret.size());
    if (failed != 0) return std::nullopt;
    return text;
}

std::string base64(std::string_view bytes) {
    std::string text(sodium_base64_ENCODED_LEN(bytes.size(), sodium_base64_VARIANT_ORIGINAL), '\0');
    sodium_bin2base64(text.data(), text.size(), bytes_of(bytes), bytes.size(), sodium_base64_VARIANT_ORIGINAL);
    text.pop_back();  // it ends in a zero
    return text;
}

std::optional<std::string> from_base64(std::string_view text) {
    std::string bytes(text.size() / 4 * 3 + 3, '\0');
    std::size_t length = 0;
    const char* end = nullptr;
    if (sodium_base642bin(bytes_of(bytes), bytes.size(), text.data(), text.size(), nullptr, &length, &end,
                          sodium_base64_VARIANT_ORIGINAL) != 0 ||
        end != text.data() + text.size())
        return std::nullopt;
    bytes.resize(length);
    return bytes;
}

}  // namespace graded
