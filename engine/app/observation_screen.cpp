#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/chips.hpp"
#include "engine/app/guide.hpp"
#include "engine/app/observation.hpp"
#include "engine/app/observed_list.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/visit_words.hpp"
#include "engine/language/words.hpp"

/// What an observer sees: the patient, what the hands hold and where its tip is, and all that happens, newest first.

namespace app {

namespace {

constexpr float kMargin = 16.0f, kGap = 10.0f, kPad = 12.0f, kTabs = 34.0f;
constexpr float kMarkW = 30.0f, kBeside = 10.0f;  // of a row of events

void card(Ui& ui, const Rect& rect) {
    ui.box(rect, theme::kPaper, ui.px(8.0f));
    ui.frame(rect, theme::kLine, ui.px(8.0f));
}

std::string clock_at(std::int64_t step) { return report::clock_words(static_cast<double>(step) * sim::kStepS); }

}  // namespace

/// How the attempt stands, and what the observer's picture does about it.
std::string Observation::told() const {
    const std::int64_t ahead = replay().steps() - replay().step();
    std::string out;
    if (frozen_)
        out = language::say(
            "Frozen at {}. The attempt went on for {}; events since: {}. Freezing stops this picture alone.",
            clock_at(replay().step()), clock_at(ahead), since_frozen());
    else if (catching_up_)
        out = language::say("Going on to the present: {} to go.", clock_at(ahead));
    if (now_.standing == session::Standing::ended) {
        const std::string at = clock_at(replay().steps());
        out += (out.empty() ? "" : " ") + (now_.finished ? language::say("The attempt was finished at {}.", at)
                                                         : language::say("The attempt was given up at {}.", at));
    } else if (!now_.trouble.empty()) {
        out += (out.empty() ? "" : " ") + language::say("Nothing comes any more: you see what was read until then.");
    } else if (now_.standing == session::Standing::stopped) {
        out += (out.empty() ? "" : " ") +
               language::say("Nothing has been written for {}: the attempt waits, was left, or its machine is off.",
                             report::clock_words(now_.quiet_s));
    } else if (out.empty()) {
        out = language::tr("Live. You look on: whoever works notices nothing, and their time goes on.");
    }
    const std::string caveat = replay().caveat();
    return caveat.empty() ? out : out + " " + language::tr(caveat);
}

std::string Observation::place_words() const {
    const sim::State& state = replay().state();
    if (state.hands.instrument < 0) return "Both hands are empty.";
    if (!(state.inserted_m > 0.0)) return "Outside the skin.";
    const sim::LayerPoint at = replay().model().anatomy->layers_at(state.tip_m);
    return fmt::format("Tip {:.1f} mm deep, {}.", std::max(0.0, at.depth_m) / sim::kMm, in_layer(at.layer));
}

/// What the hand feels, and what is nearest to the tip.
std::string Observation::feel_words() const {
    const sim::State& state = replay().state();
    if (!(state.inserted_m > 0.0)) return replay().recording().visit ? "Patient's time: " + patient_clock(state) : "";
    std::string out = fmt::format("Resistance {:.1f} N", std::fabs(state.force.hand_n)) + ".";
    const sim::TraceRow* row = row_now();
    const auto& structures = replay().recording().structures;
    if (row == nullptr || row->nearest.structure < 0 ||
        static_cast<std::size_t>(row->nearest.structure) >= structures.size())
        return out;
    return out + " " +
           fmt::format("{:.1f} mm from the {}.", std::max(0.0, row->nearest.distance_m) / sim::kMm,
                       structures[static_cast<std::size_t>(row->nearest.structure)].name);
}

Observation::Layout Observation::layout_of(const Ui& ui) const {
    Layout at;
    const float top = band_height(ui), bottom = ui.height() - footer_height(ui);
    const float margin = ui.px(ui.compact() ? 8.0f : kMargin), gap = ui.px(ui.compact() ? 6.0f : kGap);
    const Rect all{margin, top + gap, ui.width() - 2.0f * margin, bottom - top - 2.0f * gap};
    const float inner = all.w - 2.0f * ui.px(kPad) - ui.px(26.0f);
    const float trouble_h =
        now_.trouble.empty() ? 0.0f : ui.paragraph_height(Face::text14, inner, now_.trouble) + ui.px(2.0f);
    at.words = {all.x, all.y, all.w, ui.paragraph_height(Face::text14, inner, told()) + trouble_h + ui.px(10.0f)};
    float y = at.words.bottom() + gap;
    if (ui.compact()) {
        at.tabs = {all.x, y, all.w, ui.px(kTabs)};
        y = at.tabs.bottom() + gap;
        const Rect page{all.x, y, all.w, all.bottom() - y};
        if (page_ == kPicture) at.view = page;
        if (page_ == kEvents) at.events = page;
        if (page_ == kInside) {
            at.now = {page.x, page.y, std::round(0.4f * page.w), page.h};
            at.section = {at.now.right() + gap, page.y, page.right() - at.now.right() - gap, page.h};
        }
        return at;
    }
    at.view = {all.x, y, std::round(0.58f * all.w), all.bottom() - y};
    const float x = at.view.right() + gap, w = all.right() - x;
    at.now = {x, y, w, now_height(ui, w)};
    // nothing in the skin: what happens has the room
    const bool in = replay().state().inserted_m > 0.0;
    const float section_h = in ? std::round(0.32f * all.h) : ui.px(50.0f) + ui.line_height(Face::text14);
    at.section = {x, at.now.bottom() + gap, w, section_h};
    at.events = {x, at.section.bottom() + gap, w, all.bottom() - at.section.bottom() - gap};
    return at;
}

Rect Observation::patient_rect(const Ui& ui) const { return layout_of(ui).view; }

void Observation::draw_ground(Ui& ui, const Layout& at) const {
    const float w = ui.width(), h = ui.height();
    if (!(at.view.w > 0.0f)) return ui.box({0, 0, w, h}, theme::kGround);
    // around the patient, who is drawn already
    ui.box({0, 0, w, at.view.y}, theme::kGround);
    ui.box({0, at.view.bottom(), w, h - at.view.bottom()}, theme::kGround);
    ui.box({0, at.view.y, at.view.x, at.view.h}, theme::kGround);
    ui.box({at.view.right(), at.view.y, w - at.view.right(), at.view.h}, theme::kGround);
    ui.frame(at.view, theme::kLine, 0.0f, ui.px(1.5f));
}

void Observation::draw_screen(Ui& ui) {
    told_ = told();
    const Layout at = layout_of(ui);
    view_ = at.view;
    draw_ground(ui, at);
    draw_band(ui);
    draw_told(ui, at.words);
    if (at.view.w > 0.0f) draw_view_labels(ui, at.view);
    if (at.now.w > 0.0f) draw_now(ui, at.now);
    if (at.section.h > 0.0f) draw_section(ui, at.section);
    if (at.events.w > 0.0f) draw_events(ui, at.events);
    if (!(at.tabs.w > 0.0f)) return;
    const std::vector<std::string> tabs{"Picture", "Events", "Inside"};
    page_ = ui.choice("observe.page", at.tabs, tabs, page_);
}

/// Whose attempt it is, the time, and the two things to do.
void Observation::draw_band(Ui& ui) {
    const float h = band_height(ui), bh = h - ui.px(ui.compact() ? 8.0f : 14.0f), by = 0.5f * (h - bh);
    ui.box({0, 0, ui.width(), h}, theme::kPaper);
    ui.line({0, h - 0.5f}, {ui.width(), h - 0.5f}, theme::kLine, ui.px(1.0f));
    const float left = ui.px(ui.compact() ? 8.0f : kMargin);
    float x = ui.width() - left;
    const auto button = [&](const char* name, const char* label, const char* key, bool primary) {
        // one that stands out has larger words
        const float more = primary ? ui.text_width(Face::bold18, label) - ui.text_width(Face::bold14, label) : 0.0f;
        const float w = button_width(ui, label, key) + more;
        x -= w;
        const bool pressed = ui.button(name, {x, by, w, bh}, label, key, primary);
        x -= ui.px(8.0f);
        return pressed;
    };
    if (button("observe.list", ui.compact() ? "List" : "Back to the list", "Esc", false)) leave_ = true;
    const bool was_frozen = frozen_;
    if (button("observe.freeze", was_frozen ? (ui.compact() ? "Present" : "To the present") : "Freeze", "K",
               was_frozen))
        was_frozen ? to_present() : freeze();
    const std::string clock = clock_at(replay().step());
    const Face face = ui.compact() ? Face::bold14 : Face::bold18;
    const float clock_w = ui.text_width(face, "00:00:00");
    ui.text(face, x - ui.px(8.0f), 0.5f * (h - ui.line_height(face)), theme::kInk, clock, clock_w, Align::right);
    const float room = x - clock_w - ui.px(16.0f) - left;
    const std::string title = language::tr(replay().recording().scenario_title);
    const std::string whole = title + ", " + material_.learner;
    const std::string& words = ui.text_width(face, whole) <= room ? whole : title;
    const Face fits = ui.text_width(face, words) <= room ? face : Face::bold14;
    const float text_h = ui.paragraph_height(fits, room, words);
    ui.paragraph(fits, left, 0.5f * (h - text_h), room, theme::kInk, words);
}

void Observation::draw_told(Ui& ui, const Rect& rect) const {
    const bool still = frozen_ || now_.standing != session::Standing::live;
    ui.box(rect, still ? theme::kBlueWash : theme::kPaper, ui.px(8.0f));
    ui.frame(rect, frozen_ ? theme::kBlue : theme::kLine, ui.px(8.0f), ui.px(frozen_ ? 1.8f : 1.0f));
    const float x = rect.x + ui.px(kPad) + ui.px(26.0f), w = rect.right() - ui.px(kPad) - x;
    ui.mark(mark_of(now_.standing), {rect.x + ui.px(kPad + 8.0f), rect.y + 0.5f * rect.h}, ui.px(8.0f));
    const float y = rect.y + ui.px(5.0f);
    const float h = ui.paragraph(Face::text14, x, y, w, theme::kInk, told());
    if (!now_.trouble.empty())
        ui.paragraph(Face::text14, x, y + h + ui.px(2.0f), w, theme::kVermilionText, now_.trouble);
    ui.name_place("observe.told", rect);
}

float Observation::now_height(const Ui& ui, float w) const {
    const float room = w - 2.0f * ui.px(kPad);
    // two lines for what the hand feels: the card keeps its height while the instrument moves
    return ui.px(16.0f) + ui.line_height(Face::bold14) + ui.paragraph_height(Face::text14, room, place_words()) +
           2.0f * ui.line_height(Face::text14);
}

void Observation::draw_now(Ui& ui, const Rect& rect) const {
    card(ui, rect);
    const float x = rect.x + ui.px(kPad), w = rect.w - 2.0f * ui.px(kPad);
    float y = rect.y + ui.px(8.0f);
    const int held = replay().state().hands.instrument;
    const auto& tray = replay().model().scenario.tray;
    const bool holds = held >= 0 && static_cast<std::size_t>(held) < tray.size();
    ui.text(Face::bold14, x, y, theme::kInk, holds ? tray[static_cast<std::size_t>(held)].name : "Nothing in hand", w);
    y += ui.line_height(Face::bold14);
    y += ui.paragraph(Face::text14, x, y, w, theme::kInk, place_words());
    if (const std::string feels = feel_words(); !feels.empty())
        ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, feels);
}

void Observation::draw_section(Ui& ui, const Rect& rect) {
    const sim::State& state = replay().state();
    const int held = state.hands.instrument;
    const auto& tray = replay().model().scenario.tray;
    static_cast<void>(section_panel_.draw(ui, rect, *replay().model().anatomy, material_.shown.rubric.bands, state,
                                          held < 0 ? nullptr : &tray[static_cast<std::size_t>(held)], false));
}

float Observation::event_height(const Ui& ui, float w, const Happening& one) const {
    const float line = ui.line_height(Face::text14), what_w = ui.text_width(Face::bold14, one.what) + ui.px(kBeside);
    const bool beside = one.detail.empty() || what_w + ui.text_width(Face::text14, one.detail) <= w;
    return line + (beside ? 0.0f : ui.paragraph_height(Face::text14, w, one.detail)) + ui.px(6.0f);
}

bool Observation::draw_event(Ui& ui, const Rect& row, std::size_t index) const {
    const Happening& one = happenings_.all()[index];
    const float pad = ui.px(6.0f), time_w = ui.text_width(Face::bold14, "000:00"), line = ui.line_height(Face::text14);
    const float x = row.x + pad + time_w + ui.px(kMarkW), w = row.right() - pad - x, y = row.y + ui.px(3.0f);
    bool over = false;
    const bool pressed = ui.area(fmt::format("observe.event.{}", index + 1), row, &over);
    if (over) ui.box(row, theme::kOver, ui.px(5.0f));
    ui.text(Face::text14, row.x + pad + time_w, y, theme::kSecondInk, clock_at(one.step), time_w, Align::right);
    ui.mark(one.mark, {row.x + pad + time_w + ui.px(15.0f), y + 0.5f * line}, ui.px(6.0f));
    ui.text(Face::bold14, x, y, theme::kInk, one.what, w);
    const float what_w = ui.text_width(Face::bold14, one.what) + ui.px(kBeside);
    if (one.detail.empty()) return pressed;
    if (what_w + ui.text_width(Face::text14, one.detail) <= w)
        ui.text(Face::text14, x + what_w, y, theme::kInk, one.detail, w - what_w + 1.0f);
    else
        ui.paragraph(Face::text14, x, y + line, w, theme::kInk, one.detail);
    return pressed;
}

/// Newest first. One that is pressed is where the picture then stands still. What lies out of sight is not drawn, but
/// for the next rows that a key would come to.
void Observation::draw_events(Ui& ui, const Rect& rect) {
    card(ui, rect);
    const Rect panel = rect.inset(ui.px(4.0f)), all = ui.begin_scroll("observe.events", panel);
    const float w = all.w - ui.px(4.0f), around = 3.0f * ui.line_height(Face::text14);
    const float text_w = w - 2.0f * ui.px(6.0f) - ui.text_width(Face::bold14, "000:00") - ui.px(kMarkW);
    if (row_heights_.w != text_w || row_heights_.scale != ui.scale()) row_heights_ = {text_w, ui.scale(), {}};
    for (std::size_t i = row_heights_.h.size(); i < happenings_.all().size(); ++i)
        row_heights_.h.push_back(event_height(ui, text_w, happenings_.all()[i]));
    float y = all.y + ui.px(2.0f);
    const std::size_t count = happenings_.count_by(replay().step());
    if (count == 0)
        y += ui.paragraph(Face::text14, all.x + ui.px(8.0f), y + ui.px(4.0f), w - ui.px(12.0f), theme::kSecondInk,
                          "Nothing has happened yet.");
    std::optional<std::int64_t> asked;
    for (std::size_t i = count; i-- > 0; y += row_heights_.h[i]) {
        if (y + row_heights_.h[i] < panel.y - around || y > panel.bottom() + around) continue;
        if (draw_event(ui, {all.x + ui.px(2.0f), y, w, row_heights_.h[i]}, i)) asked = happenings_.all()[i].step + 1;
    }
    ui.end_scroll(y + ui.px(4.0f));
    if (asked) freeze_at(*asked);
}

void Observation::draw_view_labels(Ui& ui, const Rect& rect) {
    ui.begin_panel(rect);
    const float h = ui.px(28.0f), pad = ui.px(8.0f), w = button_width(ui, skin_words(), "S");
    if (ui.button("observe.skin", {rect.x + pad, rect.bottom() - h - pad, w, h}, skin_words(), "S", false)) next_skin();
    ui.tag(Face::bold14, rect.x + pad, rect.y + pad,
           frozen_ ? "Frozen" : report::capital(standing_words(now_.standing, now_.finished)), theme::kBlueText,
           theme::kPaper);
    if (const std::string words = lift_words(lift_, replay()); !words.empty())
        ui.tag(Face::text14, rect.x + pad, rect.y + 2.0f * pad + ui.px(6.0f) + ui.line_height(Face::text14), words,
               theme::kInk, theme::kPaper);
    ui.end_panel();
}

}  // namespace app
