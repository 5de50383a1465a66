#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/plot_canvas.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/tray.hpp"
#include "engine/view/depth_plot.hpp"
#include "sim/instruments/gauge.hpp"

namespace app {

namespace {

constexpr float kRow = 34.0f;        // of the tray, at 100 %
constexpr double kForceBarN = 4.0;   // full length of the force bar
constexpr double kForceRatio = 2.0;  // the mark on the bar: twice the running force

const char* word_of(sim::PracticeMode mode) {
    switch (mode) {
        case sim::PracticeMode::coached:
            return "Coached";
        case sim::PracticeMode::solo:
            return "Solo";
        case sim::PracticeMode::graded:
            return "Graded";
    }
    return "";
}

std::string clock_of(double seconds) {
    const int whole = static_cast<int>(seconds);
    return fmt::format("{:02}:{:02}", whole / 60, whole % 60);
}

}  // namespace

void Practice::draw_screen(Ui& ui) {
    const float s = ui.scale();
    view_ = patient_rect(ui.width(), ui.height(), s);
    const float footer_y = ui.height() - theme::kFooter * s;
    draw_band(ui);
    draw_aids(ui, view_);
    draw_sentence(ui, view_);
    if (trace_shown()) draw_trace(ui, {0.0f, view_.bottom(), ui.width(), footer_y - view_.bottom()});
    draw_tray(ui, {view_.right(), view_.y, ui.width() - view_.right(), view_.h});
    name_places(ui, view_);
}

void Practice::draw_band(Ui& ui) const {
    const float s = ui.scale(), h = theme::kBand * s;
    ui.box({0, 0, ui.width(), h}, theme::kPaper);
    ui.line({0, h - 0.5f}, {ui.width(), h - 0.5f}, theme::kLine, s);
    const sim::Scenario& scenario = prepared_.model->scenario;
    float x = 20.0f * s;
    const float title_y = 0.5f * (h - ui.line_height(Face::bold18)),
                small_y = 0.5f * (h - ui.line_height(Face::text14)) + s;
    const float title_w = std::min(ui.text_width(Face::bold18, scenario.title), 330.0f * s);
    ui.text(Face::bold18, x, title_y, theme::kInk, scenario.title, 330.0f * s);
    x += title_w + 20.0f * s;
    if (!scenario.plan.empty()) {
        ui.line({x, 15.0f * s}, {x, h - 15.0f * s}, theme::kLine, s);
        x += 14.0f * s;
        ui.text(Face::text14, x, small_y, theme::kSecondInk, "Side", 60.0f * s);
        x += ui.text_width(Face::text14, "Side ") + 2.0f * s;
        const std::string side(sim::name_of(scenario.plan.front().side));
        ui.text(Face::bold14, x, small_y, theme::kInk, side, 90.0f * s);
        x += ui.text_width(Face::bold14, side) + 26.0f * s;
    }
    const Stage now = stage_of(session_->state(), session_->recording());
    for (int k = 0; k < kStages; ++k) {
        const auto stage = static_cast<Stage>(k);
        const Face face = stage == now ? Face::bold14 : Face::text14;
        const float w = ui.text_width(face, name_of(stage)) + 22.0f * s;
        if (stage == now) {
            ui.box({x, 12.0f * s, w, h - 24.0f * s}, 0xDCEBF5, 14.0f * s);
            ui.frame({x, 12.0f * s, w, h - 24.0f * s}, theme::kBlue, 14.0f * s, 1.5f * s);
        }
        ui.text(face, x + 0.5f * w, small_y, stage == now ? theme::kBlueText : theme::kSecondInk, name_of(stage), w,
                Align::centre);
        if (stage < now)
            ui.line({x + 0.5f * w - 9.0f * s, h - 11.0f * s}, {x + 0.5f * w + 9.0f * s, h - 11.0f * s}, theme::kGreen,
                    2.4f * s);
        x += w + 2.0f * s;
    }
    const std::string clock = clock_of(session_->time_s());
    const float right = ui.width() - 20.0f * s;
    ui.text(Face::bold18, right, title_y, theme::kInk, clock, 90.0f * s, Align::right);
    const std::string mode = word_of(session_->recording().mode);
    const float mode_w = ui.text_width(Face::bold14, mode) + 20.0f * s;
    const Rect chip{right - ui.text_width(Face::bold18, clock) - 14.0f * s - mode_w, 13.0f * s, mode_w, h - 26.0f * s};
    ui.box(chip, 0xEEE8DC, 13.0f * s);
    ui.text(Face::bold14, chip.x + 0.5f * mode_w, small_y, theme::kInk, mode, mode_w, Align::centre);
}

void Practice::draw_sentence(Ui& ui, const Rect& view) const {
    const float s = ui.scale(), pad = 16.0f * s;
    Sentence words = sentence(*prepared_.model, session_->state(), session_->recording());
    if (session_->faults().any())
        words = {Mark::bad, "The calculation met a number that makes no sense and has stopped.",
                 "What was recorded so far is kept. Go back with Esc."};
    else if (finish_asked_ && session_->state().inserted_m > 0.0)
        words = {Mark::caution, "The instrument is still in the skin.",
                 "Withdraw with S, or press Enter again to stop here."};
    else if (session_->waiting())
        words.next = "Waiting for the tissue's answer.";
    const float room = std::min(560.0f * s, view.w - 40.0f * s - 44.0f * s);
    const float text_w = std::max(ui.text_width(Face::bold18, words.is), ui.text_width(Face::text18, words.next));
    const float w = std::min(room, text_w) + 62.0f * s, h = 2.0f * ui.line_height(Face::text18) + 20.0f * s;
    const Rect card{20.0f * s, view.bottom() - h - 16.0f * s, w, h};
    ui.box(card, theme::kPaper, 8.0f * s);
    ui.frame(card, theme::kLine, 8.0f * s);
    ui.mark(words.mark, {card.x + pad + 9.0f * s, card.y + 0.5f * h}, 10.0f * s);
    const float x = card.x + pad + 32.0f * s;
    ui.text(Face::bold18, x, card.y + 9.0f * s, theme::kInk, words.is, room);
    ui.text(Face::text18, x, card.y + 11.0f * s + ui.line_height(Face::bold18), theme::kSecondInk, words.next, room);
}

void Practice::draw_aids(Ui& ui, const Rect& view) {
    if (session_->recording().mode == sim::PracticeMode::graded) return;
    const float s = ui.scale(), h = 28.0f * s;
    struct Chip {
        const char* name;
        const char* label;
        const char* key;
        int aid;
        bool on;
    };
    float x = 20.0f * s;
    for (const Chip& chip : {Chip{"aid.cutaway", "Cut-away", "C", kAidCutaway, cutaway_},
                             Chip{"aid.vessels", "Vessels", "V", kAidVessels, vessels_},
                             Chip{"aid.trace", "Depth trace", "T", kAidTrace, trace_}}) {
        const float w = ui.text_width(Face::bold14, chip.label) + ui.text_width(Face::text14, chip.key) + 48.0f * s;
        const Rect rect{x, view.y + 14.0f * s, w, h};
        bool over = false;
        const bool pressed = ui.area(chip.name, rect, &over);
        ui.box(rect, over ? theme::kBlueWash : theme::kPaper, 14.0f * s);
        ui.frame(rect, chip.on ? theme::kBlue : theme::kLine, 14.0f * s, 1.3f * s);
        const Point dot{x + 15.0f * s, rect.y + 0.5f * h};
        if (chip.on) ui.disc(dot, 5.0f * s, theme::kBlue);
        ui.ring(dot, 5.0f * s, chip.on ? theme::kBlue : theme::kEdge, 1.4f * s);
        const float y = rect.y + 0.5f * (h - ui.line_height(Face::bold14));
        ui.text(Face::bold14, x + 26.0f * s, y, theme::kInk, chip.label, w);
        ui.text(Face::text14, rect.right() - 12.0f * s, y, theme::kSecondInk, chip.key, w, Align::right);
        if (pressed) toggle(chip.aid);
        x += w + 8.0f * s;
    }
}

void Practice::draw_tray(Ui& ui, const Rect& tray) {
    const float s = ui.scale(), pad = 18.0f * s, x = tray.x + pad, w = tray.w - 2.0f * pad;
    ui.box(tray, theme::kPaper);
    ui.line({tray.x + 0.5f, tray.y}, {tray.x + 0.5f, tray.bottom()}, theme::kLine, s);
    const sim::State& state = session_->state();
    const auto& specs = prepared_.model->scenario.tray;
    double longest_m = 0.0;
    for (const sim::InstrumentSpec& spec : specs) longest_m = std::max(longest_m, spec.length_m);

    float y = tray.y + 12.0f * s;
    ui.text(Face::bold14, x, y, theme::kSecondInk, "In hand", w);
    y += 22.0f * s;
    const Rect card{x, y, w, 84.0f * s};
    const bool holding = state.hands.instrument >= 0;
    ui.box(card, holding ? theme::kBlueWash : theme::kGround, 8.0f * s);
    ui.frame(card, holding ? theme::kBlue : theme::kLine, 8.0f * s, 1.6f * s);
    if (holding) {
        const sim::InstrumentSpec& spec = specs[static_cast<std::size_t>(state.hands.instrument)];
        ui.text(Face::bold14, x + 12.0f * s, y + 8.0f * s, theme::kInk, spec.name, w - 24.0f * s);
        ui.text(Face::text14, x + 12.0f * s, y + 26.0f * s, theme::kSecondInk, size_of(spec), w - 24.0f * s);
        draw_instrument(ui, spec, x + 14.0f * s, y + 62.0f * s, w - 28.0f * s, longest_m);
    } else {
        ui.text(Face::text14, card.x + 0.5f * w, y + 0.5f * (card.h - ui.line_height(Face::text14)), theme::kSecondInk,
                "nothing", w, Align::centre);
    }
    y += card.h + 12.0f * s;

    ui.text(Face::bold14, x, y, theme::kSecondInk, "At hand", w);
    y += 20.0f * s;
    for (std::size_t i = 0; i < specs.size(); ++i) {
        const bool held = static_cast<int>(i) == state.hands.instrument, out = !state.in_use[i];
        const Rect row{x - 6.0f * s, y, w + 12.0f * s, (kRow + 12.0f) * s};
        bool over = false;
        if (!held && !out && ui.area(fmt::format("tray.{}", i + 1), row, &over)) take(static_cast<int>(i));
        if (over) ui.box(row, theme::kBlueWash, 6.0f * s);
        const unsigned ink = held || out ? theme::kSecondInk : theme::kInk;
        ui.tag(Face::bold14, x, y + 3.0f * s, fmt::format("{}", i + 1), theme::kInk, 0xEEE8DC);
        const std::string note = held ? "in hand" : out ? "discarded" : size_of(specs[i]);
        const float note_w = ui.text_width(Face::text14, note);
        ui.text(Face::text14, x + 28.0f * s, y + 4.0f * s, ink, specs[i].name, w - note_w - 36.0f * s);
        ui.text(Face::text14, x + w, y + 4.0f * s, theme::kSecondInk, note, w, Align::right);
        if (!held && !out) draw_instrument(ui, specs[i], x + 28.0f * s, y + 33.0f * s, w - 34.0f * s, longest_m);
        if (held || out) y -= 20.0f * s;
        y += row.h;
        ui.line({x, y}, {x + w, y}, theme::kLine, s);
        y += s;
    }

    y += 10.0f * s;
    ui.text(Face::bold14, x, y, theme::kSecondInk, "Force on the hand", w);
    const double force_n = std::max(0.0, std::fabs(state.force.hand_n));
    ui.text(Face::text14, x + w, y + 22.0f * s, theme::kSecondInk,
            state.force.running_n > 0.05 ? fmt::format("running {:.1f} N", state.force.running_n) : "", w,
            Align::right);
    const std::string number = fmt::format("{:.1f}", force_n);
    ui.text(Face::bold24, x, y + 16.0f * s, theme::kInk, number, w);
    ui.text(Face::text18, x + ui.text_width(Face::bold24, number) + 6.0f * s, y + 21.0f * s, theme::kSecondInk, "N", w);
    y += 50.0f * s;
    const Rect bar{x, y, w, 10.0f * s};
    ui.box(bar, theme::kGround, 3.0f * s);
    const float share = static_cast<float>(std::min(1.0, force_n / kForceBarN));
    const bool doubled = state.force.doubled;
    if (share > 0.005f) ui.box({x, y, w * share, bar.h}, doubled ? theme::kOrange : theme::kBlue, 3.0f * s);
    ui.frame(bar, theme::kEdge, 3.0f * s, s);
    if (state.force.running_n > 0.05) {
        const float at = x + w * static_cast<float>(std::min(1.0, kForceRatio * state.force.running_n / kForceBarN));
        ui.line({at, y - 3.0f * s}, {at, y + bar.h + 3.0f * s}, theme::kInk, 2.0f * s);
    }

    // hints and the way out keep to the bottom
    const float button_h = 42.0f * s;
    const Rect button{x, tray.bottom() - button_h - 14.0f * s, w, button_h};
    if (ui.button("practice.finish", button, "Finish", "Enter", true)) finish();
    const float hints_h = 3.0f * 22.0f * s;
    const float hints_y = button.y - hints_h - 10.0f * s;
    if (hints_y > y + bar.h + 8.0f * s) {
        float hx = x, hy = hints_y;
        for (std::size_t i = 0; i < Steering::hints().size(); ++i) {
            const KeyHint& hint = Steering::hints()[i];
            const float key_w = ui.tag(Face::bold14, hx, hy, hint.keys, theme::kInk, 0xEEE8DC);
            const float room = 0.5f * w - key_w - 8.0f * s;
            ui.text(Face::text14, hx + key_w + 6.0f * s, hy + s, theme::kSecondInk, hint.meaning, room);
            if (i % 2 == 0) {
                hx = x + 0.5f * w;
            } else {
                hx = x;
                hy += 22.0f * s;
            }
        }
    }
}

void Practice::draw_trace(Ui& ui, const Rect& rect) const {
    const float s = ui.scale();
    ui.box(rect, theme::kGround);
    ui.line({rect.x, rect.y}, {rect.right(), rect.y}, theme::kLine, s);
    const sim::State& state = session_->state();
    const sim::Recording& recording = session_->recording();

    const float x = 20.0f * s, read_outs = 128.0f * s;
    const sim::LayerPoint at = prepared_.model->anatomy->layers_at(state.tip_m);
    float y = rect.y + 12.0f * s;
    const auto read_out = [&](const char* name, const std::string& number, const char* unit, Face face) {
        ui.text(Face::text14, x, y, theme::kSecondInk, name, read_outs);
        y += 17.0f * s;
        ui.text(face, x, y, theme::kInk, number, read_outs);
        ui.text(Face::text14, x + ui.text_width(face, number) + 5.0f * s,
                y + 0.80f * (ui.line_height(face) - ui.line_height(Face::text14)), theme::kSecondInk, unit, read_outs);
        y += ui.line_height(face) + 3.0f * s;
    };
    read_out("Depth of the tip", fmt::format("{:.1f}", 1e3 * at.depth_m), "mm", Face::bold36);
    read_out("Under the skin", fmt::format("{:.0f}", 1e3 * state.inserted_m), "mm", Face::bold24);
    if (!recording.rows.empty() && recording.rows.back().nearest.structure >= 0)
        read_out("Nearest wall", fmt::format("{:.1f}", 1e3 * recording.rows.back().nearest.distance_m), "mm",
                 Face::bold24);

    PlotCanvas canvas(ui);
    const view::CanvasRect where{static_cast<double>(x + read_outs), static_cast<double>(rect.y + 8.0f * s),
                                 static_cast<double>(rect.right() - 16.0f * s),
                                 static_cast<double>(rect.bottom() - 4.0f * s)};
    view::PlotStyle style;
    style.text_size = static_cast<double>(14.0f * s);
    const sim::InstrumentSpec& held = prepared_.model->scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
    const view::DepthTrace trace = view::depth_trace_of(recording, state.track ? state.track->index : -1,
                                                        sim::gauge(held.gauge).radius_m(), prepared_.rubric.bands);
    view::draw_depth_trace(canvas, where, trace, style);
}

void Practice::name_places(Ui& ui, const Rect& view) const {
    // where planned entries are on the screen, for whoever drives it from outside
    const double aspect = static_cast<double>(view.w / view.h);
    const auto& plan = prepared_.model->scenario.plan;
    for (std::size_t i = 0; i < plan.size(); ++i) {
        const auto at = camera_.project(prepared_.model->anatomy->nearest_skin(plan[i].entry_m).position_m, aspect);
        if (!at) continue;
        const float x = view.x + 0.5f * view.w * static_cast<float>(1.0 + at->x);
        const float y = view.y + 0.5f * view.h * static_cast<float>(1.0 - at->y);
        ui.name_place(fmt::format("entry.{}", i + 1), {x - 1.0f, y - 1.0f, 2.0f, 2.0f});
    }
}

}  // namespace app
