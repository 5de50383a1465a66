#include <fmt/format.h>

#include <algorithm>

#include "engine/app/chips.hpp"
#include "engine/app/debrief.hpp"
#include "engine/app/theme.hpp"
#include "engine/session/what_if.hpp"

/// The debrief's lists: what cost points, all measures, and what stands beside.

namespace app {

namespace {

constexpr float kTabs = 34.0f, kPad = 12.0f;

void card(Ui& ui, const Rect& rect) {
    ui.box(rect, theme::kPaper, ui.px(8.0f));
    ui.frame(rect, theme::kLine, ui.px(8.0f));
}

}  // namespace

void Debrief::draw_lists(Ui& ui, const Layout& at) {
    struct Tab {
        std::string label;
        Page page;
    };
    std::vector<Tab> tabs{
        {"Result", kLosses}, {"All measures", kMeasures}, {"Side by side", kBeside}, {"Inside", kInside}};
    if (ui.compact()) {
        tabs = {{"Result", kResult}, {"Points", kLosses}, {"Measures", kMeasures},
                {"Beside", kBeside}, {"Inside", kInside}, {"Replay", kReplay}};
        if (!stacked(ui)) tabs.push_back({"Trace", kTrace});
    }
    if (blind()) {
        tabs = {{"Rating", kRating}, {"Inside", kInside}};
        if (ui.compact()) tabs.push_back({"Replay", kReplay});
    } else if (has_visit()) {
        tabs.insert(tabs.begin() + (ui.compact() ? 2 : 1), {ui.compact() ? "Signs" : "Signs and answers", kSigns});
    }
    const Rect& rect = at.lists;
    std::vector<std::string> labels;
    std::size_t chosen = 0;
    for (std::size_t i = 0; i < tabs.size(); ++i) {
        labels.push_back(tabs[i].label);
        if (tabs[i].page == page_) chosen = i;
    }
    page_ = tabs[ui.choice("debrief.page", {rect.x, rect.y, rect.w, ui.px(kTabs)}, labels, chosen)].page;
    const float gap = ui.px(ui.compact() ? 6.0f : 10.0f);
    float top = rect.y + ui.px(kTabs) + gap;
    // the page may just have changed: the layout follows with the next frame
    if (!ui.compact() && page_ == kLosses && at.result.h > 0.0f)
        top = std::max(at.next.bottom(), at.result.bottom()) + gap;
    Rect inside{rect.x, top, rect.w, rect.bottom() - top};
    if (ui.compact() && page_ == kInside && at.view.w > 0.0f) {
        inside.x = at.view.right() + gap;
        inside.w = rect.right() - inside.x;
    }
    if (page_ == kLosses) draw_losses(ui, inside);
    if (page_ == kMeasures) draw_measures(ui, inside);
    if (page_ == kBeside) draw_beside(ui, inside);
    if (page_ == kInside) draw_inside(ui, inside);
    if (page_ == kSigns) draw_signs(ui, inside);
    if (page_ == kRating) draw_rating(ui, inside);
}

void Debrief::draw_rating(Ui& ui, const Rect& rect) {
    if (const auto asked_s = draw_rating_page(ui, rect, *material_.rating, time_s())) {
        playing_ = false;
        seek(std::llround(*asked_s / sim::kStepS));
    }
}

/// When each sign showed, what it asked for and what came of it; pressed, time goes to before what led to it.
void Debrief::draw_signs(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const Rect all = ui.begin_scroll("debrief.signs", rect.inset(ui.px(4.0f)));
    const float pad = ui.px(kPad), x = all.x + pad, time_w = ui.text_width(Face::bold14, "000:00") + ui.px(8.0f);
    const float mark_w = ui.px(24.0f), text_x = x + time_w + mark_w, w = all.right() - pad - text_x;
    float y = all.y + ui.px(4.0f);
    const std::string head =
        signs_.empty() ? "No sign of harm showed." : "By the patient's time. Press a line to see what came before it.";
    y += ui.paragraph(Face::text14, x, y, all.w - 2.0f * pad, theme::kSecondInk, head) + ui.px(4.0f);
    for (std::size_t i = 0; i < signs_.size(); ++i) {
        const report::SignLine& sign = signs_[i];
        const std::string asked = "Asks for: " + sign.asked;
        const float shown_h = ui.paragraph_height(Face::bold14, w, sign.shown);
        const float asked_h = ui.paragraph_height(Face::text14, w, asked);
        const float done_h = ui.paragraph_height(Face::text14, w, sign.done);
        const Rect row{all.x + ui.px(4.0f), y, all.w - ui.px(8.0f), shown_h + asked_h + done_h + ui.px(10.0f)};
        bool over = false;
        if (ui.area(fmt::format("debrief.sign.{}", i + 1), row, &over)) {
            look_at(Watched::attempt);
            seek(sign.before_step);
            journal_->note("sign", fmt::format("{} {}", i + 1, moment()));
        }
        if (over) ui.box(row, theme::kOver, ui.px(6.0f));
        ui.line({row.x + ui.px(8.0f), y}, {row.right() - ui.px(8.0f), y}, theme::kLine, ui.px(1.0f));
        const float ty = y + ui.px(4.0f);
        ui.text(Face::bold14, x + time_w - ui.px(8.0f), ty, theme::kInk, report::patient_clock_words(sign.patient_s),
                time_w, Align::right);
        ui.mark(!sign.judged    ? Mark::neutral
                : sign.answered ? Mark::good
                                : Mark::bad,
                {x + time_w + ui.px(8.0f), ty + 0.5f * ui.line_height(Face::bold14)}, ui.px(7.0f));
        ui.paragraph(Face::bold14, text_x, ty, w, theme::kInk, sign.shown);
        ui.paragraph(Face::text14, text_x, ty + shown_h, w, theme::kSecondInk, asked);
        ui.paragraph(Face::text14, text_x, ty + shown_h + asked_h, w, theme::kInk, sign.done);
        y += row.h;
    }
    if (!signs_.empty())
        y += ui.paragraph(Face::text14, x, y + ui.px(4.0f), all.w - 2.0f * pad, theme::kSecondInk,
                          "What a sign asks for is told in general terms: the local protocol comes first.") +
             ui.px(4.0f);
    ui.end_scroll(y + ui.px(4.0f));
}

void Debrief::draw_losses(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const Rect all = ui.begin_scroll("debrief.losses", rect.inset(ui.px(4.0f)));
    float y = all.y;
    if (losses_.empty()) {
        ui.text(Face::text14, all.x + ui.px(kPad), y + ui.px(8.0f), theme::kInk, "No points were lost.", all.w);
        y += ui.px(34.0f);
    }
    const float number_w = ui.text_width(Face::text14, "00") + ui.px(4.0f);
    const float points_w = ui.text_width(Face::bold14, "–00.0"), time_w = ui.text_width(Face::bold14, "00:00");
    const float where_w = ui.compact() ? 0.0f : ui.text_width(Face::text14, "track 1 at 00 mm") + ui.px(16.0f);
    for (std::size_t i = 0; i < losses_.size(); ++i) {
        const report::Loss& loss = losses_[i];
        const bool selected = static_cast<int>(i) == selected_;
        const float x = all.x + ui.px(kPad + 10.0f) + number_w + points_w + ui.px(loss.critical ? 26.0f : 0.0f);
        const float room = all.right() - ui.px(kPad + 6.0f) - time_w - where_w - x;
        const float what_h = ui.paragraph_height(Face::text14, room, loss.what);
        const float detail_h = selected ? ui.paragraph_height(Face::text14, room, loss.detail) : 0.0f;
        const Rect row{all.x + ui.px(4.0f), y, all.w - ui.px(8.0f), what_h + detail_h + ui.px(8.0f)};
        const std::string name = fmt::format("debrief.loss.{}", loss.number);
        if (selected && selection_moved_) {
            // what is selected by key is brought into view as if by Tab
            ui.focus_on(name);
            selection_moved_ = false;
        }
        bool over = false;
        if (ui.area(name, row, &over)) {
            choose(loss.number);
            journal_->note("selected", fmt::format("{} {}", loss.number, moment()));
        }
        if (selected || over) ui.box(row, selected ? theme::kBlueChip : theme::kOver, ui.px(6.0f));
        if (i > 0 && !selected && static_cast<int>(i) != selected_ + 1)
            ui.line({row.x + ui.px(8.0f), y}, {row.right() - ui.px(8.0f), y}, theme::kLine, ui.px(1.0f));
        const float ty = y + ui.px(4.0f);
        ui.text(Face::text14, all.x + ui.px(kPad), ty, theme::kSecondInk, fmt::format("{}", loss.number), number_w);
        ui.text(Face::bold14, all.x + ui.px(kPad) + number_w + points_w, ty, theme::kInk, loss.points_words(),
                points_w + 1.0f, Align::right);
        if (loss.critical)
            ui.mark(Mark::bad, {x - ui.px(14.0f), ty + 0.5f * ui.line_height(Face::text14)}, ui.px(7.0f));
        ui.paragraph(Face::text14, x, ty, room, theme::kInk, loss.what);
        if (selected) ui.paragraph(Face::text14, x, ty + what_h, room, theme::kSecondInk, loss.detail);
        if (where_w > 0.0f)
            ui.text(Face::text14, row.right() - ui.px(18.0f) - time_w, ty, theme::kSecondInk, loss.place_words(),
                    where_w, Align::right);
        if (loss.time_s > 0.0)
            ui.text(Face::bold14, row.right() - ui.px(6.0f), ty, theme::kInk, report::clock_words(loss.time_s), time_w,
                    Align::right);
        y += row.h;
    }
    const std::string rest = ui.compact() ? "" : not_measured_words();
    if (!rest.empty())
        y += ui.paragraph(Face::text14, all.x + ui.px(kPad), y + ui.px(4.0f), all.w - 2.0f * ui.px(kPad),
                          theme::kSecondInk, rest) +
             ui.px(4.0f);
    ui.end_scroll(y + ui.px(4.0f));
}

/// @param points whether the last column shows what the first score earned
void Debrief::draw_table(Ui& ui, const Rect& rect, const std::vector<const sim::Score*>& scores,
                         const std::vector<std::string>& heads, bool points) const {
    const Rect all = ui.begin_scroll("debrief.table", rect);
    const float column_w = ui.px(ui.compact() ? 92.0f : 112.0f), pad = ui.px(kPad);
    const std::size_t columns = heads.size() + (points ? 1u : 0u);
    const float room = all.w - 2.0f * pad - static_cast<float>(columns) * column_w;
    const auto right_of = [&](std::size_t i) {
        return all.right() - pad - static_cast<float>(columns - 1 - i) * column_w;
    };
    float y = all.y + ui.px(4.0f), head_h = 0.0f;
    for (std::size_t i = 0; i < heads.size(); ++i) {
        const float h = ui.paragraph_height(Face::bold14, column_w - ui.px(10.0f), heads[i]);
        if (ui.text_width(Face::bold14, heads[i]) <= column_w - ui.px(4.0f)) {
            ui.text(Face::bold14, right_of(i), y, theme::kSecondInk, heads[i], column_w - ui.px(4.0f), Align::right);
            continue;
        }
        ui.paragraph(Face::bold14, right_of(i) - column_w + ui.px(10.0f), y, column_w - ui.px(10.0f), theme::kSecondInk,
                     heads[i]);
        head_h = std::max(head_h, h);
    }
    if (points) ui.text(Face::bold14, right_of(columns - 1), y, theme::kSecondInk, "Points", column_w, Align::right);
    y += std::max(head_h, ui.line_height(Face::bold14)) + ui.px(4.0f);
    std::string last_title;
    for (const report::MeasureRow& row : report::measure_rows(scores)) {
        ui.line({all.x + pad, y}, {all.right() - pad, y}, theme::kLine, ui.px(1.0f));
        const float h = ui.paragraph_height(Face::text14, room, row.title);
        ui.paragraph(Face::text14, all.x + pad, y + ui.px(4.0f), room, theme::kInk, row.title);
        for (std::size_t i = 0; i < row.values.size(); ++i) {
            const bool kept =
                i > 0 && i - 1 < beside_.size() && beside_[i - 1].moved && !session::is_recomputed(row.name);
            const bool differs = i > 0 && row.values[i] != row.values[0];
            ui.text(differs ? Face::bold14 : Face::text14, right_of(i), y + ui.px(4.0f),
                    kept ? theme::kSecondInk : theme::kInk, kept ? "as recorded" : row.values[i],
                    column_w - ui.px(4.0f), Align::right);
        }
        if (points)
            ui.text(Face::text14, right_of(columns - 1), y + ui.px(4.0f), theme::kSecondInk, row.points,
                    column_w - ui.px(4.0f), Align::right);
        y += h + ui.px(8.0f);
    }
    ui.end_scroll(y + ui.px(4.0f));
}

void Debrief::draw_measures(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const std::string words = report::stability_words(shown_score());
    const float pad = ui.px(kPad), y = rect.y + ui.px(8.0f), w = rect.w - 2.0f * pad;
    const float h = ui.paragraph(Face::text14, rect.x + pad, y, w, theme::kSecondInk, words) + ui.px(10.0f);
    draw_table(ui, {rect.x + ui.px(4.0f), rect.y + h, rect.w - ui.px(8.0f), rect.h - h - ui.px(4.0f)}, {&shown_score()},
               {watched_ == Watched::reference ? "Reference"
                : watched_ == Watched::earlier ? "Earlier"
                                               : "Measured"},
               true);
}

void Debrief::draw_beside(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const float pad = ui.px(8.0f), choice_h = ui.px(32.0f);
    const std::vector<std::string> choices =
        ui.compact() ? std::vector<std::string>{"Alone", "±1 mm", "Reference", "Earlier"}
                     : std::vector<std::string>{"Alone", "1 mm deeper, shallower", "Reference pass", "Earlier attempt"};
    const std::size_t now = ui.choice("debrief.beside", {rect.x + pad, rect.y + pad, rect.w - 2.0f * pad, choice_h},
                                      choices, beside_choice_);
    if (now != beside_choice_) set_beside(now);
    float y = rect.y + 2.0f * pad + choice_h;
    const float w = rect.w - 2.0f * pad - ui.px(8.0f), x = rect.x + pad + ui.px(4.0f);

    std::string words;
    switch (beside_choice_) {
        case 1:
            words = session::what_if_limits();
            break;
        case 2:
            words = reference_job_ ? "Making the reference pass on this anatomy: some seconds."
                    : reference_   ? reference_->words + "."
                                   : "";
            break;
        case 3:
            words = earlier_.empty() ? "No other kept attempt at this scenario."
                                     : fmt::format("{} of {}: {}", earlier_shown_ + 1, earlier_.size(),
                                                   earlier_[earlier_shown_].filename().string());
            break;
        default:
            words = "Choose what stands beside this attempt, in the trace and in figures.";
    }
    if (!beside_trouble_.empty()) words = beside_trouble_;
    if (earlier_job_) words = "Stepping through that attempt: some seconds.";
    const bool watch = (beside_choice_ == 2 && reference_) || (beside_choice_ == 3 && !earlier_.empty());
    const bool next = beside_choice_ == 3 && earlier_.size() > 1;
    const std::string what = ui.compact()          ? "Watch"
                             : watching()          ? "Watch this attempt"
                             : beside_choice_ == 2 ? "Watch the reference"
                                                   : "Watch the earlier";
    const float watch_w = watch ? button_width(ui, what, "W") : 0.0f,
                next_w = next ? button_width(ui, "Next", "") : 0.0f;
    const bool button = watch || next;
    const float button_w = watch_w + next_w + (watch && next ? ui.px(6.0f) : 0.0f);
    const float words_h = ui.paragraph(Face::text14, x, y, w - button_w - pad, theme::kSecondInk, words);
    const float button_y = y - ui.px(2.0f), button_h = ui.px(28.0f), button_x = x + w - button_w;
    if (watch && ui.button("debrief.watch", {button_x, button_y, watch_w, button_h}, what, "W", false, !earlier_job_))
        watch_other();
    if (next && ui.button("debrief.earlier", {x + w - next_w, button_y, next_w, button_h}, "Next", "", false))
        next_earlier();
    y += std::max(words_h, button ? ui.px(30.0f) : 0.0f) + ui.px(4.0f);
    if (beside_.empty()) return;

    std::vector<const sim::Score*> scores{&shown_score()};
    std::vector<std::string> heads{watched_ == Watched::reference ? "Reference"
                                   : watched_ == Watched::earlier ? "Earlier attempt"
                                                                  : "This attempt"};
    for (const Beside& one : beside_) {
        scores.push_back(&one.score);
        heads.push_back(one.name);
    }
    draw_table(ui, {rect.x + ui.px(4.0f), y, rect.w - ui.px(8.0f), rect.bottom() - y - ui.px(4.0f)}, scores, heads,
               false);
}

/// One scale of depth: what lies above the layer that is chosen is taken off the picture. @return where it ends
float Debrief::draw_depths(Ui& ui, float x, float y, float w) {
    const float line_h = ui.line_height(Face::text14), row_h = line_h + ui.px(6.0f);
    ui.text(Face::bold14, x, y, theme::kInk,
            tops_job_ ? fmt::format("Look from: laying bare, {:.0f} %", 100.0 * tops_job_->fraction()) : "Look from",
            w);
    y += line_h + ui.px(4.0f);
    const std::size_t from = first_whole();
    const float rail_x = x + ui.px(9.0f), top = y;
    for (std::size_t i = 0; i < layers_.size(); ++i, y += row_h) {
        const Rect row{x, y, w, row_h};
        bool over = false;
        if (ui.area(fmt::format("debrief.layer.{}", i + 1), row, &over)) look_from(i);
        if (over) ui.box(row, theme::kOver, ui.px(5.0f));
        ui.text(i == from ? Face::bold14 : Face::text14, x + ui.px(24.0f), y + ui.px(3.0f),
                i < from ? theme::kSecondInk : theme::kInk, view::kShownLayerNames[i], w - ui.px(24.0f));
    }
    const auto middle = [&](std::size_t i) { return top + (static_cast<float>(i) + 0.5f) * row_h; };
    ui.line({rail_x, middle(0)}, {rail_x, middle(layers_.size() - 1)}, theme::kEdge, ui.px(2.0f));
    for (std::size_t i = 0; i < layers_.size(); ++i) ui.disc({rail_x, middle(i)}, ui.px(2.5f), theme::kEdge);
    ui.disc({rail_x, middle(from)}, ui.px(7.0f), theme::kBlue);
    ui.disc({rail_x, middle(from)}, ui.px(3.0f), theme::kPaper);
    const Chip faint{"debrief.faint", "Keep the rest faintly", "", true, faint_, {}};
    if (draw_chip(ui, {x, y + ui.px(2.0f), chip_width(ui, faint), ui.px(kChipH)}, faint)) {
        faint_ = !faint_;
        look_from(from);
    }
    return y + ui.px(kChipH + 4.0f);
}

/// Layers one by one, structures by kind, and the section along the shaft at this moment.
void Debrief::draw_inside(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const Rect all = ui.begin_scroll("debrief.inside", rect.inset(ui.px(4.0f)));
    const float pad = ui.px(kPad), x = all.x + pad, w = all.w - 2.0f * pad, top = all.y + ui.px(6.0f);
    const bool beside = w > ui.px(560.0f);
    const float left_w = beside ? ui.px(210.0f) : w;
    const float rows_end = draw_depths(ui, x, top, left_w);
    const float right_x = beside ? x + left_w + ui.px(16.0f) : x, right_w = beside ? x + w - right_x : w;
    float y = beside ? top : rows_end + ui.px(8.0f);
    ui.text(Face::bold14, right_x, y, theme::kInk, "Structures in what is laid bare", right_w);
    y += ui.line_height(Face::bold14) + ui.px(5.0f);
    y = draw_kind_chips(ui, "kind", right_x, y, right_x + right_w, settings_.kinds) + ui.px(8.0f);
    const float least = ui.px(beside ? 120.0f : 170.0f), left = all.y + rect.h - ui.px(16.0f) - y;
    if (blind()) return ui.end_scroll(std::max(rows_end, y) + ui.px(4.0f));  // the target band is on the section
    const Rect section{right_x, y, right_w, std::max(least, beside ? left : least)};
    const sim::State& state = shown().state();
    const int held = state.hands.instrument;
    static_cast<void>(section_panel_.draw(
        ui, section, *shown().model().anatomy, material_.rubric.bands, state,
        held < 0 ? nullptr : &shown().model().scenario.tray[static_cast<std::size_t>(held)], false));
    ui.end_scroll(std::max(rows_end, section.bottom()) + ui.px(4.0f));
}

}  // namespace app
