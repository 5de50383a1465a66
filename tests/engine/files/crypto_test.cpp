#include <catch2/catch.hpp>

#include "engine/files/crypto.hpp"

using files::hex;

TEST_CASE("SHA-256 gives the published digest of abc", "[files][crypto]") {
    // FIPS 180-4 example, NIST SHA256.pdf
    CHECK(hex(files::sha256("abc")) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST_CASE("a chain of three records has the known hashes", "[files][crypto]") {
    // h_i = SHA-256(h_(i-1) || record), h_0 = 32 zero bytes; worked with an independent implementation
    files::Hash hash{};
    hash = files::chained(hash, R"({"seq":1})");
    CHECK(hex(hash) == "ff44e121014845ba9f060b9dd529b57e3706d9dcbf47ce18d6a7e50bea6c7e46");
    hash = files::chained(hash, R"({"seq":2})");
    CHECK(hex(hash) == "d989977286f310a93de4be7eb9aa920e4411c5e002607031b10f147c8039c3b1");
    hash = files::chained(hash, R"({"seq":3})");
    CHECK(hex(hash) == "b94dfd11521c5dc81e3e4e26cfdf1b0bae0014902617ad6e18cd3875e417881d");
}

TEST_CASE("Ed25519 gives the published signature of the empty message", "[files][crypto]") {
    // RFC 8032 section 7.1, test 1
    const auto seed = files::from_hex<32>("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60");
    REQUIRE(seed);
    const files::KeyPair key = files::key_pair_of_seed(*seed);
    CHECK(hex(key.public_key) == "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a");
    const files::Signature signature = files::sign(key, "");
    CHECK(hex(signature) ==
          "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595b"
          "be24"
          "655141438e7a100b");
    CHECK(files::signature_holds(key.public_key, "", signature));
    CHECK_FALSE(files::signature_holds(key.public_key, "x", signature));
    files::Signature other = signature;
    other[5] ^= 1U;
    CHECK_FALSE(files::signature_holds(key.public_key, "", other));
}

TEST_CASE("hexadecimal of the wrong length, case or alphabet is not read", "[files][crypto]") {
    CHECK(files::from_hex<2>("00ff").has_value());
    CHECK_FALSE(files::from_hex<2>("00f").has_value());
    CHECK_FALSE(files::from_hex<2>("00FF").has_value());
    CHECK_FALSE(files::from_hex<2>("00fg").has_value());
}
