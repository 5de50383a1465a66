#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/app/plot_canvas.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/view/depth_plot.hpp"

namespace app {

namespace {

constexpr double kHeadingPass = 0.7;  // of a heading's points; the rubric's own share decides the verdict

const char* word_of(sim::Verdict verdict) {
    switch (verdict) {
        case sim::Verdict::pass:
            return "Passed";
        case sim::Verdict::fail:
            return "Not passed";
        case sim::Verdict::incomplete:
            return "Not finished";
    }
    return "";
}

/// At most three significant figures, with the unit.
std::string figure(double value, const std::string& unit) {
    const double size = std::fabs(value);
    std::string number;
    if (unit == "count") return fmt::format("{:.0f}", value);
    if (unit == "mm" || unit == "N")
        number = size < 10.0 ? fmt::format("{:.1f}", value) : fmt::format("{:.0f}", value);
    else
        number = fmt::format("{:.0f}", value);
    return number + " " + (unit == "degree" ? "°" : unit);
}

std::string clock_of(double seconds) {
    const int whole = static_cast<int>(seconds);
    return fmt::format("{:02}:{:02}", whole / 60, whole % 60);
}

std::string words_of(const std::string& measure) {
    std::string words = measure;
    std::replace(words.begin(), words.end(), '_', ' ');
    if (!words.empty()) words[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(words[0])));
    return words;
}

void draw_heading_card(Ui& ui, const Rect& card, sim::Heading heading, const sim::Score& score) {
    const float s = ui.scale(), pad = 14.0f * s, w = card.w - 2.0f * pad;
    const auto index = static_cast<std::size_t>(heading);
    const double points = score.heading_points[index], of = score.heading_of[index];
    ui.box(card, theme::kPaper, 8.0f * s);
    ui.frame(card, theme::kLine, 8.0f * s);
    ui.text(Face::bold14, card.x + pad, card.y + 10.0f * s, theme::kSecondInk,
            words_of(std::string(sim::name_of(heading))), w - 26.0f * s);
    if (!(of > 0.0)) {
        ui.mark(Mark::neutral, {card.right() - 24.0f * s, card.y + 20.0f * s}, 9.0f * s);
        ui.text(Face::text18, card.x + pad, card.y + 44.0f * s, theme::kSecondInk, "not measured here", w);
        return;
    }
    const double share = points / of;
    ui.mark(share >= 0.9            ? Mark::good
            : share >= kHeadingPass ? Mark::caution
                                    : Mark::bad,
            {card.right() - 24.0f * s, card.y + 20.0f * s}, 9.0f * s);
    // the measure that weighs most speaks for the heading
    const sim::ScoredMeasure* first = nullptr;
    for (const sim::ScoredMeasure& scored : score.measures)
        if (scored.measure.heading == heading && scored.of > 0.0 && (first == nullptr || scored.of > first->of))
            first = &scored;
    if (first != nullptr) {
        const std::string value = figure(first->measure.shown, first->measure.unit);
        ui.text(Face::bold36, card.x + pad, card.y + 30.0f * s, theme::kInk, value, w);
        ui.text(Face::text14, card.x + pad, card.y + 74.0f * s, theme::kSecondInk, words_of(first->measure.name), w);
    }
    ui.text(Face::text14, card.x + pad, card.y + 94.0f * s, theme::kInk,
            fmt::format("{:.0f} of {:.0f} points", points, of), w);
}

struct Row {
    std::string points, what, detail, when, where;
    Mark mark = Mark::caution;
};

/// How far from the nearest planned entry something happened; empty for what has no place.
std::string where_of(const sim::Vec3& place_m, const sim::Recording& recording) {
    if (recording.plan.empty() || glm::length(place_m) == 0.0) return "";
    double least_m = 1.0;
    for (const sim::PlannedVector& vector : recording.plan)
        least_m = std::min(least_m, glm::length(place_m - vector.entry_m));
    return fmt::format("{:.0f} mm in", 1e3 * least_m);
}

std::vector<Row> rows_of(const sim::Score& score, const sim::Recording& recording) {
    std::vector<Row> rows;
    for (const sim::Finding& fault : score.critical_faults)
        rows.push_back({"fails", fault.what, fmt::format("critical: {}", figure(fault.shown, fault.unit)),
                        clock_of(fault.time_s), where_of(fault.place_m, recording), Mark::bad});
    for (const sim::Deduction& lost : score.deductions) {
        std::string detail = figure(lost.value, lost.unit);
        if (!lost.accepted.empty()) detail += ", wanted " + lost.accepted;
        rows.push_back({fmt::format("–{:.1f}", lost.points), lost.what, detail, clock_of(lost.time_s),
                        where_of(lost.place_m, recording), Mark::caution});
    }
    return rows;
}

void draw_rows(Ui& ui, const Rect& list, const std::vector<Row>& rows, int& first) {
    const float s = ui.scale(), row_h = 50.0f * s;
    const int room = std::max(1, static_cast<int>((list.h - 40.0f * s) / row_h));
    const int most = std::max(0, static_cast<int>(rows.size()) - room);
    first = std::clamp(first - static_cast<int>(ui.input().wheel), 0, most);
    ui.box(list, theme::kPaper, 8.0f * s);
    ui.frame(list, theme::kLine, 8.0f * s);
    const std::string count = most == 0
                                  ? ""
                                  : fmt::format("{} to {} of {}, turn the wheel for more", first + 1,
                                                std::min(first + room, static_cast<int>(rows.size())), rows.size());
    ui.text(Face::bold14, list.x + 16.0f * s, list.y + 10.0f * s, theme::kSecondInk, "What cost points", 200.0f * s);
    ui.text(Face::text14, list.right() - 16.0f * s, list.y + 10.0f * s, theme::kSecondInk, count, list.w - 240.0f * s,
            Align::right);
    float y = list.y + 36.0f * s;
    if (rows.empty()) ui.text(Face::text18, list.x + 16.0f * s, y + 8.0f * s, theme::kInk, "Nothing.", list.w);
    for (int i = first; i < std::min(first + room, static_cast<int>(rows.size())); ++i, y += row_h) {
        const Row& row = rows[static_cast<std::size_t>(i)];
        if (i > first) ui.line({list.x + 14.0f * s, y}, {list.right() - 14.0f * s, y}, theme::kLine, s);
        ui.text(Face::text14, list.x + 18.0f * s, y + 15.0f * s, theme::kSecondInk, fmt::format("{}", i + 1),
                24.0f * s);
        ui.text(Face::bold18, list.x + 92.0f * s, y + 12.0f * s, theme::kInk, row.points, 56.0f * s, Align::right);
        ui.mark(row.mark, {list.x + 116.0f * s, y + 25.0f * s}, 8.0f * s);
        const float x = list.x + 138.0f * s, time_w = 68.0f * s;
        ui.text(Face::bold14, x, y + 5.0f * s, theme::kInk, row.what, list.right() - x - time_w - 24.0f * s);
        ui.text(Face::text14, x, y + 25.0f * s, theme::kSecondInk, row.detail, list.right() - x - time_w - 24.0f * s);
        ui.text(Face::bold14, list.right() - 16.0f * s, y + 5.0f * s, theme::kInk, row.when, time_w, Align::right);
        ui.text(Face::text14, list.right() - 16.0f * s, y + 25.0f * s, theme::kSecondInk, row.where, time_w + 10.0f * s,
                Align::right);
    }
}

/// The last final track with its depth, at the right of the space; nothing when no track was closed. @return width
/// taken
float draw_final_trace(Ui& ui, const Rect& space, const sim::Recording& recording, const sim::Bands& bands) {
    const sim::TrackRecord* last = nullptr;
    for (const sim::TrackRecord& track : recording.tracks)
        if (track.final && track.pieces.size() >= 2) last = &track;
    if (last == nullptr) return 0.0f;
    const float s = ui.scale(), gap = 12.0f * s, w = 0.46f * space.w;
    const Rect card{space.right() - w, space.y, w, space.h};
    ui.box(card, theme::kPaper, 8.0f * s);
    ui.frame(card, theme::kLine, 8.0f * s);
    PlotCanvas canvas(ui);
    view::PlotStyle style;
    style.text_size = static_cast<double>(14.0f * s);
    ui.text(Face::bold14, card.x + 16.0f * s, card.y + 10.0f * s, theme::kSecondInk, "The track, at its worst depth",
            w);
    const Rect in{card.x + 8.0f * s, card.y + 34.0f * s, card.w - 16.0f * s, card.h - 42.0f * s};
    view::draw_depth_trace(canvas,
                           {static_cast<double>(in.x), static_cast<double>(in.y), static_cast<double>(in.right()),
                            static_cast<double>(in.bottom())},
                           view::depth_trace_of(recording, *last, bands), style);
    return w + gap;
}

}  // namespace

AfterScore draw_score(Ui& ui, const sim::Score& score, const sim::Recording& recording, const sim::Bands& bands,
                      int& first) {
    const float s = ui.scale(), gap = 12.0f * s, x = 20.0f * s, width = ui.width() - 40.0f * s;
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    ui.box({0, 0, ui.width(), theme::kBand * s}, theme::kPaper);
    ui.line({0, theme::kBand * s - 0.5f}, {ui.width(), theme::kBand * s - 0.5f}, theme::kLine, s);
    ui.text(Face::bold18, x, 0.5f * (theme::kBand * s - ui.line_height(Face::bold18)), theme::kInk,
            "Result: " + recording.scenario_title, 0.6f * width);
    AfterScore after = AfterScore::stay;
    const float bw = 190.0f * s, by = 8.0f * s, bh = 36.0f * s;
    if (ui.button("score.library", {ui.width() - 20.0f * s - bw, by, bw, bh}, "Back to the list", "Esc", false) ||
        ui.input().pressed(SDLK_ESCAPE))
        after = AfterScore::library;
    if (ui.button("score.again", {ui.width() - 32.0f * s - 2.0f * bw, by, bw, bh}, "Practise again", "R", false) ||
        ui.input().pressed(SDLK_r))
        after = AfterScore::again;

    float y = theme::kBand * s + 16.0f * s;
    const Mark mark = score.verdict == sim::Verdict::pass   ? Mark::good
                      : score.verdict == sim::Verdict::fail ? Mark::bad
                                                            : Mark::caution;
    ui.mark(mark, {x + 18.0f * s, y + 22.0f * s}, 16.0f * s);
    ui.text(Face::bold36, x + 48.0f * s, y, theme::kInk, word_of(score.verdict), 320.0f * s);
    const float verdict_w = ui.text_width(Face::bold36, word_of(score.verdict));
    ui.text(Face::text18, x + 72.0f * s + verdict_w, y + 5.0f * s, theme::kInk,
            fmt::format("{:.0f} of {:.0f} points", score.total_points, score.total_of), 260.0f * s);
    ui.text(
        Face::text14, x + 72.0f * s + verdict_w, y + 27.0f * s, theme::kSecondInk,
        fmt::format("This verdict holds in {:.0f} % of draws of the assumed limits", 100.0 * score.verdict_stability),
        460.0f * s);
    y += 60.0f * s;

    constexpr std::array kHeadline{sim::Heading::plane_accuracy, sim::Heading::clearance,
                                   sim::Heading::ligament_resistance, sim::Heading::barb_engagement};
    const float card_w = (width - 3.0f * gap) / 4.0f, card_h = 122.0f * s;
    for (std::size_t i = 0; i < kHeadline.size(); ++i)
        draw_heading_card(ui, {x + static_cast<float>(i) * (card_w + gap), y, card_w, card_h}, kHeadline[i], score);
    y += card_h + gap;

    const float bottom = ui.height() - theme::kFooter * s - 12.0f * s;
    const float next_h = score.next_step.empty() ? 0.0f : 44.0f * s;
    const float plot_w = draw_final_trace(ui, {x, y, width, bottom - y - next_h - gap}, recording, bands);
    draw_rows(ui, {x, y, width - plot_w, bottom - y - next_h - gap}, rows_of(score, recording), first);
    if (next_h > 0.0f) {
        const Rect next{x, bottom - next_h, width, next_h};
        ui.box(next, theme::kBlueWash, 8.0f * s);
        ui.text(Face::bold14, x + 16.0f * s, next.y + 13.0f * s, theme::kBlueText, "Next", 60.0f * s);
        ui.text(Face::text18, x + 66.0f * s, next.y + 10.0f * s, theme::kInk, score.next_step, width - 90.0f * s);
    }
    return after;
}

}  // namespace app
