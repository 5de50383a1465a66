#include <fmt/format.h>

#include "engine/app/chips.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"

namespace app {

namespace {

/// A learner: who works now is marked, the others can be worked as. @return pressed
bool draw_learner(Ui& ui, const Rect& row, const files::Learner& learner, bool now) {
    bool over = false;
    const bool pressed = !now && ui.area("learners." + (learner.id.empty() ? "1" : learner.id), row, &over);
    ui.box(row, over ? theme::kOver : theme::kPaper, ui.px(8.0f));
    ui.frame(row, now ? theme::kLine : theme::kEdge, ui.px(8.0f), ui.px(1.3f));
    const float pad = ui.px(14.0f), middle = row.y + 0.5f * row.h;
    ui.mark(now ? Mark::good : Mark::neutral, {row.x + pad + ui.px(7.0f), middle}, ui.px(7.0f));
    ui.text(Face::bold18, row.x + pad + ui.px(26.0f), middle - 0.5f * ui.line_height(Face::bold18), theme::kInk,
            learner.name, row.w - ui.px(190.0f));
    ui.text(Face::text14, row.right() - pad, middle - 0.5f * ui.line_height(Face::text14), theme::kSecondInk,
            now ? "works now" : "work as", ui.px(110.0f), Align::right);
    return pressed;
}

/// Words, a field, and what is done with it. @return asked for
bool draw_form(Ui& ui, float x, float& y, float w, const std::string& name, const std::string& words,
               const std::string& label, std::string& text) {
    ui.text(Face::text14, x, y, theme::kInk, words, w);
    y += ui.line_height(Face::text14) + ui.px(4.0f);
    const float bw = button_width(ui, label, "") + ui.px(8.0f), h = ui.px(38.0f), gap = ui.px(8.0f);
    const bool entered = ui.field("learners." + name, {x, y, w - bw - gap, h}, text, files::kMostNameBytes);
    const bool pressed = ui.button("learners." + name + ".do", {x + w - bw, y, bw, h}, label, "", false, !text.empty());
    y += h + ui.px(18.0f);
    return !text.empty() && (entered || pressed);
}

}  // namespace

LearnersChoice draw_learners(Ui& ui, const files::LearnerList& learners, LearnerForm& form) {
    LearnersChoice choice;
    choice.back = draw_title_band(ui, "learners", "Learners");
    const Rect column = column_below_band(ui);
    const float x = column.x, w = column.w;
    const Rect all = ui.begin_scroll("learners", {0, column.y, ui.width(), column.h});
    float y = all.y + ui.px(16.0f);
    y += ui.paragraph(
             Face::text14, x, y, w, theme::kSecondInk,
             "Each learner has attempts, settings and a signing key of their own, and they stay on this machine. "
             "This keeps records apart. It is no lock: who owns the account can read them all.") +
         ui.px(14.0f);
    for (const std::string& trouble : {learners.trouble(), form.trouble})
        if (const float h = draw_trouble_card(ui, x, y, w, {"", trouble, "", ""}); h > 0.0f) y += h + ui.px(12.0f);
    for (const files::Learner& learner : learners.all()) {
        const Rect row{x, y, w, ui.px(48.0f)};
        if (draw_learner(ui, row, learner, learner.id == learners.now().id)) choice.work_as = learner.id;
        y += row.h + ui.px(8.0f);
    }
    y += ui.px(14.0f);
    if (learners.trouble().empty()) {
        choice.add = draw_form(ui, x, y, w, "add", "Somebody else practises here", "Add learner", form.added);
        choice.rename = draw_form(ui, x, y, w, "rename", fmt::format("Another name for {}", learners.now().name),
                                  "Rename", form.renamed);
    }
    ui.end_scroll(y);
    return choice;
}

}  // namespace app
