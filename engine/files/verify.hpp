#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/files/crypto.hpp"

/// Whether an attempt's lines are those that were written, and all of them.

namespace files {

/// One thing wrong with a record.
struct Problem {
    std::size_t line = 0;  ///< in the file, from 1; 0: the file as a whole
    std::string what;      ///< "changed", "removed: 2 lines before this one" ...
};

struct VerifyReport {
    std::vector<Problem> problems;
    std::vector<std::string> notes;  ///< what is worth knowing and no problem
    std::string attempt_id;
    std::string public_key;  ///< of the header, hexadecimal: whose signature it is
    std::size_t lines = 0;   ///< whole lines
    Hash last_hash{};
    bool finished = false;  ///< a signed end is there and holds
    bool torn = false;      ///< the last line is cut short, as a kill leaves it
    bool sealed = false;    ///< a seal or ledger entry names this end
    bool cut = false;       ///< a seal or ledger entry names an end that is not there

    [[nodiscard]] bool intact() const { return problems.empty(); }
    /// "intact, finished", "intact, unfinished", "cut tail of a finished attempt" or "not intact"
    [[nodiscard]] std::string_view verdict() const;
};

/// Check chain, signature, and the seal that lies beside a finished attempt.
///
/// @param ledger list of this user's finished attempts, empty or missing: not consulted
/// @throws FileError when the attempt cannot be read at all
[[nodiscard]] VerifyReport verify(const std::filesystem::path& path, const std::filesystem::path& ledger = {});

/// The same of an attempt's bytes, wherever they are kept: chain and signature, no seal and no ledger.
///
/// @param name stands for them in messages
/// @throws FileError when there is no whole line
[[nodiscard]] VerifyReport verify_bytes(std::string_view bytes, const std::string& name);

/// Where the seal of an attempt lies.
[[nodiscard]] std::filesystem::path seal_path(const std::filesystem::path& attempt);

/// A finished attempt's end, signed: the marker that makes a cut tail visible.
struct Seal {
    std::string attempt_id;
    std::size_t lines = 0;
    Hash hash{};
    PublicKey public_key{};
    Signature signature{};
};

[[nodiscard]] Seal make_seal(const KeyPair& key, std::string attempt_id, std::size_t lines, const Hash& hash);
[[nodiscard]] std::string seal_text(const Seal& seal);  ///< one line of JSON
/// @throws FileError
[[nodiscard]] Seal parse_seal(std::string_view text, const std::string& file);
[[nodiscard]] bool seal_holds(const Seal& seal);

/// One line of an attempt, taken apart without reading its JSON.
struct ChainLine {
    std::size_t number = 0;  ///< in the file, from 1
    std::int64_t seq = -1;   ///< -1: not a line of an attempt
    std::string body;        ///< what is hashed: the line without hash and signature
    Hash hash{};
    std::optional<Signature> signature;
};

/// Lines of an attempt's bytes. `torn` says that the last one has no line end; it is left out.
struct ChainLines {
    std::vector<ChainLine> lines;
    std::size_t whole_bytes = 0;  ///< up to and with the last line end
    bool torn = false;
};
[[nodiscard]] ChainLines split_chain(std::string_view bytes);

/// A body with its hash, and its signature when signed, as one line.
[[nodiscard]] std::string chain_line(std::string_view body, const Hash& hash, const Signature* signature);

}  // namespace files
