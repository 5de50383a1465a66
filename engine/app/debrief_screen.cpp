#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/chips.hpp"
#include "engine/app/debrief.hpp"
#include "engine/app/plot_canvas.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

/// The debrief's layout, its result, its trace and its line of time.

namespace app {

namespace {

constexpr float kMargin = 16.0f, kGapD = 10.0f;
constexpr double kHeadingPass = 0.7;  // of a heading's points; the rubric's own share decides the verdict

Mark mark_of(const report::Headline& one) {
    if (!one.measured()) return Mark::neutral;
    const double share = one.points / one.of;
    return share >= 0.9 ? Mark::good : share >= kHeadingPass ? Mark::caution : Mark::bad;
}

Mark mark_of(sim::Verdict verdict) {
    return verdict == sim::Verdict::pass ? Mark::good : verdict == sim::Verdict::fail ? Mark::bad : Mark::caution;
}

view::CanvasRect canvas_rect(const Rect& rect) {
    return {static_cast<double>(rect.x), static_cast<double>(rect.y), static_cast<double>(rect.right()),
            static_cast<double>(rect.bottom())};
}

}  // namespace

Debrief::Layout Debrief::layout_of(const Ui& ui) const {
    Layout at;
    const float top = band_height(ui), bottom = ui.height() - footer_height(ui);
    const float margin = ui.px(ui.compact() ? 8.0f : kMargin), gap = ui.px(ui.compact() ? 6.0f : kGapD);
    const Rect all{margin, top + gap, ui.width() - 2.0f * margin, bottom - top - 2.0f * gap};
    const float words_h = words_height(ui, all.w), time_h = ui.px(16.0f);
    if (blind()) return rating_layout(ui, all, gap);
    if (ui.compact()) {
        // one page at a time, chosen in the row at the top; the trace under it or a page of its own
        const float tabs_h = ui.px(34.0f), under_h = stacked(ui) ? std::round(0.5f * all.h) : 0.0f;
        const Rect page{all.x, all.y + tabs_h + gap, all.w, all.h - tabs_h - gap - under_h};
        at.lists = {all.x, all.y, all.w, all.h - under_h};
        if (page_ == kResult) at.result = page;
        if (page_ == kReplay) at.view = page;
        // what is taken off is seen beside its switches
        if (page_ == kInside) at.view = {page.x, page.y, std::round(0.44f * page.w), page.h};
        if (stacked(ui) || page_ == kTrace) {
            const float y = page_ == kTrace && !stacked(ui) ? page.y : page.bottom();
            at.words = {page.x, y, page.w, words_h};
            at.time = {page.x, at.words.bottom(), page.w, time_h};
            at.plot = {page.x, at.time.bottom(), page.w, all.bottom() - at.time.bottom()};
        } else if (page_ == kReplay) {
            at.words = {page.x, page.y, page.w, words_h};
            at.view = {page.x, at.words.bottom(), page.w, page.h - words_h};
        }
        return at;
    }
    const float lower = std::round(0.5f * (bottom - top));
    const float upper_h = all.h + gap - lower;
    at.view = {all.x, all.y, std::round(0.35f * all.w), upper_h - gap};
    const float x = at.view.right() + gap, w = all.right() - x;
    at.lists = {x, all.y, w, at.view.h};
    if (page_ == kLosses) {
        // the result stands above what cost points, what is next beside it where there is room
        const float below = all.y + ui.px(34.0f) + gap, card_w = 0.28f * w;
        const auto large = report::headlines(score_, material_.rubric);
        const auto measured = static_cast<float>(
            std::count_if(large.begin(), large.end(), [](const auto& one) { return one.measured(); }));
        at.result = {x, below, w, ui.px(88.0f)};
        if (measured < 2.5f) {
            at.result.w = measured * (card_w + gap) - gap;
            const float next_x = measured > 0.0f ? at.result.right() + gap : x, next_w = x + w - next_x;
            at.next = {next_x, below, next_w, std::max(at.result.h, next_height(ui, next_w))};
        } else {
            at.next = {x, at.result.bottom() + gap, w, next_height(ui, w)};
        }
    }
    const float y = all.y + upper_h;
    at.words = {all.x, y, all.w, words_h};
    at.time = {all.x, y + words_h, all.w, time_h};
    at.plot = {all.x, at.time.bottom(), all.w, bottom - at.time.bottom() - ui.px(4.0f)};
    return at;
}

/// The replay beside the rating, and no trace: its target band and its words on depth are the program's judgement.
Debrief::Layout Debrief::rating_layout(const Ui& ui, const Rect& all, float gap) const {
    Layout at;
    const float words_h = words_height(ui, all.w), time_h = ui.px(16.0f), tabs_h = ui.px(34.0f) + gap;
    at.time = {all.x, all.bottom() - time_h, all.w, time_h};
    at.words = {all.x, at.time.y - words_h, all.w, words_h};
    const float h = at.words.y - all.y - gap;
    if (ui.compact()) {
        at.lists = {all.x, all.y, all.w, h};
        const Rect page{all.x, all.y + tabs_h, all.w, h - tabs_h};
        if (page_ == kReplay) at.view = page;
        if (page_ == kInside) at.view = {page.x, page.y, std::round(0.44f * page.w), page.h};
        return at;
    }
    at.view = {all.x, all.y, std::round(0.5f * all.w), h};
    at.lists = {at.view.right() + gap, all.y, all.right() - at.view.right() - gap, h};
    return at;
}

bool Debrief::stacked(const Ui& ui) { return ui.compact() && ui.room_h() >= 440.0f; }

Rect Debrief::patient_rect(const Ui& ui) const { return layout_of(ui).view; }

void Debrief::draw_ground(Ui& ui, const Layout& at) const {
    const float w = ui.width(), h = ui.height();
    if (!(at.view.w > 0.0f)) {
        ui.box({0, 0, w, h}, theme::kGround);
        return;
    }
    // around the patient, who is drawn already
    ui.box({0, 0, w, at.view.y}, theme::kGround);
    ui.box({0, at.view.bottom(), w, h - at.view.bottom()}, theme::kGround);
    ui.box({0, at.view.y, at.view.x, at.view.h}, theme::kGround);
    ui.box({at.view.right(), at.view.y, w - at.view.right(), at.view.h}, theme::kGround);
    ui.frame(at.view, theme::kLine, 0.0f, ui.px(1.5f));
}

std::size_t Debrief::page_for(const Ui& ui) const {
    const bool only_compact = page_ == kResult || page_ == kReplay || page_ == kTrace;
    if (blind()) return page_ == kInside || (page_ == kReplay && ui.compact()) ? page_ : kRating;
    if (!ui.compact() && only_compact) return kLosses;
    if (page_ == kSigns && !has_visit()) return ui.compact() && !compact_ ? kResult : kLosses;
    if (stacked(ui) && page_ == kTrace) return kResult;
    if (ui.compact() && !compact_ && page_ == kLosses) return kResult;  // where a full layout begins
    return page_;
}

void Debrief::draw_screen(Ui& ui) {
    page_ = page_for(ui);
    compact_ = ui.compact();
    const Layout at = layout_of(ui);
    view_ = at.view;
    time_ = at.time;
    draw_ground(ui, at);
    draw_band(ui);
    places_ = {};
    if (at.view.w > 0.0f) draw_view_labels(ui, at.view);
    if (at.result.w > 0.0f) draw_result(ui, at.result);
    if (at.next.h > 0.0f) draw_next(ui, at.next);
    draw_lists(ui, at);
    if (at.words.w > 0.0f) draw_words(ui, at.words);
    if (at.time.w > 0.0f) draw_time(ui, at.time);
    if (at.plot.w > 0.0f) draw_plot(ui, at.plot);
}

/// The attempt's code and nothing else.
void Debrief::draw_rating_band(Ui& ui) {
    const float h = band_height(ui), bh = h - ui.px(ui.compact() ? 8.0f : 14.0f), by = 0.5f * (h - bh);
    ui.box({0, 0, ui.width(), h}, theme::kPaper);
    ui.line({0, h - 0.5f}, {ui.width(), h - 0.5f}, theme::kLine, ui.px(1.0f));
    const float margin = ui.px(ui.compact() ? 8.0f : kMargin);
    const std::string label = ui.compact() ? "List" : "Back to the list";
    const float w = button_width(ui, label, "Esc"), x = ui.width() - margin - w;
    if (ui.button("score.library", {x, by, w, bh}, label, "Esc", false)) wish_ = DebriefWish::library;
    const graded::RatingSheet& sheet = material_.rating->sheet();
    const std::string words =
        language::say("{}: {} of {} rated", sheet.code, sheet.points.size(), graded::kRatingItems);
    ui.text(Face::bold18, margin, 0.5f * (h - ui.line_height(Face::bold18)), theme::kInk, words, x - 2.0f * margin);
}

void Debrief::draw_band(Ui& ui) {
    if (blind()) return draw_rating_band(ui);
    const float h = band_height(ui), bh = h - ui.px(ui.compact() ? 8.0f : 14.0f), by = 0.5f * (h - bh);
    ui.box({0, 0, ui.width(), h}, theme::kPaper);
    ui.line({0, h - 0.5f}, {ui.width(), h - 0.5f}, theme::kLine, ui.px(1.0f));
    struct Button {
        const char *name, *label, *key;
        DebriefWish wish;
    };
    const Button buttons[] = {
        {"score.library", ui.compact() ? "List" : "Back to the list", "Esc", DebriefWish::library},
        {"score.again", ui.compact() ? "Again" : "Practise again", "R", DebriefWish::again},
        {"score.another", ui.compact() ? "Other" : "Another anatomy", "N", DebriefWish::another},
        {"score.paper", ui.compact() ? "PDF" : "Save as PDF", "P", DebriefWish::paper}};
    float x = ui.width() - ui.px(ui.compact() ? 8.0f : kMargin);
    for (const Button& one : buttons) {
        if (one.wish == DebriefWish::another && variant_words().empty()) continue;
        const float w = button_width(ui, one.label, one.key);
        x -= w;
        if (ui.button(one.name, {x, by, w, bh}, one.label, one.key, false)) wish_ = one.wish;
        x -= ui.px(8.0f);
    }
    const sim::Recording& recording = material_.replay->recording();
    const Face face = ui.compact() ? Face::bold14 : Face::bold18;
    const float left = ui.px(ui.compact() ? 8.0f : kMargin), gap = ui.px(ui.compact() ? 8.0f : 16.0f);
    const float mark = ui.px(ui.compact() ? 8.0f : 10.0f);
    // verdict and points follow the title; where there is no room for all, the points go and the title is smaller
    const std::string verdict = report::verdict_words(score_);
    const std::string points = fmt::format("{:.0f} of {:.0f} points", score_.total_points, score_.total_of);
    const float verdict_w = gap + 2.0f * mark + ui.px(8.0f) + ui.text_width(face, verdict);
    const float points_w = ui.px(12.0f) + ui.text_width(face, points);
    const std::string& title = recording.scenario_title;
    const bool pointed = ui.text_width(Face::bold14, title) + verdict_w + points_w <= x - left;
    const float room = x - left - verdict_w - (pointed ? points_w : 0.0f);
    const Face title_face = ui.text_width(face, title) <= room ? face : Face::bold14;
    const float title_w = std::min(room, ui.text_width(title_face, title) + 1.0f);
    ui.paragraph(title_face, left, 0.5f * (h - ui.paragraph_height(title_face, title_w, title)), title_w, theme::kInk,
                 title);
    float vx = left + title_w + gap;
    ui.mark(mark_of(score_.verdict), {vx + mark, 0.5f * h}, mark);
    vx += 2.0f * mark + ui.px(8.0f);
    const float verdict_y = 0.5f * (h - ui.line_height(face));
    ui.text(face, vx, verdict_y, theme::kInk, verdict, x - vx + 1.0f);
    vx += ui.text_width(face, verdict) + ui.px(12.0f);
    if (pointed) ui.text(face, vx, verdict_y, theme::kSecondInk, points, x - vx + ui.px(2.0f));
}

void Debrief::draw_result(Ui& ui, const Rect& rect) const {
    const float s = ui.scale(), gap = ui.px(kGapD);
    const bool narrow = ui.compact();
    const Rect all = narrow ? ui.begin_scroll("debrief.result", rect) : rect;
    float y = all.y;
    if (narrow) {
        ui.text(Face::bold18, all.x + ui.px(2.0f), y, theme::kInk,
                fmt::format("{:.0f} of {:.0f} points", score_.total_points, score_.total_of), all.w);
        y += ui.line_height(Face::bold18) + ui.px(4.0f);
    }
    std::vector<report::Headline> large = report::headlines(score_, material_.rubric);
    std::erase_if(large, [](const report::Headline& one) { return !one.measured(); });
    const int columns = narrow ? 2 : std::max(1, static_cast<int>(large.size()));
    const float w = (all.w - static_cast<float>(columns - 1) * gap) / static_cast<float>(columns), h = ui.px(88.0f);
    for (std::size_t i = 0; i < large.size(); ++i) {
        const auto column = static_cast<float>(static_cast<int>(i) % columns),
                   row = static_cast<float>(static_cast<int>(i) / columns);
        const Rect card{all.x + column * (w + gap), y + row * (h + gap), w, h};
        const float pad = ui.px(10.0f), room = w - 2.0f * pad;
        const report::Headline& one = large[i];
        ui.box(card, theme::kPaper, 8.0f * s);
        ui.frame(card, theme::kLine, 8.0f * s);
        ui.mark(mark_of(one), {card.right() - ui.px(17.0f), card.y + ui.px(15.0f)}, ui.px(8.0f));
        // in a narrow card the heading's first word stands for it
        const float title_room = room - ui.px(18.0f);
        const bool fits = ui.text_width(Face::bold14, one.title) <= title_room;
        ui.text(Face::bold14, card.x + pad, card.y + ui.px(5.0f), theme::kSecondInk,
                fits ? one.title : one.title.substr(0, one.title.find(' ')), title_room);
        ui.text(Face::bold36, card.x + pad, card.y + ui.px(19.0f), theme::kInk, one.value, room);
        const float value_w = ui.text_width(Face::bold36, one.value) + ui.px(8.0f);
        const std::string share = fmt::format("{:.0f} of {:.0f}", one.points, one.of);
        if (value_w + ui.text_width(Face::text14, share) < room)
            ui.text(Face::text14, card.right() - pad, card.y + ui.px(39.0f), theme::kSecondInk, share, room - value_w,
                    Align::right);
        ui.text(Face::text14, card.x + pad, card.y + ui.px(64.0f), theme::kInk, one.measure, room);
    }
    if (!narrow) return;
    y += static_cast<float>((large.size() + 1) / 2) * (h + gap);
    const float next_h = next_height(ui, all.w);
    draw_next(ui, {all.x, y, all.w, next_h});
    y += next_h + gap;
    const std::string rest = not_measured_words();
    if (!rest.empty()) y += ui.paragraph(Face::text14, all.x, y, all.w, theme::kSecondInk, rest);
    if (const std::string variant = variant_words(); !variant.empty())
        y += ui.paragraph(Face::text14, all.x, y, all.w, theme::kSecondInk, report::capital(variant) + ".");
    ui.end_scroll(y + gap);
}

/// "Not measured here: clearance, ligament resistance."
std::string Debrief::not_measured_words() const {
    std::string words;
    for (const report::Headline& one : report::headlines(score_, material_.rubric)) {
        if (one.measured()) continue;
        words += (words.empty() ? "Not measured here: " : ", ") + std::string(sim::name_of(one.heading));
    }
    return words.empty() ? words : words + ".";
}

float Debrief::next_height(const Ui& ui, float w) const {
    const std::string next = report::next_step_words(score_);
    const float inner = w - ui.px(24.0f);
    return ui.paragraph_height(Face::text14, inner, report::stability_words(score_) + ".") +
           (next.empty() ? 0.0f : ui.paragraph_height(Face::text14, inner, "Next: " + next)) + ui.px(10.0f);
}

/// What to practise next, and how sure the verdict is.
void Debrief::draw_next(Ui& ui, const Rect& rect) const {
    const std::string next = report::next_step_words(score_);
    const float x = rect.x + ui.px(12.0f), w = rect.w - ui.px(24.0f);
    float y = rect.y + ui.px(5.0f);
    ui.box(rect, theme::kBlueWash, ui.px(8.0f));
    if (!next.empty()) y += ui.paragraph(Face::text14, x, y, w, theme::kInk, "Next: " + next);
    ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, report::stability_words(score_) + ".");
}

std::vector<Debrief::TimeButton> Debrief::time_buttons(const Ui& ui) const {
    std::vector<TimeButton> out;
    if (!ui.compact())
        out = {{"debrief.slow", slow_ ? "Play at speed" : "Play slowly", "L", &Debrief::turn_slow},
               {"debrief.forward", "Step forward", "Right", &Debrief::stride_on},
               {"debrief.back", "Step back", "Left", &Debrief::stride_back}};
    out.push_back({"debrief.play", playing_ ? "Stop" : "Play", "K", &Debrief::turn_play});
    return out;
}

std::string Debrief::told() const { return notice_.empty() || playing_ ? moment() : notice_; }

std::string Debrief::name_of_watched() const {
    return watched_ == Watched::reference ? "Reference"
           : watched_ == Watched::earlier ? "Earlier"
           : track_ >= 0                  ? fmt::format("Track {}", track_ + 1)
                                          : "";
}

/// What the buttons of time and the name of what is watched leave for words, of a row this wide.
float Debrief::words_room(const Ui& ui, float w) const {
    for (const TimeButton& one : time_buttons(ui)) w -= button_width(ui, one.label, one.key) + ui.px(6.0f);
    const std::string name = name_of_watched();
    return w - ui.px(8.0f) - (name.empty() ? 0.0f : ui.text_width(Face::bold14, name) + ui.px(10.0f));
}

/// Two lines, or more where a notice needs them.
float Debrief::words_height(const Ui& ui, float w) const {
    return std::max(ui.px(34.0f), ui.paragraph_height(Face::text14, words_room(ui, w), told()));
}

void Debrief::draw_words(Ui& ui, const Rect& rect) {
    // from the right: the buttons of time; what is left goes to the moment in words
    float x = rect.right();
    const float h = ui.px(28.0f), y = rect.y + 0.5f * (rect.h - h);
    const float room = words_room(ui, rect.w);  // before a press changes what a button says
    for (const TimeButton& one : time_buttons(ui)) {
        const float w = button_width(ui, one.label, one.key);
        x -= w;
        if (ui.button(one.name, {x, y, w, h}, one.label, one.key, false)) (this->*one.press)();
        x -= ui.px(6.0f);
    }
    const std::string name = name_of_watched(), words = told();
    const float name_w = x - rect.x - ui.px(8.0f) - room;
    const float text_h = ui.paragraph_height(Face::text14, room, words);
    const float ty = rect.y + std::max(0.0f, 0.5f * (rect.h - text_h));
    if (!name.empty()) ui.text(Face::bold14, rect.x, ty, theme::kInk, name, name_w);
    ui.paragraph(Face::text14, rect.x + name_w, ty, room, theme::kInk, words);
}

void Debrief::turn_play() {
    playing_ = !playing_;
    if (playing_ && shown().step() >= shown().steps()) seek(0);
}

void Debrief::draw_time(Ui& ui, const Rect& rect) {
    const sim::Recording& recording = shown().recording();
    const auto x_of = [&](double step) {
        return rect.x + rect.w * static_cast<float>(step / std::max(1.0, static_cast<double>(shown().steps())));
    };
    const Rect bar{rect.x, rect.y + 0.5f * rect.h - ui.px(3.0f), rect.w, ui.px(6.0f)};
    ui.box(bar, theme::kLine, ui.px(3.0f));
    // where a track was open
    double opened = -1.0;
    for (const sim::Event& event : recording.events) {
        if (event.kind == sim::EventKind::track_opened) opened = static_cast<double>(event.step);
        if (event.kind != sim::EventKind::track_closed || opened < 0.0) continue;
        const float from = x_of(opened), to = x_of(static_cast<double>(event.step));
        ui.box({from, bar.y, std::max(ui.px(2.0f), to - from), bar.h}, theme::kEdge, ui.px(3.0f));
        opened = -1.0;
    }
    if (!watching())
        for (const report::Loss& loss : losses_)
            if (loss.time_s > 0.0) {
                const float x = x_of(loss.time_s / sim::kStepS);
                ui.line({x, bar.y - ui.px(3.0f)}, {x, bar.bottom() + ui.px(3.0f)},
                        loss.critical ? theme::kVermilion : theme::kInk, ui.px(1.5f));
            }
    ui.disc({x_of(moment_steps_), rect.y + 0.5f * rect.h}, ui.px(7.0f), theme::kBlue);
    ui.disc({x_of(moment_steps_), rect.y + 0.5f * rect.h}, ui.px(3.0f), theme::kPaper);
    ui.name_place("debrief.time", rect);
}

void Debrief::draw_plot(Ui& ui, const Rect& rect) {
    PlotCanvas canvas(ui);
    ui.begin_panel(rect);
    view::PlotStyle style;
    style.text_size = static_cast<double>(ui.px(14.0f));
    style.cursor_m = cursor_m();
    style.cursor_words = false;
    const sim::Recording& recording = shown().recording();
    const int vector = track_ >= 0 ? recording.tracks[static_cast<std::size_t>(track_)].vector : -1;
    for (const Beside& beside : beside_) {
        // the same track of the moved path; of another pass the last one along the same vector
        const sim::TrackRecord* other = nullptr;
        for (std::size_t i = 0; i < beside.recording.tracks.size(); ++i)
            if (beside.moved ? static_cast<int>(i) == track_ : beside.recording.tracks[i].vector == vector)
                other = &beside.recording.tracks[i];
        if (other == nullptr) continue;
        style.beside.push_back(
            {view::depth_trace_of(beside.recording, *other, material_.rubric.bands), beside.name, beside.look});
    }
    constexpr int kMostNumbers = 8;
    for (const report::Loss& loss : losses_) {
        const bool selected = loss.number == selected_ + 1;
        if (!watching() && loss.track == track_ && loss.along_m && (loss.number <= kMostNumbers || selected))
            style.numbered.push_back({*loss.along_m, loss.number, selected});
    }
    places_ = view::draw_depth_trace(canvas, canvas_rect(rect), trace_, style);
    ui.end_panel();
    if (trace_.samples.empty()) return;
    const view::CanvasRect& plot = places_.plot;
    ui.name_place("debrief.trace", {static_cast<float>(plot.left), static_cast<float>(plot.top),
                                    static_cast<float>(plot.width()), static_cast<float>(plot.height())});
}

std::string lift_words(const PatientPosture& lift, const session::Replay& shown) {
    constexpr double kToldM = 0.05 * sim::kMm;
    const sim::State& state = shown.state();
    if (!lift.any() || session::recorded_forces(state).none()) return "";
    using Stage = session::TissueStatus::Stage;
    const session::TissueStatus& status = lift.status();
    if (status.stage == Stage::building)
        return fmt::format("Lift is not shown yet: tissue {:.0f} %", 100.0 * status.fraction);
    if (status.stage != Stage::ready) return "Lift is not shown: there is no tissue";
    double most_m = 0.0;
    std::string where;
    const auto& concerns = shown.recording().concerns;
    for (std::size_t i = 0; i < std::min(concerns.size(), state.concerns_moved_m.size()); ++i)
        if (const double moved_m = glm::length(state.concerns_moved_m[i]); moved_m > std::max(most_m, kToldM)) {
            most_m = moved_m;
            where = concerns[i].name;
        }
    return where.empty() ? "" : fmt::format("Skin as threads hold it: {} {:.1f} mm", where, most_m / sim::kMm);
}

void Debrief::draw_view_labels(Ui& ui, const Rect& rect) {
    ui.begin_panel(rect);
    const float h = ui.px(28.0f), w = button_width(ui, skin_words(), "S"), pad = ui.px(8.0f);
    if (ui.button("debrief.skin", {rect.x + pad, rect.bottom() - h - pad, w, h}, skin_words(), "S", false)) next_skin();
    const std::string label = report::capital(watched_words());
    ui.tag(Face::bold14, rect.x + pad, rect.y + pad, label, theme::kBlueText, theme::kPaper);
    if (const std::string words = lift_words(); !words.empty()) {
        const float line = ui.line_height(Face::text14);
        ui.tag(Face::text14, rect.x + pad, rect.y + 2.0f * pad + ui.px(6.0f) + line, words, theme::kInk, theme::kPaper);
    }
    ui.end_panel();
}

}  // namespace app
