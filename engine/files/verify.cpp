#include "engine/files/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <map>

#include "engine/files/attempt.hpp"
#include "engine/files/json_reader.hpp"

namespace files {

namespace {

constexpr std::string_view kSeqKey = "{\"seq\":";
constexpr std::string_view kHashKey = ",\"hash\":\"";
constexpr std::string_view kSignatureKey = "\",\"signature\":\"";
constexpr std::string_view kLineEnd = "\"}";
constexpr std::size_t kHashDigits = 64, kSignatureDigits = 128;

/// Take `text` off the end of `line`; false when it ends otherwise.
bool strip(std::string_view& line, std::string_view text) {
    if (!line.ends_with(text)) return false;
    line.remove_suffix(text.size());
    return true;
}

template <std::size_t N>
std::optional<std::array<std::uint8_t, N>> strip_hex(std::string_view& line) {
    if (line.size() < 2 * N) return std::nullopt;
    const auto bytes = from_hex<N>(line.substr(line.size() - 2 * N));
    if (bytes) line.remove_suffix(2 * N);
    return bytes;
}

ChainLine take_apart(std::string_view line, std::size_t number) {
    ChainLine out;
    out.number = number;
    std::string_view rest = line;
    if (!strip(rest, kLineEnd)) return out;
    if (std::string_view with = rest; true) {
        const auto signature = strip_hex<kSignatureDigits / 2>(with);
        if (signature && strip(with, kSignatureKey)) {
            out.signature = signature;
            rest = with;
        }
    }
    const auto hash = strip_hex<kHashDigits / 2>(rest);
    if (!hash || !strip(rest, kHashKey) || !rest.starts_with(kSeqKey)) return out;
    const char* digits = rest.data() + kSeqKey.size();
    std::int64_t seq = -1;
    const auto [end, error] = std::from_chars(digits, rest.data() + rest.size(), seq);
    if (error != std::errc() || end == digits || seq < 0) return out;
    out.hash = *hash;
    out.body = std::string(rest) + "}";
    out.seq = seq;
    return out;
}

bool is_end(const ChainLine& line) { return line.signature.has_value(); }

/// Finds what was done to the lines. Compares each with the one whose number precedes its own, wherever that stands, so
/// that one deed is reported once.
class Inspector {
 public:
    Inspector(const std::vector<ChainLine>& lines, VerifyReport& report) : lines_(lines), report_(report) {}

    void run() {
        pick_lines();
        check_order();
        check_links();
        check_end();
        std::stable_sort(report_.problems.begin(), report_.problems.end(),
                         [](const Problem& a, const Problem& b) { return a.line < b.line; });
    }

 private:
    void add(std::size_t line, std::string what) { report_.problems.push_back({line, std::move(what)}); }

    [[nodiscard]] bool follows(const ChainLine& line, const ChainLine* before) const {
        return before != nullptr && chained(before->hash, line.body) == line.hash;
    }

    /// One line for each number. Of two with the same number the one that chains is the attempt's, the other was added.
    void pick_lines() {
        for (const ChainLine& line : lines_) {
            if (line.seq < 0) {
                add(line.number, "added or changed: not a line of an attempt");
                foreign_ = true;
                continue;
            }
            const auto [at, fresh] = by_seq_.try_emplace(line.seq, &line);
            if (fresh) continue;
            const auto found = by_seq_.find(line.seq - 1);
            const ChainLine* before = found == by_seq_.end() ? nullptr : found->second;
            const bool this_one = !follows(*at->second, before) && follows(line, before);
            add(this_one ? at->second->number : line.number,
                fmt::format("added: a second line with the number {}", line.seq));
            if (this_one) at->second = &line;
        }
    }

    /// Lines that were moved: numbers that fall while the file goes on.
    void check_order() {
        std::vector<const ChainLine*> in_file;
        for (const auto& [seq, line] : by_seq_) in_file.push_back(line);
        std::sort(in_file.begin(), in_file.end(),
                  [](const ChainLine* a, const ChainLine* b) { return a->number < b->number; });
        std::size_t i = 0;
        for (const auto& [seq, line] : by_seq_) {
            const ChainLine& here = *in_file[i++];
            if (here.seq == seq) continue;
            add(here.number,
                fmt::format("swapped: the line with the number {} stands where {} belongs", here.seq, seq));
        }
    }

    void check_links() {
        const Hash start{};
        const ChainLine* before = nullptr;
        for (const auto& [seq, line] : by_seq_) {
            const std::int64_t expected = before == nullptr ? 0 : before->seq + 1;
            if (seq > expected) {
                // a foreign line may be what is left of one of them, and is named already
                const std::int64_t missing = seq - expected;
                add(line->number, missing == 1
                                      ? fmt::format("removed: the line with the number {}, before this one{}", expected,
                                                    foreign_ ? ", or it is the one changed" : "")
                                      : fmt::format("removed: {} lines with the numbers {} to {}, before this one",
                                                    missing, expected, seq - 1));
            } else if (chained(before == nullptr ? start : before->hash, line->body) != line->hash) {
                // a line whose own hash was altered breaks its successor's link too: one deed, named once
                if (!(before != nullptr && changed_ == before->seq && restored(*line, *before)))
                    add(line->number,
                        fmt::format("changed: the line with the number {} is not the one that was written, "
                                    "or its hash is not",
                                    seq));
                changed_ = seq;
            }
            before = line;
        }
    }

    /// Whether `line` follows `before` once the latter's hash is what its content says it should be.
    [[nodiscard]] bool restored(const ChainLine& line, const ChainLine& before) const {
        const auto earlier = by_seq_.find(before.seq - 1);
        const Hash from = earlier == by_seq_.end() ? Hash{} : earlier->second->hash;
        return chained(chained(from, before.body), line.body) == line.hash;
    }

    void check_end() {
        for (const auto& [seq, line] : by_seq_) {
            if (!is_end(*line)) continue;
            if (seq != by_seq_.rbegin()->first) {
                add(line->number + 1, "added: lines stand after the signed end");
                continue;
            }
            const auto key = from_hex<32>(report_.public_key);
            if (key && signature_holds(*key, view_of(line->hash), *line->signature))
                report_.finished = true;
            else
                add(line->number, "changed: the signature of the end does not hold for the key in the first line");
        }
    }

    const std::vector<ChainLine>& lines_;
    VerifyReport& report_;
    std::map<std::int64_t, const ChainLine*> by_seq_;
    std::int64_t changed_ = -1;
    bool foreign_ = false;
};

/// Attempt id and public key from the first line, when it can be read.
void read_first_line(const ChainLines& chain, const std::string& file, VerifyReport& report) {
    const auto first =
        std::find_if(chain.lines.begin(), chain.lines.end(), [](const ChainLine& l) { return l.seq == 0; });
    if (first == chain.lines.end()) return;
    try {
        const JsonDocument document = JsonDocument::parse(file, first->body);
        JsonObject line = document.root().object();
        JsonObject header = line.at("header").object();
        report.attempt_id = header.text("attempt_id");
        report.public_key = header.text("public_key");
    } catch (const FileError& error) {
        report.problems.push_back({first->number, fmt::format("changed: {}", error.what())});
    }
}

void compare_with_seal(const Seal& seal, const std::string& where, VerifyReport& report) {
    if (seal.attempt_id != report.attempt_id) {
        report.problems.push_back({0, fmt::format("{} belongs to another attempt", where)});
        return;
    }
    if (!seal_holds(seal) || hex(seal.public_key) != report.public_key) {
        report.problems.push_back(
            {0, fmt::format("{}: its signature does not hold for the key in the first line", where)});
        return;
    }
    if (report.finished && report.lines == seal.lines && report.last_hash == seal.hash) {
        report.sealed = true;
        return;
    }
    if (report.lines < seal.lines) {
        report.cut = true;
        report.problems.push_back(
            {report.lines, fmt::format("cut tail of a finished attempt: {} names {} lines, {} are here", where,
                                       seal.lines, report.lines)});
        return;
    }
    report.problems.push_back(
        {0, fmt::format("not the end that was sealed: {} names {} lines and another last hash", where, seal.lines)});
}

void consult_seal(const std::filesystem::path& path, VerifyReport& report) {
    const auto seal = seal_path(path);
    if (!std::filesystem::exists(seal)) return;
    try {
        compare_with_seal(parse_seal(read_bytes(seal, kDocumentBytes), seal.string()), "the seal", report);
    } catch (const FileError& error) {
        report.problems.push_back({0, fmt::format("the seal cannot be read: {}", error.what())});
    }
}

void consult_ledger(const std::filesystem::path& ledger, VerifyReport& report) {
    if (ledger.empty() || report.attempt_id.empty() || !std::filesystem::exists(ledger)) return;
    const std::string text = read_bytes(ledger, kAttemptBytes);
    for (std::size_t at = 0, line = 1; at < text.size(); ++line) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        const std::string_view entry = std::string_view(text).substr(at, end - at);
        at = end + 1;
        // looked for as text first: a ledger of years need not be parsed for one attempt
        if (entry.find(report.attempt_id) == std::string_view::npos) continue;
        try {
            const Seal seal = parse_seal(entry, fmt::format("{}, line {}", ledger.string(), line));
            if (seal.attempt_id == report.attempt_id) compare_with_seal(seal, "the ledger", report);
        } catch (const FileError& error) {
            report.notes.push_back(fmt::format("an entry of the ledger cannot be read: {}", error.what()));
        }
    }
}

std::string sealed_words(const Seal& seal) {
    return fmt::format("planekeeper seal 1\n{}\n{}\n{}\n", seal.attempt_id, seal.lines, hex(seal.hash));
}

}  // namespace

std::string_view VerifyReport::verdict() const {
    if (intact()) return finished ? "intact, finished" : "intact, unfinished";
    return cut && problems.size() == 1 ? "cut tail of a finished attempt" : "not intact";
}

std::filesystem::path seal_path(const std::filesystem::path& attempt) { return attempt.string() + ".seal"; }

Seal make_seal(const KeyPair& key, std::string attempt_id, std::size_t lines, const Hash& hash) {
    Seal seal{std::move(attempt_id), lines, hash, key.public_key, {}};
    seal.signature = sign(key, sealed_words(seal));
    return seal;
}

std::string seal_text(const Seal& seal) {
    return fmt::format(
        R"({{"schema_version":1,"attempt_id":"{}","lines":{},"hash":"{}","public_key":"{}","signature":"{}"}})"
        "\n",
        seal.attempt_id, seal.lines, hex(seal.hash), hex(seal.public_key), hex(seal.signature));
}

Seal parse_seal(std::string_view text, const std::string& file) {
    const JsonDocument document = JsonDocument::parse(file, text);
    JsonObject object = document.root_object(1);
    const auto bytes = [&]<std::size_t N>(std::string_view key, std::array<std::uint8_t, N>& out) {
        const JsonValue value = object.at(key);
        const auto read = from_hex<N>(value.text());
        if (!read) value.refuse(fmt::format("{} lower-case hexadecimal digits", 2 * N));
        out = *read;
    };
    Seal seal;
    seal.attempt_id = object.text("attempt_id");
    seal.lines = static_cast<std::size_t>(object.at("lines").integer(1, INT64_MAX));
    bytes("hash", seal.hash);
    bytes("public_key", seal.public_key);
    bytes("signature", seal.signature);
    object.refuse_unknown();
    return seal;
}

bool seal_holds(const Seal& seal) { return signature_holds(seal.public_key, sealed_words(seal), seal.signature); }

ChainLines split_chain(std::string_view bytes) {
    ChainLines out;
    std::size_t number = 0;
    while (out.whole_bytes < bytes.size()) {
        const std::size_t end = bytes.find('\n', out.whole_bytes);
        if (end == std::string_view::npos) {
            out.torn = true;
            break;
        }
        out.lines.push_back(take_apart(bytes.substr(out.whole_bytes, end - out.whole_bytes), ++number));
        out.whole_bytes = end + 1;
    }
    return out;
}

std::string chain_line(std::string_view body, const Hash& hash, const Signature* signature) {
    std::string line(body.substr(0, body.size() - 1));
    line += kHashKey;
    line += hex(hash);
    if (signature != nullptr) {
        line += kSignatureKey;
        line += hex(*signature);
    }
    line += kLineEnd;
    line += '\n';
    return line;
}

VerifyReport verify_bytes(std::string_view bytes, const std::string& name) {
    const ChainLines chain = split_chain(bytes);
    if (chain.lines.empty())
        throw FileError(name, "", bytes.empty() ? "an empty file" : "a file without a whole line",
                        "an attempt, which begins with a header line");
    VerifyReport report;
    report.torn = chain.torn;
    report.lines = chain.lines.size();
    report.last_hash = chain.lines.back().hash;
    read_first_line(chain, name, report);
    Inspector(chain.lines, report).run();
    if (chain.torn) {
        if (report.finished)
            report.problems.push_back({report.lines + 1, "added: a piece of a line stands after the signed end"});
        else
            report.notes.emplace_back(
                "the last line is cut short, as a kill or a full disk leaves it; it is not counted");
    }
    return report;
}

VerifyReport verify(const std::filesystem::path& path, const std::filesystem::path& ledger) {
    VerifyReport report = verify_bytes(read_bytes(path, kAttemptBytes), path.string());
    consult_seal(path, report);
    consult_ledger(ledger, report);
    if (report.finished && !report.sealed)
        report.notes.emplace_back("no seal or ledger entry names this end; its own signature holds");
    if (!report.finished && !report.cut)
        report.notes.emplace_back("unfinished as far as this computer knows: no seal or ledger entry names an end");
    return report;
}

}  // namespace files
