#include "engine/files/csv.hpp"

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "tests/engine/files/files_support.hpp"

// Tables by RFC 4180, section 2: the examples there are the first tests here.

namespace {

using files::parse_csv;
using files_test::refusal;

std::vector<std::string> row_of(const files::CsvTable& table, std::size_t row) {
    std::vector<std::string> out;
    for (std::size_t c = 0; c < table.columns(); ++c) out.push_back(table.text(row, c));
    return out;
}

using Row = std::vector<std::string>;

}  // namespace

TEST_CASE("a table is read as RFC 4180 has it", "[files][csv]") {
    const std::string header = "field_name,field2,field3\r\n";
    SECTION("rule 1 and 2: CRLF between records, the last one may lack it") {
        for (const char* last : {"zzz,yyy,xxx\r\n", "zzz,yyy,xxx"}) {
            const files::CsvTable table = parse_csv(header + "aaa,bbb,ccc\r\n" + last, "t.csv");
            REQUIRE(table.rows() == 2);
            CHECK(row_of(table, 0) == Row{"aaa", "bbb", "ccc"});
            CHECK(row_of(table, 1) == Row{"zzz", "yyy", "xxx"});
        }
    }
    SECTION("rule 4: spaces are part of a field") {
        CHECK(row_of(parse_csv(header + " a, b ,c\r\n", "t.csv"), 0) == Row{" a", " b ", "c"});
    }
    SECTION("rule 5: with quotes or without") {
        const files::CsvTable table = parse_csv(header + "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "t.csv");
        CHECK(row_of(table, 0) == Row{"aaa", "bbb", "ccc"});
        CHECK(row_of(table, 1) == Row{"zzz", "yyy", "xxx"});
    }
    SECTION("rule 6: a line's end inside quotes; the next row knows its line") {
        const files::CsvTable table = parse_csv(header + "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n", "t.csv");
        CHECK(row_of(table, 0) == Row{"aaa", "b\r\nbb", "ccc"});
        CHECK(table.line(0) == 2);
        CHECK(table.line(1) == 4);
    }
    SECTION("rule 7: doubled quotes") {
        CHECK(row_of(parse_csv(header + "\"aaa\",\"b\"\"bb\",\"\"\"\"\r\n", "t.csv"), 0) == Row{"aaa", "b\"bb", "\""});
    }
    SECTION("LF alone, a byte-order mark, empty fields") {
        const files::CsvTable table = parse_csv("\xef\xbb\xbfone,two\n,\n\"\",x\n", "t.csv");
        CHECK(table.header() == Row{"one", "two"});
        CHECK(row_of(table, 0) == Row{"", ""});
        CHECK(row_of(table, 1) == Row{"", "x"});
    }
    SECTION("a header alone") { CHECK(parse_csv("one,two", "t.csv").rows() == 0); }
}

TEST_CASE("what is no table is refused by its place", "[files][csv]") {
    const auto place = [](const std::string& text) { return refusal([&] { (void)parse_csv(text, "t.csv"); }).place(); };
    CHECK(place("") == "");
    CHECK(place("a,,c\n1,2,3\n") == "line 1, column 2");
    CHECK(place("a,b,a\n") == "line 1, column 3");
    CHECK(place("a,b\n1,2\n1\n") == "line 3");           // too few
    CHECK(place("a,b\n1,2,3\n") == "line 2");            // too many
    CHECK(place("a,b\n1,2\n\n") == "line 3");            // an empty line
    CHECK(place("a,b\n1,2\"\n") == "line 2, column 2");  // a quote inside
    CHECK(place("a,b\n\"1\"2,3\n") == "line 2, column 1");
    CHECK(place("a,b\n1,2\n\"1,2\n3,4\n") == "line 3, column 1");  // told where it was opened
    CHECK(place("a,b\n1\r,2\n") == "line 2, column 1");
    CHECK(place("a,b\n\"1\"\r,2\n") == "line 2, column 1");
    CHECK(place(std::string("a,b\n1,\0\n", 8)) == "byte 6");
    CHECK(place("a,b\n\xff,1\n") == "byte 4");
    std::string wide = "c0";
    for (int c = 1; c <= 1024; ++c) wide += ",c" + std::to_string(c);
    CHECK(place(wide) == "line 1, column 1025");
    const files_test::Folder folder;
    CHECK(refusal([&] { (void)files::read_csv(folder / "none.csv"); }).file() == (folder / "none.csv").string());
}

TEST_CASE("a field that is not what is asked for names line, column, value and range", "[files][csv]") {
    const files::CsvTable table =
        parse_csv("learner,score\nA, 4.5 \n\"\",\"4,5\"\nB,nan\nC,101\nD,7\nE,1e400\nF,\n", "marks.csv");
    CHECK(table.number(0, 1, 0.0, 100.0) == 4.5);
    CHECK(table.whole(4, 1, 0, 10) == 7);
    CHECK(table.name(0, 0) == "A");
    CHECK(table.column("score") == 1);
    CHECK_FALSE(table.find("mark"));
    const auto number = [&](std::size_t row) { return refusal([&] { (void)table.number(row, 1, 0.0, 100.0); }); };
    CHECK(std::string(number(1).what()) ==
          "marks.csv: line 3, column 2 (score): \"4,5\" is not accepted; accepted: a number from 0 to 100, with a "
          "decimal "
          "point");
    for (const std::size_t row : {2U, 3U, 5U, 6U})
        CHECK(number(row).place().find("column 2 (score)") != std::string::npos);
    CHECK(refusal([&] { (void)table.whole(0, 1, 0, 10); }).accepted() == "a whole number from 0 to 10");
    CHECK(refusal([&] { (void)table.whole(4, 1, 0, 6); }).value() == "\"7\"");
    CHECK(refusal([&] { (void)table.name(1, 0); }).place() == "line 3, column 1 (learner)");
    const files::FileError missing = refusal([&] { (void)table.column("mark"); });
    CHECK(missing.value().find("learner, score") != std::string::npos);
    CHECK(missing.accepted() == "a column named mark");
}

TEST_CASE("what is written is read again", "[files][csv]") {
    const Row header{"name", "a, \"b\""};
    CHECK(files::csv_text(header, std::vector<Row>{{"x", "1\n2"}}) == "name,\"a, \"\"b\"\"\"\r\nx,\"1\n2\"\r\n");
    CHECK(files::csv_text(Row{"only"}, std::vector<Row>{{""}}) == "only\r\n\"\"\r\n");
    // random fields of the characters that matter
    sim::Random random(4180);
    constexpr std::string_view kCharacters = "ab ,\"\r\n;";
    std::vector<Row> rows;
    for (int r = 0; r < 500; ++r) {
        Row row(2);
        for (std::string& field : row)
            for (std::uint64_t n = random.next() % 7; n > 0; --n)
                field += kCharacters[random.next() % kCharacters.size()];
        rows.push_back(row);
    }
    const files::CsvTable back = parse_csv(files::csv_text(header, rows), "t.csv");
    CHECK(back.header() == header);
    REQUIRE(back.rows() == rows.size());
    for (std::size_t r = 0; r < rows.size(); ++r) CHECK(row_of(back, r) == rows[r]);

    CHECK_THROWS_AS(files::csv_text(Row{}, std::vector<Row>{}), sim::InputError);
    CHECK_THROWS_AS(files::csv_text(Row{"a", "a"}, std::vector<Row>{}), sim::InputError);
    CHECK_THROWS_AS(files::csv_text(Row{"a", ""}, std::vector<Row>{}), sim::InputError);
    CHECK_THROWS_AS(files::csv_text(Row{"a", "b"}, std::vector<Row>{{"1"}}), sim::InputError);
}

TEST_CASE("damaged tables are refused or read, and never crash", "[files][csv]") {
    const std::string good = "learner,score\r\n\"A, \"\"x\"\"\",4.5\r\nB,\"1\r\n2\"\r\n";
    sim::Random random(7);
    int refused = 0;
    for (int i = 0; i < 3000; ++i) {
        std::string bad = good;
        for (std::uint64_t n = 1 + random.next() % 3; n > 0; --n)
            bad[random.next() % bad.size()] = static_cast<char>(random.next());
        bad.resize(random.next() % (bad.size() + 1));
        try {
            const files::CsvTable table = parse_csv(bad, "t.csv");
            for (std::size_t r = 0; r < table.rows(); ++r) CHECK(row_of(table, r).size() == table.columns());
        } catch (const files::FileError&) {
            ++refused;
        }
    }
    CHECK(refused > 1000);
}
