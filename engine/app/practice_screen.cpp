#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/app/camera_hands.hpp"
#include "engine/app/chips.hpp"
#include "engine/app/kept_panels.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/app/visit_words.hpp"
#include "engine/report/debrief_words.hpp"

namespace app {

namespace {

constexpr float kSectionW = 400.0f, kSectionCompactW = 300.0f, kSectionH = 300.0f;
constexpr float kFirstAidW = 150.0f;  // of the first chip of the aids
constexpr float kProbeW = 560.0f, kProbeCompactW = 330.0f, kProbeH = 330.0f;
constexpr float kSettingsOverTray = 380.0f;  // a tray is narrower than most rows of settings
constexpr float kFoldedAidsW = 230.0f;       // of the chips that unfold aids, keys and the other hand

Chip chip_of(const PatientPosture& posture) {
    return {"practice.posture", posture.label(), posture.ready() ? "P" : "", false, false, {}};
}

/// The same whatever its shape has come to: a switch does not move away under the pointer.
float posture_width(const Ui& ui, const PatientPosture& posture) {
    Chip widest = chip_of(posture);
    const float w = chip_width(ui, widest);
    widest.label = posture.name() + ", settling";
    return posture.ready() ? std::max(w, chip_width(ui, widest)) : w;
}

}  // namespace

void Practice::draw_screen(Ui& ui) {
    view_ = patient_rect(ui);
    const float bottom = ui.height() - footer_height(ui);
    draw_band(ui);
    ui.begin_panel(view_);
    draw_labels(ui);
    // words and switches keep clear of what has opened over the tray and beyond it
    const float tray_w = ui.width() - view_.w;
    const Rect tray{settings_.left_handed ? 0.0f : view_.right(), view_.y, tray_w, view_.h};
    Rect clear = view_;
    const bool over = settings_open_ || visit_shown();
    const bool probe = probe_panel_.taken();  // one that is taken in this picture is drawn in the next
    if (over || part_shown()) {
        clear.w -= (over ? over_tray(ui) : part_rect(ui, tray)).w - tray_w;
        if (settings_.left_handed) clear.x += view_.w - clear.w;
    }
    const float below = settings_open_ ? view_.y : draw_aids(ui, clear);
    draw_record_trouble(ui, clear, below);
    if (!ui.compact()) draw_sentence(ui, clear);
    draw_mark_names(ui);
    if (!settings_open_ && !(ui.compact() && part_shown()))
        draw_patient_words(ui, clear, draw_caption(ui, clear, below));
    ui.end_panel();
    const float words_h = ui.compact() ? sentence_bar_height(ui) : 0.0f, trace_y = view_.bottom() + words_h;
    if (trace_shown()) draw_trace(ui, {0.0f, trace_y, ui.width(), bottom - trace_y});
    if (!over && !(ui.compact() && part_shown())) draw_tray(ui, tray);
    if (visit_shown()) draw_visit(ui);
    if (ui.compact()) {
        const bool beside = over;  // they reach down to the trace
        draw_sentence_bar(ui, {beside ? clear.x : 0.0f, view_.bottom(), beside ? clear.w : ui.width(), words_h});
    }
    if (!over && probe)
        draw_probe(ui, probe_rect(ui, tray));
    else if (!over && section_shown())
        draw_section(ui, section_rect(ui, tray));
    name_places(ui, view_);
}

Rect Practice::over_tray(const Ui& ui) const {
    const Rect view = patient_rect(ui);
    const float w = std::min(ui.width(), std::max(ui.width() - view.w, ui.px(kSettingsOverTray)));
    const float h = view.h + (ui.compact() ? sentence_bar_height(ui) : 0.0f);
    return {settings_.left_handed ? 0.0f : ui.width() - w, view.y, w, h};
}

bool Practice::section_shown() const { return section_ && session_->recording().mode != sim::PracticeMode::graded; }

/// Over the upper part of the tray, and wider than it: force, hints and the way to finish stay. Where there is little
/// room it takes the tray's place.
Rect Practice::section_rect(const Ui& ui, const Rect& tray) const {
    const float w = std::max(tray.w, ui.px(ui.compact() ? kSectionCompactW : kSectionW));
    const float h = ui.compact() ? std::min(ui.px(kSectionH), tray.h)
                                 : std::max(ui.px(120.0f), std::min(ui.px(kSectionH), tray.h - ui.px(190.0f)));
    return {settings_.left_handed ? tray.x : tray.right() - w, tray.y, w, h};
}

void Practice::draw_section(Ui& ui, const Rect& rect) {
    const sim::State& state = session_->state();
    const int held = state.hands.instrument;
    const sim::InstrumentSpec* instrument =
        held < 0 ? nullptr : &prepared_.model->scenario.tray[static_cast<std::size_t>(held)];
    if (section_panel_.draw(ui, rect, *prepared_.model->anatomy, prepared_.rubric.bands, state, instrument, true))
        toggle(kAidSection);
}

/// As the section, but larger where there is room: a picture is looked into.
Rect Practice::probe_rect(const Ui& ui, const Rect& tray) const {
    const float w = std::max(tray.w, ui.px(ui.compact() ? kProbeCompactW : kProbeW));
    const float h = ui.compact() ? tray.h : std::clamp(tray.h - ui.px(190.0f), ui.px(216.0f), ui.px(kProbeH));
    return {settings_.left_handed ? tray.x : tray.right() - w, tray.y, w, h};
}

void Practice::draw_probe(Ui& ui, const Rect& rect) {
    const int held = session_->state().hands.instrument;
    const sim::InstrumentSpec* instrument =
        held < 0 ? nullptr : &prepared_.model->scenario.tray[static_cast<std::size_t>(held)];
    // in coached practice layers are named beside the picture, while advice is on; it names no structure
    const bool names = words_ && session_->recording().mode == sim::PracticeMode::coached;
    const auto asked = probe_panel_.draw(ui, rect, session_->state(), instrument, session_->time_s(), names);
    if (asked.lay_m) other_hand_.lay(*asked.lay_m);
    if (asked.close) take_probe(false);
}

void Practice::draw_visit(Ui& ui) {
    const VisitPanel::Pressed pressed =
        visit_panel_.draw(ui, over_tray(ui), *prepared_.model, session_->state(), session_->recording());
    for (const sim::Command& command : pressed.commands) session_->send(command);
    if (pressed.close) visit_open_ = false;
}

/// Side and entry of the vector that is worked at: "Left, entry 1". Flat tissue has no side.
std::string Practice::place_words() const {
    const auto& plan = prepared_.model->scenario.plan;
    if (plan.empty()) return "";
    const sim::Vec3& at = session_->state().hands.entry.position_m;
    const auto nearest = std::min_element(plan.begin(), plan.end(), [&](const auto& a, const auto& b) {
        return glm::length(a.entry_m - at) < glm::length(b.entry_m - at);
    });
    const std::string entry = fmt::format("entry {}", nearest - plan.begin() + 1);
    if (prepared_.look.surfaces.empty()) return report::capital(entry);
    return report::capital(sim::name_of(nearest->side)) + ", " + entry;
}

void Practice::draw_band(Ui& ui) {
    const float h = band_height(ui), small_y = 0.5f * (h - ui.line_height(Face::text14));
    begin_kept(ui, KeptPanel::band, {0, 0, ui.width(), h}, theme::kPaper);
    ui.line({0, h - 0.5f}, {ui.width(), h - 0.5f}, theme::kLine, ui.px(1.0f));

    // from the right: the ways out, clock and mode; what is left goes to title, place and stages
    float right = ui.width() - ui.px(ui.compact() ? 10.0f : 20.0f);
    const float chip_h = ui.px(kChipH), chip_y = 0.5f * (h - chip_h);
    const auto way_out = [&](const Chip& chip) {
        const float w = chip_width(ui, chip);
        right -= w;
        const bool pressed = draw_chip(ui, {right, chip_y, w, chip_h}, chip);
        right -= ui.px(8.0f);
        return pressed;
    };
    if (way_out({"practice.leave", "Leave", "", false, false, {}})) leave();
    if (way_out({"practice.settings", "Settings", "", false, false, {}})) open_settings();
    right -= ui.px(6.0f);
    right = draw_clock(ui, right, h);
    const std::string mode = report::capital(sim::name_of(session_->recording().mode));
    const float mode_w = ui.text_width(Face::bold14, mode);
    ui.text(Face::bold14, right, small_y, theme::kSecondInk, mode, mode_w + 1.0f, Align::right);
    right -= mode_w + ui.px(14.0f);

    const Stages all = stages();
    const std::string& title = prepared_.model->scenario.title;
    float x = ui.px(ui.compact() ? 10.0f : 20.0f);
    // a title may stand in two lines; then the stages have their names if there is room
    const float least_title_w = 0.6f * ui.text_width(Face::bold14, title);
    const bool named = x + least_title_w + stages_width(ui, all, StageRoom::names) + ui.px(22.0f) < right;
    const StageRoom stage_room = ui.compact() ? StageRoom::one : named ? StageRoom::names : StageRoom::strokes;
    const float stages_w = stages_width(ui, all, stage_room);
    const float room = right - x - stages_w - ui.px(ui.compact() ? 8.0f : 22.0f);
    Face face = ui.compact() ? Face::bold14 : Face::bold18;
    if (ui.text_width(face, title) > room) face = Face::bold14;
    const float title_w = std::min(room, ui.text_width(face, title) + 1.0f);
    ui.paragraph(face, x, 0.5f * (h - ui.paragraph_height(face, title_w, title)), title_w, theme::kInk, title);
    x += title_w + ui.px(ui.compact() ? 4.0f : 14.0f);
    const std::string place = place_words();
    const float place_w = ui.text_width(Face::text14, place) + ui.px(24.0f);
    if (!ui.compact() && !place.empty() && x + place_w + stages_w < right) {
        ui.text(Face::text14, x, small_y, theme::kSecondInk, place, place_w);
        x += place_w;
    }
    draw_stages(ui, x, h, all, stage_room);
    end_kept(ui);
}

/// In a visit the patient's time, which waiting moves on. @return where it begins
float Practice::draw_clock(Ui& ui, float right, float h) const {
    const Face face = ui.compact() ? Face::bold14 : Face::bold18;
    const std::string clock = has_visit() ? patient_clock(session_->state()) : report::clock_words(session_->time_s());
    ui.text(face, right, 0.5f * (h - ui.line_height(face)), theme::kInk, clock, ui.px(90.0f), Align::right);
    right -= ui.text_width(face, clock) + ui.px(ui.compact() ? 6.0f : 8.0f);
    if (has_visit() && !ui.compact()) {
        const std::string whose = "Patient's time";
        const float w = ui.text_width(Face::text14, whose);
        ui.text(Face::text14, right, 0.5f * (h - ui.line_height(Face::text14)), theme::kSecondInk, whose, w + 1.0f,
                Align::right);
        right -= w + ui.px(8.0f);
    }
    return right - ui.px(6.0f);
}

Practice::Stages Practice::stages() const {
    Stages out;
    if (has_visit()) {
        for (int k = 0; k < sim::kStages; ++k)
            out.names.push_back(report::capital(sim::name_of(static_cast<sim::Stage>(k))));
        out.now = static_cast<std::size_t>(visit_stage(*prepared_.model, session_->state(), session_->recording()));
        return out;
    }
    const Stage now = stage_of(session_->state(), session_->recording());
    for (int k = 0; k < kStages; ++k) {
        const auto stage = static_cast<Stage>(k);
        if (!has_stage(session_->recording(), stage)) continue;
        if (stage == now) out.now = out.names.size();
        out.names.emplace_back(name_of(stage));
    }
    return out;
}

namespace {

constexpr float kStageStroke = 14.0f;

float stage_width(const Ui& ui, const std::string& name) { return ui.text_width(Face::bold14, name) + ui.px(18.0f); }

}  // namespace

float Practice::stages_width(const Ui& ui, const Stages& all, StageRoom room) {
    if (room == StageRoom::one) return stage_width(ui, all.names[all.now]);
    float w = 0.0f;
    for (std::size_t k = 0; k < all.names.size(); ++k)
        w += (room == StageRoom::names || k == all.now ? stage_width(ui, all.names[k]) : ui.px(kStageStroke)) +
             ui.px(2.0f);
    return w;
}

void Practice::draw_stages(Ui& ui, float x, float h, const Stages& all, StageRoom room) const {
    const float text_y = 0.5f * (h - ui.line_height(Face::text14)) - ui.px(1.0f);
    for (std::size_t k = 0; k < all.names.size(); ++k) {
        const bool here = k == all.now, named = here || room == StageRoom::names;
        if (!here && room == StageRoom::one) continue;
        const float w = named ? stage_width(ui, all.names[k]) : ui.px(kStageStroke);
        if (named)
            ui.text(here ? Face::bold14 : Face::text14, x + 0.5f * w, text_y,
                    here ? theme::kBlueText : theme::kSecondInk, all.names[k], w, Align::centre);
        // here: a bar under the whole name; behind: a short one; ahead, where names have no room, a faint one
        const float half = here ? 0.5f * w - ui.px(9.0f) : std::min(ui.px(9.0f), 0.5f * w - ui.px(2.0f));
        const float bar_y = h - ui.px(here ? 8.0f : 9.0f);
        const unsigned colour = here ? theme::kBlue : k < all.now ? theme::kGreen : theme::kLine;
        if (k <= all.now || !named)
            ui.line({x + 0.5f * w - half, bar_y}, {x + 0.5f * w + half, bar_y}, colour, ui.px(here ? 3.0f : 2.0f));
        x += w + ui.px(2.0f);
    }
}

Sentence Practice::words_now() const {
    if (session_->faults().any())
        return {Mark::bad, "The calculation met a number that makes no sense and has stopped.",
                "What was recorded so far is kept. Go back with Esc."};
    if (posture_refused_ && session_->state().inserted_m > 0.0)
        return {Mark::caution, "The instrument is still in the skin.",
                "Withdraw it with S before the patient sits up, lies back or turns the head."};
    if (finish_asked_ && session_->state().inserted_m > 0.0)
        return {Mark::caution, "The instrument is still in the skin.",
                "Withdraw with S, or press Enter again to stop here."};
    if (finish_asked_ && !pass_made())
        return {Mark::caution, "The planned pass is not made yet.", "Press Enter again to finish all the same."};
    if (leave_asked_)
        return {Mark::caution, "Stop this attempt and go back to the list?",
                mode() == sim::PracticeMode::graded
                    ? "Press Esc again to stop. Graded work has one attempt: it ends here, not finished."
                    : "Press Esc again to stop. You can go on with it later, from the list of past attempts."};
    if (session_->state().finishing)
        return {Mark::neutral, "The attempt is finished. The tissue comes to rest.",
                session_->waiting() ? "Waiting: " + session_->waits_for() + "." : ""};
    const bool told = words_ && session_->recording().mode != sim::PracticeMode::graded;
    if (has_visit())
        if (const auto of_patient = about_patient(session_->state(), session_->recording(), told)) return *of_patient;
    const auto of_hand = about_hand(session_->state(), session_->recording(), prepared_.model->concerns, told);
    Sentence words = of_hand ? *of_hand : sentence(*prepared_.model, session_->state(), session_->recording(), words_);
    if (session_->waiting()) {
        const std::string why = session_->waits_for();
        words.next = why.empty() ? "Waiting for the tissue's answer." : "Waiting: " + why + ".";
    } else if (lesson_.any() && !lesson_.done()) {
        // the step says what to do; what goes wrong meanwhile is said in the place of its reason
        const bool wrong =
            session_->state().inserted_m > 0.0 && (words.mark == Mark::bad || words.mark == Mark::caution);
        const std::string aside = wrong ? words.is + " " + words.next : lesson_.step().why;
        words = {wrong ? words.mark : Mark::neutral, lesson_.step().say, aside};
    }
    return words;
}

void Practice::draw_sentence(Ui& ui, const Rect& view) const {
    const Sentence words = words_now();
    struct Line {
        Face face;
        unsigned ink;
        std::string words;
        float h = 0.0f;
    };
    const bool teaching = lesson_.any() && !lesson_.done();
    const bool tip_words = words_ && session_->recording().mode != sim::PracticeMode::graded && !teaching;
    std::vector<Line> lines;
    if (teaching)
        lines.push_back(
            {Face::bold14, theme::kBlueText, fmt::format("Step {} of {}", lesson_.at() + 1, lesson_.count())});
    lines.push_back({Face::bold18, theme::kInk, words.is});
    lines.push_back({Face::text14, theme::kSecondInk, words.next});
    if (tip_words) {
        const std::string under = under_the_tip(*prepared_.model, session_->state(), session_->recording());
        if (!under.empty()) lines.push_back({Face::text14, theme::kSecondInk, under});
    }
    // in graded work nothing is told in millimetres; that there is no posture is
    if (posture_.any() && (session_->recording().mode != sim::PracticeMode::graded || !posture_.ready()))
        if (const std::string shift = posture_.words(); !shift.empty())
            lines.push_back({Face::text14, theme::kSecondInk, shift});
    const float margin = ui.px(20.0f), pad = ui.px(12.0f);
    const float mark_w = ui.px(32.0f);
    const float most = std::min(ui.px(640.0f), view.w - 2.0f * margin - 2.0f * pad - mark_w);
    float wanted = 0.0f, h = 2.0f * pad - ui.px(3.0f);
    for (const Line& line : lines) wanted = std::max(wanted, ui.text_width(line.face, line.words));
    const float text_w = std::min(most, wanted + 1.0f);
    for (Line& line : lines) {
        line.h = ui.paragraph_height(line.face, text_w, line.words) + ui.px(3.0f);
        h += line.h;
    }
    const Rect card{view.x + margin, view.bottom() - h - margin, text_w + mark_w + 2.0f * pad, h};
    ui.box(card, theme::kPaper, ui.px(8.0f));
    ui.frame(card, teaching ? theme::kBlue : theme::kLine, ui.px(8.0f), ui.px(teaching ? 1.6f : 1.0f));
    ui.mark(words.mark, {card.x + pad + ui.px(9.0f), card.y + 0.5f * h}, ui.px(10.0f));
    float y = card.y + pad;
    for (const Line& line : lines) {
        ui.paragraph(line.face, card.x + pad + mark_w, y, text_w, line.ink, line.words);
        y += line.h;
    }
}

float Practice::sentence_bar_height(const Ui& ui) { return 2.0f * ui.line_height(Face::text14) + ui.px(8.0f); }

/// Where there is little room: over the whole width, beside the patient and not on it. What is longer grows upwards.
void Practice::draw_sentence_bar(Ui& ui, const Rect& bar) const {
    const Sentence words = words_now();
    const bool teaching = lesson_.any() && !lesson_.done();
    const std::string is =
        teaching ? fmt::format("{} of {}: {}", lesson_.at() + 1, lesson_.count(), words.is) : words.is;
    const float pad = ui.px(4.0f), mark_w = ui.px(34.0f);
    Rect rect = bar;
    float w = 0.0f, is_h = 0.0f;
    const auto fit = [&](float x, float width) {
        w = width - mark_w - ui.px(10.0f);
        is_h = ui.paragraph_height(Face::bold14, w, is);
        const float h = std::max(bar.h, is_h + ui.paragraph_height(Face::text14, w, words.next) + 2.0f * pad);
        rect = {x, bar.bottom() - h, width, h};
    };
    fit(bar.x, bar.w);
    ui.box(bar, theme::kPaper);
    if (rect.h > bar.h) fit(std::max(bar.x, view_.x), std::min(bar.w, view_.w));  // the tray stays free
    ui.box(rect, theme::kPaper);
    ui.line({rect.x, rect.y + 0.5f}, {rect.right(), rect.y + 0.5f}, teaching ? theme::kBlue : theme::kLine,
            ui.px(teaching ? 1.6f : 1.0f));
    ui.mark(words.mark, {rect.x + 0.5f * mark_w, rect.y + 0.5f * rect.h}, ui.px(9.0f));
    ui.paragraph(Face::bold14, rect.x + mark_w, rect.y + pad, w, theme::kInk, is);
    ui.paragraph(Face::text14, rect.x + mark_w, rect.y + pad + is_h, w, theme::kSecondInk, words.next);
}

void Practice::draw_record_trouble(Ui& ui, const Rect& view, float y) const {
    const float margin = ui.px(ui.compact() ? 10.0f : 20.0f);
    const std::string is = prepared_.not_kept.empty() ? "The attempt cannot be written just now. It goes on in memory."
                                                      : "This attempt is not kept. It can be practised all the same.";
    const float w = std::min(ui.px(696.0f), view.w - 2.0f * margin), top = y + ui.px(4.0f);
    const float h = draw_trouble_card(ui, view.x + margin, top, w, {is, record_trouble(), "", ""});
    if (h > 0.0f) ui.name_place("record.trouble", {view.x + margin, top, w, h});
}

/// At the right of the view. @return where they begin
float Practice::draw_camera_buttons(Ui& ui, const Rect& view) {
    float x = view.right() - ui.px(ui.compact() ? 10.0f : 20.0f);
    const float y = view.y + ui.px(ui.compact() ? 6.0f : 14.0f), h = ui.px(kChipH);
    for (const bool whole : {true, false}) {
        const std::string key = ui.compact() ? "" : whole ? "F" : "G";
        const Chip chip{whole ? "view.whole" : "view.near", whole ? "See all" : "Go near", key, false, false, {}};
        const float w = chip_width(ui, chip);
        x -= w;
        if (draw_chip(ui, {x, y, w, h}, chip)) look(whole);
        x -= ui.px(8.0f);
    }
    if (!posture_.any()) return x;
    Chip chip = chip_of(posture_);
    if (ui.compact()) chip.key.clear();
    // where there is little room, it is folded away once it is there, and before that told where it finds room
    const float folded = ui.compact() ? ui.px(kFoldedAidsW) : 0.0f;
    if ((ui.compact() && posture_.ready()) || x - posture_width(ui, posture_) < view.x + folded) return x;
    x -= posture_width(ui, posture_);
    if (draw_chip(ui, {x, y, posture_width(ui, posture_), h}, chip)) next_posture();
    x -= ui.px(8.0f);
    if (!posture_.ready()) return x;
    const float turn_w = draw_turn_chips(ui, 0.0f, y, false);
    if (x - turn_w < view.x + ui.px(kFirstAidW)) return x;  // keys still turn it
    x -= turn_w;
    draw_turn_chips(ui, x, y, true);
    return x;
}

/// One step to either side, and between them how the head is turned; that turns it straight.
/// @param x where they begin; with nothing drawn, where they would end  @return where they end
float Practice::draw_turn_chips(Ui& ui, float x, float y, bool drawn) {
    const int step = session::kTurnStepDegrees, now = posture_.shown().turn_degrees;
    const bool keys = !ui.compact();
    const std::array chips{Chip{"turn.left", "Left", keys ? "Y" : "", false, false, {}},
                           Chip{"turn.straight", posture_.turn_label(), "", false, false, {}},
                           Chip{"turn.right", "Right", keys ? "Shift Y" : "", false, false, {}}};
    const std::array by{step, -now, -step};
    for (std::size_t k = 0; k < chips.size(); ++k) {
        const float w = chip_width(ui, chips[k]);
        if (drawn && draw_chip(ui, {x, y, w, ui.px(kChipH)}, chips[k])) turn_head(by[k]);
        x += w + ui.px(k + 1 < chips.size() ? 4.0f : 8.0f);
    }
    return x;
}

/// How the patient is placed, where there is little room.
void Practice::draw_patient_chips(Ui& ui, float x, float y) {
    // how far its shape has come finds no room here
    const Chip chip{"practice.posture", posture_.ready() ? posture_.name() : posture_.label(), "", false, false, {}};
    const float w = chip_width(ui, chip);
    if (draw_chip(ui, {x, y, w, ui.px(kChipH)}, chip)) next_posture();
    draw_turn_chips(ui, x + w + ui.px(8.0f), y, true);
}

void Practice::name_places(Ui& ui, const Rect& view) const {
    // where planned entries are on the screen, for whoever drives it from outside
    const double aspect = static_cast<double>(view.w / view.h);
    const auto& plan = prepared_.model->scenario.plan;
    for (std::size_t i = 0; i < plan.size(); ++i) {
        const sim::Vec3 entry_m = prepared_.model->anatomy->nearest_skin(plan[i].entry_m).position_m;
        const auto at = camera_.project(entry_m + scene_.moved_m(entry_m), aspect);
        if (!at) continue;
        const float x = view.x + 0.5f * view.w * static_cast<float>(1.0 + at->x);
        const float y = view.y + 0.5f * view.h * static_cast<float>(1.0 - at->y);
        ui.name_place(fmt::format("entry.{}", i + 1), {x - 1.0f, y - 1.0f, 2.0f, 2.0f});
    }
}

}  // namespace app
