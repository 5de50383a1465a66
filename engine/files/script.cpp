#include "engine/files/script.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdlib>
#include <optional>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/json_reader.hpp"
#include "sim/core/errors.hpp"
#include "sim/trace.hpp"

namespace files {

namespace {

constexpr std::int64_t kStrokeSteps = 200;  // 0.8 s: a push of 0.4 s, and rest
constexpr std::int64_t kAimSteps = 8;       // 32 ms between the parts of a smooth turn

constexpr std::int64_t kStepsPerSecond = 250;
constexpr std::int64_t kMsPerStep = 4;
constexpr std::int64_t kMostSteps = 24 * 3600 * kStepsPerSecond;  // a day
constexpr std::size_t kMostCommands = 4'000'000;
constexpr std::size_t kShownWordBytes = 40;

/// A number of at most three decimals, in thousandths; nothing for anything else.
std::optional<std::int64_t> thousandths_of(std::string_view word) {
    std::string_view rest = word;
    const bool negative = rest.starts_with('-');
    if (negative || rest.starts_with('+')) rest.remove_prefix(1);
    const std::size_t dot = rest.find('.');
    const std::string_view whole = rest.substr(0, dot);
    std::string decimals(dot == std::string_view::npos ? std::string_view() : rest.substr(dot + 1));
    const auto digits = [](std::string_view text) {
        return std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
    };
    // zeros past the third decimal change nothing
    while (decimals.size() > 3 && decimals.back() == '0') decimals.pop_back();
    if (whole.empty() || whole.size() > 9 || decimals.size() > 3 || !digits(whole) || !digits(decimals)) return {};
    if (dot != std::string_view::npos && rest.size() == dot + 1) return {};
    decimals.resize(3, '0');
    std::int64_t value = 0;
    for (const char c : std::string(whole) + decimals) value = 10 * value + (c - '0');
    return negative ? -value : value;
}

std::string decimal_text(std::int64_t thousandths) {
    return thousandths % 1000 == 0 ? std::to_string(thousandths / 1000)
                                   : number_text(static_cast<double>(thousandths) / 1000.0);
}

/// The words of one line, taken from left to right.
class Words {
 public:
    Words(const std::string& file, int line, std::string_view text) : file_(file), line_(line) {
        text = text.substr(0, text.find('#'));
        constexpr std::string_view blank = " \t\r\v\f";
        for (std::size_t at = text.find_first_not_of(blank); at != std::string_view::npos;) {
            const std::size_t end = std::min(text.find_first_of(blank, at), text.size());
            words_.push_back(text.substr(at, end - at));
            at = text.find_first_not_of(blank, end);
        }
    }

    [[nodiscard]] bool done() const { return next_ == words_.size(); }

    [[noreturn]] void refuse(std::string_view word, const std::string& accepted) const {
        std::string shown =
            word.empty() ? "the end of the line" : fmt::format("\"{}\"", word.substr(0, kShownWordBytes));
        throw FileError(file_, fmt::format("line {}", line_), std::move(shown), accepted);
    }

    std::string_view take(const std::string& accepted) {
        if (done()) refuse("", accepted);
        return words_[next_++];
    }

    /// Take the next word if it is this one.
    bool took(std::string_view word) {
        if (done() || words_[next_] != word) return false;
        ++next_;
        return true;
    }

    void expect(std::string_view word) {
        if (!took(word)) refuse(done() ? "" : words_[next_], fmt::format("\"{}\"", word));
    }

    /// A number within [low, high], all in thousandths.
    std::int64_t thousandths(std::int64_t low, std::int64_t high, std::string_view unit) {
        const std::string accepted = fmt::format("a number from {} to {} ({}) with at most three decimals",
                                                 decimal_text(low), decimal_text(high), unit);
        const std::string_view word = take(accepted);
        const auto value = thousandths_of(word);
        if (!value || !(*value >= low && *value <= high)) refuse(word, accepted);
        return *value;
    }

    std::int64_t whole(std::int64_t low, std::int64_t high) {
        const std::string accepted = fmt::format("a whole number from {} to {}", low, high);
        const std::string_view word = take(accepted);
        std::int64_t value = 0;
        const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
        if (error != std::errc() || end != word.data() + word.size() || !(value >= low && value <= high))
            refuse(word, accepted);
        return value;
    }

    /// "1 s" or "250 ms", in steps, at least one.
    std::int64_t duration() {
        const std::int64_t value = thousandths(1, 86'400'000, "s or ms");
        const std::string accepted = "\"s\" or \"ms\"";
        const std::string_view unit = take(accepted);
        if (unit != "s" && unit != "ms") refuse(unit, accepted);
        const std::int64_t ms = unit == "s" ? value : (value + 500) / 1000;
        return std::max<std::int64_t>(1, (ms + kMsPerStep / 2) / kMsPerStep);
    }

    void end() const {
        if (!done()) refuse(words_[next_], "the end of the line");
    }

 private:
    const std::string& file_;
    int line_;
    std::vector<std::string_view> words_;
    std::size_t next_ = 0;
};

struct Angles {
    std::int64_t yaw_mdeg = 0, pitch_mdeg = 0;
};

/// Part `i` of `n` of a whole, so that the parts of all i add up to it.
std::int64_t share(std::int64_t whole, std::int64_t i, std::int64_t n) {
    const auto up_to = [&](std::int64_t k) {
        const std::int64_t doubled = 2 * whole * k;  // rounded half away from zero, in integers
        return (doubled + (whole < 0 ? -n : n)) / (2 * n);
    };
    return up_to(i + 1) - up_to(i);
}

class Compiler {
 public:
    explicit Compiler(const std::string& file) : file_(file) {}

    void line(int number, std::string_view text) {
        Words words(file_, number, text);
        if (words.done()) return;
        if (finished_) words.refuse(words.take(""), "nothing after \"finish\"");
        read(words);
        words.end();
        if (script_.commands.size() > kMostCommands || now_ > kMostSteps)
            throw FileError(file_, fmt::format("line {}", number), "a script of more than a day or 4 million commands",
                            "a shorter one");
    }

    Script take() {
        script_.steps = now_;
        return std::move(script_);
    }

 private:
    void read(Words& words) {
        static constexpr std::array<std::string_view, 15> verbs{"take",  "entry", "aim",     "push",     "withdraw",
                                                                "lift",  "wait",  "discard", "traction", "stroke",
                                                                "touch", "grip",  "aid",     "finish",   "exactly"};
        std::string accepted = "one of";
        for (const std::string_view verb : verbs) accepted += fmt::format(" {}", verb);
        const std::string_view verb = words.take(accepted);
        if (verb == "take") return take_instrument(words);
        if (verb == "entry") return place(sim::Verb::entry, words);
        if (verb == "aim") return aim(words);
        if (verb == "push") return push(words);
        if (verb == "withdraw") return withdraw(words);
        if (verb == "lift") return lift(words);
        if (verb == "wait") return wait(words.duration());
        if (verb == "discard") return put({sim::Verb::discard, {}});
        if (verb == "traction") return traction(words);
        if (verb == "stroke") return stroke(words);
        if (verb == "touch") return place(sim::Verb::touch, words);
        if (verb == "grip") return grip(words);
        if (verb == "aid") return aid(words);
        if (verb == "finish") return put({sim::Verb::finish, {}});
        if (verb == "exactly") return exactly(words);
        const std::string meant = nearest_word(verb, verbs);
        words.refuse(verb, meant.empty() ? accepted : accepted + fmt::format("; did you mean \"{}\"?", meant));
    }

    /// Record a command now, and keep track of what the hands do.
    void put(const sim::Command& command) {
        script_.commands.push_back({now_, command});
        switch (command.verb) {
            case sim::Verb::take:
            case sim::Verb::entry:
                pushed_um_ = 0;
                break;
            case sim::Verb::aim:
                angles_ = {command.value[0], command.value[1]};
                break;
            case sim::Verb::push:
                pushed_um_ = std::max<std::int64_t>(0, pushed_um_ + command.value[0]);
                break;
            case sim::Verb::finish:
                finished_ = true;
                ++now_;  // the step that obeys it
                break;
            default:
                break;
        }
    }

    void wait(std::int64_t steps) { now_ += steps; }

    void take_instrument(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::take).argument[0];
        put({sim::Verb::take, {words.whole(spec.low, spec.high), 0, 0}});
    }

    void place(sim::Verb verb, Words& words) {
        sim::Command command{verb, {}};
        const auto& spec = sim::spec_of(verb);
        for (std::size_t i = 0; i < 3; ++i)
            command.value[i] = words.thousandths(spec.argument[i].low, spec.argument[i].high, "mm");
        put(command);
    }

    /// "yaw 5 pitch 2", either alone; what is not named stays.
    Angles angles(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::aim);
        Angles to = angles_;
        bool named = false;
        for (bool more = true; more; named = named || more) {
            more = true;
            if (words.took("yaw"))
                to.yaw_mdeg = words.thousandths(spec.argument[0].low, spec.argument[0].high, "degrees");
            else if (words.took("pitch"))
                to.pitch_mdeg = words.thousandths(spec.argument[1].low, spec.argument[1].high, "degrees");
            else
                more = false;
        }
        const std::string accepted = "\"yaw\" or \"pitch\" and an angle";
        if (!named) words.refuse(words.take(accepted), accepted);
        return to;
    }

    /// Turn to `to` and move the hand by `by_um`, both evenly over `steps` steps; the turn in parts of kAimSteps, fine
    /// enough for a hand and short enough for the record.
    void move(std::int64_t by_um, const Angles& to, std::int64_t steps) {
        const Angles from = angles_;
        Angles at = from;
        Angles told = from;
        for (std::int64_t i = 0; i < steps; ++i, ++now_) {
            at.yaw_mdeg += share(to.yaw_mdeg - from.yaw_mdeg, i, steps);
            at.pitch_mdeg += share(to.pitch_mdeg - from.pitch_mdeg, i, steps);
            const bool due = i % kAimSteps == kAimSteps - 1 || i + 1 == steps;
            if (due && (at.yaw_mdeg != told.yaw_mdeg || at.pitch_mdeg != told.pitch_mdeg)) {
                put({sim::Verb::aim, {at.yaw_mdeg, at.pitch_mdeg, 0}});
                told = at;
            }
            if (const std::int64_t part_um = share(by_um, i, steps); part_um != 0)
                put({sim::Verb::push, {part_um, 0, 0}});
            if (script_.commands.size() > kMostCommands) return;  // line() refuses it
        }
    }

    void aim(Words& words) {
        const Angles to = angles(words);
        if (words.took("over"))
            move(0, to, words.duration());
        else
            put({sim::Verb::aim, {to.yaw_mdeg, to.pitch_mdeg, 0}});
    }

    void push(Words& words) {
        const std::int64_t length_um = words.thousandths(1, 400'000, "mm");
        words.expect("mm");
        travel(words, length_um);
    }

    void withdraw(Words& words) {
        if (words.took("all")) {
            if (pushed_um_ == 0) words.refuse("all", "a push before it");
            return travel(words, -pushed_um_);
        }
        const std::int64_t length_um = words.thousandths(1, 400'000, "mm");
        if (length_um > pushed_um_)
            words.refuse(decimal_text(length_um), fmt::format("at most the {} mm that the hand has pushed, or \"all\"",
                                                              decimal_text(pushed_um_)));
        words.expect("mm");
        travel(words, -length_um);
    }

    /// "at 4 mm/s", then perhaps "turning pitch 2".
    void travel(Words& words, std::int64_t by_um) {
        words.expect("at");
        const std::int64_t speed_um_per_s = words.thousandths(100, 500'000, "mm/s");
        words.expect("mm/s");
        const Angles to = words.took("turning") ? angles(words) : angles_;
        const std::int64_t distance = std::abs(by_um) * kStepsPerSecond;
        move(by_um, to, std::max<std::int64_t>(1, (distance + speed_um_per_s / 2) / speed_um_per_s));
    }

    void lift(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::lift).argument[0];
        const std::int64_t force_mn = words.thousandths(spec.low, spec.high, "N");
        words.expect("N");
        put({sim::Verb::lift, {force_mn, 0, 0}});
        if (!words.took("for")) return;
        wait(words.duration());
        put({sim::Verb::lift, {0, 0, 0}});
    }

    std::int64_t thread(Words& words) {
        words.expect("on");
        const auto& spec = sim::spec_of(sim::Verb::traction).argument[0];
        return words.whole(spec.low, spec.high);
    }

    void traction(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::traction).argument[1];
        const std::int64_t force_mn = words.thousandths(spec.low, spec.high, "N");
        words.expect("N");
        const std::int64_t number = thread(words);
        put({sim::Verb::traction, {number, force_mn, 0}});
        if (!words.took("for")) return;
        wait(words.duration());
        put({sim::Verb::traction, {number, 0, 0}});
    }

    /// A stroke, and the time until the tissue has settled again.
    void stroke(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::stroke).argument[2];
        const std::int64_t force_mn = words.thousandths(1, spec.high, "N");
        words.expect("N");
        const auto either = [&words](std::string_view first, std::string_view second) {
            const std::string accepted = fmt::format("\"{}\" or \"{}\"", first, second);
            const std::string_view word = words.take(accepted);
            if (word != first && word != second) words.refuse(word, accepted);
            return word == second;
        };
        const bool away = either("toward", "away");
        words.expect("from");
        const bool far = either("entry", "far");
        put({sim::Verb::stroke, {thread(words), far ? 1 : 0, away ? -force_mn : force_mn}});
        wait(kStrokeSteps);
    }

    /// What the other hand does where it lies: "grip push 1 N turned 180 for 0.6 s".
    void grip(Words& words) {
        static constexpr std::array<std::string_view, sim::kGrips> kinds{"press",      "counter-hold", "push",
                                                                         "draw-tight", "pinch",        "fold"};
        std::string accepted = "one of";
        for (const std::string_view kind : kinds) accepted += fmt::format(" {}", kind);
        const std::string_view word = words.take(accepted);
        const auto kind = std::find(kinds.begin(), kinds.end(), word);
        if (kind == kinds.end()) words.refuse(word, accepted);
        const auto& spec = sim::spec_of(sim::Verb::grip);
        sim::Command command{sim::Verb::grip, {kind - kinds.begin(), 0, 0}};
        command.value[2] = words.thousandths(spec.argument[2].low, spec.argument[2].high, "N");
        words.expect("N");
        if (words.took("turned"))
            command.value[1] = words.thousandths(spec.argument[1].low, spec.argument[1].high, "degrees");
        put(command);
        if (!words.took("for")) return;
        wait(words.duration());
        command.value[2] = 0;
        put(command);
    }

    void aid(Words& words) {
        const auto& spec = sim::spec_of(sim::Verb::aid).argument[0];
        const std::int64_t number = words.whole(spec.low, spec.high);
        const std::string accepted = "\"on\" or \"off\"";
        const std::string_view word = words.take(accepted);
        if (word != "on" && word != "off") words.refuse(word, accepted);
        put({sim::Verb::aid, {number, word == "on" ? 1 : 0, 0}});
    }

    void exactly(Words& words) {
        now_ = words.whole(now_, kMostSteps);
        const std::string accepted = "a verb of the attempt log, or \"end\"";
        const std::string_view name = words.take(accepted);
        if (name == "end") return;
        const auto verb = sim::verb_named(name);
        if (!verb) words.refuse(name, accepted);
        const auto& spec = sim::spec_of(*verb);
        sim::Command command{*verb, {}};
        for (std::size_t i = 0; i < static_cast<std::size_t>(spec.arguments); ++i)
            command.value[i] = words.whole(spec.argument[i].low, spec.argument[i].high);
        put(command);
    }

    const std::string& file_;
    Script script_;
    std::int64_t now_ = 0;
    std::int64_t pushed_um_ = 0;  // where the hand is along the shaft
    Angles angles_;
    bool finished_ = false;
};

}  // namespace

Script compile_script(std::string_view text, const std::string& file) {
    if (const std::size_t bad = first_bad_utf8(text); bad != std::string_view::npos)
        throw FileError(file, line_and_column(text, bad),
                        fmt::format("byte 0x{:02x}", static_cast<unsigned char>(text[bad])), "UTF-8 text");
    Compiler compiler(file);
    int number = 0;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        compiler.line(++number, text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    Script script = compiler.take();
    if (script.commands.empty()) throw FileError(file, "", "a script without a command", "at least one command");
    return script;
}

Script load_script(const std::filesystem::path& path) {
    return compile_script(read_bytes(path, kDocumentBytes), path.string());
}

std::string script_of(std::span<const TimedCommand> commands, std::int64_t steps) {
    std::string text = "# written from the commands of an attempt\n";
    for (const TimedCommand& timed : commands) {
        const sim::VerbSpec& spec = sim::spec_of(timed.command.verb);
        text += fmt::format("exactly {} {}", timed.step, spec.name);
        for (std::size_t i = 0; i < static_cast<std::size_t>(spec.arguments); ++i)
            text += fmt::format(" {}", timed.command.value[i]);
        text += '\n';
    }
    const bool finished = !commands.empty() && commands.back().command.verb == sim::Verb::finish;
    if (!finished) text += fmt::format("exactly {} end\n", steps);
    return text;
}

}  // namespace files
