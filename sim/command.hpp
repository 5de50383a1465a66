#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

/// What a pair of hands may tell the simulator: integers only, so that a recorded attempt replays exactly.
///
/// Lengths are whole micrometres, angles millidegrees, forces millinewtons. verb_table() is the one list of verbs; the
/// attempt log, the script language and the checks all read it.

namespace sim {

enum class Verb : std::uint8_t {
    take,
    entry,
    aim,
    push,
    lift,
    discard,
    traction,
    stroke,
    touch,
    grip,
    trim,
    deed,
    decide,
    inject,
    let_pass,
    aid,
    probe,
    moved_with,
    finish,
};
inline constexpr int kVerbs = static_cast<int>(Verb::finish) + 1;

struct Command {
    Verb verb = Verb::finish;
    std::array<std::int64_t, 3> value{};
    friend bool operator==(const Command&, const Command&) = default;
};

struct ArgumentSpec {
    std::string_view name;  ///< with its unit: "pitch_mdeg"
    std::int64_t low = 0, high = 0;
};

struct VerbSpec {
    Verb verb;
    std::string_view name;
    std::string_view meaning;
    int arguments = 0;
    std::array<ArgumentSpec, 3> argument{};
};

[[nodiscard]] std::span<const VerbSpec> verb_table();
[[nodiscard]] const VerbSpec& spec_of(Verb verb);
[[nodiscard]] std::optional<Verb> verb_named(std::string_view name);

/// @throws InputError naming verb and argument, the value and the accepted range
void validate(const Command& command);

}  // namespace sim
