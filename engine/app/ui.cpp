#include "engine/app/ui.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <backends/imgui_impl_opengl3.h>
#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "engine/app/theme.hpp"

namespace app {

namespace {

constexpr float kScaleStep = 0.125f;  // fonts are made anew only when the window has grown by this much
constexpr float kDesignWidth = 1280.0f, kDesignHeight = 720.0f;
constexpr float kLeastRoomW = 640.0f, kLeastRoomH = 360.0f;  // of a layout, at 100 %
constexpr float kSharpPx = 40.0f;                            // letters of this size need no finer sampling
constexpr float kWheelStep = 56.0f;                          // of a scrolling panel, at 100 %
constexpr float kScrollBar = 12.0f;
constexpr float kAcross = 3.0f;  // an arrow key would rather go far than aside

struct FaceSpec {
    bool bold;
    float size;
};
constexpr FaceSpec kFaces[6] = {{false, 14}, {false, 18}, {true, 14}, {true, 18}, {true, 24}, {true, 36}};

/// First path of the font for this use that exists.
std::string font_file(const nlohmann::json& manifest, const std::string& manifest_name, const std::string& use) {
    std::string package = "fonts-noto-core";
    for (const auto& font : manifest.at("fonts")) {
        if (font.at("use") != use) continue;
        package = font.at("package");
        for (const auto& path : font.at("paths"))
            if (std::filesystem::exists(path.get<std::string>())) return path;
    }
    throw std::runtime_error(manifest_name + ": none of the fonts for \"" + use + "\" is there; install " + package);
}

}  // namespace

unsigned packed(unsigned rgb, int alpha) {
    return IM_COL32((rgb >> 16) & 255u, (rgb >> 8) & 255u, rgb & 255u, static_cast<unsigned>(alpha));
}

Ui::Ui(const std::filesystem::path& font_manifest, bool software) {
    std::ifstream in(font_manifest);
    if (!in) throw std::runtime_error(font_manifest.string() + ": font manifest is missing or cannot be read");
    nlohmann::json manifest;
    try {
        manifest = nlohmann::json::parse(in);
        text_file_ = font_file(manifest, font_manifest.string(), "text");
        bold_file_ = font_file(manifest, font_manifest.string(), "bold");
    } catch (const nlohmann::json::exception& error) {
        throw std::runtime_error(font_manifest.string() + ": " + error.what());
    }
    ImGui::CreateContext();
    ImGui::GetIO().IniFilename = nullptr;
    ImGui_ImplOpenGL3_Init("#version 330 core");
    panel_renderer_ = std::make_unique<PanelRenderer>(software);
}

Ui::~Ui() {
    panel_renderer_.reset();
    ImGui_ImplOpenGL3_Shutdown();
    ImGui::DestroyContext();
}

void Ui::load_fonts(float scale) {
    scale_ = scale;
    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    atlas.Clear();
    atlas.Flags |= ImFontAtlasFlags_NoPowerOfTwoHeight;
    atlas.TexDesiredWidth = scale > 2.5f ? 4096 : 0;
    // letters with accents, general punctuation; the face has no minus sign or arrows in these files
    static const ImWchar kRanges[] = {0x20, 0x17F, 0x2010, 0x2027, 0x2030, 0x2044, 0};
    for (std::size_t i = 0; i < 6; ++i) {
        const float size = kFaces[i].size * scale * kLineBox;  // the size asked for is that of the em
        ImFontConfig config;
        config.OversampleH = size > kSharpPx ? 1 : 2;
        config.OversampleV = 1;
        config.PixelSnapH = true;
        const std::string& file = kFaces[i].bold ? bold_file_ : text_file_;
        fonts_[i] = atlas.AddFontFromFileTTF(file.c_str(), size, &config, kRanges);
        if (fonts_[i] == nullptr) throw std::runtime_error(file + ": is not a font that can be used");
    }
    atlas.Build();
    // letters keep their size to the fraction, lines are whole pixels apart
    for (ImFont* font : fonts_) font->FontSize = std::round(font->FontSize);
    ImGui_ImplOpenGL3_DestroyFontsTexture();
    ImGui_ImplOpenGL3_CreateFontsTexture();
}

float Ui::font_size(Face face) const { return kFaces[static_cast<std::size_t>(face)].size * scale_; }

void Ui::set_text_scale(float scale) {
    const float now = std::clamp(scale, kLeastText, kMostText);
    if (now != text_scale_) unsettled_ = true;
    text_scale_ = now;
}

int Ui::text_percent_asked() const { return static_cast<int>(std::lround(100.0f * text_scale_)); }

int Ui::text_percent_shown() const {
    const float window = std::max(1.0f, std::min(width_ / kDesignWidth, height_ / kDesignHeight));
    // fonts come in steps: within one of what is asked for, it is what is asked for
    const float shown = scale_ / window;
    return shown > text_scale_ - kScaleStep / window ? text_percent_asked()
                                                     : static_cast<int>(std::lround(100.0f * shown));
}

void Ui::begin(float width, float height, const Input& input) {
    width_ = width;
    height_ = height;
    input_ = &input;
    const float window = std::max(1.0f, std::min(width / kDesignWidth, height / kDesignHeight));
    // in a window smaller than the design, text grows only as far as a layout is left
    const float most = std::max(1.0f, std::min(width / kLeastRoomW, height / kLeastRoomH));
    const float stepped = std::floor(std::min(window * text_scale_, most) / kScaleStep + 1e-3f) * kScaleStep;
    if (stepped != scale_) load_fonts(stepped);
    ImGuiIO& io = ImGui::GetIO();
    io.DisplaySize = {width, height};
    io.DeltaTime = 1.0f / 60.0f;  // nothing of ImGui's own moves
    ImGui_ImplOpenGL3_NewFrame();
    ImGui::NewFrame();
    last_controls_.swap(controls_);
    controls_.clear();
    places_.clear();
    panels_.clear();
    check_.clear();
    for (auto& [name, scroll] : scrolls_) scroll.used = false;
    over_button_ = unsettled_ = focus_moved_ = false;
    move_focus();
    if (input.left_pressed) focus_.clear();
}

void Ui::end() {
    draw_focus();
    if (input_->left_released) held_.clear();
    // a panel that was left begins at its top when it comes back
    std::erase_if(scrolls_, [](const auto& entry) { return !entry.second.used; });
    ImGui::Render();
    panel_renderer_->draw(*ImGui::GetDrawData());
}

void Ui::move_focus() {
    if (last_controls_.empty()) return;
    const auto now = std::find_if(last_controls_.begin(), last_controls_.end(),
                                  [this](const Control& control) { return control.name == focus_; });
    const bool none = now == last_controls_.end();
    if (none) focus_.clear();  // what had it is gone
    if (input_->pressed(SDLK_TAB)) {
        const auto count = static_cast<std::ptrdiff_t>(last_controls_.size());
        const std::ptrdiff_t index = none ? (input_->shift ? 0 : -1) : now - last_controls_.begin();
        focus_ = last_controls_[static_cast<std::size_t>((index + (input_->shift ? count - 1 : 1)) % count)].name;
        focus_moved_ = true;
    }
    if (typing_in_ != focus_) typing_in_.clear();
    if (!arrows_move_focus_) return;
    for (const Key key : {SDLK_LEFT, SDLK_RIGHT, SDLK_UP, SDLK_DOWN}) {
        if (!input_->pressed(key)) continue;
        if (!typing_in_.empty() && (key == SDLK_LEFT || key == SDLK_RIGHT)) continue;  // they move the caret
        const Control* next = none ? &last_controls_.front() : neighbour(*now, key);
        if (next != nullptr) focus_ = next->name;
        focus_moved_ = true;
        break;
    }
}

const Ui::Control* Ui::neighbour(const Control& from, Key direction) const {
    const bool sideways = direction == SDLK_LEFT || direction == SDLK_RIGHT;
    const float sign = direction == SDLK_RIGHT || direction == SDLK_DOWN ? 1.0f : -1.0f;
    const Control* best = nullptr;
    float best_way = 0.0f;
    for (const Control& control : last_controls_) {
        const Rect &a = from.rect, &b = control.rect;
        // from edge to edge along the key's way; across it only what the two do not share
        const float along = sideways ? (sign > 0 ? b.x - a.right() : a.x - b.right())
                                     : (sign > 0 ? b.y - a.bottom() : a.y - b.bottom());
        if (along < -scale_) continue;
        const float across = sideways ? std::max({0.0f, b.y - a.bottom(), a.y - b.bottom()})
                                      : std::max({0.0f, b.x - a.right(), a.x - b.right()});
        const float offset = sideways ? std::fabs(b.y - a.y) : std::fabs(b.x - a.x);
        const float way = std::max(0.0f, along) + kAcross * across + 0.05f * offset;
        if (best != nullptr && way >= best_way) continue;
        best = &control;
        best_way = way;
    }
    return best;
}

void Ui::focus_on(const std::string& name) {
    focus_ = name;
    focus_moved_ = true;
}

void Ui::draw_focus() {
    for (const Control& control : controls_) {
        if (control.name != focus_) continue;
        ImDrawList* list = draw_list();
        list->PushClipRect({control.clip.x, control.clip.y}, {control.clip.right(), control.clip.bottom()});
        // light inside dark, so that it is seen on any ground
        frame(control.rect.inset(-px(2.0f)), theme::kPaper, px(8.0f), px(2.0f));
        frame(control.rect.inset(-px(4.0f)), theme::kInk, px(9.0f), px(2.5f));
        list->PopClipRect();
        return;
    }
}

void Ui::begin_panel(const Rect& rect) {
    const Rect clip = panels_.empty() ? Rect{0, 0, width_, height_} : panels_.back().clip;
    panels_.push_back({rect, clip, panels_.empty() ? "" : panels_.back().scroll, 0.0f});
}

void Ui::end_panel() { panels_.pop_back(); }

Rect Ui::begin_scroll(const std::string& name, const Rect& rect) {
    Scroll& scroll = scrolls_[name];
    scroll.used = true;
    scroll.visible = rect.h;
    const float most = std::max(0.0f, scroll.content - rect.h);
    if (rect.holds(input_->mouse)) scroll.offset -= input_->wheel * px(kWheelStep);
    if (input_->pressed(SDLK_PAGEDOWN)) scroll.offset += 0.8f * rect.h;
    if (input_->pressed(SDLK_PAGEUP)) scroll.offset -= 0.8f * rect.h;
    scroll.offset = std::round(std::clamp(scroll.offset, 0.0f, most));
    draw_list()->PushClipRect({rect.x, rect.y}, {rect.right(), rect.bottom()}, true);
    panels_.push_back({rect, rect, name, rect.y - scroll.offset});
    const float bar = most > 0.0f ? px(kScrollBar) : 0.0f;
    return {rect.x, rect.y - scroll.offset, rect.w - bar, rect.h};
}

void Ui::end_scroll(float content_bottom) {
    const Panel panel = panels_.back();
    panels_.pop_back();
    Scroll& scroll = scrolls_[panel.scroll];
    const float content = content_bottom - panel.top;
    if (std::fabs(content - scroll.content) > 0.5f) unsettled_ = true;
    scroll.content = content;
    if (content > scroll.visible + 0.5f) {
        const Rect track{panel.rect.right() - px(kScrollBar) + px(3.0f), panel.rect.y + px(2.0f), px(6.0f),
                         panel.rect.h - px(4.0f)};
        const float share = scroll.visible / content, from = scroll.offset / content;
        draw_list()->AddRectFilled({track.x, track.y}, {track.right(), track.bottom()}, packed(theme::kLine), px(3.0f));
        draw_list()->AddRectFilled({track.x, track.y + from * track.h},
                                   {track.right(), track.y + (from + share) * track.h}, packed(theme::kEdge), px(3.0f));
    }
    draw_list()->PopClipRect();
}

void Ui::bring_into_view(const Control& control) {
    if (control.scroll.empty()) return;
    Scroll& scroll = scrolls_[control.scroll];
    const float margin = px(10.0f), above = control.clip.y + margin - control.rect.y,
                below = control.rect.bottom() + margin - control.clip.bottom();
    if (above > 0.0f)
        scroll.offset -= above;
    else if (below > 0.0f)
        scroll.offset += below;
    else
        return;
    unsettled_ = true;
}

bool Ui::area(const std::string& name, const Rect& rect, bool* hovered) {
    const Rect window{0, 0, width_, height_};
    const Control control{name, rect, panels_.empty() ? window : panels_.back().clip,
                          panels_.empty() ? "" : panels_.back().scroll};
    controls_.push_back(control);
    const Point middle{rect.x + 0.5f * rect.w, rect.y + 0.5f * rect.h};
    if (control.clip.holds(middle)) places_.push_back({name, rect});
    if (focus_moved_ && focus_ == name) bring_into_view(control);
    const bool over = rect.holds(input_->mouse) && control.clip.holds(input_->mouse);
    over_button_ = over_button_ || over;
    if (hovered != nullptr) *hovered = over;
    if (over && input_->left_pressed) held_ = name;
    const bool clicked = over && input_->left_released && held_ == name;
    const bool keyed = focus_ == name &&
                       (input_->pressed(SDLK_RETURN) || input_->pressed(SDLK_KP_ENTER) || input_->pressed(SDLK_SPACE));
    return clicked || keyed;
}

}  // namespace app
