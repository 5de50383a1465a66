#include "engine/cohort/cohort_pdf.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/cohort/cohort_plot.hpp"
#include "engine/language/words.hpp"
#include "engine/report/debrief_page.hpp"

namespace cohort {

namespace {

using report::kBody;
using report::kHead;
using report::kSmall;
using report::kTitle;
using view::kInk;
using view::kQuiet;

constexpr double kNameW = 148.0, kCellH = 23.0, kScenarioH = 27.0;  // points
constexpr std::size_t kColumns = 12;                                // of a page
constexpr double kCellType = 6.8;

/// Pages one after the other, each with its cautions.
class Sheets {
 public:
    Sheets(cairo_t* cairo, double width, double height)
        : cairo_(cairo), canvas_(cairo), page_{canvas_, width, height} {}

    [[nodiscard]] report::Page& page() { return page_; }
    [[nodiscard]] report::CairoCanvas& canvas() { return canvas_; }
    [[nodiscard]] bool room_for(double points) const { return page_.y + points <= page_.end(); }
    void end() {
        draw_cautions(page_);
        cairo_show_page(cairo_);
        page_.y = report::kMargin;
    }

 private:
    cairo_t* cairo_;
    report::CairoCanvas canvas_;
    report::Page page_;
};

/// "2026-03-01, 10:15 UTC"
std::string moment_words(const std::string& utc) {
    return utc.size() < 16 ? utc : utc.substr(0, 10) + ", " + utc.substr(11, 5) + " UTC";
}

std::string head_words(const Cohort& cohort) {
    return language::say("Learners: {}, scenarios: {}", cohort.people.size(), cohort.scenarios.size()) + ", " +
           moment_words(cohort.made_at);
}

void draw_rule_words(Sheets& sheets, const Cohort& cohort) {
    sheets.page().paragraph(
        language::say("Ready: a pass on {} consecutive unseen variants, not coached. An unseen variant is an anatomy "
                      "that the learner had not met before. It is one input to a supervisor's decision, never a "
                      "licence to treat.",
                      cohort.passes),
        kBody);
    sheets.page().gap(8.0);
}

/// Where the columns of the first table begin.
struct Columns {
    double title, passed, ready, points, plot, end;
};
Columns columns_of(const report::Page& page) {
    const double w = page.inner();
    return {page.left(), page.left() + 0.26 * w, page.left() + 0.46 * w, page.left() + 0.55 * w, page.left() + 0.75 * w,
            page.right()};
}

void draw_scenario_heads(Sheets& sheets) {
    report::Page& page = sheets.page();
    const Columns at = columns_of(page);
    const auto head = [&](double x, double end, const std::string& words) {
        return page.canvas.paragraph({x, page.y}, words, kSmall, kQuiet, end - x - 6.0);
    };
    double height = head(at.title, at.passed, language::tr("Scenario"));
    height = std::max(height, head(at.passed, at.ready, language::tr("Newest unseen variant, 95 % interval")));
    height = std::max(height, head(at.ready, at.points, language::tr("Ready")));
    height = std::max(height, head(at.points, at.plot, language::tr("Share of the points, middle half")));
    height = std::max(height, head(at.plot, at.end, language::tr("Each learner, 0 to 100 % of the points")));
    page.y += height + 3.0;
    page.rule();
}

double scenario_height(const report::Page& page, const ScenarioFigures& figures) {
    const Columns at = columns_of(page);
    const double title = page.canvas.paragraph_height(figures.title, kBody, at.passed - at.title - 6.0, true);
    const double passed = page.canvas.paragraph_height(passed_words(figures), kSmall, at.ready - at.passed - 6.0);
    const double shares = page.canvas.paragraph_height(shares_words(figures), kSmall, at.plot - at.points - 6.0);
    return std::max(kScenarioH, std::max({title, passed, shares}) + 8.0);
}

void draw_scenario_row(Sheets& sheets, const ScenarioFigures& figures, double height) {
    report::Page& page = sheets.page();
    const Columns at = columns_of(page);
    const double y = page.y + 4.0;
    page.canvas.paragraph({at.title, y}, figures.title, kBody, kInk, at.passed - at.title - 6.0, true);
    page.canvas.paragraph({at.passed, y}, passed_words(figures), kSmall, kInk, at.ready - at.passed - 6.0);
    page.canvas.paragraph({at.ready, y}, fmt::format("{}", figures.ready), kBody, kInk, at.points - at.ready - 6.0);
    page.canvas.paragraph({at.points, y}, shares_words(figures), kSmall, kInk, at.plot - at.points - 6.0);
    draw_shares(page.canvas, {at.plot, page.y + 2.0, at.end, page.y + kScenarioH - 4.0}, figures.shares);
    page.y += height;
}

void draw_scenarios(Sheets& sheets, const Cohort& cohort) {
    draw_scenario_heads(sheets);
    for (const ScenarioFigures& figures : cohort.scenarios) {
        const double height = scenario_height(sheets.page(), figures);
        if (!sheets.room_for(height)) {
            sheets.end();
            draw_scenario_heads(sheets);
        }
        draw_scenario_row(sheets, figures, height);
    }
    sheets.page().gap(4.0);
    if (!sheets.room_for(3.0 * kSmall)) sheets.end();
    sheets.page().paragraph(
        language::tr("Intervals: Wilson's score. The middle half lies between the quartiles; few learners make it "
                     "wide, and it tells of these learners, not of others."),
        kSmall, kQuiet);
    sheets.end();
}

/// Some of the scenarios, as columns of a page.
struct Span {
    std::size_t first = 0, count = 0;
};

double column_width(const report::Page& page, const Span& span) {
    constexpr double kWidest = 92.0;
    return std::min(kWidest, (page.inner() - kNameW) / static_cast<double>(span.count));
}

void draw_people_heads(Sheets& sheets, const Cohort& cohort, const Span& span) {
    report::Page& page = sheets.page();
    const double w = column_width(page, span);
    double height = 0.0;
    for (std::size_t s = 0; s < span.count; ++s)
        height =
            std::max(height, page.canvas.paragraph_height(cohort.scenarios[span.first + s].title, kCellType, w - 3.0));
    for (std::size_t s = 0; s < span.count; ++s)
        page.canvas.paragraph({page.left() + kNameW + w * static_cast<double>(s) + 1.5, page.y},
                              cohort.scenarios[span.first + s].title, kCellType, kQuiet, w - 3.0);
    page.y += height + 3.0;
    page.rule();
}

/// Names are of any length.
double person_height(const report::Page& page, const Person& person) {
    return std::max(kCellH, page.canvas.paragraph_height(person.name, kBody, kNameW - 6.0) + 4.0);
}

void draw_person(Sheets& sheets, const Cohort& cohort, const Span& span, const Person& person, double height) {
    report::Page& page = sheets.page();
    const double w = column_width(page, span);
    const double name = page.canvas.paragraph_height(person.name, kBody, kNameW - 6.0);
    page.canvas.paragraph({page.left(), page.y + 0.5 * (height - name)}, person.name, kBody, kInk, kNameW - 6.0);
    const double top = page.y + 0.5 * (height - kCellH);
    for (std::size_t s = 0; s < span.count; ++s) {
        const double x = page.left() + kNameW + w * static_cast<double>(s);
        draw_cell(page.canvas, {x, top, x + w, top + kCellH}, person.cells[span.first + s], cohort.passes, kCellType);
    }
    page.y += height;
}

void draw_people(Sheets& sheets, const Cohort& cohort) {
    for (std::size_t first = 0; first < cohort.scenarios.size(); first += kColumns) {
        const Span span{first, std::min(kColumns, cohort.scenarios.size() - first)};
        sheets.page().paragraph(cohort.title, kHead, kInk, true);
        sheets.page().paragraph(
            language::tr(
                "2 of 3: so many unseen variants passed in a row, of those that the rule asks for; below it the "
                "share of the points at the newest. Seen: coached attempts only, or variants met before. Empty: "
                "not tried."),
            kSmall, kQuiet);
        sheets.page().gap(6.0);
        draw_people_heads(sheets, cohort, span);
        for (const Person& person : cohort.people) {
            const double height = person_height(sheets.page(), person);
            if (!sheets.room_for(height)) {
                sheets.end();
                draw_people_heads(sheets, cohort, span);
            }
            draw_person(sheets, cohort, span, person, height);
        }
        sheets.end();
    }
}

}  // namespace

std::string cohort_pdf(const Cohort& cohort, report::Paper paper) {
    // on its side: many columns
    const double width = paper == report::Paper::a4 ? 841.89 : 792.0,
                 height = paper == report::Paper::a4 ? 595.276 : 612.0;
    std::string bytes;
    const report::Surface surface(cairo_pdf_surface_create_for_stream(report::append_bytes, &bytes, width, height));
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, cohort.title.c_str());
    cairo_status_t status = CAIRO_STATUS_SUCCESS;
    {
        const report::Cairo cairo(cairo_create(surface.get()));
        Sheets sheets(cairo.get(), width, height);
        sheets.page().paragraph(head_words(cohort), kHead, kQuiet);
        sheets.page().paragraph(cohort.title, kTitle, kInk, true);
        sheets.page().gap(3.0);
        draw_rule_words(sheets, cohort);
        if (cohort.scenarios.empty())
            sheets.page().paragraph(language::tr("No attempt is kept."), kBody), sheets.end();
        else
            draw_scenarios(sheets, cohort), draw_people(sheets, cohort);
        status = cairo_status(cairo.get());
    }
    report::finish_surface(surface.get(), status, "cohort");
    return bytes;
}

}  // namespace cohort
