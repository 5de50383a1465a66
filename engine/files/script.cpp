#include "engine/files/script.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <utility>
#include <vector>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/script_words.hpp"
#include "sim/core/errors.hpp"
#include "sim/patient/visit_spec.hpp"
#include "sim/procedure/deeds.hpp"
#include "sim/trace.hpp"

namespace files {

namespace {

constexpr std::int64_t kStrokeSteps = 200;  // 0.8 s: a push of 0.4 s, and rest
constexpr std::int64_t kAimSteps = 8;       // 32 ms between the parts of a smooth turn

constexpr std::int64_t kStepsPerSecond = 250;
constexpr std::int64_t kMostSteps = 24 * 3600 * kStepsPerSecond;  // a day
constexpr std::size_t kMostCommands = 4'000'000;

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
        ScriptWords words(file_, number, text);
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
    void read(ScriptWords& words) {
        using Read = void (Compiler::*)(ScriptWords&);
        static const std::vector<std::pair<std::string, Read>> verbs{{"take", &Compiler::take_instrument},
                                                                     {"entry", &Compiler::entry},
                                                                     {"aim", &Compiler::aim},
                                                                     {"push", &Compiler::push},
                                                                     {"withdraw", &Compiler::withdraw},
                                                                     {"lift", &Compiler::lift},
                                                                     {"wait", &Compiler::wait_for},
                                                                     {"discard", &Compiler::discard},
                                                                     {"traction", &Compiler::traction},
                                                                     {"stroke", &Compiler::stroke},
                                                                     {"touch", &Compiler::touch},
                                                                     {"grip", &Compiler::grip},
                                                                     {"trim", &Compiler::trim},
                                                                     {"do", &Compiler::deed},
                                                                     {"decide", &Compiler::decide},
                                                                     {"inject", &Compiler::inject},
                                                                     {"let", &Compiler::let_pass},
                                                                     {"aid", &Compiler::aid},
                                                                     {"finish", &Compiler::finish},
                                                                     {"exactly", &Compiler::exactly}};
        static const std::vector<std::string> names = [] {
            std::vector<std::string> out;
            for (const auto& verb : verbs) out.push_back(verb.first);
            return out;
        }();
        (this->*verbs[words.one_of(names)].second)(words);
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

    void wait_for(ScriptWords& words) { wait(words.duration()); }
    void discard(ScriptWords&) { put({sim::Verb::discard, {}}); }
    void finish(ScriptWords&) { put({sim::Verb::finish, {}}); }
    void entry(ScriptWords& words) { place(sim::Verb::entry, words); }
    void touch(ScriptWords& words) { place(sim::Verb::touch, words); }

    void take_instrument(ScriptWords& words) {
        const auto& spec = sim::spec_of(sim::Verb::take).argument[0];
        put({sim::Verb::take, {words.whole(spec.low, spec.high), 0, 0}});
    }

    void place(sim::Verb verb, ScriptWords& words) {
        sim::Command command{verb, {}};
        const auto& spec = sim::spec_of(verb);
        for (std::size_t i = 0; i < 3; ++i)
            command.value[i] = words.thousandths(spec.argument[i].low, spec.argument[i].high, "mm");
        put(command);
    }

    /// "yaw 5 pitch 2", either alone; what is not named stays.
    Angles angles(ScriptWords& words) {
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

    void aim(ScriptWords& words) {
        const Angles to = angles(words);
        if (words.took("over"))
            move(0, to, words.duration());
        else
            put({sim::Verb::aim, {to.yaw_mdeg, to.pitch_mdeg, 0}});
    }

    void push(ScriptWords& words) {
        const std::int64_t length_um = words.thousandths(1, 400'000, "mm");
        words.expect("mm");
        travel(words, length_um);
    }

    void withdraw(ScriptWords& words) {
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
    void travel(ScriptWords& words, std::int64_t by_um) {
        words.expect("at");
        const std::int64_t speed_um_per_s = words.thousandths(100, 500'000, "mm/s");
        words.expect("mm/s");
        const Angles to = words.took("turning") ? angles(words) : angles_;
        const std::int64_t distance = std::abs(by_um) * kStepsPerSecond;
        move(by_um, to, std::max<std::int64_t>(1, (distance + speed_um_per_s / 2) / speed_um_per_s));
    }

    void lift(ScriptWords& words) {
        const auto& spec = sim::spec_of(sim::Verb::lift).argument[0];
        const std::int64_t force_mn = words.thousandths(spec.low, spec.high, "N");
        words.expect("N");
        put({sim::Verb::lift, {force_mn, 0, 0}});
        if (!words.took("for")) return;
        wait(words.duration());
        put({sim::Verb::lift, {0, 0, 0}});
    }

    std::int64_t thread(ScriptWords& words) {
        words.expect("on");
        const auto& spec = sim::spec_of(sim::Verb::traction).argument[0];
        return words.whole(spec.low, spec.high);
    }

    void traction(ScriptWords& words) {
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
    void stroke(ScriptWords& words) {
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
    void grip(ScriptWords& words) {
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

    void trim(ScriptWords& words) {
        const auto& spec = sim::spec_of(sim::Verb::trim).argument[0];
        put({sim::Verb::trim, {words.whole(spec.low, spec.high), 0, 0}});
    }

    /// A deed of the table: "do prepare_skin left_face".
    void deed(ScriptWords& words) {
        static const std::vector<std::string> keys = [] {
            std::vector<std::string> out;
            for (const sim::DeedSpec& spec : sim::deed_table()) out.emplace_back(spec.key);
            return out;
        }();
        const sim::DeedSpec& spec = sim::deed_table()[words.one_of(keys)];
        std::size_t subject = 0;
        if (spec.subjects > 1) {
            std::vector<std::string> subjects;
            for (int i = 0; i < spec.subjects; ++i) subjects.push_back(sim::subject_key(spec.deed, i));
            subject = words.one_of(subjects);
        }
        put({sim::Verb::deed, {static_cast<std::int64_t>(spec.deed), static_cast<std::int64_t>(subject), 0}});
        wait(1);  // one after the other
    }

    /// "decide defer for infection"
    void decide(ScriptWords& words) {
        static const std::vector<std::string> decisions(sim::kDecisions.begin(), sim::kDecisions.end());
        const std::size_t decision = words.one_of(decisions);
        words.expect("for");
        std::vector<std::string> reasons;
        for (std::size_t i = 0; i < sim::kHistoryItems; ++i)
            reasons.emplace_back(sim::key_of(static_cast<sim::HistoryItem>(i)));
        const std::size_t reason = words.one_of(reasons);
        put({sim::Verb::decide, {static_cast<std::int64_t>(decision), static_cast<std::int64_t>(reason), 0}});
    }

    /// "inject 0.4 ml over 8 s", in parts of at most kPartUl.
    void inject(ScriptWords& words) {
        const std::int64_t volume_ul = words.thousandths(1, 10'000, "ml");
        words.expect("ml");
        words.expect("over");
        const std::int64_t steps = words.duration();
        constexpr std::int64_t kPartUl = 50;
        const std::int64_t parts = (volume_ul + kPartUl - 1) / kPartUl;
        for (std::int64_t i = 0; i < parts; ++i) {
            put({sim::Verb::inject, {share(volume_ul, i, parts), 0, 0}});
            wait(std::max<std::int64_t>(1, share(steps, i, parts)));
        }
    }

    /// "let 3 min pass": the patient waits, and nobody at the screen has to.
    void let_pass(ScriptWords& words) {
        const std::int64_t seconds = words.long_time_s(sim::spec_of(sim::Verb::let_pass).argument[0].high);
        words.expect("pass");
        put({sim::Verb::let_pass, {seconds, 0, 0}});
        wait(1);
    }

    void aid(ScriptWords& words) {
        const auto& spec = sim::spec_of(sim::Verb::aid).argument[0];
        const std::int64_t number = words.whole(spec.low, spec.high);
        const std::string accepted = "\"on\" or \"off\"";
        const std::string_view word = words.take(accepted);
        if (word != "on" && word != "off") words.refuse(word, accepted);
        put({sim::Verb::aid, {number, word == "on" ? 1 : 0, 0}});
    }

    void exactly(ScriptWords& words) {
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
