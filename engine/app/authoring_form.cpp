#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/app/authoring_desk.hpp"
#include "engine/app/chips.hpp"
#include "engine/app/theme.hpp"
#include "engine/language/words.hpp"

/// The form of one part of a case: a row for each field, with what it is and what would be accepted.

namespace app {

namespace {

using author::Field;
using author::FieldKind;
using author::Json;

constexpr float kEditorH = 34.0f, kSmallH = 28.0f, kBarH = 16.0f;
constexpr const char* kLeftOut = "left out";

std::string name_of_place(const Field& field) { return "authoring.field." + field.place.to_string().substr(1); }

/// "plan[0].length_mm", as readers tell places.
std::string readers_place(const author::Place& place) {
    std::string out;
    std::vector<std::string> parts;
    for (author::Place rest = place; !rest.empty(); rest = rest.parent_pointer()) parts.push_back(rest.back());
    for (auto part = parts.rbegin(); part != parts.rend(); ++part) {
        const bool index = std::all_of(part->begin(), part->end(), [](char c) { return c >= '0' && c <= '9'; });
        out += index ? "[" + *part + "]" : (out.empty() ? "" : ".") + *part;
    }
    return out;
}

bool holds_others(const Field& field) { return field.kind == FieldKind::object || field.kind == FieldKind::list; }

/// What a member of a list is called: by what it says of itself.
std::string title_of(const Field& field, const Json& document) {
    const Json& value = document.at(field.place);
    std::string name;
    for (const char* key : {"name", "title", "measure", "event", "concern", "say", "side"})
        if (name.empty() && value.is_object() && value.contains(key) && value[key].is_string())
            name = value[key].get<std::string>();
    std::replace(name.begin(), name.end(), '_', ' ');
    return name.empty() ? field.key : field.key + ": " + name;
}

/// What is in it, at a glance: how many members, or as many of its figures and choices as there is room for.
std::string glance_of(const Ui& ui, const Json& value, float room) {
    if (value.is_array()) return value.size() == 1 ? "1 member" : fmt::format("{} members", value.size());
    std::string out;
    for (const auto& [key, member] : value.items()) {
        if (!member.is_number() && !member.is_boolean()) continue;
        const std::string figure = member.is_number() ? fmt::format("{:g}", member.get<double>()) : member.dump();
        const std::string unit = author::unit_of(key);
        const std::string name = unit.empty() ? key : key.substr(0, key.rfind('_'));
        std::string longer = out + (out.empty() ? "" : ", ") + name + " " + figure + (unit.empty() ? "" : " ") + unit;
        std::replace(longer.begin(), longer.end(), '_', ' ');
        if (ui.text_width(Face::text14, longer) > room) break;
        out = std::move(longer);
    }
    return out;
}

/// How the points of a measure fall with its result. @return where it ends
float draw_curve(Ui& ui, float x, float y, float w, const Json& curve) {
    std::vector<glm::dvec2> points;
    for (const Json& one : curve)
        if (one.is_object() && one.contains("at") && one["at"].is_number() && one.contains("share") &&
            one["share"].is_number())
            points.emplace_back(one["at"].get<double>(), one["share"].get<double>());
    if (points.size() < 2 || !(points.back().x > points.front().x)) return y;
    const float line = ui.line_height(Face::text14), h = ui.px(84.0f), left = ui.px(40.0f);
    const Rect plot{x + left, y + ui.px(6.0f), w - left - ui.px(8.0f), h};
    const auto place = [&](const glm::dvec2& p) {
        const double along = (p.x - points.front().x) / (points.back().x - points.front().x);
        return Point{plot.x + plot.w * static_cast<float>(std::clamp(along, 0.0, 1.0)),
                     plot.bottom() - plot.h * static_cast<float>(std::clamp(p.y, 0.0, 1.0))};
    };
    ui.box(plot, theme::kGround);
    ui.frame(plot, theme::kLine);
    for (std::size_t i = 1; i < points.size(); ++i)
        ui.line(place(points[i - 1]), place(points[i]), theme::kBlue, ui.px(2.2f));
    for (const glm::dvec2& p : points) ui.disc(place(p), ui.px(4.0f), theme::kBlue);
    const float text_x = plot.x - ui.px(6.0f);
    ui.text(Face::text14, text_x, plot.y - ui.px(2.0f), theme::kSecondInk, "all", left, Align::right);
    ui.text(Face::text14, text_x, plot.bottom() - line, theme::kSecondInk, "none", left, Align::right);
    ui.text(Face::text14, plot.x, plot.bottom() + ui.px(2.0f), theme::kSecondInk, fmt::format("{:g}", points.front().x),
            0.5f * plot.w);
    ui.text(Face::text14, plot.right(), plot.bottom() + ui.px(2.0f), theme::kSecondInk,
            fmt::format("{:g}", points.back().x), 0.5f * plot.w, Align::right);
    return plot.bottom() + line + ui.px(14.0f);
}

/// How much a press on + or - is.
double step_of(const Field& field) {
    const double range = field.high.value_or(1e9) - field.low.value_or(0.0);
    if (field.kind == FieldKind::integer || range > 60.0) return 1.0;
    return range <= 1.0 ? 0.05 : 0.5;
}

std::string figure_words(double value) { return fmt::format("{:.6g}", value); }

}  // namespace

void AuthoringDesk::set(const Field& field, const std::string& typed) {
    typed_[field.place.to_string()] = typed;
    if (typed.empty() && !field.required) {
        draft_->remove(section().part, field.place);
    } else if (const auto value = author::value_of(field, typed)) {
        draft_->set(section().part, field.place, *value, true);
    } else {
        return;
    }
    changed();
}

void AuthoringDesk::draw_form(Ui& ui, const Rect& where) {
    const Rect all = ui.begin_scroll("authoring.form." + std::to_string(section_) + at_.to_string(), where);
    const float pad = ui.px(ui.compact() ? 12.0f : 18.0f), x = all.x + pad, w = all.w - 2.0f * pad;
    float y = draw_crumbs(ui, x, all.y + ui.px(12.0f), w);
    const author::Part part = section().part;
    const bool top = at_.to_string() == section().place;
    if (!draft_->has(part)) {
        y += ui.paragraph(Face::text18, x, y, w, theme::kSecondInk,
                          "This case is about flat tissue. Begin one like a case with a head to write a patient.");
        return ui.end_scroll(y);
    }
    const Json& document = draft_->document(part);
    if (!document.contains(at_)) {
        if (ui.button("authoring.add", {x, y, ui.px(200.0f), ui.px(36.0f)}, "Add", "", true)) {
            draft_->set(part, at_, form().fresh(document, at_));
            changed();
        }
        return ui.end_scroll(y + ui.px(50.0f));
    }
    const Field here = form().field(document, at_);
    if (!author::fits(here, document.at(at_))) {
        // written by other hands
        y += ui.paragraph(Face::text14, x, y, w, theme::kVermilionText, "Something else stands in the file here.");
        if (!at_.empty() &&
            ui.button("authoring.remove", {x, y + ui.px(8.0f), ui.px(200.0f), ui.px(36.0f)}, "Remove", "", false)) {
            draft_->remove(part, at_);
            changed();
            enter(author::Place(section().place));
        }
        return ui.end_scroll(y + ui.px(56.0f));
    }
    const bool list = document.at(at_).is_array();
    if (!list && document.at(at_).contains("curve")) y = draw_curve(ui, x, y, w, document.at(at_)["curve"]);
    if (list && !at_.empty() && at_.back() == "curve") y = draw_curve(ui, x, y, w, document.at(at_));
    const std::vector<Field> fields = form().fields(document, at_);
    const std::size_t version = draft_->version();
    for (const Field& field : fields) {
        const std::vector<std::string>& keys = section().keys;
        if (top && !keys.empty() && std::find(keys.begin(), keys.end(), field.key) == keys.end()) continue;
        y = holds_others(field) ? draw_holder(ui, x, y, w, field, list) : draw_field(ui, x, y, w, field, list);
        y += ui.px(16.0f);
        if (draft_->version() != version) break;  // places may have moved
    }
    if (list && draft_->version() == version &&
        ui.button("authoring.add", {x, y, ui.px(200.0f), ui.px(36.0f)}, "Add", "", false, fields.size() < here.most)) {
        draft_->append(part, at_, form().fresh(document, at_ / "-"));
        changed();
    }
    ui.end_scroll(y + ui.px(list ? 52.0f : 8.0f));
}

/// Where one is, the way up, and what this part is for. @return where it ends
float AuthoringDesk::draw_crumbs(Ui& ui, float x, float y, float w) {
    const bool top = at_.to_string() == section().place;
    const float bw = top ? 0.0f : ui.px(90.0f);
    std::string deeper;
    const Json& document = draft_->document(section().part);
    for (author::Place place = at_; place.to_string() != section().place; place = place.parent_pointer()) {
        const bool index = place.back().find_first_not_of("0123456789") == std::string::npos;
        deeper = " › " +
                 (index ? std::to_string(std::stoul(place.back()) + 1)
                        : language::shown(form().field(document, place).label)) +
                 deeper;
    }
    const std::string words = language::shown(section().label) + deeper;
    // a long way is broken into lines
    const float h = ui.paragraph(Face::bold18, x, y, w - bw - ui.px(8.0f), theme::kInk, words);
    if (!top && (ui.button("authoring.up", {x + w - bw, y, bw, ui.px(kSmallH)}, "Up", "", false))) {
        enter(at_.parent_pointer());
        return y + h;
    }
    y += std::max(h, top ? 0.0f : ui.px(kSmallH)) + ui.px(4.0f);
    if (!at_.empty() && draft_->has(section().part))
        if (const std::string about = form().field(draft_->document(section().part), at_).about; !about.empty())
            y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, about);
    return y + ui.px(12.0f);
}

/// Its name, its unit, and how it is left out. @return where it ends
float AuthoringDesk::draw_label(Ui& ui, float x, float y, float w, const Field& field, bool member) {
    const Json& document = draft_->document(section().part);
    const bool there = document.contains(field.place);
    const bool may_go =
        there && (member ? document.at(at_).size() > form().field(document, at_).least : !field.required);
    const std::string words = may_go ? (member ? "Remove" : "Leave out") : "";
    const float bw = may_go ? button_width(ui, words, "") : 0.0f, line = ui.px(kSmallH);
    const std::string label = member ? (holds_others(field) ? title_of(field, document) : field.key) : field.label;
    const std::string unit = member || holds_others(field) ? "" : author::unit_of(field.key);
    const float text_y = y + 0.5f * (line - ui.line_height(Face::bold14));
    const float unit_w = unit.empty() ? 0.0f : ui.text_width(Face::text14, unit) + ui.px(8.0f);
    const float label_room = w - bw - unit_w - ui.px(8.0f);
    std::string shown = ui.text_width(Face::bold14, label) <= label_room ? label : field.key;
    ui.text(Face::bold14, x, text_y, theme::kInk, shown, label_room);
    if (!unit.empty())
        ui.text(Face::text14, x + ui.text_width(Face::bold14, shown) + ui.px(8.0f), text_y, theme::kSecondInk, unit,
                unit_w);
    if (may_go && ui.button(name_of_place(field) + ".remove", {x + w - bw, y, bw, line}, words, "", false)) {
        draft_->remove(section().part, field.place);
        typed_.clear();
        changed();
    }
    return y + line + ui.px(2.0f);
}

float AuthoringDesk::draw_field(Ui& ui, float x, float y, float w, const Field& field, bool member) {
    const std::size_t version = draft_->version();
    y = draw_label(ui, x, y, w, field, member);
    if (draft_->version() != version) return y;
    const bool options = field.kind == FieldKind::choice || field.kind == FieldKind::yes_no;
    y = options                            ? draw_options(ui, x, y, w, field)
        : field.kind == FieldKind::choices ? draw_choices(ui, x, y, w, field)
                                           : draw_typed(ui, x, y, w, field);
    y = draw_refusal(ui, x, y, w, field);
    if (!field.about.empty() && !member)
        y += ui.paragraph(Face::text14, x, y + ui.px(3.0f), w, theme::kSecondInk, field.about) + ui.px(3.0f);
    return y;
}

/// An object or a list, which has a page of its own.
float AuthoringDesk::draw_holder(Ui& ui, float x, float y, float w, const Field& field, bool member) {
    const std::size_t version = draft_->version();
    const Json& document = draft_->document(section().part);
    const bool there = document.contains(field.place);
    y = draw_label(ui, x, y, w, field, member);
    if (draft_->version() != version) return y;
    if (!field.about.empty() && !member)
        y += ui.paragraph(Face::text14, x, y, w, theme::kSecondInk, field.about) + ui.px(4.0f);
    const float bw = ui.px(104.0f), h = ui.px(kSmallH + 2.0f), gap = ui.px(8.0f);
    const std::string name = name_of_place(field);
    if (ui.button(name, {x, y, bw, h}, there ? "Open" : "Add", "", false)) {
        if (!there) draft_->set(section().part, field.place, form().fresh(document, field.place));
        changed();
        enter(field.place);
        return y + h;
    }
    if (member && ui.button(name + ".duplicate", {x + bw + gap, y, bw, h}, "Duplicate", "", false,
                            document.at(at_).size() < form().field(document, at_).most)) {
        draft_->duplicate(section().part, field.place);
        changed();
        return y + h;
    }
    const float text_x = x + bw + gap + (member ? bw + gap : 0.0f);
    const std::string words = there ? glance_of(ui, document.at(field.place), x + w - text_x) : kLeftOut;
    if (!words.empty())
        ui.text(Face::text14, text_x, y + 0.5f * (h - ui.line_height(Face::text14)), theme::kSecondInk, words,
                x + w - text_x);
    return draw_refusal(ui, x, y + h, w, field);
}

/// One of a few side by side, or of many with two buttons that go through them.
float AuthoringDesk::draw_options(Ui& ui, float x, float y, float w, const Field& field) {
    const bool yes_no = field.kind == FieldKind::yes_no;
    std::vector<std::string> values = yes_no ? std::vector<std::string>{"false", "true"} : field.options;
    std::vector<std::string> labels = yes_no ? std::vector<std::string>{"no", "yes"} : field.options;
    if (!field.required) {
        values.insert(values.begin(), "");
        labels.insert(labels.begin(), kLeftOut);
    }
    for (std::string& label : labels) std::replace(label.begin(), label.end(), '_', ' ');
    const std::string now = author::text_of(field, draft_->document(section().part));
    const auto found = std::find(values.begin(), values.end(), now);
    const bool known = found != values.end();
    const std::size_t at = known ? static_cast<std::size_t>(found - values.begin()) : 0;
    float widest = 0.0f;
    for (const std::string& label : labels)
        widest = std::max(widest, ui.text_width(Face::text14, label) + ui.px(20.0f));
    const float h = ui.px(kEditorH);
    std::size_t chosen = at;
    if (known && widest * static_cast<float>(labels.size()) <= w) {
        chosen = ui.choice(name_of_place(field), {x, y, w, h}, labels, at);
    } else {
        const float bw = ui.px(40.0f);
        if (ui.button(name_of_place(field) + ".back", {x, y, bw, h}, "<", "", false))
            chosen = (at + labels.size() - 1) % labels.size();
        if (ui.button(name_of_place(field) + ".on", {x + w - bw, y, bw, h}, ">", "", false))
            chosen = (at + 1) % labels.size();
        ui.text(Face::text18, x + 0.5f * w, y + 0.5f * (h - ui.line_height(Face::text18)), theme::kInk,
                known ? labels[at] : now, w - 2.0f * bw - ui.px(8.0f), Align::centre);
    }
    if (chosen != at) {
        draft_->end_typing();
        set(field, values[chosen]);
        typed_.erase(field.place.to_string());
        draft_->end_typing();
    }
    return y + h;
}

/// Any of a few: each on or off by itself.
float AuthoringDesk::draw_choices(Ui& ui, float x, float y, float w, const Field& field) {
    const Json& document = draft_->document(section().part);
    const std::vector<std::string> chosen = author::chosen_of(field, document);
    const float h = ui.px(kChipH), gap = ui.px(8.0f), left = x, right = x + w;
    std::optional<Json> wanted;
    for (std::size_t i = 0; i < field.options.size(); ++i) {
        const std::string& option = field.options[i];
        const bool on = std::find(chosen.begin(), chosen.end(), option) != chosen.end();
        const Chip chip{fmt::format("{}.{}", name_of_place(field), i + 1), option, "", true, on, {}};
        const float chip_w = chip_width(ui, chip);
        if (x > left && x + chip_w > right) {
            x = left;
            y += h + ui.px(6.0f);
        }
        if (draw_chip(ui, {x, y, chip_w, h}, chip)) wanted = author::toggled(field, document, option);
        x += chip_w + gap;
    }
    if (wanted) {
        draft_->set(section().part, field.place, std::move(*wanted));
        changed();
    }
    return y + h;
}

/// A line to type into; a number has steps up and down, and a bar where its range is one that a hand can draw along.
float AuthoringDesk::draw_typed(Ui& ui, float x, float y, float w, const Field& field) {
    const std::string key = field.place.to_string(), name = name_of_place(field);
    const bool number = field.kind == FieldKind::number || field.kind == FieldKind::integer;
    const float h = ui.px(kEditorH), step_w = number ? ui.px(40.0f) : 0.0f, gap = ui.px(4.0f);
    const auto typing = typed_.find(key);
    std::string text =
        typing != typed_.end() ? typing->second : author::text_of(field, draft_->document(section().part));
    const std::string before = text;
    const Rect editor{x, y, w - 2.0f * (number ? step_w + gap : 0.0f), h};
    static_cast<void>(ui.field(name, editor, text, 4096));
    if (text != before) set(field, text);
    // what is accepted is shown as it stands in the file once the hand is elsewhere
    if (!ui.focused(name) && typed_.contains(key) && author::value_of(field, typed_[key])) typed_.erase(key);
    if (!number) {
        if (field.kind != FieldKind::text) return y + h;
        // a text that is longer than its line is told in full
        ui.set_verbatim(true);
        y += h;
        if (ui.text_width(Face::text18, text) > editor.w - ui.px(24.0f))
            y += ui.px(4.0f) + ui.paragraph(Face::text14, x, y + ui.px(4.0f), w, theme::kInk, text);
        ui.set_verbatim(false);
        return y;
    }
    const double step = step_of(field);
    for (const int sign : {-1, 1}) {
        const Rect rect{x + w - (sign < 0 ? 2.0f * step_w + gap : step_w), y, step_w, h};
        if (!ui.button(name + (sign < 0 ? ".less" : ".more"), rect, sign < 0 ? "-" : "+", "", false)) continue;
        const auto now = author::value_of(field, text);
        const double from = now ? now->get<double>() : field.low.value_or(0.0);
        const double to = std::clamp(step * std::round((from + sign * step) / step), field.low.value_or(-1e9),
                                     field.high.value_or(1e9));
        draft_->end_typing();
        set(field, figure_words(to));
        typed_.erase(key);
    }
    y += h;
    if (!field.low || !field.high || *field.high - *field.low > 100.0) return y;
    draw_bar(ui, {x, y + gap, w, ui.px(kBarH)}, field);
    return y + gap + ui.px(kBarH);
}

void AuthoringDesk::draw_bar(Ui& ui, const Rect& bar, const Field& field) {
    const Input& input = ui.input();
    const double low = *field.low, range = *field.high - low;
    const auto value = author::value_of(field, author::text_of(field, draft_->document(section().part)));
    const float share = value ? static_cast<float>((value->get<double>() - low) / range) : 0.0f;
    const Rect way{bar.x, bar.y + 0.5f * bar.h - ui.px(2.5f), bar.w, ui.px(5.0f)};
    ui.box(way, theme::kLine, ui.px(2.5f));
    if (value) {
        ui.box({way.x, way.y, way.w * share, way.h}, theme::kBlue, ui.px(2.5f));
        ui.disc({way.x + way.w * share, bar.y + 0.5f * bar.h}, ui.px(7.0f), theme::kBlue);
    }
    ui.name_place(name_of_place(field) + ".bar", bar);
    if (!input.left_held || !bar.holds(input.pressed_at) || !bar.holds({bar.x + 1.0f, input.pressed_at.y})) return;
    const double at = std::clamp(static_cast<double>((input.mouse.x - bar.x) / bar.w), 0.0, 1.0);
    const double step = 0.2 * step_of(field), wanted = low + at * range;
    if (input.left_pressed) draft_->end_typing();
    set(field, figure_words(field.kind == FieldKind::integer ? std::round(wanted) : step * std::round(wanted / step)));
    typed_.erase(field.place.to_string());
}

/// What would be accepted where something else was typed, and what the reader of the file refuses here.
float AuthoringDesk::draw_refusal(Ui& ui, float x, float y, float w, const Field& field) {
    const auto typing = typed_.find(field.place.to_string());
    std::string words;
    const bool left_out = typing != typed_.end() && typing->second.empty() && !field.required;
    if (typing != typed_.end() && !left_out && !author::value_of(field, typing->second))
        words = "Not kept yet. Accepted: " + author::accepted_words(field);
    const std::string place = readers_place(field.place);
    for (const author::Trouble& trouble : troubles_) {
        const bool here =
            trouble.place == place || (field.kind == FieldKind::choices && trouble.place.starts_with(place + "["));
        if (words.empty() && trouble.part == section().part && here) words = trouble.words;
    }
    if (words.empty()) return y;
    ui.mark(Mark::bad, {x + ui.px(7.0f), y + ui.px(4.0f) + 0.5f * ui.line_height(Face::text14)}, ui.px(6.0f));
    return y + ui.px(4.0f) +
           ui.paragraph(Face::text14, x + ui.px(20.0f), y + ui.px(4.0f), w - ui.px(20.0f), theme::kVermilionText,
                        words);
}

}  // namespace app
