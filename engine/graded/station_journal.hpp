#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/files/crypto.hpp"

/// What a station did in a session, by its own clock: JSON Lines, each chained to the one before and signed by the
/// station. A line is on the disk before its call returns.

namespace graded {

enum class StationDeed : std::uint8_t { opened, started, ended, returned };
inline constexpr int kStationDeeds = 4;
[[nodiscard]] std::string_view name_of(StationDeed deed);  ///< "started"

/// Two clocks of one machine: one that a person can set, one that only starts anew with the machine.
struct Clocks {
    std::int64_t wall_s = 0;    ///< since 1970
    double since_boot_s = 0.0;  ///< goes on while the machine sleeps
    std::string boot_id;        ///< differs from start to start
};
[[nodiscard]] Clocks clocks_now();

struct JournalEntry {
    StationDeed deed = StationDeed::opened;
    Clocks at;
    std::string slot;          ///< of an attempt, else empty
    std::string attempt_hash;  ///< of its last line, when it has ended; counter-signed by this line's signature
};

/// A journal that has been read.
struct Journal {
    std::string session;
    files::PublicKey station{};
    std::vector<JournalEntry> entries;
    std::vector<std::string> problems;  ///< "line 3: changed" ...; empty: every line is the station's own
};

/// Begin or go on with the journal of a session at a station.
class JournalWriter {
 public:
    /// @throws files::FileError when the file is not a journal of this session and station, or is not intact
    JournalWriter(std::filesystem::path path, std::string session, const files::KeyPair& station);
    /// @throws files::FileError when it cannot be written; nothing is kept of it then
    void note(StationDeed deed, const std::string& slot = {}, const std::string& attempt_hash = {},
              const Clocks& at = clocks_now());

 private:
    std::filesystem::path path_;
    std::string session_;
    files::KeyPair station_;
    std::int64_t seq_ = 0;
    files::Hash hash_{};
};

/// Read what can be read. @throws files::FileError for a text without a first line that names session and station
[[nodiscard]] Journal read_journal(const std::string& text, const std::string& file);

/// Where a clock did not go on as it should: "between line 3 and line 4 the clock was set back by 3600 s".
/// @param tolerance_s by which wall and boot clock may drift apart or the wall clock be corrected; assumed
[[nodiscard]] std::vector<std::string> clock_problems(const Journal& journal, double tolerance_s = 120.0);

}  // namespace graded
