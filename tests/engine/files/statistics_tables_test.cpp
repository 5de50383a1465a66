#include "engine/files/statistics_tables.hpp"

#include <fmt/format.h>

#include "tests/engine/files/files_support.hpp"

namespace {

using namespace files;
using files_test::refusal;

CsvTable table(const std::string& text) { return parse_csv(text, "t.csv"); }

}  // namespace

TEST_CASE("a table of names and numbers", "[files][statistics]") {
    const NamedNumbers out = read_named_numbers(table("target,j1,j2\nA,1,2\nB,3,4.5\n"), 0, 10);
    CHECK(out.rows == std::vector<std::string>{"A", "B"});
    CHECK(out.columns == std::vector<std::string>{"j1", "j2"});
    CHECK(out.values(1, 1) == 4.5);
    const auto place = [](const std::string& text) {
        return refusal([&] { (void)read_named_numbers(table(text), 0, 10); }).place();
    };
    CHECK(place("target,j1\nA,11\n") == "line 2, column 2 (j1)");
    CHECK(place("target,j1\nA,\n") == "line 2, column 2 (j1)");
    CHECK(place("target,j1\nA,1\nA,2\n") == "line 3, column 1 (target)");
    CHECK(place("target,j1\n\"\",1\n") == "line 2, column 1 (target)");
    CHECK(place("target\nA\n") == "line 1");
    CHECK(place("target,j1\n") == "");
}

TEST_CASE("a cube of marks", "[files][statistics]") {
    SECTION("persons by raters, rows in any order") {
        const NamedCube out = read_mark_cube(table("rater,mark,person\nr1,1,p1\nr2,4,p2\nr2,2,p1\nr1,3,p2\n"), false);
        CHECK(out.cube.persons == 2);
        CHECK(out.cube.raters == 2);
        CHECK(out.cube.cases == 1);
        CHECK(out.cases.empty());
        CHECK(out.cube.marks == std::vector<double>{1, 2, 3, 4});
    }
    const std::string crossed =
        "person,case,rater,mark\np,c,r,1\np,c,s,2\np,d,r,3\np,d,s,4\nq,c,r,5\nq,c,s,6\nq,d,r,7\nq,d,s,8\n";
    SECTION("crossed") {
        const NamedCube out = read_mark_cube(table(crossed), false);
        CHECK(out.cube.marks == std::vector<double>{1, 2, 3, 4, 5, 6, 7, 8});
        CHECK(out.cases == std::vector<std::string>{"c", "d"});
    }
    SECTION("raters of their own in each case") {
        std::string nested = files_test::replaced(crossed, "p,d,r,3", "p,d,t,3");
        CHECK(refusal([&] { (void)read_mark_cube(table(nested), true); }).value() == "case d with 3 raters");
        nested = files_test::replaced(nested, "q,d,r,7", "q,d,t,7");
        const NamedCube out = read_mark_cube(table(nested), true);
        CHECK(out.cube.raters == 2);
        CHECK(out.cube.marks == std::vector<double>{1, 2, 3, 4, 5, 6, 7, 8});
        CHECK(refusal([&] { (void)read_mark_cube(table(nested), false); }).value() ==
              "no mark of person p by rater t on case c");
    }
    SECTION("holes, doubles, columns that are not there") {
        const auto refused = [](const std::string& text, bool nested = false) {
            return refusal([&] { (void)read_mark_cube(table(text), nested); });
        };
        CHECK(refused(files_test::replaced(crossed, "q,d,s,8\n", "")).value() ==
              "no mark of person q by rater s on case d");
        CHECK(refused(crossed + "p,c,r,9\n").place() == "line 10, column 4 (mark)");
        CHECK(refused("person,rater,mark\np,r,1\nq,r,x\n").place() == "line 3, column 3 (mark)");
        CHECK(refused("person,rater,score\np,r,1\n").accepted() == "a column named mark");
        CHECK(refused("person,rater,mark\np,r,1\n", true).accepted() == "a column named case");
        std::string sparse = "person,rater,mark\n";
        for (int i = 0; i < 1000; ++i) sparse += fmt::format("p{},r{},1\n", i, i);
        CHECK(refused(sparse).value() == "1000 rows for 1000000 combinations");
    }
}

TEST_CASE("pairs of grades, groups, judges", "[files][statistics]") {
    const statistics::Matrix counts = read_grade_pairs(table("first,second\n1,1\n3,2\n3,2\n"), 3);
    CHECK(counts(2, 1) == 2.0);
    CHECK(counts.sum() == 3.0);
    CHECK(refusal([] { (void)read_grade_pairs(table("first,second\n1,4\n"), 3); }).place() ==
          "line 2, column 2 (second)");
    CHECK(refusal([] { (void)read_grade_pairs(table("first,second\n1.5,2\n"), 3); }).place() ==
          "line 2, column 1 (first)");

    const std::string groups = "group,stratum,pass,score\npad,low,1,5\nkeys,low,0,6\nmouse,low,1,7\npad,high,0,8\n";
    const GroupTable out = read_groups(table(groups), "pad");
    CHECK(out.others == std::vector<std::string>{"keys", "mouse"});
    REQUIRE(out.strata.size() == 2);
    CHECK(out.strata[0].focal_pass == 1.0);
    CHECK(out.strata[0].reference_pass == 1.0);
    CHECK(out.strata[0].reference_fail == 1.0);
    CHECK(out.strata[1].focal_fail == 1.0);
    CHECK(out.stratum_names == std::vector<std::string>{"low", "high"});
    CHECK(out.focal_scores == std::vector<double>{5, 8});
    CHECK(read_groups(table("group,score\na,1\nb,2\n"), "a").strata.empty());
    CHECK(read_groups(table("group,pass\na,1\nb,0\n"), "a").focal_scores.empty());
    CHECK(refusal([&] { (void)read_groups(table(groups), "pen"); }).accepted() == "one of pad, keys, mouse");
    CHECK(refusal([&] { (void)read_groups(table("group,pass\na,1\n"), "a"); }).accepted() == "two groups");
    CHECK(refusal([&] { (void)read_groups(table("group,pass\na,2\nb,1\n"), "a"); }).place() ==
          "line 2, column 2 (pass)");
    CHECK(refusal([&] { (void)read_groups(table("group\na\nb\n"), "a"); }).accepted() == "a column named pass");

    const std::string judges = "judge,least_cut,most_cut,least_fail,most_fail\nA,50,60,0.1,0.4\n";
    CHECK(read_hofstee_judges(table(judges))[0].most_fail == 0.4);
    CHECK(refusal([&] { (void)read_hofstee_judges(table(files_test::replaced(judges, "60", "40"))); }).place() ==
          "line 2, column 3 (most_cut)");
    CHECK(refusal([&] { (void)read_hofstee_judges(table(files_test::replaced(judges, "0.4", "1.4"))); }).place() ==
          "line 2, column 5 (most_fail)");
    CHECK(read_numbers(table("score,x\n1,a\n2,b\n"), "score", 0, 5) == std::vector<double>{1, 2});
    CHECK(refusal([] { (void)read_numbers(table("score\n9\n"), "score", 0, 5); }).place() ==
          "line 2, column 1 (score)");
}

TEST_CASE("series of learners", "[files][statistics]") {
    const auto out = read_series(table("learner,attempt,score\nA,2,20\nB,1,5\nA,1,10\nA,7,70\n"), "score", 0, 100);
    REQUIRE(out.size() == 2);
    CHECK(out[0].learner == "A");
    CHECK(out[0].attempts == std::vector<double>{1, 2, 7});
    CHECK(out[0].values == std::vector<double>{10, 20, 70});
    CHECK(refusal([] { (void)read_series(table("learner,attempt,score\nA,1,1\nA,1,2\n"), "score", 0, 9); }).place() ==
          "line 3, column 2 (attempt)");
    CHECK(refusal([] { (void)read_series(table("learner,attempt,score\nA,0,1\n"), "score", 0, 9); }).place() ==
          "line 2, column 2 (attempt)");
    CHECK(read_passes(table("learner,attempt,pass\nA,1,1\nA,2,0\n"))[0].values == std::vector<double>{1, 0});
    CHECK(refusal([] { (void)read_passes(table("learner,attempt,pass\nA,1,0.5\n")); }).place() ==
          "line 2, column 3 (pass)");
}
