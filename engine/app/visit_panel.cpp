#include "engine/app/visit_panel.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/app/theme.hpp"
#include "engine/app/visit_words.hpp"
#include "engine/report/debrief_words.hpp"
#include "sim/patient/patient.hpp"

namespace app {

namespace {

/// The last time that a deed was done to a subject; nullptr: never.
const sim::Event* last_done(const sim::Recording& recording, sim::Deed deed, int subject) {
    for (auto event = recording.events.rbegin(); event != recording.events.rend(); ++event)
        if (event->kind == sim::EventKind::deed_done && event->subject == static_cast<int>(deed) &&
            static_cast<int>(event->value[0]) == subject)
            return &*event;
    return nullptr;
}

sim::Command deed_command(sim::Deed deed, int subject) {
    return {sim::Verb::deed, {static_cast<std::int64_t>(deed), subject, 0}};
}

/// Deeds of a stage beside those that are drawn in their own way.
bool drawn_plainly(sim::Deed deed) {
    return deed != sim::Deed::ask && deed != sim::Deed::open_another && deed != sim::Deed::read_pack;
}

}  // namespace

struct VisitPanel::Rows {
    Ui& ui;
    const sim::Model& model;
    const sim::State& state;
    const sim::Recording& recording;
    Pressed& pressed;
    float x, y, w;

    /// A row that can be pressed: what it does, a mark when it was done, and what came of it.
    bool row(const std::string& name, const std::string& label, bool done, const std::string& found,
             bool enabled = true) {
        const float pad = ui.px(8.0f), mark_w = ui.px(22.0f), text_w = w - 2.0f * pad - mark_w;
        const float label_h = ui.paragraph_height(Face::text14, text_w, label);
        const float found_h = found.empty() ? 0.0f : ui.paragraph_height(Face::text14, w - 2.0f * pad, found);
        const Rect card{x, y, w, label_h + pad + ui.px(2.0f)};
        bool over = false;
        const bool now = enabled && ui.area("visit." + name, card, &over);
        ui.box(card, over ? theme::kOver : theme::kGround, ui.px(6.0f));
        ui.frame(card, enabled ? theme::kEdge : theme::kLine, ui.px(6.0f), ui.px(1.0f));
        ui.paragraph(Face::text14, x + pad, y + 0.5f * pad, text_w, enabled ? theme::kInk : theme::kSecondInk, label);
        if (done) ui.mark(Mark::good, {card.right() - pad - ui.px(6.0f), y + 0.5f * card.h}, ui.px(8.0f));
        y += card.h + ui.px(3.0f);
        if (!found.empty()) {
            ui.paragraph(Face::text14, x + pad, y, w - 2.0f * pad, theme::kBlueText, found);
            y += found_h + ui.px(3.0f);
        }
        y += ui.px(3.0f);
        return now;
    }

    void words(const std::string& text, unsigned ink = theme::kSecondInk) {
        y += ui.paragraph(Face::text14, x, y, w, ink, text) + ui.px(6.0f);
    }

    void heading(const std::string& text) {
        ui.text(Face::bold14, x, y, theme::kSecondInk, text, w);
        y += ui.line_height(Face::bold14) + ui.px(4.0f);
    }
};

void VisitPanel::turn(int by) {
    const int to = std::clamp(static_cast<int>(stage_) + by, 0, sim::kStages - 1);
    stage_ = static_cast<sim::Stage>(to);
    deciding_.reset();
}

void VisitPanel::draw_history(Rows& rows) {
    rows.heading("History");
    for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) {
        const sim::Event* done = last_done(rows.recording, sim::Deed::ask, i);
        const std::string found = done == nullptr ? "" : found_words(*done, *rows.model.scenario.visit);
        if (rows.row(fmt::format("ask.{}", i), std::string(sim::subject_words(sim::Deed::ask, i)), done != nullptr,
                     found))
            rows.pressed.commands.push_back(deed_command(sim::Deed::ask, i));
    }
}

void VisitPanel::draw_decision(Rows& rows) {
    rows.heading("Decision");
    const auto& decided = rows.state.visit.decision;
    for (int i = 0; i < static_cast<int>(sim::kDecisions.size()); ++i) {
        const auto decision = static_cast<sim::Decision>(i);
        if (rows.row(fmt::format("decide.{}", i), report::capital(sim::name_of(decision)), decided == decision, "")) {
            // to treat needs no answer of its own
            if (decision == sim::Decision::treat)
                rows.pressed.commands.push_back(
                    {sim::Verb::decide, {0, static_cast<std::int64_t>(sim::HistoryItem::expectations), 0}});
            deciding_ = decision;
        }
        if (deciding_ == decision && decision != sim::Decision::treat) draw_reasons(rows);
    }
}

void VisitPanel::draw_reasons(Rows& rows) {
    rows.words("Because of which answer?", theme::kInk);
    for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) {
        std::string name(sim::key_of(static_cast<sim::HistoryItem>(i)));
        std::replace(name.begin(), name.end(), '_', ' ');
        if (!rows.row(fmt::format("reason.{}", i), report::capital(name), false, "")) continue;
        rows.pressed.commands.push_back({sim::Verb::decide, {static_cast<std::int64_t>(*deciding_), i, 0}});
        deciding_.reset();
        return;
    }
}

void VisitPanel::draw_deed(Rows& rows, sim::Deed deed) {
    const sim::DeedSpec& spec = sim::spec_of(deed);
    for (int i = 0; i < spec.subjects; ++i) {
        const std::string subject(sim::subject_words(deed, i));
        const std::string label =
            subject.empty() ? std::string(spec.words) : fmt::format("{}: {}", spec.words, subject);
        const sim::Event* done = last_done(rows.recording, deed, i);
        const std::string found = done == nullptr ? "" : found_words(*done, *rows.model.scenario.visit);
        const bool possible = !sim::refusal_of(rows.model, rows.state, deed, i);
        // the chair stands as it was set last
        const bool marked =
            deed == sim::Deed::set_chair ? static_cast<int>(rows.state.visit.chair) == i : done != nullptr;
        if (rows.row(fmt::format("{}.{}", spec.key, i), label, marked, found, possible))
            rows.pressed.commands.push_back(deed_command(deed, i));
    }
}

void VisitPanel::draw_injection(Rows& rows) {
    const sim::VisitSpec& visit = *rows.model.scenario.visit;
    const double given_mg = rows.state.visit.anaesthetic.given_ml * visit.anaesthetic.mg_per_ml;
    const double percent = 0.1 * visit.anaesthetic.mg_per_ml;
    const char* const with = visit.anaesthetic.adrenaline ? "with adrenaline" : "plain";
    rows.words(visit.local_limit_holds()
                   ? fmt::format("Lidocaine {:.3g} % {}, {:.0f} kg: {:.0f} mg given; local rules allow {:.0f} mg.",
                                 percent, with, visit.weight_kg, given_mg, visit.limit_mg())
                   : fmt::format("Lidocaine {:.3g} % {}, {:.0f} kg: {:.0f} mg given; the label allows {:.0f} mg.",
                                 percent, with, visit.weight_kg, given_mg, visit.limit_mg()),
               theme::kInk);
    const auto refused = sim::refusal_of_injection(rows.model, rows.state);
    if (refused) rows.words(refused_words({0, sim::EventKind::deed_refused, -1, {}, {static_cast<double>(*refused)}}));
    if (rows.row("inject", "Inject 0.1 ml here", false, "", !refused))
        rows.pressed.commands.push_back({sim::Verb::inject, {100, 0, 0}});
}

void VisitPanel::draw_packs(Rows& rows) {
    for (int i = 0; i < static_cast<int>(rows.model.scenario.tray.size()); ++i) {
        const sim::InstrumentSpec& one = rows.model.scenario.tray[static_cast<std::size_t>(i)];
        if (!one.loaded) continue;
        const sim::Event* done = last_done(rows.recording, sim::Deed::read_pack, i);
        const sim::Event* fresh = last_done(rows.recording, sim::Deed::open_another, i);
        if (fresh != nullptr && done != nullptr && done->step < fresh->step) done = nullptr;  // that was another pack
        const std::string found = done == nullptr ? "" : pack_words(one.thread, fresh != nullptr, done->value[1] > 0.0);
        if (rows.row(fmt::format("read_pack.{}", i), fmt::format("Read the pack of {}: {}", i + 1, one.name),
                     done != nullptr, found))
            rows.pressed.commands.push_back(deed_command(sim::Deed::read_pack, i));
    }
}

void VisitPanel::draw_tails(Rows& rows) {
    for (const sim::HeldThread& thread : rows.state.threads) {
        if (thread.out) continue;
        const auto refused = sim::refusal_of(rows.model, rows.state, thread.number, std::nullopt);
        if (rows.row(fmt::format("trim.{}", thread.number), fmt::format("Cut the tail of thread {}", thread.number),
                     thread.trimmed(), "", !refused))
            rows.pressed.commands.push_back({sim::Verb::trim, {thread.number, 0, 0}});
    }
}

void VisitPanel::draw_stage(Rows& rows) {
    if (stage_ == sim::Stage::consult) {
        draw_history(rows);
        draw_decision(rows);
        rows.heading("Before the first needle");
    }
    if (stage_ == sim::Stage::mark && !rows.state.hand.placed)
        rows.words("Lay the other hand on the skin first: Shift and a click, or M.");
    if (stage_ == sim::Stage::numb) draw_injection(rows);
    if (stage_ == sim::Stage::finish) draw_tails(rows);
    if (stage_ == sim::Stage::enter)
        rows.words("This is work with the instruments. What a visit needs beside it stands under the other stages.");
    if (stage_ == sim::Stage::anchor)
        rows.words(
            "Work with the thread in the tray: a gentle pull against a finger, strokes from both ends to its middle. "
            "Then mould: let the pull go, and stroke out what is uneven or lies in, before you judge the result.");
    if (stage_ == sim::Stage::review)
        rows.words(
            "Sit the patient up, look at both sides at rest and in movement. Where one side wants more, lie the "
            "patient back, prepare anew, and reinforce in a new track 5 to 10 mm beside the first, never over it.");
    const double local_s = rows.model.scenario.visit->local.contact_time_s;
    if (stage_ == sim::Stage::prepare && local_s > 0.0)
        rows.words(fmt::format("Local rules: at least {:.0f} s of contact time, whatever the antiseptic.", local_s));
    if (stage_ == sim::Stage::prepare) draw_packs(rows);
    for (const sim::DeedSpec& spec : sim::deed_table())
        if (spec.stage == stage_ && drawn_plainly(spec.deed)) draw_deed(rows, spec.deed);
    if (stage_ == sim::Stage::review) {
        draw_deed(rows, sim::Deed::set_chair);
        draw_deed(rows, sim::Deed::test_movement);
    }
    if (stage_ == sim::Stage::finish) draw_deed(rows, sim::Deed::photograph);
    if (stage_ == sim::Stage::pass)
        for (int i = 0; i < static_cast<int>(rows.model.scenario.tray.size()); ++i)
            if (!rows.state.in_use[static_cast<std::size_t>(i)] &&
                rows.row(fmt::format("open_another.{}", i),
                         fmt::format("Open a fresh {}", rows.model.scenario.tray[static_cast<std::size_t>(i)].name),
                         false, ""))
                rows.pressed.commands.push_back(deed_command(sim::Deed::open_another, i));
}

VisitPanel::Pressed VisitPanel::draw(Ui& ui, const Rect& rect, const sim::Model& model, const sim::State& state,
                                     const sim::Recording& recording) {
    Pressed pressed;
    const float pad = ui.px(ui.compact() ? 8.0f : 14.0f), button = ui.px(32.0f);
    ui.box(rect, theme::kPaper);
    ui.frame(rect, theme::kLine, 0.0f, ui.px(1.0f));
    ui.begin_panel(rect);
    const float x = rect.x + pad, w = rect.w - 2.0f * pad;
    float y = rect.y + pad;
    if (ui.button("visit.back", {x, y, button, button}, "<", "", false, stage_ != sim::Stage::consult)) turn(-1);
    if (ui.button("visit.on", {x + w - button, y, button, button}, ">", "", false, stage_ != sim::Stage::follow_up))
        turn(1);
    ui.text(Face::bold18, x + 0.5f * w, y + 0.5f * (button - ui.line_height(Face::bold18)), theme::kInk,
            report::capital(sim::name_of(stage_)), w - 2.0f * button - ui.px(8.0f), Align::centre);
    y += button + ui.px(6.0f);
    ui.text(Face::text14, x + 0.5f * w, y, theme::kSecondInk, fmt::format("Patient's time {}", patient_clock(state)), w,
            Align::centre);
    y += ui.line_height(Face::text14) + ui.px(6.0f);

    const float foot_h = 2.0f * button + ui.px(14.0f), foot_y = rect.bottom() - pad - foot_h + ui.px(6.0f);
    const Rect content = ui.begin_scroll("visit", {rect.x + ui.px(2.0f), y, rect.w - ui.px(4.0f), foot_y - y});
    Rows rows{ui, model, state, recording, pressed, x, content.y, content.right() - pad - x};
    draw_stage(rows);
    ui.end_scroll(rows.y);

    const float half = 0.5f * (w - ui.px(6.0f));
    const auto pass = [&](const char* name, float at, const char* label, std::int64_t seconds) {
        if (ui.button(name, {at, foot_y, half, button}, label, "", false))
            pressed.commands.push_back({sim::Verb::let_pass, {seconds, 0, 0}});
    };
    pass("visit.wait", x, "Wait 1 min", 60);
    pass("visit.wait_long", x + half + ui.px(6.0f), "Wait 5 min", 300);
    if (ui.button("visit.close", {x, foot_y + button + ui.px(6.0f), w, button}, "To the instruments", "0", false))
        pressed.close = true;
    ui.end_panel();
    return pressed;
}

}  // namespace app
