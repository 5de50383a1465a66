#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/kept_panels.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/tray.hpp"

namespace app {

namespace {

constexpr double kForceBarN = 4.0;   // full length of the force bar, doubled until it holds what was felt
constexpr double kForceRatio = 2.0;  // the mark on the bar: twice the running force

/// One scale for all instruments of a tray, so that the longest fits into this room.
float scale_for(const std::vector<view::SidePicture>& pictures, float room) {
    float longest_mm = 1.0f;
    for (const view::SidePicture& picture : pictures)
        longest_mm = std::max(longest_mm, picture.to_mm - picture.from_mm);
    return room / longest_mm;
}

constexpr float kNameIndent = 28.0f, kRowEnd = 6.0f;  // of an instrument at hand
constexpr float kInset = 12.0f;                       // of the one in hand
constexpr float kForceBarHeight = 10.0f;

}  // namespace

void Practice::draw_tray(Ui& ui, const Rect& tray) {
    const float pad = ui.px(ui.compact() ? 10.0f : 18.0f);
    ui.box(tray, theme::kPaper);
    const float edge = settings_.left_handed ? tray.right() - 0.5f : tray.x + 0.5f;
    ui.line({edge, tray.y}, {edge, tray.bottom()}, theme::kLine, ui.px(1.0f));
    const float button_h = ui.px(ui.compact() ? 30.0f : 42.0f), foot = button_h + ui.px(ui.compact() ? 10.0f : 26.0f);
    // what the section covers is not there to be pressed
    const float covered = part_shown() ? part_rect(ui, tray).h : 0.0f;
    const Rect inner{tray.x + ui.px(2.0f), tray.y + covered, tray.w - ui.px(2.0f), tray.h - foot - covered};
    const Rect content = ui.begin_scroll("tray", inner);
    const float x = tray.x + pad, w = content.right() - pad - x;
    float y = content.y + ui.px(ui.compact() ? 4.0f : 12.0f);
    const float px_per_mm =
        std::min(scale_for(in_hand_, w - 2.0f * ui.px(kInset)), scale_for(in_tray_, w - ui.px(kNameIndent + kRowEnd)));
    // all but the force and the read-outs rests while the hand works; a margin holds what the pointer lights up
    const float margin = ui.px(7.0f), force_h = force_height(ui), hints_h = hints_height(ui, w);
    if (at_thread() && !(ui.compact() && keys_open_)) {
        ui.end_scroll(draw_thread_tray(ui, x, y, w, px_per_mm) + ui.px(4.0f));
    } else if (ui.compact() && keys_open_) {
        draw_hints(ui, x, y, w);
        ui.end_scroll(y + hints_h);
    } else if (ui.compact()) {
        // what changes first: what is in the hand and at hand can wait while the hand works
        const float top = y, rest_y = y + read_outs_height(ui) + force_h + ui.px(8.0f);
        y = rest_y;
        begin_kept(ui, KeptPanel::tray, {x - margin, y, w + 2.0f * margin, std::max(1.0f, inner.bottom() - y)},
                   theme::kPaper);
        if (!part_shown()) {
            y = draw_in_hand(ui, x, y, w, px_per_mm);
            y = draw_at_hand(ui, x, y + ui.px(8.0f), w, px_per_mm);
        }
        end_kept(ui);
        draw_read_outs(ui, x, top, w);
        draw_force(ui, x, top + read_outs_height(ui), w);
        ui.end_scroll(y + ui.px(4.0f));
    } else {
        begin_kept(ui, KeptPanel::tray, {x - margin, y, w + 2.0f * margin, inner.bottom() - y}, theme::kPaper);
        if (!part_shown()) {
            y = draw_in_hand(ui, x, y, w, px_per_mm);
            y = draw_at_hand(ui, x, y + ui.px(10.0f), w, px_per_mm);
        }
        const float force_y = y + ui.px(8.0f);
        // hints keep to the bottom where there is room
        y = std::max(force_y + force_h + ui.px(8.0f), content.y + inner.h - hints_h);
        draw_hints(ui, x, y, w);
        end_kept(ui);
        draw_force(ui, x, force_y, w);
        ui.end_scroll(y + hints_h);
    }
    const Rect button{tray.x + pad, tray.bottom() - button_h - ui.px(ui.compact() ? 5.0f : 14.0f), tray.w - 2.0f * pad,
                      button_h};
    // it stands out once there is something to finish
    const bool due = stage_of(session_->state(), session_->recording()) == Stage::finish && pass_made();
    if (ui.button("practice.finish", button, "Finish", "Enter", due)) finish();
}

float Practice::draw_in_hand(Ui& ui, float x, float y, float w, float px_per_mm) const {
    const auto& specs = prepared_.model->scenario.tray;
    const int instrument = session_->state().hands.instrument;
    ui.text(Face::bold14, x, y, theme::kSecondInk, "In hand", w);
    const float line = ui.line_height(Face::text14);
    y += line + ui.px(3.0f);
    const bool holding = instrument >= 0;
    const float inset = ui.px(kInset), name_w = w - inset - ui.px(4.0f);
    const float name_h =
        holding ? ui.paragraph_height(Face::bold14, name_w, specs[static_cast<std::size_t>(instrument)].name) : 0.0f;
    const Rect card{x, y, w, holding ? name_h + line + ui.px(30.0f) : ui.px(40.0f)};
    ui.box(card, holding ? theme::kBlueWash : theme::kGround, ui.px(8.0f));
    ui.frame(card, holding ? theme::kBlue : theme::kLine, ui.px(8.0f), ui.px(1.6f));
    if (!holding) {
        ui.text(Face::text14, card.x + 0.5f * w, y + 0.5f * (card.h - ui.line_height(Face::text14)), theme::kSecondInk,
                "Nothing", w, Align::centre);
        return y + card.h;
    }
    const sim::InstrumentSpec& spec = specs[static_cast<std::size_t>(instrument)];
    ui.paragraph(Face::bold14, x + inset, y + ui.px(4.0f), name_w, theme::kInk, spec.name);
    const std::string size = size_of(spec);
    ui.text(Face::text14, x + inset, y + ui.px(4.0f) + name_h, theme::kSecondInk, size, w - 2.0f * inset);
    // how the hand slopes it, against the skin at the entry
    if (session_->state().hands.entry_chosen) {
        const std::string slope = fmt::format("slope {:.0f}°", session_->state().hands.pitch_rad * 180.0 / sim::kPi);
        const float room = w - 2.0f * inset - ui.text_width(Face::text14, size) - ui.px(8.0f);
        if (ui.text_width(Face::text14, slope) <= room)
            ui.text(Face::text14, x + w - inset, y + ui.px(4.0f) + name_h, theme::kInk, slope, room, Align::right);
    }
    draw_instrument(ui, spec, in_hand_[static_cast<std::size_t>(instrument)], x + inset,
                    y + name_h + line + ui.px(15.0f), px_per_mm);
    return y + card.h;
}

float Practice::draw_at_hand(Ui& ui, float x, float y, float w, float px_per_mm) {
    const auto& specs = prepared_.model->scenario.tray;
    const sim::State& state = session_->state();
    ui.text(Face::bold14, x, y, theme::kSecondInk, "At hand", w);
    y += ui.line_height(Face::text14) + ui.px(2.0f);
    for (std::size_t i = 0; i < specs.size(); ++i) {
        if (static_cast<int>(i) == state.hands.instrument) continue;  // it is shown above
        const bool out = !state.in_use[i];
        const std::string note = out ? "discarded" : size_of(specs[i]);
        const float name_x = x + ui.px(kNameIndent), note_w = ui.text_width(Face::text14, note);
        // name and size on one line where both fit
        const bool two_lines = name_x + ui.text_width(Face::text14, specs[i].name) + note_w + ui.px(8.0f) > x + w;
        const float line_h = ui.line_height(Face::text14), text_h = two_lines ? 2.0f * line_h : line_h;
        const Rect row{x - ui.px(6.0f), y, w + ui.px(12.0f), text_h + ui.px(out ? 8.0f : 26.0f)};
        bool over = false;
        if (!out && ui.area(fmt::format("tray.{}", i + 1), row, &over)) take(static_cast<int>(i));
        if (over) ui.box(row, theme::kOver, ui.px(6.0f));
        const unsigned ink = out ? theme::kSecondInk : theme::kInk;
        ui.tag(Face::bold14, x, y + ui.px(3.0f), fmt::format("{}", i + 1), theme::kInk, theme::kChip);
        // in the narrowest tray the first words stand for the whole
        std::string name = specs[i].name;
        while (name.find(' ') != std::string::npos && ui.text_width(Face::text14, name) > x + w - name_x)
            name.resize(name.rfind(' '));
        ui.text(Face::text14, name_x, y + ui.px(3.0f), ink, name, x + w - name_x);
        if (two_lines)
            ui.text(Face::text14, name_x, y + ui.px(4.0f) + line_h, theme::kSecondInk, note, x + w - name_x);
        else
            ui.text(Face::text14, x + w, y + ui.px(4.0f), theme::kSecondInk, note, note_w + 1.0f, Align::right);
        if (!out) draw_instrument(ui, specs[i], in_tray_[i], name_x, y + text_h + ui.px(14.0f), px_per_mm);
        y += row.h;
        ui.line({x, y}, {x + w, y}, theme::kLine, ui.px(1.0f));
        y += ui.px(1.0f);
    }
    return prepared_.ultrasound ? draw_probe_at_hand(ui, x, y, w) : y;
}

/// It has no number key: the other hand takes it.
float Practice::draw_probe_at_hand(Ui& ui, float x, float y, float w) {
    const Rect row{x - ui.px(6.0f), y, w + ui.px(12.0f), ui.line_height(Face::text14) + ui.px(12.0f)};
    bool over = false;
    if (ui.area("tray.probe", row, &over)) take_probe(true);
    if (over) ui.box(row, theme::kOver, ui.px(6.0f));
    // seen from its broad side: head, waist, handle
    const Rect head{x + ui.px(1.0f), y + ui.px(14.0f), ui.px(18.0f), ui.px(7.0f)};
    ui.box({x + ui.px(4.0f), y + ui.px(4.0f), ui.px(12.0f), ui.px(12.0f)}, theme::kLine, ui.px(3.0f));
    ui.box(head, theme::kEdge, ui.px(2.0f));
    ui.text(Face::text14, x + ui.px(kNameIndent), y + ui.px(6.0f), theme::kInk, "Ultrasound probe",
            w - ui.px(kNameIndent));
    return y + row.h;
}

float Practice::force_height(const Ui& ui) {
    return ui.line_height(ui.compact() ? Face::bold18 : Face::bold24) + ui.px(kForceBarHeight + 3.0f) +
           ui.line_height(Face::text14);
}

void Practice::draw_force(Ui& ui, float x, float y, float w) const {
    const sim::ShaftForce& force = session_->state().force;
    const Face face = ui.compact() ? Face::bold18 : Face::bold24;
    const float number_h = ui.line_height(face);
    const double force_n = at_thread() ? worked_thread().pull_n : std::max(0.0, std::fabs(force.hand_n));
    const std::string number = fmt::format("{:.1f} N", force_n);
    ui.text(Face::bold14, x, y + 0.5f * (number_h - ui.line_height(Face::bold14)), theme::kSecondInk,
            ui.compact()  ? "Force"
            : at_thread() ? "Pull on the tail"
                          : "Force on the hand",
            w);
    ui.text(face, x + w, y, theme::kInk, number, w, Align::right);
    y += number_h;
    double full_n = kForceBarN;
    while (full_n < peak_n_) full_n *= 2.0;
    const Rect bar{x, y, w, ui.px(kForceBarHeight)};
    ui.box(bar, theme::kGround, ui.px(3.0f));
    const float share = static_cast<float>(std::min(1.0, force_n / full_n));
    if (share > 0.005f) ui.box({x, y, w * share, bar.h}, force.doubled ? theme::kOrange : theme::kBlue, ui.px(3.0f));
    ui.frame(bar, theme::kEdge, ui.px(3.0f), ui.px(1.0f));
    y += bar.h + ui.px(3.0f);
    const std::string most = fmt::format("{:.0f} N", full_n), twice = "twice running";
    const float most_w = ui.text_width(Face::text14, most), zero_w = ui.text_width(Face::text14, "0"),
                gap = ui.px(6.0f);
    ui.text(Face::text14, x, y, theme::kSecondInk, "0", w);
    ui.text(Face::text14, x + w, y, theme::kSecondInk, most, w, Align::right);
    if (at_thread() || !(force.running_n > 0.05)) return;
    const float at = x + w * static_cast<float>(std::min(1.0, kForceRatio * force.running_n / full_n));
    ui.line({at, bar.y - ui.px(3.0f)}, {at, bar.bottom() + ui.px(3.0f)}, theme::kInk, ui.px(2.0f));
    const float twice_w = ui.text_width(Face::text14, twice);
    const float left = std::clamp(at - 0.5f * twice_w, x + zero_w + gap, x + w - most_w - gap - twice_w);
    ui.text(Face::text14, left, y, theme::kInk, twice, twice_w + 1.0f);
}

namespace {

/// Two lines are all there is room for: how far it is from the entry stands under the trace too.
template <typename ReadOuts>
ReadOuts brief_read_outs(ReadOuts all) {
    if (all.size() > 2) all.erase(all.begin() + 1);
    return all;
}

}  // namespace

float Practice::read_outs_height(const Ui& ui) const {
    if (!trace_ || !trace_shown()) return 0.0f;
    return static_cast<float>(brief_read_outs(read_outs()).size()) * (ui.line_height(Face::bold14) + ui.px(1.0f));
}

/// Where there is little room under the trace: a name and its number a line.
void Practice::draw_read_outs(Ui& ui, float x, float y, float w) const {
    if (!trace_ || !trace_shown()) return;
    for (const ReadOut& read : brief_read_outs(read_outs())) {
        const std::string number = read.number + " " + read.unit;
        const float number_w = ui.text_width(Face::bold14, number);
        ui.text(Face::text14, x, y, theme::kSecondInk, read.name, w - number_w - ui.px(4.0f));
        ui.text(Face::bold14, x + w, y, theme::kInk, number, number_w + 1.0f, Align::right);
        y += ui.line_height(Face::bold14) + ui.px(1.0f);
    }
}

namespace {

constexpr float kHintGap = 5.0f;

int hint_columns(const Ui& ui, float w) { return w > ui.px(230.0f) ? 2 : 1; }

float hint_width(const Ui& ui, const KeyHint& hint) {
    return ui.text_width(Face::bold14, hint.keys) + ui.text_width(Face::text14, hint.meaning) + ui.px(20.0f);
}

}  // namespace

/// Of the hints that stand at the left when there are two columns.
float Practice::first_hints_width(const Ui& ui) const {
    float w = 0.0f;
    for (std::size_t i = 0; i < hints().size(); i += 2) w = std::max(w, hint_width(ui, hints()[i]));
    return w + ui.px(6.0f);
}

float Practice::hints_height(const Ui& ui, float w) const {
    const int columns = hint_columns(ui, w), count = static_cast<int>(hints().size());
    return static_cast<float>((count + columns - 1) / columns) * (ui.line_height(Face::bold14) + ui.px(kHintGap));
}

const std::vector<KeyHint>& Practice::hints() const { return at_thread() ? ThreadHands::hints() : Steering::hints(); }

void Practice::draw_hints(Ui& ui, float x, float y, float w) const {
    const int columns = hint_columns(ui, w);
    const float first_w = columns == 2 ? first_hints_width(ui) : w;
    int column = 0;
    for (const KeyHint& hint : hints()) {
        const float hx = x + (column == 0 ? 0.0f : first_w), column_w = column == 0 ? first_w : w - first_w;
        const float key_w = ui.tag(Face::bold14, hx, y, hint.keys, theme::kInk, theme::kChip);
        ui.text(Face::text14, hx + key_w + ui.px(5.0f), y + ui.px(1.0f), theme::kSecondInk, hint.meaning,
                column_w - key_w - ui.px(5.0f));
        column = (column + 1) % columns;
        if (column == 0) y += ui.line_height(Face::bold14) + ui.px(kHintGap);
    }
}

}  // namespace app
