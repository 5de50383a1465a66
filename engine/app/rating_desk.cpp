#include "engine/app/rating_desk.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/app/chips.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/language/words.hpp"
#include "engine/report/debrief_words.hpp"

namespace app {

namespace {

constexpr const char* kBlind =
    "You see what was done and when, not by whom, and not what the program gave for it. Give each side of the work one "
    "to five points by the words beside them, and tie what you remark to the moment in which it shows.";

template <typename Change>
void keep(std::string& trouble, Change change) {
    trouble.clear();
    try {
        change();
    } catch (const std::exception& error) {
        trouble = error.what();
    }
}

/// One of five: its number, its words, and whether it is chosen. @return pressed
bool draw_anchor(Ui& ui, const Rect& all, float& y, int point, std::string_view words, bool chosen) {
    const float pad = ui.px(10.0f), number_w = ui.px(30.0f), w = all.w - 2.0f * pad - number_w;
    const std::string text(words);
    const float h = std::max(ui.px(34.0f), ui.paragraph_height(Face::text14, w, text) + ui.px(12.0f));
    const Rect row{all.x, y, all.w, h};
    bool over = false;
    const bool pressed = ui.area(fmt::format("rating.point.{}", point), row, &over);
    ui.box(row, chosen ? theme::kBlueChip : over ? theme::kOver : theme::kPaper, ui.px(7.0f));
    ui.frame(row, chosen ? theme::kBlue : theme::kLine, ui.px(7.0f), ui.px(chosen ? 1.8f : 1.0f));
    ui.text(Face::bold18, row.x + pad, y + 0.5f * (h - ui.line_height(Face::bold18)), theme::kInk,
            fmt::format("{}", point), number_w);
    const float text_h = ui.paragraph_height(Face::text14, w, text);
    ui.paragraph(Face::text14, row.x + pad + number_w, y + 0.5f * (h - text_h), w, theme::kInk, text);
    y += h + ui.px(5.0f);
    return pressed;
}

void draw_items(Ui& ui, const Rect& all, float& y, RatingDesk& desk) {
    // a word each: the whole title stands below
    static constexpr std::array<const char*, graded::kRatingItems> kShort{
        language::word("Plan"),   language::word("Depth"),  language::word("Danger"),
        language::word("Answer"), language::word("Thread"), language::word("Order")};
    std::vector<std::string> labels;
    for (std::size_t i = 0; i < kShort.size(); ++i) {
        const auto given = desk.sheet().points.find(std::string(graded::rating_items()[i].key));
        const std::string word = language::tr(kShort[i]);
        labels.push_back(given == desk.sheet().points.end() ? word : fmt::format("{} {}", word, given->second));
    }
    desk.item = ui.choice("rating.item", {all.x, y, all.w, ui.px(34.0f)}, labels, desk.item);
    y += ui.px(34.0f) + ui.px(8.0f);
    const graded::RatingItem& item = graded::rating_items()[desk.item];
    ui.text(Face::bold18, all.x, y, theme::kInk, std::string(item.title), all.w);
    y += ui.line_height(Face::bold18) + ui.px(4.0f);
    const auto given = desk.sheet().points.find(std::string(item.key));
    for (int point = 1; point <= graded::kRatingPoints; ++point)
        if (draw_anchor(ui, all, y, point, item.anchors[static_cast<std::size_t>(point - 1)],
                        given != desk.sheet().points.end() && given->second == point))
            desk.rate(point);
    y += ui.px(8.0f);
}

/// @return the moment of one that was pressed
std::optional<double> draw_comments(Ui& ui, const Rect& all, float& y, RatingDesk& desk, double now_s) {
    std::optional<double> asked;
    const std::string label = language::say("Remark at {}", report::clock_words(now_s));
    const float bw = button_width(ui, label, "") + ui.px(8.0f), h = ui.px(36.0f), gap = ui.px(8.0f);
    const bool entered =
        ui.field(kCommentField, {all.x, y, all.w - bw - gap, h}, desk.typed, graded::kMostCommentBytes);
    const bool pressed =
        ui.button("rating.remark", {all.right() - bw, y, bw, h}, label, "", false, !desk.typed.empty());
    if (!desk.typed.empty() && (entered || pressed)) desk.add_comment(now_s);
    y += h + ui.px(8.0f);
    const float time_w = ui.text_width(Face::bold14, "000:00") + ui.px(8.0f), away_w = ui.px(92.0f);
    for (std::size_t i = 0; i < desk.sheet().comments.size(); ++i) {
        const graded::RatingComment comment = desk.sheet().comments[i];
        const float w = all.w - time_w - away_w - ui.px(20.0f);
        const float row_h = std::max(ui.px(32.0f), ui.paragraph_height(Face::text14, w, comment.words) + ui.px(8.0f));
        const Rect row{all.x, y, all.w - away_w - gap, row_h};
        bool over = false;
        if (ui.area(fmt::format("rating.comment.{}", i + 1), row, &over)) asked = comment.at_s;
        if (over) ui.box(row, theme::kOver, ui.px(6.0f));
        ui.text(Face::bold14, row.x + ui.px(6.0f), y + ui.px(4.0f), theme::kInk, report::clock_words(comment.at_s),
                time_w);
        ui.paragraph(Face::text14, row.x + time_w + ui.px(6.0f), y + ui.px(4.0f), w, theme::kInk, comment.words);
        if (ui.button(fmt::format("rating.take_back.{}", i + 1),
                      {all.right() - away_w, y + 0.5f * (row_h - ui.px(28.0f)), away_w, ui.px(28.0f)}, "Take back", "",
                      false))
            desk.take_back(i);
        y += row_h + ui.px(2.0f);
    }
    return asked;
}

void draw_row(Ui& ui, float x, float& y, float w, const RatingDesk& desk, std::size_t entry, RatingChoice& choice) {
    const graded::RatingSheet& sheet = desk.folder.sheet(entry);
    const float pad = ui.px(14.0f), button_w = ui.px(120.0f);
    const Rect row{x, y, w, ui.px(50.0f)};
    ui.box(row, theme::kPaper, ui.px(8.0f));
    ui.frame(row, theme::kEdge, ui.px(8.0f), ui.px(1.3f));
    const float middle = y + 0.5f * row.h;
    ui.mark(sheet.complete() ? Mark::good : Mark::neutral, {x + pad + ui.px(7.0f), middle}, ui.px(7.0f));
    ui.text(Face::bold18, x + pad + ui.px(26.0f), middle - 0.5f * ui.line_height(Face::bold18), theme::kInk, sheet.code,
            ui.px(220.0f));
    const std::string state = sheet.complete()
                                  ? language::say("rated; remarks: {}", sheet.comments.size())
                                  : language::say("{} of {} rated", sheet.points.size(), graded::kRatingItems);
    ui.text(Face::text14, x + w - pad - button_w - ui.px(14.0f), middle - 0.5f * ui.line_height(Face::text14),
            theme::kSecondInk, state, w - pad - button_w - ui.px(280.0f), Align::right);
    if (ui.button(fmt::format("rating.open.{}", entry + 1),
                  {x + w - pad - button_w, middle - ui.px(17.0f), button_w, ui.px(34.0f)},
                  sheet.complete() ? "Look again" : "Rate", "", !sheet.complete()))
        choice.open = entry;
    y += row.h + ui.px(8.0f);
}

}  // namespace

void RatingDesk::rate(int point) {
    keep(trouble, [&] {
        folder.rate(entry, item, point);
        // on to what is not rated yet
        for (std::size_t i = 1; i < graded::kRatingItems; ++i) {
            const std::size_t next = (item + i) % graded::kRatingItems;
            if (sheet().points.count(std::string(graded::rating_items()[next].key)) > 0) continue;
            item = next;
            break;
        }
    });
}

void RatingDesk::add_comment(double at_s) {
    keep(trouble, [&] {
        folder.comment(entry, {at_s, typed});
        typed.clear();
    });
}

void RatingDesk::take_back(std::size_t comment) {
    keep(trouble, [&] { folder.take_back_comment(entry, comment); });
}

RatingChoice draw_rating_list(Ui& ui, const RatingDesk& desk) {
    RatingChoice choice;
    choice.back = draw_title_band(ui, "rating", "Attempts to rate");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("rating", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    const std::size_t attempts = desk.folder.task().entries.size();
    ui.text(Face::bold24, x, y, theme::kInk,
            language::say("{} of {} rated, by rater {}", desk.folder.complete(), attempts, desk.folder.task().rater),
            w);
    y += ui.line_height(Face::bold24) + ui.px(6.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, kBlind) + ui.px(14.0f);
    if (const float h = draw_trouble_card(ui, x, y, w, {"", desk.trouble, "", ""}); h > 0.0f) y += h + ui.px(12.0f);
    for (std::size_t i = 0; i < attempts; ++i) draw_row(ui, x, y, w, desk, i, choice);
    y += ui.px(6.0f);
    if (desk.folder.complete() == attempts)
        y += ui.paragraph(Face::text14, x, y, w, theme::kInk,
                          "All are rated. Give the folder back to whoever handed it out.");
    ui.end_scroll(y + ui.px(12.0f));
    return choice;
}

std::optional<double> draw_rating_page(Ui& ui, const Rect& rect, RatingDesk& desk, double now_s) {
    ui.box(rect, theme::kGround);
    const Rect all = ui.begin_scroll("rating.page", rect);
    const Rect inner{all.x + ui.px(4.0f), all.y, all.w - ui.px(8.0f), all.h};  // room for the focus
    float y = inner.y;
    if (!desk.trouble.empty())
        y += ui.paragraph(Face::text14, inner.x, y, inner.w, theme::kVermilionText, desk.trouble);
    draw_items(ui, inner, y, desk);
    const std::optional<double> asked = draw_comments(ui, inner, y, desk, now_s);
    ui.end_scroll(y + ui.px(6.0f));
    return asked;
}

}  // namespace app
