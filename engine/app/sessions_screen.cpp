#include <fmt/format.h>

#include <ctime>

#include "engine/app/chips.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr const char* kSupervised =
    "Graded work is supervised: whoever owns a machine owns its keys, and no file tells who held the mouse. The result "
    "is one input to a supervisor's decision, never a licence to treat.";

/// "2026-12-01, 08:00 UTC"
std::string time_words(const std::string& utc) { return utc.substr(0, 10) + ", " + utc.substr(11, 5) + " UTC"; }

std::string rules_words(const graded::Plan& plan) {
    std::string out = fmt::format("Open from {} to {}.", time_words(plan.opens_at), time_words(plan.closes_at));
    if (plan.minutes > 0.0) out += fmt::format(" {:g} minutes for each attempt, pauses included.", plan.minutes);
    return out;
}

/// What a scenario is called, from the document that came with the session.
std::string title_of(const graded::Form& form) {
    try {
        return files::parse_scenario(form.scenario, form.patient, form.scenario.id).scenario.title;
    } catch (const std::exception&) {
        return form.scenario.id;
    }
}

/// A slot: what it is, how it stands, and the way in where there is one.
void draw_slot(Ui& ui, float x, float& y, float w, const graded::Station& station, const graded::Slot& slot,
               std::size_t number, SessionsChoice& choice) {
    const graded::SlotStage stage = station.stage_of(slot);
    const std::string refused = station.refusal(slot, std::time(nullptr));
    const bool way_in = refused.empty();
    const float pad = ui.px(14.0f), button_w = ui.px(150.0f), text_w = w - 3.0f * pad - button_w - ui.px(24.0f);
    const std::string words = stage == graded::SlotStage::ended ? "Made." : refused;
    const float words_h = words.empty() ? 0.0f : ui.paragraph_height(Face::text14, text_w, words);
    const Rect row{x, y, w, std::max(ui.px(54.0f), ui.px(20.0f) + ui.line_height(Face::bold18) + words_h)};
    ui.box(row, theme::kPaper, ui.px(8.0f));
    ui.frame(row, theme::kEdge, ui.px(8.0f), ui.px(1.3f));
    ui.mark(stage == graded::SlotStage::ended ? Mark::good : Mark::neutral, {x + pad + ui.px(7.0f), y + 0.5f * row.h},
            ui.px(7.0f));
    const float text_x = x + pad + ui.px(24.0f);
    const float text_y = words.empty() ? y + 0.5f * (row.h - ui.line_height(Face::bold18)) : y + ui.px(9.0f);
    ui.text(Face::bold18, text_x, text_y, theme::kInk, title_of(station.session().form_of(slot)), text_w);
    if (!words.empty())
        ui.paragraph(Face::text14, text_x, text_y + ui.line_height(Face::bold18) + ui.px(2.0f), text_w,
                     theme::kSecondInk, words);
    if (way_in && ui.button(fmt::format("sessions.slot.{}", number),
                            {x + w - pad - button_w, y + 0.5f * row.h - ui.px(18.0f), button_w, ui.px(36.0f)},
                            stage == graded::SlotStage::begun ? "Go on" : "Begin", "", true))
        choice.slot = slot.id;
    y += row.h + ui.px(8.0f);
}

void draw_session(Ui& ui, float x, float& y, float w, const SessionsView& view, std::size_t number,
                  SessionsChoice& choice) {
    const graded::Station& station = view.stations[number];
    const graded::Session& session = station.session();
    ui.text(Face::bold24, x, y, theme::kInk, session.plan.title, w);
    y += ui.line_height(Face::bold24) + ui.px(4.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kInk, rules_words(session.plan)) + ui.px(10.0f);
    const auto slots = station.slots_of(view.learner);
    if (slots.empty())
        y += ui.paragraph(Face::text14, x, y, w, theme::kVermilionText,
                          "Whoever works here now is not in this session. Choose another learner, or tell the "
                          "instructor the key below.") +
             ui.px(8.0f);
    else
        ui.text(Face::bold14, x, y, theme::kInk, session.learner_of(*slots.front()).name, w);
    if (!slots.empty()) y += ui.line_height(Face::bold14) + ui.px(6.0f);
    SessionsChoice here;
    bool ended = false;
    for (std::size_t i = 0; i < slots.size(); ++i)
        draw_slot(ui, x, y, w, station, *slots[i], 100 * number + i + 1, here);
    for (const graded::Slot& slot : session.slots) ended = ended || station.stage_of(slot) == graded::SlotStage::ended;
    const float h = ui.px(38.0f);
    if (ended) {
        here.hand_in = ui.button(fmt::format("sessions.hand_in.{}", number), {x, y, ui.px(220.0f), h},
                                 "Hand in what is made", "", false);
        y += h + ui.px(6.0f);
    }
    if (!here.slot.empty() || here.hand_in) {
        choice.station = number;
        choice.slot = here.slot;
        choice.hand_in = here.hand_in;
    }
    y += ui.px(20.0f);
}

}  // namespace

SessionsChoice draw_sessions(Ui& ui, const SessionsView& view) {
    SessionsChoice choice;
    choice.back = draw_title_band(ui, "sessions", "Graded session");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("sessions", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, kSupervised) + ui.px(14.0f);
    if (const float h = draw_trouble_card(ui, x, y, w, {"", view.trouble, "", ""}); h > 0.0f) y += h + ui.px(12.0f);
    if (!view.handed_in.empty())
        y += ui.paragraph(Face::text14, x, y, w, theme::kInk, "Handed in: " + view.handed_in) + ui.px(12.0f);
    for (std::size_t i = 0; i < view.stations.size(); ++i) draw_session(ui, x, y, w, view, i, choice);
    if (view.stations.empty())
        y += ui.paragraph(Face::text14, x, y, w, theme::kInk,
                          "There is no graded session here. An instructor's bundle for this machine is taken in with "
                          "--session or pk session take-in.") +
             ui.px(14.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, view.key_words);
    ui.end_scroll(y + ui.px(12.0f));
    return choice;
}

}  // namespace app
