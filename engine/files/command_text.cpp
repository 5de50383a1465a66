#include "engine/files/command_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/files/trace_text.hpp"
#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr std::size_t kLeastRun = 4;             // shorter ones are no shorter as a run
constexpr std::int64_t kMostSteps = 1LL << 40;   // more than a thousand years
constexpr std::int64_t kMostRun = 4096;          // of one entry
constexpr std::size_t kMostEntries = 1'000'000;  // in one line

using Series = std::span<const TimedCommand>;  // of one verb

std::size_t arguments(const TimedCommand& command) {
    return static_cast<std::size_t>(sim::spec_of(command.command.verb).arguments);
}

/// Commands from the first on that follow step after step and of which `goes_on` holds.
template <typename GoesOn>
std::size_t run_length(Series series, GoesOn goes_on) {
    std::size_t n = 1;
    while (n < series.size() && series[n].step == series[0].step + static_cast<std::int64_t>(n) && goes_on(series[n]))
        ++n;
    return n;
}

/// The same command step after step.
std::size_t equal_run(Series series) {
    return run_length(series, [&](const TimedCommand& next) { return next.command == series[0].command; });
}

/// One number step after step, never more than 9 apart.
std::size_t digit_run(Series series) {
    if (arguments(series[0]) != 1) return 1;
    std::int64_t low = series[0].command.value[0], high = low;
    return run_length(series, [&](const TimedCommand& next) {
        low = std::min<std::int64_t>(low, next.command.value[0]);
        high = std::max<std::int64_t>(high, next.command.value[0]);
        return high - low <= 9;
    });
}

void append_first(std::string& out, const TimedCommand& first, std::int64_t one_number) {
    out += fmt::format("[{},\"{}\"", first.step, sim::spec_of(first.command.verb).name);
    if (arguments(first) == 1)
        out += fmt::format(",{}", one_number);
    else
        for (std::size_t k = 0; k < arguments(first); ++k) out += fmt::format(",{}", first.command.value[k]);
}

void append_digits(std::string& out, Series run) {
    std::int64_t low = run[0].command.value[0];
    for (const TimedCommand& one : run) low = std::min<std::int64_t>(low, one.command.value[0]);
    append_first(out, run[0], low);
    out += ",\"d\",\"";
    for (const TimedCommand& one : run) out += static_cast<char>('0' + (one.command.value[0] - low));
    out += "\"],";
}

/// What leads from one command to the next: change of step, then of each argument.
std::string change_text(const TimedCommand& from, const TimedCommand& to) {
    std::string text = fmt::format(",{}", to.step - from.step);
    for (std::size_t k = 0; k < arguments(to); ++k)
        text += fmt::format(",{}", to.command.value[k] - from.command.value[k]);
    return text;
}

void append_changes(std::string& out, Series run) {
    append_first(out, run[0], run[0].command.value[0]);
    if (run.size() > 1) out += ",\"+\"";
    for (std::size_t i = 1; i < run.size();) {
        const std::string change = change_text(run[i - 1], run[i]);
        std::size_t end = i + 1;
        while (end < run.size() && change_text(run[end - 1], run[end]) == change) ++end;
        const std::string times = fmt::format(",\"x\",{}", end - i);
        if (times.size() < (end - i - 1) * change.size()) {
            out += change + times;
        } else {
            for (std::size_t k = i; k < end; ++k) out += change;
        }
        i = end;
    }
    out += "],";
}

void append_series(std::string& out, Series series) {
    while (!series.empty()) {
        std::size_t taken = equal_run(series);
        if (const std::size_t digits = digit_run(series); digits >= kLeastRun && digits > taken) {
            append_digits(out, series.first(taken = digits));
        } else if (taken >= kLeastRun) {
            append_first(out, series[0], series[0].command.value[0]);
            out += fmt::format(",\"x\",{}],", taken);
        } else {
            taken = 1;
            while (taken < series.size() && equal_run(series.subspan(taken)) < kLeastRun &&
                   digit_run(series.subspan(taken)) < kLeastRun)
                ++taken;
            append_changes(out, series.first(taken));
        }
        series = series.subspan(taken);
    }
}

using AllSeries = std::vector<std::vector<TimedCommand>>;

auto series_of(AllSeries& all, sim::Verb verb) {
    return std::find_if(all.begin(), all.end(), [&](const auto& series) { return series[0].command.verb == verb; });
}

/// Commands by verb: a verb that comes before another in some step stands before it, if that can be.
AllSeries by_verb(std::span<const TimedCommand> commands) {
    AllSeries all;
    for (const TimedCommand& command : commands) {
        auto at = series_of(all, command.command.verb);
        if (at == all.end()) at = all.emplace(all.end());
        at->push_back(command);
    }
    for (std::size_t i = 1; i < commands.size(); ++i) {
        if (commands[i].step != commands[i - 1].step) continue;
        const auto before = series_of(all, commands[i - 1].command.verb),
                   after = series_of(all, commands[i].command.verb);
        if (after < before) std::rotate(after, before, before + 1);
    }
    return all;
}

void sort_by_step(std::vector<TimedCommand>& commands) {
    std::stable_sort(commands.begin(), commands.end(),
                     [](const TimedCommand& a, const TimedCommand& b) { return a.step < b.step; });
}

/// Whether a reader, who has the series one after the other, puts the commands back into their order.
bool order_kept(std::span<const TimedCommand> commands, const AllSeries& series) {
    std::vector<TimedCommand> again;
    for (const auto& one : series) again.insert(again.end(), one.begin(), one.end());
    sort_by_step(again);
    return std::equal(again.begin(), again.end(), commands.begin(), commands.end());
}

void read_entry(const JsonValue& value, std::vector<TimedCommand>& out) {
    NumberList list(value);
    TimedCommand timed;
    timed.step = list.whole(0, kMostSteps);
    const auto verb = sim::verb_named(list.text());
    if (!verb) list.refuse("the name of a verb");
    timed.command.verb = *verb;
    const sim::VerbSpec& spec = sim::spec_of(*verb);
    const auto count = static_cast<std::size_t>(spec.arguments);
    for (std::size_t k = 0; k < count; ++k)
        timed.command.value[k] = list.whole(spec.argument[k].low, spec.argument[k].high);
    const auto checked = [&](std::size_t k, std::int64_t number) {
        if (!(number >= spec.argument[k].low && number <= spec.argument[k].high))
            list.refuse(fmt::format("one that leads to {} to {}, not to {}", spec.argument[k].low,
                                    spec.argument[k].high, number));
        return number;
    };
    if (list.done()) {
        out.push_back(timed);
        return;
    }
    const std::string form = list.text();
    if (form == "x") {
        const std::int64_t run = list.whole(2, kMostRun);
        for (std::int64_t i = 0; i < run; ++i, ++timed.step) out.push_back(timed);
    } else if (form == "d" && count == 1) {
        const std::int64_t low = timed.command.value[0];
        const std::string digits = list.text();
        if (digits.empty() || digits.find_first_not_of("0123456789") != std::string::npos) list.refuse("digits");
        for (const char digit : digits) {
            timed.command.value[0] = checked(0, low + (digit - '0'));
            out.push_back(timed);
            ++timed.step;
        }
    } else if (form == "+") {
        out.push_back(timed);
        decltype(timed.command.value) change{};
        const auto go_on = [&](std::int64_t steps) {
            timed.step += steps;
            for (std::size_t k = 0; k < count; ++k)
                timed.command.value[k] = checked(k, timed.command.value[k] + change[k]);
            out.push_back(timed);
        };
        while (!list.done()) {
            const std::int64_t steps = list.whole(0, kMostRun);
            for (std::size_t k = 0; k < count; ++k) {
                const std::int64_t span = spec.argument[k].high - spec.argument[k].low;
                change[k] = list.whole(-span, span);
            }
            go_on(steps);
            if (!list.next_is_text()) continue;
            if (list.text() != "x") list.refuse("\"x\", or the next change of step");
            for (std::int64_t more = list.whole(2, kMostRun); more > 1; --more) go_on(steps);
        }
    } else {
        list.refuse("\"x\", \"+\", or for a verb of one number \"d\"");
    }
    list.end();
}

}  // namespace

void append_commands(std::string& out, std::span<const TimedCommand> commands) {
    SIM_ASSERT(std::is_sorted(commands.begin(), commands.end(),
                              [](const TimedCommand& a, const TimedCommand& b) { return a.step < b.step; }));
    if (commands.empty()) return;
    out += '[';
    const AllSeries series = by_verb(commands);
    if (order_kept(commands, series))
        for (const auto& one : series) append_series(out, one);
    else
        for (const TimedCommand& one : commands) append_changes(out, {&one, 1});
    out.back() = ']';
}

std::vector<TimedCommand> read_commands(const JsonValue& list) {
    std::vector<TimedCommand> out;
    for (const JsonValue& entry : list.array(1, kMostEntries)) read_entry(entry, out);
    sort_by_step(out);
    return out;
}

}  // namespace files
