#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "engine/files/command_text.hpp"
#include "engine/files/trace_text.hpp"
#include "files_support.hpp"
#include "sim/core/random.hpp"

/// The texts that an attempt's lines are made of: commands, rows, columns.

using Catch::Matchers::Contains;
using files_test::refusal;
using files_test::same_bits;

TEST_CASE("commands come back in their order, however a hand moved", "[files][attempt]") {
    sim::Random random(7);
    const std::array verbs{sim::Verb::push, sim::Verb::aim, sim::Verb::lift, sim::Verb::entry};
    for (int round = 0; round < 300; ++round) {
        std::vector<files::TimedCommand> commands;
        for (std::int64_t step = 100; step < 164; ++step)
            for (int each = 0; each < round % 4; ++each) {
                const sim::Verb verb = verbs[static_cast<std::size_t>(random.uniform(0.0, 3.999))];
                const sim::VerbSpec& spec = sim::spec_of(verb);
                files::TimedCommand timed{step, {verb, {}}};
                for (std::size_t k = 0; k < static_cast<std::size_t>(spec.arguments); ++k) {
                    const auto& range = spec.argument[k];
                    const double steady = static_cast<double>(std::clamp<std::int64_t>(16, range.low, range.high));
                    timed.command.value[k] = static_cast<decltype(timed.command.value[k] + 0)>(
                        round % 3 == 0
                            ? steady
                            : random.uniform(static_cast<double>(range.low), static_cast<double>(range.high)));
                }
                commands.push_back(timed);
            }
        if (commands.empty()) continue;
        std::string text;
        files::append_commands(text, commands);
        const auto document = files::JsonDocument::parse("commands", text);
        CHECK(files::read_commands(document.root()) == commands);
    }
}

TEST_CASE("a steady hand costs few bytes, and a run reads as what it says", "[files][attempt]") {
    const auto read = [](const std::string& text) {
        return files::read_commands(files::JsonDocument::parse("commands", text).root());
    };
    std::vector<files::TimedCommand> steady;
    for (std::int64_t i = 0; i < 64; ++i) {
        if (i % 8 == 0) steady.push_back({i, {sim::Verb::aim, {-8 * i, 100, 0}}});
        steady.push_back({i, {sim::Verb::push, {i % 7 == 0 ? 17 : 16, 0, 0}}});
    }
    std::string text;
    files::append_commands(text, steady);
    CHECK(text.size() < 200);
    CHECK(read(text) == steady);
    CHECK(read(R"([[5,"push",16,"d","013"]])") == std::vector<files::TimedCommand>{{5, {sim::Verb::push, {16, 0, 0}}},
                                                                                   {6, {sim::Verb::push, {17, 0, 0}}},
                                                                                   {7, {sim::Verb::push, {19, 0, 0}}}});
    CHECK(read(R"([[5,"aim",1,2,"+",3,-1,0]])") ==
          std::vector<files::TimedCommand>{{5, {sim::Verb::aim, {1, 2, 0}}}, {8, {sim::Verb::aim, {0, 2, 0}}}});
    CHECK(read(R"([[5,"aim",1,2,"+",3,-1,0,"x",2,1,0,1]])") ==
          std::vector<files::TimedCommand>{{5, {sim::Verb::aim, {1, 2, 0}}},
                                           {8, {sim::Verb::aim, {0, 2, 0}}},
                                           {11, {sim::Verb::aim, {-1, 2, 0}}},
                                           {12, {sim::Verb::aim, {-1, 3, 0}}}});
    CHECK(read(R"([[5,"lift",400,"x",2]])").size() == 2);
    std::vector<files::TimedCommand> turning;
    for (int i = 0; i < 30; ++i) turning.push_back({i * 8LL, {sim::Verb::aim, {8 * i, 640 * (i / 10), 0}}});
    text.clear();
    files::append_commands(text, turning);
    CHECK(text.size() < 90);
    CHECK(read(text) == turning);

    const auto refused = [&](const std::string& entry) {
        return std::string(refusal([&] { static_cast<void>(read("[" + entry + "]")); }).what());
    };
    CHECK_THAT(refused(R"([5,"shove",1])"), Contains("the name of a verb"));
    CHECK_THAT(refused(R"([5,"push",16,"z",3])"), Contains("\"x\", \"+\""));
    CHECK_THAT(refused(R"([5,"push",16,"x",1])"), Contains("2 to"));
    CHECK_THAT(refused(R"([5,"push",16,"x",3,4])"), Contains("a list of"));
    CHECK_THAT(refused(R"([5,"push",16,"d","1a"])"), Contains("digits"));
    CHECK_THAT(refused(R"([5,"push",16,"d",""])"), Contains("digits"));
    CHECK_THAT(refused(R"([5,"aim",1,2,"d","12"])"), Contains("\"x\", \"+\""));
    CHECK_THAT(refused(R"([5,"push",16,"+",1])"), Contains("a longer list"));
    CHECK_THAT(refused(R"([5,"push",16,"+",-1,0])"), Contains("0 to"));
    CHECK_THAT(refused(R"([5,"push",16,"+",1,0,"x",1])"), Contains("2 to"));
    CHECK_THAT(refused(R"([5,"push",16,"+",1,0,"y",3])"), Contains("\"x\""));
    CHECK_THAT(refused(R"([5,"push",16,"+","x",3])"), Contains("a whole number"));
    const std::int64_t most = sim::spec_of(sim::Verb::push).argument[0].high;
    CHECK_THAT(refused("[5,\"push\"," + std::to_string(most) + ",\"+\",1,1]"), Contains("leads to"));
    CHECK_THAT(refused("[5,\"push\"," + std::to_string(most) + ",\"d\",\"01\"]"), Contains("leads to"));
}

TEST_CASE("rows read on from line to line", "[files][attempt]") {
    sim::TraceRow row;
    row.step = 10;
    row.inserted_m = sim::row_quantised(0.002, sim::kRowPerM);
    row.layers.floor = sim::FloorKind::lining;
    files::ColumnMemory writing, reading;
    std::vector<sim::TraceRow> wanted, is;
    for (int line = 0; line < 4; ++line) {
        std::vector<sim::TraceRow> rows;
        for (int i = 0; i < 2; ++i) {
            row.step += 13;
            row.inserted_m = sim::row_quantised(row.inserted_m + 2.57e-4, sim::kRowPerM);
            rows.push_back(row);
        }
        std::string text = "\"";
        files::append_rows(text, rows, writing);
        text += '"';
        if (line > 0) CHECK(text == "\"A;A\"");  // a steady motion costs a digit
        const auto read = files::read_rows(files::JsonDocument::parse("rows", text).root(), reading);
        is.insert(is.end(), read.begin(), read.end());
        wanted.insert(wanted.end(), rows.begin(), rows.end());
    }
    REQUIRE(is.size() == wanted.size());
    for (std::size_t i = 0; i < is.size(); ++i) {
        CHECK(is[i].step == wanted[i].step);
        CHECK(is[i].inserted_m == wanted[i].inserted_m);
        CHECK(is[i].layers.floor == wanted[i].layers.floor);
    }
}

TEST_CASE("columns give back any number, and refuse what is none", "[files][attempt]") {
    constexpr double kInfinity = std::numeric_limits<double>::infinity();
    constexpr double kNothing = std::numeric_limits<double>::quiet_NaN();
    const std::vector<double> values{0.0,   -0.0,    1e-6,  -1.5e-5,   0.25,     899999.0,
                                     1e300, 1.0 / 3, -1e-9, kInfinity, kNothing, -kInfinity};
    const std::vector<std::int64_t> wholes{0, 1, -1, 15, -16, 16, 12345678901234, INT64_MAX, INT64_MIN, 7};
    std::string text = "\"";
    files::ColumnMemory writing, reading;
    files::ColumnWriter writer(text, writing);
    for (const double value : values) {
        writer.begin_row();
        writer.value(value, 1e6, files::Expect::same_change);
        for (const std::int64_t whole : wholes) writer.whole(whole);
        writer.alone(-3);
    }
    text += '"';
    const auto document = files::JsonDocument::parse("rows", text);
    files::ColumnReader reader(document.root(), reading);
    for (const double value : values) {
        REQUIRE(reader.next_row());
        CHECK(same_bits(reader.value(1e6, files::Expect::same_change), value));
        for (const std::int64_t whole : wholes) CHECK(reader.whole(INT64_MIN, INT64_MAX) == whole);
        CHECK(reader.alone(-3, -3) == -3);
    }
    CHECK_FALSE(reader.next_row());

    const auto refused = [](const std::string& rows) {
        files::ColumnMemory fresh;
        const auto parsed = files::JsonDocument::parse("rows", "\"" + rows + "\"");
        return std::string(refusal([&] { static_cast<void>(files::read_rows(parsed.root(), fresh)); }).what());
    };
    CHECK_THAT(refused(";"), Contains("a row with a number in it") && Contains("row 1"));
    CHECK_THAT(refused("A;C;;A"), Contains("a row with a number in it") && Contains("row 3"));
    CHECK_THAT(refused("A;AA?"), Contains("base64 digit") && Contains("row 2, character 4"));
    CHECK_THAT(refused("Ag"), Contains("base64 digit"));
    CHECK_THAT(refused("gA"), Contains("needless"));
    CHECK_THAT(refused("A" + std::string(20, '/') + "B"), Contains("64 bits"));
    CHECK_THAT(refused("D"), Contains("leads to 0"));  // a step before the first
    CHECK_THAT(refused("A(1.5"), Contains("in parentheses"));
    CHECK_THAT(refused("A(1.5x)"), Contains("in parentheses"));
    CHECK_THAT(refused("A()"), Contains("in parentheses"));
    CHECK_THAT(refused(std::string(40, 'A')), Contains("ends here"));
    files::ColumnMemory fresh;
    const auto list = files::JsonDocument::parse("rows", "[[0]]");
    CHECK_THAT(refusal([&] { static_cast<void>(files::read_rows(list.root(), fresh)); }).what(),
               Contains("in one text"));
}
