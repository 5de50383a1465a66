#pragma once

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "engine/files/attempt.hpp"
#include "engine/graded/graded_session.hpp"
#include "engine/graded/station_journal.hpp"

/// What comes back from a station, and what an instructor may think of it.

namespace graded {

/// An attempt's file as the station hands it in, with the score that the station told.
struct HandedIn {
    std::string name;   ///< of the file: the slot's id
    std::string bytes;  ///< the whole attempt
    std::string told_verdict;
    double told_points = 0.0;
};

struct Return {
    std::string session;
    files::PublicKey station{};
    std::string journal;
    std::vector<HandedIn> attempts;
};

/// JSON around a box that only the issuer opens, signed by the station.
[[nodiscard]] std::string return_text(const Return& content, const files::PublicKey& issuer,
                                      const files::KeyPair& station);
/// @throws files::FileError where it is sealed for somebody else, was touched, or is not the station's
[[nodiscard]] Return open_return(const std::string& text, const std::string& file, const files::KeyPair& issuer);

/// Everything that can be wrong with an attempt that was handed in.
enum class Finding : std::uint8_t {
    unreadable,       ///< no attempt
    changed,          ///< chain or signature do not hold
    unfinished,       ///< no signed end
    no_such_slot,     ///< the attempt's number was not issued in this session
    renamed,          ///< the file names another slot than the attempt in it
    handed_in_twice,  ///< the slot has been handed in before: reused, or begun at two stations
    same_hands,       ///< command for command another slot's attempt
    other_key,        ///< signed by a key that is not the learner's
    other_scenario,   ///< scenario, patient or rubric are not those that were issued
    other_anatomy,    ///< not the anatomy that was issued
    not_graded,       ///< practised in another mode
    aids_used,        ///< something was on that graded work goes without
    score_edited,     ///< the score that the station told is not the record's
    outside_hours,    ///< began before the session opened or after it closed
    over_time,        ///< took longer than each attempt may
    clock,            ///< a clock was set during the session
    not_in_journal,   ///< the station did not start it, or did not see it end
    journal_broken,   ///< the station's journal does not hold
    unknown_station,  ///< not a station of the session
};
inline constexpr int kFindings = 19;
[[nodiscard]] std::string_view name_of(Finding finding);  ///< "handed in twice"

struct Fault {
    Finding what{};
    std::string detail;  ///< what was found and what was expected, plain words
};

struct Judged {
    std::string file;
    const Slot* slot = nullptr;  ///< of the session; null: none
    std::vector<Fault> faults;   ///< empty: nothing speaks against it
    std::string verdict;         ///< of the score worked out anew from the record; "" where it cannot be read
    double points = 0.0, possible = 0.0;
    [[nodiscard]] bool accepted() const { return faults.empty(); }
};

/// What has been handed in before, over all stations of a session.
struct Collected {
    std::map<std::string, std::string> slot_of_hands;  ///< hash of an attempt's commands: whose they were
    std::set<std::string> slots;
};

/// @param collected what came before; what is handed in here is added
[[nodiscard]] std::vector<Judged> judge(const Session& session, const Return& content, Collected& collected);

}  // namespace graded
