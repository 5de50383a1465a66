#include <fmt/format.h>

#include "engine/app/chips.hpp"
#include "engine/app/practice.hpp"
#include "engine/report/debrief_words.hpp"

/// The chips over the patient: aids, folds where there is little room, and the other hand.

namespace app {

float Practice::draw_aids(Ui& ui, const Rect& view) {
    struct AidChip {
        const char* name;
        const char* label;
        const char* key;
        int aid;
    };
    static constexpr AidChip kAids[] = {
        {"aid.cutaway", "Cut-away", "C", kAidCutaway}, {"aid.vessels", "Structures", "V", kAidVessels},
        {"aid.trace", "Depth", "T", kAidTrace},        {"aid.force", "Force", "B", kAidForce},
        {"aid.words", "Advice", "N", kAidWords},       {"aid.section", "Section", "I", kAidSection}};
    const float camera_x = draw_camera_buttons(ui, view);
    const bool none = session_->recording().mode == sim::PracticeMode::graded || prepared_.aids.none();
    const float h = ui.px(kChipH), left = view.x + ui.px(ui.compact() ? 10.0f : 20.0f);
    float x = left, y = view.y + ui.px(ui.compact() ? 6.0f : 14.0f);
    if (ui.compact()) {
        const auto fold = [&](const Chip& chip, bool& open) {
            const float w = chip_width(ui, chip);
            if (x > left && x + w > camera_x - ui.px(8.0f)) {
                x = left;
                y += h + ui.px(6.0f);
            }
            const Rect place{x, y, w, h};
            if (draw_chip(ui, place, chip)) open = !open;
            x = place.right() + ui.px(8.0f);
        };
        fold({"practice.keys", "Keys", "", false, keys_open_, {}}, keys_open_);
        if (!none) fold({"aid.fold", "Aids", "", false, aids_open_, {}}, aids_open_);
        fold({"hand.fold", "Hand", "", false, hand_open_, {}}, hand_open_);
        if (posture_.ready()) fold({"patient.fold", "Patient", "", false, patient_open_, {}}, patient_open_);
        if (has_visit()) fold({"visit.open", "Visit", "", false, visit_open_, {}}, visit_open_);
        if (patient_open_ && posture_.ready()) draw_patient_chips(ui, left, y += h + ui.px(6.0f));
        if (hand_open_) y = draw_hand_chips(ui, view, y + h + ui.px(6.0f)) - h;
        if (!aids_open_) return y + h;
        x = left;
        y += h + ui.px(6.0f);
    }
    if (none) return ui.compact() ? y + h : draw_hand_chips(ui, view, y + h + ui.px(6.0f));
    for (const AidChip& aid : kAids) {
        const bool* shown = shown_of(aid.aid);
        if (shown == nullptr) continue;
        const Chip chip{aid.name, aid.label, aid.key, true, *shown, {}};
        const float w = chip_width(ui, chip);
        const float right = y < view.y + h ? camera_x : view.right();
        if (x > left && x + w > right - ui.px(8.0f)) {
            x = left;
            y += h + ui.px(6.0f);
        }
        if (draw_chip(ui, {x, y, w, h}, chip)) toggle(aid.aid);
        x += w + ui.px(8.0f);
    }
    y += h;
    if (vessels_) y = draw_kind_chips(ui, "kind", left, y + ui.px(6.0f), view.right() - ui.px(8.0f), settings_.kinds);
    return ui.compact() ? y : draw_hand_chips(ui, view, y + ui.px(6.0f));
}

/// Where the other hand is laid, what it does there and how firmly. @return where the chips end
float Practice::draw_hand_chips(Ui& ui, const Rect& view, float y) {
    const float h = ui.px(kChipH), left = view.x + ui.px(ui.compact() ? 10.0f : 20.0f), gap = ui.px(8.0f);
    float x = left;
    const auto chip = [&](const Chip& what) {
        const float w = chip_width(ui, what);
        if (x > left && x + w > view.right() - gap) {
            x = left;
            y += h + ui.px(6.0f);
        }
        const Rect place{x, y, w, h};
        x += w + gap;
        return draw_chip(ui, place, what);
    };
    const sim::SecondHand& hand = session_->state().hand;
    const bool placed = hand.placed, acts = hand.force_n > 0.0;
    if (has_visit() && !ui.compact() && chip({"visit.open", "Visit", "0", true, visit_open_, {}}))
        visit_open_ = !visit_open_;
    if (chip({"hand.lay", placed ? "Move hand" : "Other hand", "M", false, false, {}}))
        other_hand_.lay_next(*prepared_.model, session_->state());
    if (!placed) return y + h;
    if (chip(
            {"hand.grip", report::capital(sim::name_of(acts ? hand.grip : other_hand_.grip())), "L", false, false, {}}))
        other_hand_.next_grip();
    if (other_hand_.turns() && chip({"hand.turn", "Turn", "U", false, false, {}})) other_hand_.turn();
    if (chip({"hand.softer", "-", "", false, false, {}})) other_hand_.change_force(-0.5);
    if (chip({"hand.act",
              fmt::format("{} {:.1f} N", acts ? "Let go," : "Apply", acts ? hand.force_n : other_hand_.wanted_n()),
              "Z",
              true,
              acts,
              {}}))
        other_hand_.turn_acting();
    if (chip({"hand.firmer", "+", "", false, false, {}})) other_hand_.change_force(0.5);
    return y + h;
}

}  // namespace app
