#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "engine/app/input.hpp"

struct ImDrawList;
struct ImFont;

/// A few drawn things of which every screen is made: text that must fit, boxes, buttons, state marks, instruments.

namespace app {

enum class Face { text14, text18, bold14, bold18, bold24, bold36 };
enum class Align { left, centre, right };

/// States by shape as well as colour.
enum class Mark { good, caution, bad, neutral };

/// A button or a place that a test or a person may aim at.
struct Place {
    std::string name;
    Rect rect;
};

/// A text that found too little room: a fault of the screen that shows it.
struct Misfit {
    std::string text;
    float wanted = 0.0f, had = 0.0f;  ///< width in pixels
};

class Ui {
 public:
    /// @param font_manifest assets/fonts.json
    /// @throws std::runtime_error naming the manifest or the package when there is no font
    explicit Ui(const std::filesystem::path& font_manifest);
    ~Ui();
    Ui(const Ui&) = delete;
    Ui& operator=(const Ui&) = delete;

    void begin(float width, float height, const Input& input);
    void end();  ///< puts what was drawn on the current framebuffer

    [[nodiscard]] float scale() const { return scale_; }
    [[nodiscard]] float width() const { return width_; }
    [[nodiscard]] float height() const { return height_; }
    [[nodiscard]] const Input& input() const { return *input_; }
    [[nodiscard]] const std::vector<Place>& places() const { return places_; }
    [[nodiscard]] const std::vector<Misfit>& misfits() const { return misfits_; }
    void name_place(const std::string& name, const Rect& rect) { places_.push_back({name, rect}); }
    /// True while the pointer is over something that answers to it.
    [[nodiscard]] bool over_button() const { return over_button_; }

    [[nodiscard]] float text_width(Face face, const std::string& text) const;
    [[nodiscard]] float line_height(Face face) const;
    /// @param room width that the text may take; what does not fit is shortened and noted as a misfit
    void text(Face face, float x, float y, unsigned colour, const std::string& text, float room,
              Align align = Align::left);
    /// Broken into lines. @return height taken
    float paragraph(Face face, float x, float y, float width, unsigned colour, const std::string& text);
    [[nodiscard]] float paragraph_height(Face face, float width, const std::string& text) const;

    void box(const Rect& rect, unsigned fill, float radius = 0.0f);
    void frame(const Rect& rect, unsigned line, float radius = 0.0f, float thickness = 1.0f);
    void line(Point a, Point b, unsigned colour, float thickness = 1.0f);
    void disc(Point centre, float radius, unsigned colour);
    void ring(Point centre, float radius, unsigned colour, float thickness);
    void mark(Mark mark, Point centre, float radius);
    /// A word in a rounded box, for keys and tags. @return its width
    float tag(Face face, float x, float y, const std::string& text, unsigned ink, unsigned fill);

    /// @param key shown beside the label, may be empty
    bool button(const std::string& name, const Rect& rect, const std::string& label, const std::string& key,
                bool primary, bool enabled = true);
    /// An area that can be pressed; the caller draws it. @return pressed and let go inside
    bool area(const std::string& name, const Rect& rect, bool* hovered = nullptr);
    /// Keyboard focus is on the area that was named last.
    [[nodiscard]] bool focused(const std::string& name) const { return focus_ == name; }

    [[nodiscard]] ImDrawList* draw_list() const;
    [[nodiscard]] ImFont* font(Face face) const;
    [[nodiscard]] float font_size(Face face) const;  ///< nominal, as the look asks for it

 private:
    void load_fonts(float scale);

    std::string text_file_, bold_file_;
    float scale_ = 0.0f, width_ = 0.0f, height_ = 0.0f;
    const Input* input_ = nullptr;
    ImFont* fonts_[6] = {};
    std::vector<Place> places_;
    std::vector<Misfit> misfits_;
    std::vector<std::string> order_, last_order_;  ///< of areas, for the Tab key
    std::string focus_, held_;
    bool over_button_ = false;
};

/// sRGB 0xRRGGBB as ImGui wants it.
[[nodiscard]] unsigned packed(unsigned rgb, int alpha = 255);

}  // namespace app
