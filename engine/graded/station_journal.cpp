#include "engine/graded/station_journal.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <ctime>
#include <nlohmann/json.hpp>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/verify.hpp"

namespace graded {

namespace {

constexpr std::array<std::string_view, kStationDeeds> kDeedNames{"opened", "started", "ended", "returned"};

/// Chain lines begin with their number and end in hash and signature, as those of an attempt do.
std::string body_of(std::int64_t seq, const std::string& rest) { return fmt::format(R"({{"seq":{},{}}})", seq, rest); }

std::string head_text(const std::string& session, const files::PublicKey& station) {
    return fmt::format(R"("session":"{}","station":"{}")", session, files::hex(station));
}

std::string entry_text(const JournalEntry& entry) {
    return fmt::format(
        R"("deed":"{}","wall_s":{},"since_boot_s":{:.3f},"boot_id":"{}","slot":"{}","attempt_hash":"{}")",
        name_of(entry.deed), entry.at.wall_s, entry.at.since_boot_s, entry.at.boot_id, entry.slot, entry.attempt_hash);
}

JournalEntry entry_in(files::JsonObject& object) {
    JournalEntry out;
    out.deed = static_cast<StationDeed>(object.at("deed").one_of(kDeedNames));
    out.at.wall_s = object.at("wall_s").integer(0, std::int64_t{1} << 40);
    out.at.since_boot_s = object.number("since_boot_s", {0.0, 1e12});
    out.at.boot_id = object.text("boot_id");
    out.slot = object.text("slot");
    out.attempt_hash = object.text("attempt_hash");
    return out;
}

void take_line(const files::ChainLine& line, const files::Hash& before, const std::string& file, Journal& out) {
    const auto fault = [&](std::string_view what) {
        out.problems.push_back(fmt::format("line {}: {}", line.number, what));
    };
    if (line.seq != static_cast<std::int64_t>(line.number) - 1) return fault("a line before it is missing");
    if (files::chained(before, line.body) != line.hash) return fault("changed, or does not follow the line before");
    const auto document = files::JsonDocument::parse(file, line.body);
    files::JsonObject object = document.root().object();
    static_cast<void>(object.at("seq"));
    if (line.seq == 0) {
        out.session = object.text("session");
        if (const auto key = files::from_hex<32>(object.text("station"))) out.station = *key;
    } else {
        out.entries.push_back(entry_in(object));
    }
    object.refuse_unknown();
    if (!line.signature || !files::signature_holds(out.station, files::view_of(line.hash), *line.signature))
        fault("not signed by the station");
}

}  // namespace

std::string_view name_of(StationDeed deed) { return kDeedNames[static_cast<std::size_t>(deed)]; }

Clocks clocks_now() {
    Clocks out;
    out.wall_s = std::time(nullptr);
    std::timespec boot{};
    ::clock_gettime(CLOCK_BOOTTIME, &boot);
    out.since_boot_s = static_cast<double>(boot.tv_sec) + 1e-9 * static_cast<double>(boot.tv_nsec);
    try {
        out.boot_id = files::read_bytes("/proc/sys/kernel/random/boot_id", 64);
        while (!out.boot_id.empty() && out.boot_id.back() == '\n') out.boot_id.pop_back();
    } catch (const files::FileError&) {
        out.boot_id = "unknown";
    }
    return out;
}

JournalWriter::JournalWriter(std::filesystem::path path, std::string session, const files::KeyPair& station)
    : path_(std::move(path)), session_(std::move(session)), station_(station) {
    if (!std::filesystem::exists(path_)) return;
    const std::string text = files::read_bytes(path_, files::kAttemptBytes);
    const Journal journal = read_journal(text, path_.string());
    if (!journal.problems.empty())
        throw files::FileError(path_.string(), journal.problems.front(), "not intact", "the journal as it was written");
    if (journal.session != session_ || journal.station != station_.public_key)
        throw files::FileError(path_.string(), "line 1", "another session or station", session_);
    const files::ChainLines lines = files::split_chain(text);
    seq_ = static_cast<std::int64_t>(lines.lines.size());
    hash_ = lines.lines.back().hash;
}

void JournalWriter::note(StationDeed deed, const std::string& slot, const std::string& attempt_hash, const Clocks& at) {
    std::string text;
    std::int64_t seq = seq_;
    files::Hash hash = hash_;
    const auto add = [&](const std::string& rest) {
        const std::string body = body_of(seq++, rest);
        hash = files::chained(hash, body);
        const files::Signature signature = files::sign(station_, files::view_of(hash));
        text += files::chain_line(body, hash, &signature);
    };
    if (seq == 0) add(head_text(session_, station_.public_key));
    add(entry_text({deed, at, slot, attempt_hash}));
    const files::Descriptor file(::open(path_.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644));
    int error = file.open() ? files::write_all(file.number(), text) : errno;
    if (error == 0 && ::fsync(file.number()) != 0) error = errno;
    if (error != 0) throw files::FileError(path_.string(), "", files::words_of_errno(error), "a place to write");
    seq_ = seq;
    hash_ = hash;
}

Journal read_journal(const std::string& text, const std::string& file) {
    const files::ChainLines lines = files::split_chain(text);
    Journal out;
    files::Hash before{};
    for (const files::ChainLine& line : lines.lines) {
        take_line(line, before, file, out);
        before = line.hash;
    }
    if (out.session.empty()) throw files::FileError(file, "line 1", "no session", "a station's journal");
    if (lines.torn) out.problems.emplace_back("its last line is cut short");
    return out;
}

std::vector<std::string> clock_problems(const Journal& journal, double tolerance_s) {
    std::vector<std::string> out;
    for (std::size_t i = 1; i < journal.entries.size(); ++i) {
        const Clocks& a = journal.entries[i - 1].at;
        const Clocks& b = journal.entries[i].at;
        const double wall_s = static_cast<double>(b.wall_s - a.wall_s);
        // over a start of the machine only the wall clock is left, and it may not go back
        const double ran_s = a.boot_id == b.boot_id ? b.since_boot_s - a.since_boot_s : std::max(0.0, wall_s);
        if (std::abs(wall_s - ran_s) > tolerance_s)
            out.push_back(fmt::format("between lines {} and {} the clock was set {} by {:.0f} s", i + 1, i + 2,
                                      wall_s < ran_s ? "back" : "on", std::abs(wall_s - ran_s)));
    }
    return out;
}

}  // namespace graded
