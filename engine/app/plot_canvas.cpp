#include "engine/app/plot_canvas.hpp"

#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "engine/language/words.hpp"
#include "engine/view/polyline.hpp"

namespace app {

namespace {

constexpr double kUnseenPx = 0.12;  // a line may be drawn so far from where it is

ImU32 packed_colour(const view::Colour& c) {
    return ImGui::ColorConvertFloat4ToU32({static_cast<float>(c.red), static_cast<float>(c.green),
                                           static_cast<float>(c.blue), static_cast<float>(c.alpha)});
}

std::vector<ImVec2> pixels(std::span<const view::CanvasPoint> points) {
    std::vector<ImVec2> out;
    out.reserve(points.size());
    for (const view::CanvasPoint& p : points) out.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
    return out;
}

float cross(const ImVec2& a, const ImVec2& b, const ImVec2& c) {
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

bool convex(const std::vector<ImVec2>& p) {
    bool left = false, right = false;
    for (std::size_t i = 0; i < p.size(); ++i) {
        const float turn = cross(p[i], p[(i + 1) % p.size()], p[(i + 2) % p.size()]);
        left = left || turn > 1e-3f;
        right = right || turn < -1e-3f;
    }
    return !(left && right);
}

/// A slice with two upright sides has neighbours: smoothed, the sides between them would show as seams.
bool slice(const std::vector<ImVec2>& p) {
    int upright = 0;
    for (std::size_t i = 0; i < p.size(); ++i) upright += std::fabs(p[(i + 1) % p.size()].x - p[i].x) < 1e-3f ? 1 : 0;
    return upright >= 2;
}

/// The two ways from the leftmost to the rightmost point, if neither ever turns back.
bool two_chains(const std::vector<ImVec2>& p, std::vector<ImVec2>& one, std::vector<ImVec2>& other) {
    const auto by_x = [](const ImVec2& a, const ImVec2& b) { return a.x < b.x; };
    const auto n = p.size();
    const auto first = static_cast<std::size_t>(std::min_element(p.begin(), p.end(), by_x) - p.begin());
    const auto last = static_cast<std::size_t>(std::max_element(p.begin(), p.end(), by_x) - p.begin());
    for (std::size_t i = first;; i = (i + 1) % n) {
        one.push_back(p[i]);
        if (i == last) break;
    }
    for (std::size_t i = first;; i = (i + n - 1) % n) {
        other.push_back(p[i]);
        if (i == last) break;
    }
    return std::is_sorted(one.begin(), one.end(), by_x) && std::is_sorted(other.begin(), other.end(), by_x);
}

float height_at(const std::vector<ImVec2>& chain, float x) {
    const auto after =
        std::upper_bound(chain.begin(), chain.end(), x, [](float value, const ImVec2& p) { return value < p.x; });
    if (after == chain.begin()) return chain.front().y;
    if (after == chain.end()) return chain.back().y;
    const ImVec2 a = *(after - 1), b = *after;
    return b.x - a.x < 1e-6f ? b.y : a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x);
}

/// Upright slices between two chains. Edges are not smoothed: neighbouring bands would show a seam.
void fill_between(ImDrawList& list, const std::vector<ImVec2>& one, const std::vector<ImVec2>& other, ImU32 colour) {
    std::vector<float> xs;
    for (const ImVec2& p : one) xs.push_back(p.x);
    for (const ImVec2& p : other) xs.push_back(p.x);
    std::sort(xs.begin(), xs.end());
    for (std::size_t i = 0; i + 1 < xs.size(); ++i) {
        const float a = xs[i], b = xs[i + 1];
        if (b - a < 1e-4f) continue;
        // just inside the slice, so that an upright edge is taken from its right side
        const float in = 1e-3f * (b - a);
        list.AddQuadFilled({a, height_at(one, a + in)}, {b, height_at(one, b - in)}, {b, height_at(other, b - in)},
                           {a, height_at(other, a + in)}, colour);
    }
}

/// Any other simple polygon, corner by corner.
void clip_ears(ImDrawList& list, std::vector<ImVec2> p, ImU32 colour) {
    float area = 0.0f;
    for (std::size_t i = 0; i < p.size(); ++i)
        area += p[i].x * p[(i + 1) % p.size()].y - p[(i + 1) % p.size()].x * p[i].y;
    if (area < 0.0f) std::reverse(p.begin(), p.end());
    const auto is_ear = [&p](std::size_t i) {
        const std::size_t n = p.size();
        const ImVec2 a = p[(i + n - 1) % n], b = p[i], c = p[(i + 1) % n];
        if (cross(a, b, c) <= 0.0f) return false;
        for (std::size_t k = 0; k < n; ++k) {
            if (k == i || k == (i + 1) % n || k == (i + n - 1) % n) continue;
            if (cross(a, b, p[k]) > 0.0f && cross(b, c, p[k]) > 0.0f && cross(c, a, p[k]) > 0.0f) return false;
        }
        return true;
    };
    while (p.size() >= 3) {
        std::size_t ear = 0;
        while (ear < p.size() && !is_ear(ear)) ++ear;
        if (ear == p.size()) ear = 0;  // nothing but straight corners is left
        const std::size_t n = p.size();
        list.AddTriangleFilled(p[(ear + n - 1) % n], p[ear], p[(ear + 1) % n], colour);
        p.erase(p.begin() + static_cast<std::ptrdiff_t>(ear));
    }
}

/// A stroke along the pixels needs no smoothing: two triangles instead of eight, and patterns have a thousand of them.
void upright_or_level(ImDrawList& list, const ImVec2& a, const ImVec2& b, ImU32 colour, float width) {
    const float thick = std::max(1.0f, std::round(width));
    const bool level = a.y == b.y;
    const float x = std::round(std::min(a.x, b.x) - (level ? 0.0f : 0.5f * thick));
    const float y = std::round(std::min(a.y, b.y) - (level ? 0.5f * thick : 0.0f));
    const float length = std::max(1.0f, std::round(level ? std::fabs(b.x - a.x) : std::fabs(b.y - a.y)));
    list.AddRectFilled({x, y}, {x + (level ? length : thick), y + (level ? thick : length)}, colour);
}

}  // namespace

ImFont* PlotCanvas::font_for(double size) const {
    for (const Face face : {Face::text14, Face::text18})
        if (static_cast<double>(ui_.font_size(face)) >= size - 0.5) return ui_.font(face);
    return ui_.font(Face::text18);
}

void PlotCanvas::fill(std::span<const view::CanvasPoint> points, const view::Colour& colour) {
    std::vector<ImVec2> p = pixels(view::simplified(points, kUnseenPx));
    if (p.size() < 3) return;
    ImDrawList& list = *ui_.draw_list();
    const ImU32 ink = packed_colour(colour);
    const ImDrawListFlags smooth = list.Flags;
    if (convex(p)) {
        if (slice(p)) list.Flags &= ~ImDrawListFlags_AntiAliasedFill;
        // ImGui smooths the edges of what turns clockwise on the screen
        if (cross(p[0], p[1], p[2]) < 0.0f) std::reverse(p.begin(), p.end());
        list.AddConvexPolyFilled(p.data(), static_cast<int>(p.size()), ink);
        list.Flags = smooth;
        return;
    }
    list.Flags &= ~ImDrawListFlags_AntiAliasedFill;
    std::vector<ImVec2> one, other;
    if (two_chains(p, one, other))
        fill_between(list, one, other, ink);
    else
        clip_ears(list, std::move(p), ink);
    list.Flags = smooth;
}

void PlotCanvas::line(std::span<const view::CanvasPoint> points, const view::Colour& colour, double width) {
    const std::vector<ImVec2> p = pixels(view::simplified(points, kUnseenPx));
    if (p.size() < 2) return;
    if (p.size() == 2 && (p[0].x == p[1].x || p[0].y == p[1].y)) {
        upright_or_level(*ui_.draw_list(), p[0], p[1], packed_colour(colour), static_cast<float>(width));
        return;
    }
    ui_.draw_list()->AddPolyline(p.data(), static_cast<int>(p.size()), packed_colour(colour), 0,
                                 static_cast<float>(width));
}

void PlotCanvas::text(const view::CanvasPoint& at, std::string_view text, double size, const view::Colour& colour,
                      view::TextAlign align) {
    const std::string words = language::shown(text);
    ImFont* font = font_for(size);
    const float height = std::round(static_cast<float>(size) * Ui::kLineBox);
    float x = static_cast<float>(at.x);
    const auto width = static_cast<float>(text_width(text, size));
    if (align == view::TextAlign::centre) x -= 0.5f * width;
    if (align == view::TextAlign::right) x -= width;
    const float top = static_cast<float>(at.y) - font->Ascent * height / font->FontSize;
    const int first = ui_.text_begins();
    ui_.draw_list()->AddText(font, height, {std::round(x), std::round(top)}, packed_colour(colour), words.c_str());
    if (!turning_) ui_.text_ends(first, words, static_cast<float>(size));
}

void PlotCanvas::text_upwards(const view::CanvasPoint& at, std::string_view text, double size,
                              const view::Colour& colour) {
    ImDrawList& list = *ui_.draw_list();
    const int first = list.VtxBuffer.Size;
    turning_ = true;
    // written where there is room for it lying down, as letters beyond the clip are never made, then turned into place
    const double aside = 0.5 * text_width(text, size);
    this->text({at.x + aside, at.y}, text, size, colour, view::TextAlign::centre);
    turning_ = false;
    const auto cx = static_cast<float>(at.x), cy = static_cast<float>(at.y);
    const auto lay_x = static_cast<float>(at.x + aside);
    for (int i = first; i < list.VtxBuffer.Size; ++i) {
        ImVec2& p = list.VtxBuffer[i].pos;
        p = {cx + (p.y - cy), cy - (p.x - lay_x)};
    }
    ui_.text_ends(first, language::shown(text), static_cast<float>(size));
}

double PlotCanvas::text_width(std::string_view text, double size) {
    const float height = std::round(static_cast<float>(size) * Ui::kLineBox);
    const std::string words = language::shown(text);
    return static_cast<double>(font_for(size)->CalcTextSizeA(height, 1e6f, 0.0f, words.c_str()).x);
}

}  // namespace app
