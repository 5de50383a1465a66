#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/files/timed_command.hpp"

/// Scripts: text that people read and write, one line a movement, which plays the hands.
///
///     take 1                              hold the instrument with this number in the tray
///     entry -31.2 -64.0 40.5              mm
///     aim yaw 0 pitch 35                  degrees, at once; what is not named stays
///     aim pitch 4 over 0.5 s              smoothly
///     push 12 mm at 4 mm/s
///     push 40 mm at 5 mm/s turning pitch 2
///     withdraw 20 mm at 10 mm/s           at most what was pushed
///     withdraw all at 15 mm/s
///     lift 0.6 N for 1 s                  without "for" until the next lift
///     traction 0.8 N on 1 for 2 s         at the tail of thread 1; without "for" until the next traction
///     stroke 3 N toward from far on 1     over the half of thread 1 that is far from the entry, or "from entry";
///                                         toward its centre, or "away" from it
///     trim 1                              cut the tail of thread 1 where the skin is
///     do prepare_skin left_face           a deed of the visit, with what it is done to where there is a choice
///     decide defer for infection
///     inject 0.4 ml over 8 s              through the needle or bare cannula that is in the skin
///     let 3 min pass                      or "90 s": the patient waits, the script does not
///     wait 1 s
///     aid 0 on
///     discard
///     finish
///     exactly 1203 push 16                a command as the log writes it, at this step
///
/// `#` begins a comment. Numbers have at most three decimals, so that lengths are whole micrometres, angles whole
/// millidegrees and forces whole millinewtons; a movement's steps add up to its length exactly. What takes no time
/// happens in the step in which the next movement begins.

namespace files {

struct Script {
    std::vector<TimedCommand> commands;  ///< by step
    std::int64_t steps = 0;              ///< length of the whole script
};

/// @throws FileError naming line, word and what is accepted there
[[nodiscard]] Script compile_script(std::string_view text, const std::string& file);

/// @throws FileError as compile_script() and read_bytes()
[[nodiscard]] Script load_script(const std::filesystem::path& path);

/// A script that compiles to exactly these commands and steps.
[[nodiscard]] std::string script_of(std::span<const TimedCommand> commands, std::int64_t steps);

}  // namespace files
