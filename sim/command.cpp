#include "sim/command.hpp"

#include <string>

#include "sim/core/errors.hpp"
#include "sim/patient/visit_spec.hpp"
#include "sim/procedure/deeds.hpp"
#include "sim/trace.hpp"

namespace sim {

namespace {

constexpr std::int64_t kMostThreads = 32;
constexpr std::int64_t kReachUm = 400'000;  // a head and its neck fit within 400 mm of the origin

constexpr std::array<VerbSpec, kVerbs> kVerbTable{{
    {Verb::take, "take", "hold the instrument with this number in the tray", 1, {{{"instrument", 0, 15}}}},
    {Verb::entry,
     "entry",
     "choose the entry point: the skin point nearest to this place",
     3,
     {{{"x_um", -kReachUm, kReachUm}, {"y_um", -kReachUm, kReachUm}, {"z_um", -kReachUm, kReachUm}}}},
    {Verb::aim,
     "aim",
     "point the shaft: turn about the skin normal from the planned vector, and slope into the tissue",
     2,
     {{{"yaw_mdeg", -180'000, 180'000}, {"pitch_mdeg", -30'000, 90'000}}}},
    {Verb::push,
     "push",
     "move the hand along the shaft in this step; negative withdraws",
     1,
     {{{"by_um", -5'000, 5'000}}}},
    {Verb::lift,
     "lift",
     "raise the tip by levering the handle with this force at the tip; 0 lets go",
     1,
     {{{"force_mn", 0, 5'000}}}},
    {Verb::discard, "discard", "put the instrument in hand, and a thread on it, out of use", 0, {}},
    {Verb::traction,
     "traction",
     "pull on the tail of the thread with this number, from 1; it stays until changed, 0 lets go",
     2,
     {{{"thread", 1, kMostThreads}, {"force_mn", 0, 20'000}}}},
    {Verb::stroke,
     "stroke",
     "push the tissue along a thread over one half of it, 0 next to the entry or 1 far from it, and let go: towards "
     "the "
     "thread's centre, or with a negative force away from it",
     3,
     {{{"thread", 1, kMostThreads}, {"half", 0, 1}, {"force_mn", -20'000, 20'000}}}},
    {Verb::touch,
     "touch",
     "lay the other hand on the skin point nearest to this place; it lets go of what it did",
     3,
     {{{"x_um", -kReachUm, kReachUm}, {"y_um", -kReachUm, kReachUm}, {"z_um", -kReachUm, kReachUm}}}},
    {Verb::grip,
     "grip",
     "what the other hand does where it lies: 0 press, 1 counter-hold, 2 push, 3 draw tight, 4 pinch, 5 lift a fold; "
     "turned from the planned vector; with this force until changed, 0 lets go",
     3,
     {{{"grip", 0, 5}, {"turn_mdeg", -180'000, 180'000}, {"force_mn", 0, 5'000}}}},
    {Verb::trim,
     "trim",
     "cut the tail of the thread with this number at the skin, as it now lies",
     1,
     {{{"thread", 1, kMostThreads}}}},
    {Verb::deed, "deed", "do what stands in the table of deeds", 2, {{{"deed", 0, kDeeds - 1}, {"subject", 0, 15}}}},
    {Verb::decide,
     "decide",
     "treat (0), defer (1) or refer (2), for this item of the history",
     2,
     {{{"decision", 0, 2}, {"reason", 0, static_cast<std::int64_t>(kHistoryItems) - 1}}}},
    {Verb::inject, "inject", "inject so much anaesthetic where the tip is", 1, {{{"volume_ul", 1, 1000}}}},
    {Verb::let_pass, "let_pass", "let the patient's time pass", 1, {{{"seconds", 1, 7200}}}},
    {Verb::aid, "aid", "show (1) or hide (0) the aid with this number", 2, {{{"aid", 0, 7}, {"shown", 0, 1}}}},
    {Verb::probe,
     "probe",
     "hold the ultrasound probe where the other hand lies: turned from the planned vector, pressed in so far, its "
     "picture "
     "so deep",
     3,
     {{{"turn_mdeg", -180'000, 180'000}, {"press_um", 0, 5'000}, {"depth_um", 10'000, 40'000}}}},
    {Verb::moved_with,
     "moved_with",
     "from now on the hands are moved with keys (0), mouse (1) or a controller (2)",
     1,
     {{{"device", 0, kDevices - 1}}}},
    {Verb::finish, "finish", "end the attempt", 0, {}},
}};

}  // namespace

std::span<const VerbSpec> verb_table() { return kVerbTable; }

const VerbSpec& spec_of(Verb verb) { return kVerbTable[static_cast<std::size_t>(verb)]; }

std::optional<Verb> verb_named(std::string_view name) {
    for (const VerbSpec& spec : kVerbTable)
        if (spec.name == name) return spec.verb;
    return std::nullopt;
}

void validate(const Command& command) {
    const auto index = static_cast<std::size_t>(command.verb);
    if (!(index < kVerbTable.size()))
        throw InputError("command.verb", static_cast<double>(index), "a verb of the table");
    const VerbSpec& spec = kVerbTable[index];
    for (std::size_t i = 0; i < spec.argument.size(); ++i) {
        const bool used = static_cast<int>(i) < spec.arguments;
        const std::int64_t low = used ? spec.argument[i].low : 0;
        const std::int64_t high = used ? spec.argument[i].high : 0;
        if (!(command.value[i] >= low && command.value[i] <= high))
            throw InputError(std::string(spec.name) + "." +
                                 (used ? std::string(spec.argument[i].name) : "argument " + std::to_string(i + 1)),
                             std::to_string(command.value[i]), std::to_string(low) + " to " + std::to_string(high));
    }
    if (command.verb != Verb::deed) return;
    const int subjects = spec_of(static_cast<Deed>(command.value[0])).subjects;
    if (!(command.value[1] < subjects))
        throw InputError("deed.subject", std::to_string(command.value[1]), "0 to " + std::to_string(subjects - 1));
}

}  // namespace sim
