#include "engine/files/crypto.hpp"

#include <sodium.h>

#include <stdexcept>

namespace files {

namespace {

const unsigned char* bytes_of(std::string_view text) { return reinterpret_cast<const unsigned char*>(text.data()); }

/// libsodium wants one call before anything else; any number of threads may make it.
void start_library() {
    static const int started = sodium_init();
    if (started < 0) throw std::runtime_error("libsodium does not start: the system gives no randomness");
}

}  // namespace

Hash sha256(std::string_view bytes) {
    Hash hash{};
    crypto_hash_sha256(hash.data(), bytes_of(bytes), bytes.size());
    return hash;
}

Hash chained(const Hash& previous, std::string_view record) {
    crypto_hash_sha256_state state;
    crypto_hash_sha256_init(&state);
    crypto_hash_sha256_update(&state, previous.data(), previous.size());
    crypto_hash_sha256_update(&state, bytes_of(record), record.size());
    Hash hash{};
    crypto_hash_sha256_final(&state, hash.data());
    return hash;
}

KeyPair new_key_pair() {
    start_library();
    KeyPair key;
    crypto_sign_keypair(key.public_key.data(), key.secret.data());
    return key;
}

KeyPair key_pair_of_seed(const std::array<std::uint8_t, 32>& seed) {
    start_library();
    KeyPair key;
    crypto_sign_seed_keypair(key.public_key.data(), key.secret.data(), seed.data());
    return key;
}

Signature sign(const KeyPair& key, std::string_view message) {
    start_library();
    Signature signature{};
    crypto_sign_detached(signature.data(), nullptr, bytes_of(message), message.size(), key.secret.data());
    return signature;
}

bool signature_holds(const PublicKey& key, std::string_view message, const Signature& signature) {
    start_library();
    return crypto_sign_verify_detached(signature.data(), bytes_of(message), message.size(), key.data()) == 0;
}

std::string random_id() {
    start_library();
    std::array<std::uint8_t, 16> bytes{};
    randombytes_buf(bytes.data(), bytes.size());
    return hex(bytes);
}

}  // namespace files
