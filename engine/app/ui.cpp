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

// Noto's line box is taller than its em: this factor makes a nominal size look like it
constexpr float kNotoBox = 1.12f;
constexpr float kScaleStep = 0.125f;  // fonts are made anew only when the window has grown by this much
constexpr float kDesignWidth = 1280.0f, kDesignHeight = 720.0f;

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

ImVec2 at(Point p) { return {p.x, p.y}; }

}  // namespace

unsigned packed(unsigned rgb, int alpha) {
    return IM_COL32((rgb >> 16) & 255u, (rgb >> 8) & 255u, rgb & 255u, static_cast<unsigned>(alpha));
}

Ui::Ui(const std::filesystem::path& font_manifest) {
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
}

Ui::~Ui() {
    ImGui_ImplOpenGL3_Shutdown();
    ImGui::DestroyContext();
}

void Ui::load_fonts(float scale) {
    scale_ = scale;
    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    atlas.Clear();
    // letters with accents, general punctuation; the face has no minus sign or arrows in these files
    static const ImWchar kRanges[] = {0x20, 0x17F, 0x2010, 0x2027, 0x2030, 0x2044, 0};
    for (std::size_t i = 0; i < 6; ++i) {
        ImFontConfig config;
        config.OversampleH = 2;
        config.OversampleV = 1;
        config.PixelSnapH = true;
        const std::string& file = kFaces[i].bold ? bold_file_ : text_file_;
        fonts_[i] =
            atlas.AddFontFromFileTTF(file.c_str(), std::round(kFaces[i].size * scale * kNotoBox), &config, kRanges);
        if (fonts_[i] == nullptr) throw std::runtime_error(file + ": is not a font that can be used");
    }
    atlas.Build();
    ImGui_ImplOpenGL3_DestroyFontsTexture();
    ImGui_ImplOpenGL3_CreateFontsTexture();
}

void Ui::begin(float width, float height, const Input& input) {
    width_ = width;
    height_ = height;
    input_ = &input;
    const float wanted = std::max(1.0f, std::min(width / kDesignWidth, height / kDesignHeight));
    const float stepped = std::floor(wanted / kScaleStep + 1e-3f) * kScaleStep;
    if (stepped != scale_) load_fonts(stepped);
    ImGuiIO& io = ImGui::GetIO();
    io.DisplaySize = {width, height};
    io.DeltaTime = 1.0f / 60.0f;  // nothing of ImGui's own moves
    ImGui_ImplOpenGL3_NewFrame();
    ImGui::NewFrame();
    last_order_.swap(order_);
    order_.clear();
    places_.clear();
    misfits_.clear();
    over_button_ = false;
    if (input.pressed(SDLK_TAB) && !last_order_.empty()) {
        const auto now = std::find(last_order_.begin(), last_order_.end(), focus_);
        const auto count = static_cast<std::ptrdiff_t>(last_order_.size());
        const std::ptrdiff_t index = now == last_order_.end() ? (input.shift ? 0 : -1) : now - last_order_.begin();
        focus_ = last_order_[static_cast<std::size_t>((index + (input.shift ? count - 1 : 1)) % count)];
    }
    if (input.left_pressed) focus_.clear();
}

void Ui::end() {
    if (input_->left_released) held_.clear();
    ImGui::Render();
    ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
}

ImDrawList* Ui::draw_list() const { return ImGui::GetBackgroundDrawList(); }
ImFont* Ui::font(Face face) const { return fonts_[static_cast<std::size_t>(face)]; }
float Ui::font_size(Face face) const { return kFaces[static_cast<std::size_t>(face)].size * scale_; }
float Ui::line_height(Face face) const { return font(face)->FontSize; }

float Ui::text_width(Face face, const std::string& text) const {
    return font(face)->CalcTextSizeA(font(face)->FontSize, 1e6f, 0.0f, text.c_str()).x;
}

void Ui::text(Face face, float x, float y, unsigned colour, const std::string& text, float room, Align align) {
    std::string shown = text;
    float width = text_width(face, shown);
    if (width > room + 0.5f) {
        misfits_.push_back({text, width, room});
        while (!shown.empty() && width > room) {
            // never half a letter of more than one byte
            do shown.pop_back();
            while (!shown.empty() && (static_cast<unsigned char>(shown.back()) & 0xC0u) == 0x80u);
            width = text_width(face, shown + "…");
        }
        shown += "…";
    }
    if (align == Align::centre) x -= 0.5f * width;
    if (align == Align::right) x -= width;
    draw_list()->AddText(font(face), font(face)->FontSize, {std::floor(x), std::floor(y)}, packed(colour),
                         shown.c_str());
}

float Ui::paragraph_height(Face face, float width, const std::string& text) const {
    return font(face)->CalcTextSizeA(font(face)->FontSize, 1e6f, width, text.c_str()).y;
}

float Ui::paragraph(Face face, float x, float y, float width, unsigned colour, const std::string& text) {
    draw_list()->AddText(font(face), font(face)->FontSize, {std::floor(x), std::floor(y)}, packed(colour), text.c_str(),
                         nullptr, width);
    return paragraph_height(face, width, text);
}

void Ui::box(const Rect& rect, unsigned fill, float radius) {
    draw_list()->AddRectFilled({rect.x, rect.y}, {rect.right(), rect.bottom()}, packed(fill), radius);
}

void Ui::frame(const Rect& rect, unsigned line, float radius, float thickness) {
    draw_list()->AddRect({rect.x + 0.5f, rect.y + 0.5f}, {rect.right() - 0.5f, rect.bottom() - 0.5f}, packed(line),
                         radius, 0, thickness);
}

void Ui::line(Point a, Point b, unsigned colour, float thickness) {
    draw_list()->AddLine(at(a), at(b), packed(colour), thickness);
}

void Ui::disc(Point centre, float radius, unsigned colour) {
    draw_list()->AddCircleFilled(at(centre), radius, packed(colour), 24);
}

void Ui::ring(Point centre, float radius, unsigned colour, float thickness) {
    draw_list()->AddCircle(at(centre), radius, packed(colour), 32, thickness);
}

void Ui::mark(Mark mark, Point c, float r) {
    ImDrawList* list = draw_list();
    switch (mark) {
        case Mark::good: {
            disc(c, r, theme::kGreen);
            const ImVec2 tick[3] = {
                {c.x - 0.45f * r, c.y}, {c.x - 0.1f * r, c.y + 0.38f * r}, {c.x + 0.5f * r, c.y - 0.35f * r}};
            list->AddPolyline(tick, 3, packed(theme::kPaper), 0, 0.26f * r);
            break;
        }
        case Mark::caution: {
            const ImVec2 top{c.x, c.y - 1.05f * r}, left{c.x - 1.1f * r, c.y + 0.85f * r},
                right{c.x + 1.1f * r, c.y + 0.85f * r};
            list->AddTriangleFilled(top, right, left, packed(theme::kOrange));
            list->AddTriangle(top, right, left, packed(theme::kInk), 0.16f * r);
            line({c.x, c.y - 0.35f * r}, {c.x, c.y + 0.25f * r}, theme::kInk, 0.24f * r);
            disc({c.x, c.y + 0.55f * r}, 0.14f * r, theme::kInk);
            break;
        }
        case Mark::bad:
            box({c.x - 0.9f * r, c.y - 0.9f * r, 1.8f * r, 1.8f * r}, theme::kVermilion, 0.2f * r);
            line({c.x - 0.42f * r, c.y}, {c.x + 0.42f * r, c.y}, theme::kPaper, 0.3f * r);
            break;
        case Mark::neutral:
            ring(c, 0.85f * r, theme::kSecondInk, 0.22f * r);
            break;
    }
}

float Ui::tag(Face face, float x, float y, const std::string& label, unsigned ink, unsigned fill) {
    const float pad = 6.0f * scale_, w = text_width(face, label) + 2.0f * pad;
    box({x, y, w, line_height(face) + 2.0f * scale_}, fill, 4.0f * scale_);
    text(face, x + pad, y + scale_, ink, label, w);
    return w;
}

bool Ui::area(const std::string& name, const Rect& rect, bool* hovered) {
    places_.push_back({name, rect});
    order_.push_back(name);
    const bool over = rect.holds(input_->mouse);
    over_button_ = over_button_ || over;
    if (hovered != nullptr) *hovered = over;
    if (over && input_->left_pressed) held_ = name;
    const bool clicked = over && input_->left_released && held_ == name;
    const bool keyed = focus_ == name && (input_->pressed(SDLK_RETURN) || input_->pressed(SDLK_SPACE));
    return clicked || keyed;
}

bool Ui::button(const std::string& name, const Rect& rect, const std::string& label, const std::string& key,
                bool primary, bool enabled) {
    bool hovered = false;
    const bool pressed = enabled && area(name, rect, &hovered);
    const float s = scale_, radius = 7.0f * s;
    const unsigned fill = !enabled  ? theme::kGround
                          : primary ? (hovered ? 0x005F96 : theme::kBlue)
                                    : (hovered ? theme::kBlueWash : theme::kPaper);
    box(rect, fill, radius);
    if (!primary || !enabled) frame(rect, enabled ? theme::kEdge : theme::kLine, radius, 1.2f * s);
    if (focused(name)) frame(rect.inset(-3.0f * s), theme::kInk, radius + 3.0f * s, 2.0f * s);
    const Face face = primary ? Face::bold18 : Face::bold14;
    const float label_w = text_width(face, label);
    const float key_w = key.empty() ? 0.0f : text_width(Face::text14, key) + 12.0f * s;
    const float x = rect.x + 0.5f * (rect.w - label_w - key_w);
    const unsigned ink = !enabled ? theme::kSecondInk : primary ? theme::kPaper : theme::kInk;
    text(face, x, rect.y + 0.5f * (rect.h - line_height(face)), ink, label, rect.w - key_w - 8.0f * s);
    if (!key.empty())
        text(Face::text14, x + label_w + 12.0f * s, rect.y + 0.5f * (rect.h - line_height(Face::text14)),
             primary && enabled ? 0xFFFFFF : theme::kSecondInk, key, rect.w);
    return pressed;
}

}  // namespace app
