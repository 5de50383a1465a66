#include "engine/cohort/cohort.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>

#include "engine/cohort/cohort_pdf.hpp"
#include "tests/support/pdf_text.hpp"

using Catch::Matchers::Contains;
using cohort::Standing;
using records::BoardRow;
using support::squeezed;

namespace {

BoardRow row(const std::string& learner, const std::string& scenario, std::optional<double> share, bool passed,
             std::int64_t in_a_row, bool ready = false) {
    BoardRow out{.learner_id = "id of " + learner, .learner = learner, .scenario = scenario, .attempts = 4};
    out.last_unseen = records::UnseenAttempt{passed ? "pass" : "fail", share, passed};
    out.unseen = 3;
    out.in_a_row = in_a_row;
    out.ready = ready;
    return out;
}

/// Ada is ready at one scenario, Bob on the way, Cleo not; Dan was only shown it; Eve made nothing.
records::Board made_board() {
    records::Board board;
    board.rows = {row("Ada", "artery", 0.91, true, 3, true), row("Ada", "flat", 0.70, true, 1),
                  row("Bob", "flat", 0.82, true, 2), row("Cleo", "flat", 0.41, false, 0)};
    BoardRow shown{.learner_id = "id of Dan", .learner = "Dan", .scenario = "flat", .attempts = 2};
    board.rows.push_back(shown);
    board.no_attempts = {"Eve"};
    return board;
}

std::string title_of(const std::string& id) { return id == "artery" ? "Skirt the artery" : "A flat pass"; }

const cohort::ScenarioFigures& figures_of(const cohort::Cohort& all, const std::string& id) {
    for (const cohort::ScenarioFigures& one : all.scenarios)
        if (one.id == id) return one;
    FAIL("no figures of " << id);
    throw std::logic_error("unreachable");
}

}  // namespace

// Newcombe 1998, Stat Med 17:857-72, table I, method 3 (score, without correction), from memory.
TEST_CASE("the interval of a share is Wilson's", "[cohort]") {
    struct Published {
        std::int64_t count, of;
        double low, high;
    };
    for (const Published& one : {Published{81, 263, 0.2553, 0.3662}, Published{15, 148, 0.0624, 0.1605},
                                 Published{0, 20, 0.0, 0.1611}, Published{1, 29, 0.0061, 0.1718}}) {
        INFO(one.count << " of " << one.of);
        const statistics::Interval found = cohort::share_interval(one.count, one.of);
        CHECK(found.low == Approx(one.low).margin(5e-5));
        CHECK(found.high == Approx(one.high).margin(5e-5));
    }
    // everybody, and its mirror
    CHECK(cohort::share_interval(20, 20).high == Approx(1.0));
    CHECK(cohort::share_interval(20, 20).low == Approx(1.0 - 0.1611).margin(5e-5));
}

TEST_CASE("a cohort is learners by scenarios, and what each scenario tells", "[cohort]") {
    const cohort::Cohort all = cohort::cohort_of(made_board(), title_of, {3});
    REQUIRE(all.people.size() == 5);
    REQUIRE(all.scenarios.size() == 2);
    CHECK(all.scenarios[0].title == "A flat pass");
    const auto cell = [&](std::size_t person, std::size_t scenario) { return all.people[person].cells[scenario]; };
    CHECK(all.people[4].name == "Eve");
    CHECK(cell(0, 1).standing == Standing::ready);
    CHECK(cell(0, 0).standing == Standing::passing);
    CHECK(cell(1, 1).standing == Standing::untried);
    CHECK(cell(2, 0).standing == Standing::not_passed);
    CHECK(cell(3, 0).standing == Standing::shown);
    CHECK(cell(4, 0).standing == Standing::untried);
    CHECK(cohort::cell_words(cell(1, 0), all.passes) == "2 of 3");
    CHECK(cohort::cell_words(cell(4, 0), all.passes).empty());

    // who was only shown a variant, or made nothing, is not counted as having tried
    const cohort::ScenarioFigures& flat = figures_of(all, "flat");
    CHECK(flat.tried == 3);
    CHECK(flat.passed == 2);
    CHECK(flat.ready == 0);
    CHECK(flat.shares == std::vector<double>{0.41, 0.70, 0.82});
    CHECK(flat.passed_share->low == Approx(cohort::share_interval(2, 3).low));
    CHECK_THAT(cohort::passed_words(flat), Contains("2 of 3 passed"));
    CHECK_THAT(cohort::shares_words(flat), Contains("median 70 %"));
    CHECK(figures_of(all, "artery").ready == 1);
}

TEST_CASE("nobody, and a scenario that nobody tried, have words", "[cohort]") {
    const cohort::Cohort none = cohort::cohort_of({}, title_of, {3});
    CHECK(none.people.empty());
    records::Board board;
    board.rows.push_back({.learner_id = "d", .learner = "Dan", .scenario = "flat", .attempts = 1});
    const cohort::Cohort shown = cohort::cohort_of(board, title_of, {3});
    CHECK(!shown.scenarios[0].passed_share);
    CHECK(cohort::passed_words(shown.scenarios[0]) == "nobody tried an unseen variant");
    CHECK(cohort::shares_words(shown.scenarios[0]).empty());
    const auto path = support::written_pdf(cohort::cohort_pdf(none), "cohort_none.pdf");
    CHECK_THAT(squeezed(support::text_of_pdf(path)), Contains("Noattemptiskept"));
}

TEST_CASE("a cohort on paper holds every learner, scenario and caution", "[cohort][pdf]") {
    records::Board board;
    for (int person = 0; person < 40; ++person)
        for (int scenario = 0; scenario < 14; ++scenario)
            board.rows.push_back(row(fmt::format("Learner {:02}", person), fmt::format("scenario_{:02}", scenario),
                                     0.4 + 0.01 * person, (person + scenario) % 3 > 0, (person + scenario) % 4,
                                     (person + scenario) % 4 == 3));
    cohort::Cohort all = cohort::cohort_of(board, [](const std::string& id) { return "Title of " + id; }, {3});
    all.title = "Spring session";
    all.made_at = "2026-03-01T10:15:00Z";
    const auto path = support::written_pdf(cohort::cohort_pdf(all), "cohort.pdf");
    const std::string text = support::text_of_pdf(path), words = squeezed(text);
    CHECK_THAT(words, Contains("Springsession"));
    CHECK_THAT(words, Contains("Learners:40,scenarios:14"));
    for (const cohort::Person& person : all.people) CHECK_THAT(words, Contains(squeezed(person.name)));
    for (const cohort::ScenarioFigures& one : all.scenarios) CHECK_THAT(words, Contains(squeezed(one.title)));
    // each page says what this is not
    const auto pages = std::count(text.begin(), text.end(), '\f');
    CHECK(pages >= 5);
    std::ptrdiff_t cautions = 0;
    for (std::size_t at = words.find("notamedicaldevice"); at != std::string::npos;
         at = words.find("notamedicaldevice", at + 1))
        ++cautions;
    CHECK(cautions == pages);
}
