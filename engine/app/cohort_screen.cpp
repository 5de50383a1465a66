#include <fmt/format.h>

#include <algorithm>

#include "engine/app/chips.hpp"
#include "engine/app/cohort_desk.hpp"
#include "engine/app/plot_canvas.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/cohort/cohort_plot.hpp"
#include "engine/language/words.hpp"

namespace app {

namespace {

constexpr const char* kOneInput = "One input to a supervisor's decision, never a licence to treat.";
constexpr float kColumnW = 96.0f, kRowH = 42.0f, kNameW = 170.0f, kSideW = 340.0f;
constexpr std::size_t kMostLoginBytes = 64, kMostPassphraseBytes = 1024;

view::CanvasRect canvas_rect(const Rect& rect) {
    return {static_cast<double>(rect.x), static_cast<double>(rect.y), static_cast<double>(rect.right()),
            static_cast<double>(rect.bottom())};
}

/// What people wrote: names, titles.
void written(Ui& ui, Face face, float x, float y, unsigned ink, const std::string& text, float room) {
    ui.set_verbatim(true);
    ui.text(face, x, y, ink, text, room);
    ui.set_verbatim(false);
}

/// As much of it as has room: names are of any length.
std::string fitting(const Ui& ui, Face face, const std::string& text, float room) {
    std::string out = text;
    while (!out.empty() && ui.text_width(face, out + (out.size() < text.size() ? "..." : "")) > room) {
        do out.pop_back();
        while (!out.empty() && (static_cast<unsigned char>(out.back()) & 0xC0U) == 0x80U);
    }
    return out.size() < text.size() ? out + "..." : out;
}

// -- before the store is open

float draw_words(Ui& ui, float x, float y, float w, unsigned ink, const std::string& text) {
    return y + ui.paragraph(Face::text14, x, y, w, ink, text) + ui.px(12.0f);
}

void draw_absent(Ui& ui, const Rect& column, float y, CohortDesk& desk) {
    y = draw_words(ui, column.x, y, column.w, theme::kInk,
                   language::say("No records are kept at {} yet.", desk.place()));
    y = draw_words(
        ui, column.x, y, column.w, theme::kSecondInk,
        "A school's records hold learners, their attempts and what was decided about them, in one file or in "
        "a PostgreSQL database that --records names. Accounts with roles are made with pk records account; "
        "until there is one, whoever may open the file sees all of it.");
    const std::string label = language::tr("Begin records here");
    if (ui.button("cohort.begin", {column.x, y, ui.text_width(Face::bold18, label) + ui.px(36.0f), ui.px(40.0f)}, label,
                  "", true))
        desk.begin_store();
}

void draw_opening(Ui& ui, const Rect& column, float y, CohortDesk& desk) {
    if (desk.busy()) {
        draw_words(ui, column.x, y, column.w, theme::kInk, language::say("Opening {} ...", desk.place()));
        return;
    }
    y = draw_words(ui, column.x, y, column.w, theme::kInk, language::say("{} could not be opened.", desk.place()));
    const std::string label = language::tr("Try again");
    if (ui.button("cohort.again", {column.x, y, button_width(ui, label, "") + ui.px(20.0f), ui.px(38.0f)}, label, "",
                  false))
        desk.open();
}

void draw_log_in(Ui& ui, const Rect& column, float y, CohortDesk& desk) {
    const float w = std::min(column.w, ui.px(420.0f)), h = ui.px(38.0f);
    const auto field = [&](const char* name, const char* label, std::string& text, std::size_t most, bool hidden) {
        ui.text(Face::text14, column.x, y, theme::kSecondInk, label, w);
        y += ui.line_height(Face::text14) + ui.px(7.0f);
        const bool entered = ui.field(name, {column.x, y, w, h}, text, most, hidden);
        y += h + ui.px(10.0f);
        return entered;
    };
    y = draw_words(ui, column.x, y, column.w, theme::kInk, "These records have accounts. Who are you?");
    static_cast<void>(field("cohort.login", "Log-in", desk.login, kMostLoginBytes, false));
    const bool entered = field("cohort.passphrase", "Pass phrase", desk.passphrase, kMostPassphraseBytes, true);
    const bool whole = !desk.login.empty() && !desk.passphrase.empty() && !desk.busy();
    if (ui.button("cohort.log_in", {column.x, y, ui.px(160.0f), ui.px(40.0f)}, "Log in", "Enter", true, whole) ||
        (entered && whole))
        desk.log_in();
}

// -- the cohort

struct Columns {
    std::size_t first = 0, count = 0;
    float width = 0.0f;
};

Columns columns_in(const Ui& ui, const Rect& grid, const CohortDesk& desk) {
    const std::size_t all = desk.cohort().scenarios.size();
    const float room = grid.w - ui.px(kNameW);
    const auto fit = static_cast<std::size_t>(std::max(1.0f, std::floor(room / ui.px(kColumnW))));
    Columns out{std::min(desk.first_column(), all > fit ? all - fit : 0), std::min(fit, all), 0.0f};
    out.width = std::min(room / static_cast<float>(std::max<std::size_t>(1, out.count)), ui.px(1.4f * kColumnW));
    return out;
}

/// Titles of the scenarios that are shown; each may be pressed. @return where they end
float draw_heads(Ui& ui, const Rect& grid, float y, const Columns& columns, const CohortDesk& desk) {
    float height = 0.0f;
    const float room = columns.width - ui.px(8.0f);
    for (std::size_t k = 0; k < columns.count; ++k)
        height =
            std::max(height, ui.paragraph_height(Face::text14, room, desk.cohort().scenarios[columns.first + k].title));
    for (std::size_t k = 0; k < columns.count; ++k) {
        const std::string& title = desk.cohort().scenarios[columns.first + k].title;
        ui.paragraph(Face::text14, grid.x + ui.px(kNameW) + columns.width * static_cast<float>(k) + ui.px(4.0f),
                     y + height - ui.paragraph_height(Face::text14, room, title), room, theme::kSecondInk, title);
    }
    y += height + ui.px(5.0f);
    ui.line({grid.x, y}, {grid.right(), y}, theme::kLine, ui.px(1.0f));
    return y + ui.px(2.0f);
}

void draw_person(Ui& ui, const Rect& grid, float y, const Columns& columns, std::size_t number, CohortDesk& desk) {
    const cohort::Person& person = desk.cohort().people[number];
    const float h = ui.px(kRowH), text_y = y + 0.5f * (h - ui.line_height(Face::bold14));
    written(ui, Face::bold14, grid.x + ui.px(4.0f), text_y, theme::kInk,
            fitting(ui, Face::bold14, person.name, ui.px(kNameW - 14.0f)), ui.px(kNameW - 10.0f));
    PlotCanvas canvas(ui);
    for (std::size_t k = 0; k < columns.count; ++k) {
        const std::size_t scenario = columns.first + k;
        const cohort::Cell& cell = person.cells[scenario];
        const Rect box{grid.x + ui.px(kNameW) + columns.width * static_cast<float>(k), y, columns.width, h};
        if (cell.standing != cohort::Standing::untried) {
            bool over = false;
            const bool pressed = ui.area(fmt::format("cohort.cell.{}.{}", number + 1, scenario + 1), box, &over);
            cohort::draw_cell(canvas, canvas_rect(box), cell, desk.cohort().passes,
                              static_cast<double>(ui.font_size(Face::text14)));
            const auto& chosen = desk.selection();
            if (over || (chosen && chosen->person == number && chosen->scenario == scenario))
                ui.frame(box, theme::kInk, ui.px(3.0f), ui.px(2.0f));
            if (pressed) desk.select(number, scenario);
        }
    }
}

void draw_grid(Ui& ui, const Rect& where, CohortDesk& desk) {
    const cohort::Cohort& all = desk.cohort();
    const float bar = ui.px(14.0f);
    const Rect grid{where.x, where.y, where.w - bar, where.h};
    const Columns columns = columns_in(ui, grid, desk);
    const float top = draw_heads(ui, grid, where.y, columns, desk);
    const Rect inside = ui.begin_scroll("cohort.people", {where.x, top, where.w, where.bottom() - top});
    const float h = ui.px(kRowH);
    for (std::size_t i = 0; i < all.people.size(); ++i) {
        const float y = inside.y + h * static_cast<float>(i);
        if (y + h >= top && y <= where.bottom()) draw_person(ui, grid, y, columns, i, desk);
    }
    ui.end_scroll(inside.y + h * static_cast<float>(all.people.size()));
}

/// Other scenarios, where not all have room.
void draw_column_steps(Ui& ui, float right, float y, const Rect& grid, CohortDesk& desk) {
    const Columns columns = columns_in(ui, grid, desk);
    const std::size_t all = desk.cohort().scenarios.size();
    if (columns.count >= all) return;
    const float w = ui.px(44.0f), h = ui.px(34.0f), gap = ui.px(6.0f), back_x = right - 2.0f * w - gap;
    if (ui.button("cohort.columns_on", {right - w, y, w, h}, ">", "", false, columns.first + columns.count < all))
        desk.show_columns(std::min(columns.first + columns.count, all - columns.count));
    if (ui.button("cohort.columns_back", {back_x, y, w, h}, "<", "", false, columns.first > 0))
        desk.show_columns(columns.first > columns.count ? columns.first - columns.count : 0);
    if (ui.compact()) return;  // no room for words
    const std::string words =
        language::say("Scenarios {} to {} of {}", columns.first + 1, columns.first + columns.count, all);
    const float words_w = ui.text_width(Face::text14, words) + 1.0f;
    ui.text(Face::text14, back_x - gap - words_w, y + 0.5f * (h - ui.line_height(Face::text14)), theme::kSecondInk,
            words, words_w);
}

/// What each scenario tells of all.
float draw_figures(Ui& ui, float x, float y, float w, const CohortDesk& desk) {
    PlotCanvas canvas(ui);
    for (const cohort::ScenarioFigures& figures : desk.cohort().scenarios) {
        y += ui.paragraph(Face::bold14, x, y, w, theme::kInk, figures.title) + ui.px(1.0f);
        y += ui.paragraph(Face::text14, x, y, w, theme::kInk, cohort::passed_words(figures));
        const std::string shares = cohort::shares_words(figures);
        if (!shares.empty()) {
            y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, shares) + ui.px(3.0f);
            cohort::draw_shares(canvas, canvas_rect({x + ui.px(4.0f), y, w - ui.px(8.0f), ui.px(26.0f)}),
                                figures.shares);
            y += ui.px(26.0f);
        }
        y += ui.px(12.0f);
    }
    return y;
}

/// @return of each attempt; nothing where it is not finished
std::vector<std::optional<double>> shares_of(const CohortDesk::Selection& chosen) {
    std::vector<std::optional<double>> out;
    for (const records::AttemptRow& row : chosen.attempts) {
        const bool counts = row.facts.finished && row.facts.of > 0.0;
        out.push_back(counts ? std::optional(row.facts.points / row.facts.of) : std::nullopt);
    }
    return out;
}

/// By verdict and pass mark, as the board has it.
std::string result_words(const records::AttemptFacts& facts, bool below_mark) {
    if (!facts.finished) return language::tr("unfinished");
    if (facts.verdict == "pass" && below_mark) return language::tr("pass, below the pass mark");
    return language::tr(facts.verdict);
}

void draw_attempt(Ui& ui, float x, float& y, float w, std::size_t number, const records::AttemptFacts& facts,
                  const std::optional<double>& mark) {
    const float r = ui.px(6.0f), line = ui.line_height(Face::text14);
    const bool below_mark = mark && facts.of > 0.0 && facts.points / facts.of < *mark;
    const bool passed = facts.finished && facts.verdict == "pass" && !below_mark;
    ui.mark(!facts.finished ? Mark::neutral : passed ? Mark::good : Mark::caution, {x + r, y + 0.5f * line}, r);
    const std::string share =
        facts.finished && facts.of > 0.0 ? fmt::format("{:.0f} %", 100.0 * facts.points / facts.of) : std::string();
    const float share_w = ui.text_width(Face::bold14, "100 %") + ui.px(4.0f), left = ui.px(18.0f);
    ui.text(Face::text14, x + left, y, theme::kInk,
            fmt::format("{}. {}, {}", number, facts.started_at.substr(0, 10), language::tr(facts.mode)),
            w - left - share_w);
    ui.text(Face::bold14, x + w, y, theme::kInk, share, share_w, Align::right);
    y += line + ui.px(1.0f);
    const std::string aids = facts.aids_asked > 0 ? ", " + language::say("aids asked for: {}", facts.aids_asked) : "";
    y += ui.paragraph(Face::text14, x + left, y, w - left, theme::kSecondInk,
                      result_words(facts, below_mark) + ", " + language::say("variant {}", facts.seed) + aids) +
         ui.px(6.0f);
}

/// One learner at one scenario. @return where it ends
float draw_selection(Ui& ui, float x, float y, float w, CohortDesk& desk) {
    const CohortDesk::Selection& chosen = *desk.selection();
    const cohort::Person& person = desk.cohort().people[chosen.person];
    const cohort::ScenarioFigures& scenario = desk.cohort().scenarios[chosen.scenario];
    const bool back = ui.button("cohort.all", {x, y, w, ui.px(34.0f)}, "All learners", "", false);
    y += ui.px(34.0f + 10.0f);
    written(ui, Face::bold18, x, y, theme::kInk, fitting(ui, Face::bold18, person.name, w), w + 1.0f);
    y += ui.line_height(Face::bold18) + ui.px(2.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, scenario.title) + ui.px(8.0f);
    if (!chosen.read) y = draw_words(ui, x, y, w, theme::kSecondInk, "Reading ...");
    if (!chosen.attempts.empty()) {
        PlotCanvas canvas(ui);
        cohort::draw_attempts(canvas, canvas_rect({x, y, w, ui.px(130.0f)}), shares_of(chosen), chosen.mark,
                              static_cast<double>(ui.font_size(Face::text14)));
        y += ui.px(134.0f);
        std::string words = language::tr("Share of the points, attempt by attempt.");
        if (chosen.mark) words += " " + language::say("Across: the pass mark, {:.0f} %.", 100.0 * *chosen.mark);
        y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, words) + ui.px(10.0f);
    }
    for (std::size_t i = chosen.attempts.size(); i-- > 0;)
        draw_attempt(ui, x, y, w, i + 1, chosen.attempts[i].facts, chosen.mark);
    if (back) desk.unselect();  // from here on there is none
    return y;
}

void draw_side(Ui& ui, const Rect& side, CohortDesk& desk) {
    ui.box(side, theme::kPaper, ui.px(8.0f));
    ui.frame(side, theme::kLine, ui.px(8.0f), ui.px(1.0f));
    const float pad = ui.px(14.0f);
    const Rect inside =
        ui.begin_scroll(desk.selection() ? "cohort.one" : "cohort.figures",
                        {side.x + pad, side.y + ui.px(6.0f), side.w - pad - ui.px(4.0f), side.h - ui.px(12.0f)});
    const float w = inside.w - ui.px(8.0f), y = inside.y + ui.px(6.0f);
    const float end =
        desk.selection() ? draw_selection(ui, inside.x, y, w, desk) : draw_figures(ui, inside.x, y, w, desk);
    ui.end_scroll(end + ui.px(6.0f));
}

std::string who_words(const CohortDesk& desk) {
    if (desk.login.empty()) return language::tr("whoever may open the file");
    return desk.login + ", " + language::tr(std::string(records::name_of(desk.actor().role)));
}

/// Whose attempts, and what can be done with them. @return where it ends
float draw_tools(Ui& ui, float x, float y, float w, const Rect& grid, CohortDesk& desk) {
    const float h = ui.px(34.0f), gap = ui.px(8.0f);
    float at = x;
    const auto tool = [&](const char* name, const std::string& label, bool enabled) {
        const float bw = button_width(ui, label, "") + ui.px(10.0f);
        if (at > x && at + bw > x + w) at = x, y += h + gap;
        const bool pressed = ui.button(name, {at, y, bw, h}, label, "", false, enabled && !desk.busy());
        at += bw + gap;
        return pressed;
    };
    if (!desk.sessions().empty()) {
        const std::string title =
            desk.session() == 0 ? std::string(language::tr("All attempts")) : desk.sessions()[desk.session() - 1].title;
        const std::string label = fitting(ui, Face::bold14, language::say("Shown: {}", title), ui.px(300.0f));
        if (tool("cohort.session", label, true))
            desk.choose_session((desk.session() + 1) % (desk.sessions().size() + 1));
    }
    if (tool("cohort.read", language::tr("Read anew"), true)) desk.read();
    if (!desk.own_lines_only() && tool("cohort.put_in", language::tr("Put in what was made here"), true)) desk.put_in();
    if (tool("cohort.paper", language::tr("Print to PDF"), !desk.cohort().scenarios.empty())) desk.save_paper();
    if (!desk.selection() || !ui.compact()) draw_column_steps(ui, x + w, y, grid, desk);
    return y + h + ui.px(10.0f);
}

void draw_open(Ui& ui, const Rect& all, float y, CohortDesk& desk) {
    const bool wide = !ui.compact();
    const float side_w = wide ? ui.px(kSideW) : 0.0f, gap = wide ? ui.px(18.0f) : 0.0f;
    y += ui.paragraph(Face::text14, all.x, y, all.w, theme::kSecondInk,
                      fitting(ui, Face::text14, desk.place(), 0.6f * all.w) + " (" + who_words(desk) + "). " +
                          language::say("Ready: a pass on {} consecutive unseen variants.", desk.cohort().passes) +
                          " " + language::tr(kOneInput)) +
         ui.px(8.0f);
    const Rect grid_w{all.x, y, all.w - side_w - gap, 0.0f};
    y = draw_tools(ui, all.x, y, all.w, {grid_w.x, y, grid_w.w - ui.px(14.0f), 0.0f}, desk);
    if (!desk.done().empty()) y = draw_words(ui, all.x, y, all.w, theme::kInk, desk.done());
    const Rect grid{grid_w.x, y, grid_w.w, all.bottom() - y - ui.px(8.0f)};
    if (desk.cohort().people.empty()) {
        draw_words(ui, grid.x, y + ui.px(8.0f), grid.w, theme::kInk,
                   desk.own_lines_only()
                       ? "Nothing of yours is kept here yet."
                       : "Nobody is in these records yet. Put in what learners made at this machine, or "
                         "what graded sessions brought back: pk session collect --into-records.");
        return;
    }
    if (wide || !desk.selection()) draw_grid(ui, grid, desk);
    if (wide)
        draw_side(ui, {grid.right() + gap, y, side_w, grid.h}, desk);
    else if (desk.selection())
        draw_side(ui, grid, desk);
}

}  // namespace

CohortChoice draw_cohort(Ui& ui, CohortDesk& desk) {
    CohortChoice choice;
    choice.back = draw_title_band(ui, "cohort", "Cohort");
    const Rect column = column_below_band(ui);
    const float margin = ui.px(ui.compact() ? 16.0f : 32.0f);
    const Rect all{margin, column.y, ui.width() - 2.0f * margin, column.h};
    const bool open = desk.stage() == CohortDesk::Stage::open;
    const Rect& where = open ? all : column;
    float y = where.y + ui.px(14.0f);
    if (const float h = draw_trouble_card(ui, where.x, y, where.w, {"", desk.trouble(), "", ""}); h > 0.0f)
        y += h + ui.px(12.0f);
    switch (desk.stage()) {
        case CohortDesk::Stage::absent:
            draw_absent(ui, column, y, desk);
            break;
        case CohortDesk::Stage::opening:
            draw_opening(ui, column, y, desk);
            break;
        case CohortDesk::Stage::log_in:
            draw_log_in(ui, column, y, desk);
            break;
        case CohortDesk::Stage::open:
            draw_open(ui, all, y, desk);
            break;
    }
    return choice;
}

}  // namespace app
