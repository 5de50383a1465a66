#include "engine/files/script.hpp"

#include <catch2/catch.hpp>

#include "files_support.hpp"

using Catch::Matchers::Contains;
using files::compile_script;
using files_test::refusal;
using sim::Command;
using sim::Verb;

namespace {

std::int64_t total(const files::Script& script, Verb verb) {
    std::int64_t sum = 0;
    for (const auto& timed : script.commands)
        if (timed.command.verb == verb) sum += timed.command.value[0];
    return sum;
}

}  // namespace

TEST_CASE("a script plays the hands step by step", "[files][script]") {
    const auto script = compile_script(R"(# a pass
take 1
entry -31.2 -64.0 40.5            # mm
aim yaw 0 pitch 35
push 12 mm at 4 mm/s
lift 0.6 N for 1 s
wait 1 s
aid 2 on
finish
)",
                                       "a.script");
    // 12 mm at 4 mm/s is 3 s, 750 steps of 16 um; lift and wait 250 steps each, one step to finish
    CHECK(script.steps == 750 + 250 + 250 + 1);
    REQUIRE(script.commands.size() == 3 + 750 + 2 + 1 + 1);
    CHECK(script.commands[0] == files::TimedCommand{0, {Verb::take, {1, 0, 0}}});
    CHECK(script.commands[1] == files::TimedCommand{0, {Verb::entry, {-31'200, -64'000, 40'500}}});
    CHECK(script.commands[2] == files::TimedCommand{0, {Verb::aim, {0, 35'000, 0}}});
    CHECK(script.commands[3] == files::TimedCommand{0, {Verb::push, {16, 0, 0}}});
    CHECK(script.commands[752] == files::TimedCommand{749, {Verb::push, {16, 0, 0}}});
    CHECK(script.commands[753] == files::TimedCommand{750, {Verb::lift, {600, 0, 0}}});
    CHECK(script.commands[754] == files::TimedCommand{1000, {Verb::lift, {0, 0, 0}}});
    CHECK(script.commands[755] == files::TimedCommand{1250, {Verb::aid, {2, 1, 0}}});
    CHECK(script.commands[756] == files::TimedCommand{1250, {Verb::finish, {}}});
    for (const auto& timed : script.commands) CHECK_NOTHROW(sim::validate(timed.command));
}

TEST_CASE("parts of a movement add up to whole micrometres", "[files][script]") {
    const std::string speed = GENERATE("0.1", "3", "7.77", "500");
    const auto script = compile_script("push 12.345 mm at " + speed + " mm/s", "a.script");
    CHECK(total(script, Verb::push) == 12'345);
    for (const auto& timed : script.commands) CHECK_NOTHROW(sim::validate(timed.command));
}

TEST_CASE("withdraw all undoes what was pushed", "[files][script]") {
    const auto script =
        compile_script("push 30 mm at 7 mm/s\nwithdraw 4.5 mm at 3 mm/s\nwithdraw all at 11 mm/s\n", "a");
    CHECK(total(script, Verb::push) == 0);
    // taking an instrument in hand begins at the skin again
    CHECK_THAT(refusal([] {
                   static_cast<void>(compile_script("push 3 mm at 7 mm/s\ntake 0\nwithdraw all at 7 mm/s", "a"));
               }).what(),
               Contains("line 3") && Contains("push before"));
}

TEST_CASE("aim turns smoothly and keeps the angle that is not named", "[files][script]") {
    const auto script =
        compile_script("aim yaw -10 pitch 40\naim pitch 4 over 0.5 s\npush 1 mm at 5 mm/s turning yaw 5", "a");
    std::vector<Command> aims;
    std::int64_t last = 0;
    for (const auto& timed : script.commands)
        if (timed.command.verb == Verb::aim) {
            aims.push_back(timed.command);
            CHECK(timed.step >= last);
            last = timed.step;
        }
    // told each eighth step and at the end: 125 steps in 16 parts, 50 in 7
    REQUIRE(aims.size() == 1 + 16 + 7);
    CHECK(aims[8].value[0] == -10'000);
    CHECK(aims[8].value[1] == 40'000 - 18'432);  // 64 of 125 steps of 36 degrees
    CHECK(aims[16] == Command{Verb::aim, {-10'000, 4'000, 0}});
    CHECK(aims.back() == Command{Verb::aim, {5'000, 4'000, 0}});
    CHECK(script.steps == 125 + 50);
}

TEST_CASE("a script refuses what it does not understand, naming line, word and what it accepts", "[files][script]") {
    struct Case {
        const char *text, *place, *value, *accepted;
    };
    static const Case cases[] = {
        {"\n\nsqueeze 3", "line 3", "\"squeeze\"", "take entry aim"},
        {"wihdraw all at 3 mm/s", "line 1", "\"wihdraw\"", "did you mean \"withdraw\""},
        {"take", "line 1", "the end of the line", "0 to 15"},
        {"take 99", "line 1", "\"99\"", "0 to 15"},
        {"take 1 2", "line 1", "\"2\"", "end of the line"},
        {"take 1.5", "line 1", "\"1.5\"", "whole number"},
        {"entry 1 2", "line 1", "the end of the line", "mm"},
        {"entry 1 2 900", "line 1", "\"900\"", "-400 to 400"},
        {"entry 1 2 0.0001", "line 1", "\"0.0001\"", "three decimals"},
        {"entry 1 2 nan", "line 1", "\"nan\"", "a number"},
        {"entry 1 2 1e3", "line 1", "\"1e3\"", "a number"},
        {"entry 1 2 99999999999999999999", "line 1", "\"99999999999999999999\"", "a number"},
        {"aim", "line 1", "the end of the line", "yaw"},
        {"aim pitch 91", "line 1", "\"91\"", "-30 to 90"},
        {"aim tilt 3", "line 1", "\"tilt\"", "pitch"},
        {"push 3 cm at 4 mm/s", "line 1", "\"cm\"", "\"mm\""},
        {"push 3 mm at 4", "line 1", "the end of the line", "\"mm/s\""},
        {"push -3 mm at 4 mm/s", "line 1", "\"-3\"", "0.001 to 400"},
        {"push 3 mm at 0 mm/s", "line 1", "\"0\"", "0.1 to 500"},
        {"push 3 mm at 4 mm/s\nwithdraw 5 mm at 4 mm/s", "line 2", "\"5\"", "at most the 3 mm"},
        {"withdraw all at 4 mm/s", "line 1", "\"all\"", "a push before"},
        {"lift 6 N", "line 1", "\"6\"", "0 to 5"},
        {"lift 0.6 N for 3 mm", "line 1", "\"mm\"", "\"s\" or \"ms\""},
        {"wait 0 s", "line 1", "\"0\"", "0.001 to 86400"},
        {"aid 0 maybe", "line 1", "\"maybe\"", "\"on\" or \"off\""},
        {"finish\nwait 1 s", "line 2", "\"wait\"", "nothing after"},
        {"wait 1 s\nexactly 3 push 1", "line 2", "\"3\"", "250 to"},
        {"exactly 3 shove 1", "line 1", "\"shove\"", "a verb"},
        {"exactly 3 push 5001", "line 1", "\"5001\"", "-5000 to 5000"},
        {"# nothing\n", "", "a script without a command", "at least one"},
        {"take 1 \xff", "line 1, column 8", "byte 0xff", "UTF-8"},
    };
    for (const Case& c : cases) {
        const auto error = refusal([&] { static_cast<void>(compile_script(c.text, "x.script")); });
        INFO(error.what());
        CHECK(error.file() == "x.script");
        CHECK(error.place() == c.place);
        CHECK(error.value() == c.value);
        CHECK_THAT(error.accepted(), Contains(c.accepted));
    }
}

TEST_CASE("a script that would fill the memory is refused", "[files][script]") {
    std::string text;
    for (int i = 0; i < 20; ++i)
        text += "push 400 mm at 0.1 mm/s turning yaw 180\nwithdraw all at 0.1 mm/s turning yaw -180\n";
    CHECK_THAT(refusal([&] { static_cast<void>(compile_script(text, "x")); }).what(), Contains("4 million"));
}

TEST_CASE("commands become a script that gives the same commands", "[files][script]") {
    const auto script =
        compile_script("take 1\nentry 1 2 3\npush 3 mm at 4 mm/s turning pitch 20\nwait 1 s\nlift 1 N", "a");
    const auto again = compile_script(files::script_of(script.commands, script.steps), "b");
    CHECK(again.commands == script.commands);
    CHECK(again.steps == script.steps);
    const auto finished = compile_script("take 1\nfinish", "a");
    CHECK(compile_script(files::script_of(finished.commands, finished.steps), "b").steps == finished.steps);
}
