#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/app/authoring_desk.hpp"
#include "engine/app/chips.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/files/file_error.hpp"

/// The screen of authoring: drafts, and around a form the parts of a case, the patient, and what the hands came to.

namespace app {

namespace {

constexpr float kSectionsW = 236.0f, kFormW = 430.0f, kRowH = 34.0f;
constexpr std::size_t kMostNameBytes = 60;

}  // namespace

bool AuthoringDesk::draw_screen(Ui& ui, const Settings& settings) {
    if (!draft_) return draw_drafts(ui);
    heed_keys(ui.input());
    const Rect picture = patient_rect(ui);
    const float top = band_height(ui), bottom = ui.height() - footer_height(ui);
    ui.box({0, 0, ui.width(), top}, theme::kPaper);
    ui.line({0, top - 0.5f}, {ui.width(), top - 0.5f}, theme::kLine, ui.px(1.0f));
    const float bw = ui.px(130.0f), bh = ui.px(ui.compact() ? 30.0f : 36.0f), margin = ui.px(18.0f);
    const Face face = ui.compact() ? Face::bold18 : Face::bold24;
    ui.set_verbatim(true);
    std::string title = draft_->title();
    const float room = ui.width() - bw - 3.0f * margin;
    while (ui.text_width(face, title) > room && title.size() > 4) title = title.substr(0, title.size() - 4) + "…";
    ui.text(face, margin, 0.5f * (top - ui.line_height(face)), theme::kInk, title, room);
    ui.set_verbatim(false);
    const bool back =
        ui.button("authoring.close", {ui.width() - margin - bw, 0.5f * (top - bh), bw, bh}, "Close", "Esc", false) ||
        ui.input().pressed(SDLK_ESCAPE);
    const float left_w = ui.compact() ? ui.width() : ui.px(kSectionsW);
    const Rect form{ui.compact() ? 0.0f : ui.width() - ui.px(kFormW), top, ui.compact() ? ui.width() : ui.px(kFormW),
                    bottom - top};
    if (!ui.compact() || page_ == Page::sections) {
        ui.box({0, top, left_w, bottom - top}, theme::kGround);
        draw_sections(ui, {0, top, left_w, bottom - top});
    }
    if (!ui.compact() || page_ == Page::form) {
        ui.box(form, theme::kPaper);
        const float pages_h = ui.compact() ? ui.px(kRowH + 8.0f) : 0.0f;
        const Rect rest{form.x, form.y + pages_h, form.w, form.h - pages_h};
        if (on_trial_page())
            draw_trial(ui, rest);
        else
            draw_form(ui, rest);
    }
    if (ui.compact() && page_ != Page::sections) {
        static const std::array<std::string, 3> kPages{"Parts", "Form", "Patient"};
        page_ = static_cast<Page>(ui.choice("authoring.page",
                                            {margin, top + ui.px(4.0f), ui.width() - 2.0f * margin, ui.px(kRowH)},
                                            kPages, static_cast<std::size_t>(page_)));
    }
    if (picture.w > 0.0f) draw_on_head(ui, picture, settings);
    if (picture.w <= 0.0f && !ui.compact() && head_.busy())
        ui.text(Face::text18, 0.5f * (left_w + form.x), 0.45f * ui.height(), theme::kSecondInk, "The patient is made.",
                form.x - left_w, Align::centre);
    if (back) {
        close();
        return false;
    }
    return false;
}

void AuthoringDesk::heed_keys(const Input& input) {
    if (!input.control) return;
    for (const Key key : input.keys_pressed)  // each press, also where a slow frame met several
        if (key == SDLK_y || (input.shift && key == SDLK_z))
            redo();
        else if (key == SDLK_z)
            undo();
}

Rect AuthoringDesk::patient_rect(const Ui& ui) const {
    if (!draft_ || !head_.there()) return {};
    const float top = band_height(ui), bottom = ui.height() - footer_height(ui);
    if (!ui.compact()) return {ui.px(kSectionsW), top, ui.width() - ui.px(kSectionsW + kFormW), bottom - top};
    if (page_ != Page::head) return {};
    const float pages_h = ui.px(kRowH + 8.0f);
    return {0, top + pages_h, ui.width(), bottom - top - pages_h};
}

const author::Trouble* AuthoringDesk::trouble_of(const AuthoringSection& one) const {
    for (const author::Trouble& trouble : troubles_) {
        if (trouble.part != one.part) continue;
        const std::string place = std::string(one.place).empty() ? "" : std::string(one.place).substr(1);
        const std::string first = trouble.place.substr(0, trouble.place.find_first_of(".["));
        const bool listed = one.keys.empty() || std::find(one.keys.begin(), one.keys.end(), first) != one.keys.end();
        if (place.empty() ? listed : first == place) return &trouble;
    }
    return nullptr;
}

/// The parts of a case, then what can be done with the whole.
void AuthoringDesk::draw_sections(Ui& ui, const Rect& where) {
    const float actions_h = actions_height(ui);
    const Rect list = ui.compact() ? where : Rect{where.x, where.y, where.w, where.h - actions_h};
    const Rect all = ui.begin_scroll("authoring.sections", list);
    const float x = all.x + ui.px(12.0f), w = all.w - ui.px(24.0f), h = ui.px(kRowH);
    float y = all.y + ui.px(12.0f);
    const auto& sections = authoring_sections();
    for (std::size_t i = 0; i <= sections.size(); ++i) {
        const bool trial = i == sections.size();
        const Rect row{x, y, w, h};
        bool over = false;
        if (ui.area(fmt::format("authoring.section.{}", i + 1), row, &over)) go(i);
        const bool now = section_ == i;
        ui.box(row, now ? theme::kBlueWash : over ? theme::kOver : theme::kGround, ui.px(6.0f));
        const std::string label = trial ? "Trial by hands" : sections[i].label;
        ui.text(now ? Face::bold14 : Face::text14, x + ui.px(12.0f), y + 0.5f * (h - ui.line_height(Face::text14)),
                theme::kInk, label, w - ui.px(44.0f));
        if (!trial && trouble_of(sections[i]) != nullptr)
            ui.mark(Mark::bad, {row.right() - ui.px(16.0f), y + 0.5f * h}, ui.px(6.0f));
        y += h + ui.px(2.0f);
    }
    if (ui.compact()) {
        draw_actions(ui, {x, y + ui.px(10.0f), w, actions_h});
        y += actions_h + ui.px(14.0f);
    }
    ui.end_scroll(y);
    if (!ui.compact())
        draw_actions(ui, {where.x + ui.px(12.0f), list.bottom() + ui.px(8.0f), where.w - ui.px(24.0f), actions_h});
}

float AuthoringDesk::actions_height(const Ui& ui) const {
    return ui.px(3.0f * (kRowH + 6.0f) + 16.0f) + 3.0f * ui.line_height(Face::text14);
}

void AuthoringDesk::draw_actions(Ui& ui, const Rect& where) {
    const float gap = ui.px(6.0f), h = ui.px(kRowH), half = 0.5f * (where.w - gap);
    float y = where.y;
    const std::size_t wrong = troubles_.size();
    const std::string words = !trouble_.empty() ? trouble_
                              : wrong > 0       ? "Not fit to be played: see the marked part."
                              : draft_->saved() ? "Kept on this machine."
                                                : "";
    // three lines are left for it
    ui.begin_panel({where.x, y, where.w, 3.0f * ui.line_height(Face::text14) + ui.px(4.0f)});
    ui.paragraph(Face::text14, where.x, y, where.w,
                 trouble_.empty() && wrong == 0 ? theme::kSecondInk : theme::kVermilionText, words);
    ui.end_panel();
    y += 3.0f * ui.line_height(Face::text14) + ui.px(8.0f);
    if (ui.button("authoring.undo", {where.x, y, half, h}, "Undo", "", false, draft_->can_undo())) undo();
    if (ui.button("authoring.redo", {where.x + half + gap, y, half, h}, "Redo", "", false, draft_->can_redo())) redo();
    y += h + gap;
    const bool fit = wrong == 0 && !trying_;
    if (ui.button("authoring.try", {where.x, y, where.w, h}, "Let hands try it", "", false, fit)) try_out(false);
    y += h + gap;
    if (ui.button("authoring.publish", {where.x, y, where.w, h}, "Try and publish", "", true, fit)) try_out(true);
}

void AuthoringDesk::draw_trial(Ui& ui, const Rect& where) {
    const Rect all = ui.begin_scroll("authoring.trial", where);
    const float pad = ui.px(18.0f), x = all.x + pad, w = all.w - 2.0f * pad;
    float y = all.y + ui.px(12.0f);
    const auto say = [&](Face face, unsigned colour, const std::string& words) {
        y += ui.paragraph(face, x, y, w, colour, words) + ui.px(6.0f);
    };
    say(Face::bold18, theme::kInk, "Trial by hands");
    say(Face::text14, theme::kSecondInk,
        "A case is published when capable hands reach its goal, which may be to defer, and careless ones fail for a "
        "reason "
        "that the rubric names. They are scripted: they test the case and are no evidence about people.");
    if (trying_) {
        say(Face::text18, theme::kInk, fmt::format("{} ({:.0f} %)", trying_->what(), 100.0 * trying_->fraction()));
        return ui.end_scroll(y);
    }
    if (!tried_trouble_.empty()) say(Face::text14, theme::kVermilionText, tried_trouble_);
    if (!tried_) {
        if (tried_trouble_.empty()) say(Face::text18, theme::kInk, "Nobody has tried it yet.");
        return ui.end_scroll(y);
    }
    if (tried_version_ != draft_->version())
        say(Face::text14, theme::kVermilionText, "It was changed since: this is about the case as it was.");
    const session::Tryout& tryout = tried_->tryout;
    for (const auto& [who, trial] :
         {std::pair{"Capable hands", &tryout.well}, std::pair{"Careless hands", &tryout.badly}}) {
        y += ui.px(8.0f);
        say(Face::bold14, theme::kInk, who);
        say(Face::text18, theme::kInk,
            fmt::format("{}, {:.1f} of {:.1f} points", trial->verdict, trial->points, trial->possible));
        for (const std::string& reason : trial->reasons) say(Face::text14, theme::kSecondInk, reason);
    }
    y += ui.px(8.0f);
    for (const std::string& why : tryout.refused) say(Face::text14, theme::kVermilionText, why);
    if (tryout.refused.empty())
        say(Face::bold14, theme::kGreenText,
            tried_->published.empty() ? "Fit to be published." : "Published: it is in the list of cases.");
    if (!tried_->published.empty()) say(Face::text14, theme::kSecondInk, tried_->published);
    ui.end_scroll(y);
}

// -- on the head

std::size_t AuthoringDesk::vectors() const {
    const author::Json& scenario = draft_->document(author::Part::scenario);
    const auto plan = scenario.find("plan");
    return plan != scenario.end() && plan->is_array() ? plan->size() : 0;
}

std::optional<sim::Vec3> AuthoringDesk::planned_m(std::size_t vector, bool entry) const {
    const author::Json& one = draft_->document(author::Part::scenario)["plan"][vector];
    const auto at = one.find(entry ? "entry_mm" : "end_mm");
    if (at == one.end() || !at->is_array() || at->size() != 3) return std::nullopt;
    sim::Vec3 out{};
    for (int k = 0; k < 3; ++k) {
        const author::Json& figure = (*at)[static_cast<std::size_t>(k)];
        if (!figure.is_number()) return std::nullopt;
        out[k] = figure.get<double>() * sim::kMm;
    }
    return out;
}

/// An end of a vector goes to a place on the skin; its length and side follow.
void AuthoringDesk::put_end(std::size_t vector, bool entry, const sim::Vec3& place_m) {
    const author::Place one = author::Place("/plan") / vector;
    const auto rounded = [](double m) { return std::round(10.0 * m / sim::kMm) / 10.0; };
    author::Json changed_vector = draft_->document(author::Part::scenario).at(one);
    changed_vector[entry ? "entry_mm" : "end_mm"] = {rounded(place_m.x), rounded(place_m.y), rounded(place_m.z)};
    const auto other = planned_m(vector, !entry);
    if (other) {
        const double length = view::length_m(head_.way(entry ? place_m : *other, entry ? *other : place_m));
        changed_vector["length_mm"] = std::clamp(std::round(length / sim::kMm), 5.0, 150.0);
        const double middle_x = place_m.x + other->x;
        changed_vector["side"] = std::fabs(middle_x) < 2.0 * sim::kMm ? "midline" : middle_x > 0.0 ? "left" : "right";
    }
    draft_->set(author::Part::scenario, one, std::move(changed_vector), true);
    typed_.clear();
    changed();
}

std::optional<std::pair<std::size_t, bool>> AuthoringDesk::end_under(Point at, const Rect& picture) const {
    constexpr float kReach = 14.0f;
    for (std::size_t i = 0; i < vectors(); ++i) {
        const auto way = ways_.find(i);
        if (way == ways_.end() || way->second.second.empty()) continue;
        for (const bool entry : {true, false}) {
            const auto seen = head_.seen(entry ? way->second.second.front() : way->second.second.back(), picture);
            if (seen && std::hypot(seen->x - at.x, seen->y - at.y) < kReach) return std::pair{i, entry};
        }
    }
    return std::nullopt;
}

void AuthoringDesk::draw_vector(Ui& ui, const Rect& picture, std::size_t vector) {
    const auto entry_m = planned_m(vector, true), end_m = planned_m(vector, false);
    if (!entry_m || !end_m) return;
    const std::string places =
        fmt::format("{} {} {} {} {} {}", entry_m->x, entry_m->y, entry_m->z, end_m->x, end_m->y, end_m->z);
    auto& [of, way] = ways_[vector];
    if (of != places) {
        of = places;
        way = head_.way(*entry_m, *end_m);
    }
    if (way.empty()) return;
    const bool chosen = !on_trial_page() && section().label == std::string("Vectors") &&
                        at_.to_string().starts_with(fmt::format("/plan/{}", vector));
    const unsigned colour = chosen ? theme::kBlue : theme::kInk;
    for (std::size_t i = 1; i < way.size(); ++i) {
        const auto a = head_.seen(way[i - 1], picture), b = head_.seen(way[i], picture);
        if (!a || !b) continue;
        ui.line(*a, *b, theme::kPaper, ui.px(5.0f));
        ui.line(*a, *b, colour, ui.px(2.4f));
    }
    if (const auto at = head_.seen(way.front(), picture)) {
        ui.disc(*at, ui.px(9.0f), theme::kPaper);
        ui.disc(*at, ui.px(7.0f), colour);
        // numbers of vectors that begin at one place stand below each other
        Point number{at->x + ui.px(12.0f), at->y - ui.line_height(Face::bold14) - ui.px(4.0f)};
        const float step = ui.line_height(Face::bold14) + ui.px(6.0f);
        while (std::any_of(numbers_.begin(), numbers_.end(), [&](const Point& other) {
            return std::fabs(other.x - number.x) < 2.0f * step && std::fabs(other.y - number.y) < step;
        }))
            number.y += step;
        numbers_.push_back(number);
        static_cast<void>(
            ui.tag(Face::bold14, number.x, number.y, std::to_string(vector + 1), theme::kInk, theme::kPaper));
        ui.name_place(fmt::format("authoring.entry.{}", vector + 1), {at->x - 4.0f, at->y - 4.0f, 8.0f, 8.0f});
    }
    if (const auto at = head_.seen(way.back(), picture)) {
        ui.disc(*at, ui.px(8.0f), theme::kPaper);
        ui.ring(*at, ui.px(6.0f), colour, ui.px(2.4f));
        ui.name_place(fmt::format("authoring.end.{}", vector + 1), {at->x - 4.0f, at->y - 4.0f, 8.0f, 8.0f});
    }
}

void AuthoringDesk::draw_on_head(Ui& ui, const Rect& picture, const Settings& settings) {
    const Input& input = ui.input();
    ui.begin_panel(picture);
    numbers_.clear();
    for (std::size_t i = 0; i < vectors(); ++i) draw_vector(ui, picture, i);
    std::string words =
        vectors() > 0 ? "Draw an end of a vector along the skin to where it belongs. Right button or bare skin: turn."
                      : "";
    if (head_.busy()) words = "The patient is made anew.";
    const float h = ui.paragraph_height(Face::text14, picture.w - ui.px(48.0f), words) + ui.px(12.0f);
    const Rect note{picture.x + ui.px(12.0f), picture.bottom() - h - ui.px(10.0f), picture.w - ui.px(24.0f), h};
    if (!words.empty()) {
        ui.box(note, theme::kPaper, ui.px(6.0f));
        ui.paragraph(Face::text14, note.x + ui.px(12.0f), note.y + ui.px(6.0f), note.w - ui.px(24.0f), theme::kInk,
                     words);
    }
    ui.end_panel();
    if (input.left_pressed && picture.holds(input.pressed_at)) {
        dragged_ = end_under(input.pressed_at, picture);
        draft_->end_typing();
    }
    if (dragged_ && dragged_->first < vectors() && input.left_held) {
        if (const auto spot = head_.under(input.mouse, picture); spot && (input.drag.x != 0.0f || input.drag.y != 0.0f))
            put_end(dragged_->first, dragged_->second, spot->position_m);
    }
    if (dragged_ && !input.left_held) {
        notes_.push_back(fmt::format("placed {} {}", dragged_->second ? "entry" : "end", dragged_->first + 1));
        dragged_.reset();
        draft_->end_typing();
    }
    const bool here = picture.holds(input.mouse) && !note.holds(input.mouse);
    if (here && !dragged_) head_.move(input, picture, settings, true);
}

// -- the list of drafts

bool AuthoringDesk::draw_drafts(Ui& ui) {
    const bool back = draw_title_band(ui, "authoring", "Cases of your own");
    const Rect column = column_below_band(ui);
    const Rect all = ui.begin_scroll("authoring.drafts", {0, column.y, ui.width(), column.h});
    const float x = column.x, w = column.w;
    float y = all.y + ui.px(16.0f);
    y += ui.paragraph(
             Face::text14, x, y, w, theme::kSecondInk,
             "A case begins as a copy of another, with a patient and a rubric of its own. It is kept as you write. "
             "Learners see it once it is published, for which scripted hands try it first. Nothing here is a plan "
             "for a real patient: write invented people only.") +
         ui.px(14.0f);
    if (const float h = draw_trouble_card(ui, x, y, w, {"", trouble_, "", ""}); h > 0.0f) y += h + ui.px(12.0f);
    for (const std::string& name : author::drafts_in(folder_)) {
        y = draw_draft_row(ui, x, y, w, name);
        if (draft_) break;
    }
    if (!draft_) y = draw_begin(ui, x, y + ui.px(10.0f), w);
    ui.end_scroll(y + ui.px(12.0f));
    return back && !draft_;
}

float AuthoringDesk::draw_draft_row(Ui& ui, float x, float y, float w, const std::string& name) {
    const float pad = ui.px(14.0f), bw = ui.px(110.0f), gap = ui.px(8.0f), h = ui.px(52.0f), bh = ui.px(34.0f);
    const Rect row{x, y, w, h};
    ui.box(row, theme::kPaper, ui.px(8.0f));
    ui.frame(row, theme::kEdge, ui.px(8.0f), ui.px(1.3f));
    ui.text(Face::bold18, x + pad, y + 0.5f * (h - ui.line_height(Face::bold18)), theme::kInk, name,
            w - 2.0f * bw - 3.0f * pad - gap);
    const float by = y + 0.5f * (h - bh);
    if (ui.button("authoring.open." + name, {x + w - pad - bw, by, bw, bh}, "Open", "", true)) open(name);
    if (ui.button("authoring.duplicate." + name, {x + w - pad - 2.0f * bw - gap, by, bw, bh}, "Duplicate", "", false)) {
        like_ = (folder_ / name / "cases" / (name + ".json")).string();
        new_name_ = (name + "_2").substr(0, kMostNameBytes);
        ui.focus_on("authoring.name");
    }
    return y + h + ui.px(8.0f);
}

/// A new one: its name, and which scenario it begins like.
float AuthoringDesk::draw_begin(Ui& ui, float x, float y, float w) {
    const float h = ui.px(38.0f), gap = ui.px(8.0f), bw = ui.px(44.0f);
    ui.text(Face::bold24, x, y, theme::kInk, "Begin a case", w);
    y += ui.line_height(Face::bold24) + ui.px(8.0f);
    ui.text(Face::text14, x, y, theme::kSecondInk, "It begins like", w);
    y += ui.line_height(Face::text14) + ui.px(4.0f);
    const auto now =
        std::find_if(entries_.begin(), entries_.end(), [this](const Entry& entry) { return entry.id == like_; });
    const std::size_t count = entries_.size();
    const std::size_t at = now == entries_.end() ? 0 : static_cast<std::size_t>(now - entries_.begin());
    if (count > 0) {
        if (ui.button("authoring.like.back", {x, y, bw, h}, "<", "", false))
            like_ = entries_[(at + count - 1) % count].id;
        if (ui.button("authoring.like.on", {x + w - bw, y, bw, h}, ">", "", false))
            like_ = entries_[(at + 1) % count].id;
    }
    const std::string title =
        now == entries_.end() ? "draft " + std::filesystem::path(like_).stem().string() : now->title;
    ui.text(Face::bold18, x + 0.5f * w, y + 0.5f * (h - ui.line_height(Face::bold18)), theme::kInk, title,
            w - 2.0f * (bw + gap), Align::centre);
    y += h + ui.px(12.0f);
    ui.text(Face::text14, x, y, theme::kSecondInk, "Name of its file: small letters, digits and _", w);
    y += ui.line_height(Face::text14) + ui.px(4.0f);
    const float begin_w = ui.px(130.0f);
    const bool entered = ui.field("authoring.name", {x, y, w - begin_w - gap, h}, new_name_, kMostNameBytes);
    const std::string refused = new_name_.empty() ? "" : author::name_refused(new_name_);
    const bool pressed = ui.button("authoring.begin", {x + w - begin_w, y, begin_w, h}, "Begin", "", true,
                                   !new_name_.empty() && refused.empty());
    y += h + ui.px(6.0f);
    if (!refused.empty()) y += ui.paragraph(Face::text14, x, y, w, theme::kVermilionText, refused);
    if ((entered || pressed) && !new_name_.empty() && refused.empty()) {
        const std::vector<std::string> there = author::drafts_in(folder_);
        if (std::find(there.begin(), there.end(), new_name_) == there.end())
            open(std::exchange(new_name_, ""), like_);
        else
            trouble_ = "A draft has this name.";
    }
    return y;
}

}  // namespace app
