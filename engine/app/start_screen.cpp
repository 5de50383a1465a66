#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "engine/app/chips.hpp"
#include "engine/app/kept_panels.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/theme.hpp"
#include "engine/report/debrief_words.hpp"

namespace app {

namespace {

constexpr const char* kCaution =
    "Training aid, not a medical device, not a plan for a real patient. A good score is not permission to treat; "
    "local rules and supervision come first.";

/// The footer's caution where there is one line for it.
constexpr const char* kBriefCaution = "Training aid, not a medical device. A good score is not permission to treat.";

/// Way of practising and patient find no room beside the title.
bool about_below(const Ui& ui, float text_w, const std::string& title, const std::string& about);

/// What lies behind a practice, beside the cautions at the foot: the same words at the same place at every start.
constexpr std::array kKnowFirst{
    "Not a medical device, and not a plan for a real patient: local law, the product's instructions, licensed "
    "practice and hands-on supervision come first.",
    "Every patient here is invented. Limits without a published source are marked (assumed); forces are estimates.",
};

std::string standing_words(const Standing& standing) {
    if (!standing.last) return "Not tried yet";
    const std::string last = result_words(*standing.last);
    return standing.best->file == standing.last->file ? last + " (best)"
                                                      : last + ". Best: " + result_words(*standing.best);
}

constexpr float kCardPad = 16.0f, kNumber = 34.0f;  // at 100 %

float entry_height(const Ui& ui, float width, const Entry& entry, const std::string& about, const std::string& faded) {
    const float text_w = width - ui.px(2.0f * kCardPad + kNumber), line = ui.line_height(Face::text14);
    const float title = ui.line_height(Face::bold18) + ui.px(3.0f);
    if (!entry.trouble.empty()) return title + ui.px(24.0f) + ui.paragraph_height(Face::text14, text_w, entry.trouble);
    const float more = about_below(ui, text_w, entry.title, about) ? line + ui.px(3.0f) : 0.0f;
    const float faded_h = faded.empty() ? 0.0f : ui.paragraph_height(Face::text14, text_w, faded) + ui.px(3.0f);
    return title + ui.px(27.0f) + ui.paragraph_height(Face::text14, text_w, entry.goal) + more + line + faded_h;
}

/// Which aids it allows and how coaching has faded, below the goal; empty where there is nothing to say.
std::string faded_words(const StartView& view, const Entry& entry) {
    if (view.mode == sim::PracticeMode::graded) return "";
    std::string words = aids_words(entry.aids);
    if (view.mode != sim::PracticeMode::coached) return words;
    const std::string faded = coaching_words(passes_of(view.attempts, entry.id), entry.aids);
    return words + (words.empty() || faded.empty() ? "" : " ") + faded;
}

/// A card of the library. @return chosen
bool draw_entry(Ui& ui, const Rect& card, const Entry& entry, const std::string& about, const std::string& faded,
                int number, const Standing& standing) {
    const float pad = ui.px(kCardPad), x = card.x + pad + ui.px(kNumber), text_w = card.right() - pad - x;
    const float line = ui.line_height(Face::text14);
    bool over = false;
    const bool usable = entry.trouble.empty();
    const bool chosen =
        usable && (ui.area("start." + entry.id, card, &over) || (number <= 9 && ui.input().pressed(SDLK_0 + number)));
    ui.box(card, over ? theme::kOver : theme::kPaper, ui.px(8.0f));
    ui.frame(card, usable ? theme::kEdge : theme::kLine, ui.px(8.0f), ui.px(1.3f));
    ui.tag(Face::bold14, card.x + pad, card.y + ui.px(14.0f), fmt::format("{}", number), theme::kInk, theme::kChip);
    float y = card.y + ui.px(11.0f);
    if (!usable) {
        ui.text(Face::bold18, x, y, theme::kInk, entry.title, text_w);
        y += ui.line_height(Face::bold18) + ui.px(4.0f);
        ui.paragraph(Face::text14, x, y, text_w, theme::kVermilionText, entry.trouble);
        return false;
    }
    ui.text(Face::bold18, x, y, theme::kInk, entry.title, text_w);
    const bool below = about_below(ui, text_w, entry.title, about);
    if (!below)
        ui.text(Face::text14, card.right() - pad, card.y + ui.px(15.0f), theme::kSecondInk, about, text_w,
                Align::right);
    y += ui.line_height(Face::bold18) + ui.px(3.0f);
    if (below) {
        ui.text(Face::text14, x, y, theme::kSecondInk, about, text_w);
        y += line + ui.px(3.0f);
    }
    y += ui.paragraph(Face::text14, x, y, text_w, theme::kSecondInk, entry.goal) + ui.px(5.0f);
    if (standing.last)
        ui.mark(standing.last->passed ? Mark::good : Mark::caution, {x + ui.px(7.0f), y + 0.5f * line}, ui.px(6.5f));
    else
        ui.mark(Mark::neutral, {x + ui.px(7.0f), y + 0.5f * line}, ui.px(6.5f));
    ui.text(Face::bold14, x + ui.px(20.0f), y, theme::kInk, standing_words(standing), text_w - ui.px(20.0f));
    if (!faded.empty()) ui.paragraph(Face::text14, x, y + line + ui.px(3.0f), text_w, theme::kSecondInk, faded);
    return chosen;
}

float draw_cautions(Ui& ui, float x, float y, float w) {
    const float pad = ui.px(14.0f), bullet_w = ui.px(16.0f), text_w = w - 2.0f * pad - bullet_w;
    const float line = ui.line_height(Face::text14);
    float h = line + ui.px(20.0f);
    for (const char* words : kKnowFirst) h += ui.paragraph_height(Face::text14, text_w, words) + ui.px(6.0f);
    const Rect card{x, y, w, h};
    ui.box(card, theme::kPaper, ui.px(8.0f));
    ui.frame(card, theme::kLine, ui.px(8.0f));
    ui.text(Face::bold14, x + pad, y + ui.px(10.0f), theme::kInk, "Before you start", w);
    float row = y + ui.px(14.0f) + line;
    for (const char* words : kKnowFirst) {
        ui.disc({x + pad + ui.px(4.0f), row + 0.5f * line}, ui.px(2.5f), theme::kInk);
        row += ui.paragraph(Face::text14, x + pad + bullet_w, row, text_w, theme::kInk, words) + ui.px(6.0f);
    }
    return card.bottom();
}

/// Which anatomy, and what that means where it is not the written one; graded work has no choice. @return where it ends
float draw_variant(Ui& ui, float x, float y, float w, const StartChoice& choice, session::VariantWish& variant) {
    using Wish = session::VariantWish;
    static constexpr std::array kWishes{Wish::as_written, Wish::another, Wish::rare, Wish::harder, Wish::easier};
    static const std::array<std::string, 5> kLabels{"Written", "Another", "Rare", "Harder", "Easier"};
    static constexpr std::array kMeanings{
        "", "Other courses of vessels and nerves. Their number is told afterwards.",
        "Courses that few people have. Their number is told afterwards.",
        "Less room along the plan than in your last attempt. Its number is told afterwards.",
        "More room along the plan than in your last attempt. Its number is told afterwards."};
    ui.text(Face::text14, x, y, theme::kSecondInk, "Anatomy", w);
    y += ui.line_height(Face::text14) + ui.px(2.0f);
    if (choice.mode == sim::PracticeMode::graded)
        return y + ui.paragraph(Face::text14, x, y, w, theme::kInk,
                                "Drawn anew and hidden, except where the case is about one course.");
    const auto at = std::find(kWishes.begin(), kWishes.end(), variant);
    const auto now = at == kWishes.end() ? 0 : static_cast<std::size_t>(at - kWishes.begin());
    const float h = ui.px(34.0f);
    const auto chosen = ui.choice("start.variant", {x, y, w, h}, kLabels, now);
    variant = kWishes[chosen];
    if (chosen == 0) return y + h;
    y += h + ui.px(4.0f);
    return y + ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, kMeanings[chosen]);
}

/// How one practises, and on what. @return where it ends
float draw_how(Ui& ui, float x, float y, float w, StartChoice& choice);

/// How one practises, and what that means. @return where it ends
float draw_mode(Ui& ui, float x, float y, float w, sim::PracticeMode& mode) {
    static const std::array<std::string, 3> kModes{"Coached", "Solo", "Graded"};
    static constexpr std::array kMeanings{"Aids and advice are on, and fade with each pass.",
                                          "Aids when you ask for them; each use is recorded.",
                                          "No aids, one attempt; the result comes at the end."};
    const float h = ui.px(34.0f);
    const auto chosen = ui.choice("start.mode", {x, y, w, h}, kModes, static_cast<std::size_t>(mode));
    mode = static_cast<sim::PracticeMode>(chosen);
    y += h + ui.px(4.0f);
    return y + ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, kMeanings[chosen]);
}

/// Other screens, three in a row, or all where the row is wide. @return where it ends
float draw_ways(Ui& ui, float x, float y, float w, StartChoice& choice) {
    const int in_a_row = ui.compact() ? 6 : 3;
    const float gap = ui.px(6.0f), h = ui.px(36.0f), count = static_cast<float>(in_a_row);
    const float each = (w - (count - 1.0f) * gap) / count;
    const auto way = [&](int k, const char* name, const char* label) {
        const Rect rect{x + static_cast<float>(k % in_a_row) * (each + gap),
                        y + static_cast<float>(k / in_a_row) * (h + gap), each, h};
        return ui.button(name, rect, label, "", false);
    };
    choice.past = way(0, "start.past", "Attempts");
    choice.progress = way(1, "start.progress", "Progress");
    choice.learners = way(2, "start.learners", "Learners");
    choice.settings = way(3, "start.settings", "Settings");
    choice.authoring = way(4, "start.authoring", "Own cases");
    choice.cohort = way(5, "start.cohort", "Cohort");
    return ui.compact() ? y + h : y + 2.0f * h + gap;
}

/// What this learner would do next. @return where it ends
float draw_next(Ui& ui, float x, float y, float w, const StartView& view, StartChoice& choice) {
    const bool lesson = view.next->kind == NextStep::Kind::lesson;
    ui.text(Face::text14, x, y, theme::kSecondInk, view.learner.empty() ? "Next for you" : "Next for " + view.learner,
            w);
    y += ui.line_height(Face::text14) + ui.px(2.0f);
    ui.text(Face::bold14, x, y, theme::kInk, view.next->title, w);
    y += ui.line_height(Face::bold14) + ui.px(2.0f);
    y += ui.paragraph(Face::text14, x, y, w, theme::kInk, view.next->why) + ui.px(8.0f);
    if (ui.button("start.next", {x, y, w, ui.px(44.0f)}, lesson ? "Start the first lesson" : "Practise", "Enter",
                  true) ||
        (!ui.has_focus() && ui.input().pressed(SDLK_RETURN)))
        choice.scenario = view.next->scenario;
    return y + ui.px(44.0f + 12.0f);
}

/// A graded session, and what was stopped last. @return where it ends
float draw_begun(Ui& ui, float x, float y, float w, const StartView& view, StartChoice& choice) {
    const auto row = [&](const std::string& words, const char* name, const char* label) {
        ui.text(Face::text14, x, y, theme::kSecondInk, words, w);
        y += ui.line_height(Face::text14) + ui.px(4.0f);
        const bool pressed = ui.button(name, {x, y, w, ui.px(38.0f)}, label, "", false);
        y += ui.px(38.0f + 12.0f);
        return pressed;
    };
    if (!view.session.empty())
        choice.sessions = row("Graded session: " + view.session, "start.sessions", "To the graded session");
    if (!view.attempts.empty() && can_go_on(view.attempts.front()) &&
        row("Stopped: " + view.attempts.front().title, "start.go_on", "Go on where you stopped"))
        choice.go_on = view.attempts.front().file;
    return y;
}

/// Title, the ways to other screens, cautions, and the ways on. Attempts are read while this is shown: what depends on
/// them stands last, so that no button moves under a hand. @return where it ends
float draw_welcome(Ui& ui, float x, float y, float w, const StartView& view, StartChoice& choice) {
    ui.text(ui.compact() ? Face::bold24 : Face::bold36, x, y, theme::kInk, "Planekeeper", w);
    y += ui.line_height(ui.compact() ? Face::bold24 : Face::bold36) + ui.px(8.0f);
    if (!ui.compact()) y = draw_ways(ui, x, y, w, choice) + ui.px(14.0f);
    y = draw_cautions(ui, x, y, w) + ui.px(14.0f);
    if (!ui.compact()) y = draw_how(ui, x, y, w, choice) + ui.px(12.0f);
    if (view.next) y = draw_next(ui, x, y, w, view, choice);
    // where there is little room, the way on comes first
    if (ui.compact()) {
        y = draw_ways(ui, x, y, w, choice) + ui.px(14.0f);
        y = draw_how(ui, x, y, w, choice) + ui.px(12.0f);
    }
    y = draw_begun(ui, x, y, w, view, choice);
    // who has practised knows what this is
    if (view.attempts.empty())
        y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk,
                          "Barbed lifting threads in the lower face and neck: practise a pass, then see where it "
                          "went.");
    return y;
}

float draw_how(Ui& ui, float x, float y, float w, StartChoice& choice) {
    y = draw_mode(ui, x, y, w, choice.mode) + ui.px(8.0f);
    return draw_variant(ui, x, y, w, choice, choice.variant);
}

float draw_trouble(Ui& ui, float x, float y, float w, const std::string& trouble) {
    const float h = draw_trouble_card(ui, x, y, w, {"", trouble, "", ""});
    return h > 0.0f ? y + h + ui.px(16.0f) : y;
}

/// Scenarios of one kind, and of one level where the kind has more than one.
struct Shelf {
    std::string kind;
    std::optional<int> level;
    std::string heading, about;
};

std::vector<Shelf> shelves_of(const std::vector<Entry>& entries) {
    std::vector<Shelf> out;
    for (const bool drill : {true, false}) {
        const std::string kind = drill ? "drill" : "case", plural = drill ? "Drills" : "Cases";
        const std::string about = drill ? "one skill" : "one invented patient";
        std::set<int> levels;
        for (const Entry& entry : entries)
            if (entry.kind == kind) levels.insert(entry.level);
        for (const int level : levels) {
            if (levels.size() == 1)
                out.push_back({kind, std::nullopt, plural, about});
            else
                out.push_back({kind, level, fmt::format("{}, level {}", plural, level),
                               level == 1 ? "the face, " + about : "face and neck, " + about});
        }
    }
    return out;
}

/// Everything there is to practise. @return where it ends
float draw_list(Ui& ui, float x, float y, float w, const StartView& view, StartChoice& choice) {
    y = draw_trouble(ui, x, y, w, view.trouble);
    int number = 0;
    for (const Shelf& shelf : shelves_of(view.entries)) {
        ui.text(Face::bold24, x, y, theme::kInk, shelf.heading, w);
        ui.text(Face::text14, x + ui.text_width(Face::bold24, shelf.heading) + ui.px(14.0f), y + ui.px(10.0f),
                theme::kSecondInk, shelf.about, w);
        y += ui.px(40.0f);
        for (const Entry& entry : view.entries) {
            if (entry.kind != shelf.kind || (shelf.level && entry.level != *shelf.level)) continue;
            const std::string about = report::capital(entry.patient), faded = faded_words(view, entry);
            const Rect card{x, y, w, entry_height(ui, w, entry, about, faded)};
            if (draw_entry(ui, card, entry, about, faded, ++number, standing_of(view.attempts, entry.id)))
                choice.scenario = entry.id;
            y += card.h + ui.px(12.0f);
        }
        y += ui.px(8.0f);
    }
    return y;
}

bool about_below(const Ui& ui, float text_w, const std::string& title, const std::string& about) {
    return ui.text_width(Face::bold18, title) + ui.text_width(Face::text14, about) + ui.px(16.0f) > text_w;
}

}  // namespace

float band_height(const Ui& ui) { return ui.px(ui.compact() ? theme::kBandCompact : theme::kBand); }

float footer_height(const Ui& ui) {
    if (!ui.compact()) return ui.px(theme::kFooter);
    return ui.line_height(Face::text14) + ui.px(6.0f);
}

void draw_footer(Ui& ui, const std::string& status) {
    const float h = footer_height(ui), y = ui.height() - h;
    begin_kept(ui, KeptPanel::footer, {0, y, ui.width(), h}, theme::kFooterGround);
    if (ui.compact()) {
        ui.text(Face::text14, ui.px(12.0f), y + ui.px(3.0f), theme::kInk, kBriefCaution, ui.width() - ui.px(20.0f));
        end_kept(ui);
        return;
    }
    const float text_y = y + 0.5f * (h - ui.line_height(Face::text14));
    const float status_w = ui.text_width(Face::text14, status);
    // a caution is never cut: beside a long status the brief one stands
    const float room = ui.width() - status_w - ui.px(56.0f);
    const bool whole = ui.text_width(Face::text14, kCaution) <= room;
    ui.text(Face::text14, ui.px(20.0f), text_y, theme::kInk, whole ? kCaution : kBriefCaution, room);
    ui.text(Face::text14, ui.width() - ui.px(20.0f), text_y, theme::kSecondInk, status, status_w + 1.0f, Align::right);
    end_kept(ui);
}

StartChoice draw_start(Ui& ui, const StartView& view) {
    StartChoice choice;
    choice.mode = view.mode;
    choice.variant = view.variant;
    const float bottom = ui.height() - footer_height(ui);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    if (ui.compact()) {
        const Rect all = ui.begin_scroll("start", {0, 0, ui.width(), bottom});
        const float x = ui.px(16.0f), w = all.w - 2.0f * x;
        const float y = draw_welcome(ui, x, all.y + ui.px(12.0f), w, view, choice);
        ui.end_scroll(draw_list(ui, x, y + ui.px(18.0f), w, view, choice));
        return choice;
    }
    const float left_w = ui.px(360.0f), gap = ui.px(44.0f), list_w = ui.px(760.0f);
    const float x = std::max(ui.px(36.0f), 0.5f * (ui.width() - left_w - gap - list_w));
    const Rect left = ui.begin_scroll("start.welcome", {x - ui.px(8.0f), 0, left_w + ui.px(20.0f), bottom});
    const float left_end = draw_welcome(ui, x, left.y + ui.px(24.0f), left_w, view, choice);
    ui.end_scroll(left_end + ui.px(16.0f));
    ui.line({x + left_w + 0.5f * gap, ui.px(40.0f)}, {x + left_w + 0.5f * gap, bottom - ui.px(24.0f)}, theme::kLine,
            ui.px(1.0f));
    const float list_x = x + left_w + gap;
    const Rect list = ui.begin_scroll(
        "start.list",
        {list_x - ui.px(8.0f), 0, std::min(list_w, ui.width() - list_x - ui.px(20.0f)) + ui.px(20.0f), bottom});
    const float w = list.w - ui.px(16.0f);
    ui.end_scroll(draw_list(ui, list_x, list.y + ui.px(28.0f), w, view, choice) + ui.px(8.0f));
    return choice;
}

void draw_loading(Ui& ui, const std::string& title, double fraction, const std::string& what) {
    const float s = ui.scale(), width = std::min(520.0f * s, ui.width() - 40.0f * s), x = 0.5f * (ui.width() - width);
    ui.box({0, 0, ui.width(), ui.height()}, theme::kGround);
    float y = 0.5f * ui.height() - 60.0f * s;
    ui.text(Face::bold24, x, y, theme::kInk, title, width);
    y += 40.0f * s;
    const Rect bar{x, y, width, 12.0f * s};
    ui.box(bar, theme::kPaper, 6.0f * s);
    ui.box({x, y, width * static_cast<float>(std::clamp(fraction, 0.02, 1.0)), bar.h}, theme::kBlue, 6.0f * s);
    ui.frame(bar, theme::kEdge, 6.0f * s, s);
    const std::string doing = what.empty() ? "preparing the patient" : what;
    ui.text(Face::text14, x, y + 22.0f * s, theme::kSecondInk, doing, width - 60.0f * s);
    ui.text(Face::text14, x + width, y + 22.0f * s, theme::kSecondInk, fmt::format("{:.0f} %", 100.0 * fraction),
            60.0f * s, Align::right);
}

}  // namespace app
