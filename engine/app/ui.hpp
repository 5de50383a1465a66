#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "engine/app/input.hpp"
#include "engine/app/layout_check.hpp"
#include "engine/app/panel_renderer.hpp"

struct ImDrawList;
struct ImFont;

/// A few drawn things of which every screen is made: text that must fit, boxes, buttons, state marks, panels that
/// scroll when there is too little room.
///
/// Sizes are given as on a window of 1280 x 720 at 100 % and go through px(). A screen asks for the room that is left
/// in the same measure, room_w() and room_h(): 1280 x 720 and up at 100 %, down to 640 x 360 at 200 %.

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

class Ui {
 public:
    static constexpr float kLeastText = 1.0f, kMostText = 2.0f;  ///< text scale
    /// A line's height over its em: Noto Sans rises 1.069 and falls 0.293 of an em (its table of horizontal metrics).
    static constexpr float kLineBox = 1.362f;

    /// @param font_manifest assets/fonts.json  @param software a processor draws what is shown
    /// @throws std::runtime_error naming the manifest or the package when there is no font
    Ui(const std::filesystem::path& font_manifest, bool software);
    ~Ui();
    Ui(const Ui&) = delete;
    Ui& operator=(const Ui&) = delete;

    /// On top of the window's own scale; takes hold with the next begin(). Clamped to the two limits above.
    void set_text_scale(float scale);
    /// As set, and as it is: a window smaller than the design has a limit. Per cent.
    [[nodiscard]] int text_percent_asked() const;
    [[nodiscard]] int text_percent_shown() const;
    /// False where arrow keys mean something else than the next control, as they do with an instrument in hand.
    void set_arrows_move_focus(bool move) { arrows_move_focus_ = move; }

    void begin(float width, float height, const Input& input);
    void end();  ///< puts what was drawn on the current framebuffer

    [[nodiscard]] float scale() const { return scale_; }
    [[nodiscard]] float px(float design) const { return design * scale_; }  ///< pixels of a length at 100 %
    [[nodiscard]] float width() const { return width_; }
    [[nodiscard]] float height() const { return height_; }
    [[nodiscard]] float room_w() const { return width_ / scale_; }  ///< the window in lengths at 100 %
    [[nodiscard]] float room_h() const { return height_ / scale_; }
    /// There is room for less than a full layout: fold, scroll, leave out what only repeats.
    [[nodiscard]] bool compact() const { return room_w() < 1000.0f || room_h() < 600.0f; }
    [[nodiscard]] const Input& input() const { return *input_; }
    [[nodiscard]] const std::vector<Place>& places() const { return places_; }
    /// Faults of the frame's layout so far, measured on what was drawn.
    [[nodiscard]] std::vector<Misfit> misfits() const { return check_.misfits(font_size(Face::text14)); }
    void name_place(const std::string& name, const Rect& rect) { places_.push_back({name, rect}); }
    /// True while the pointer is over something that answers to it.
    [[nodiscard]] bool over_button() const { return over_button_; }
    /// A panel found out in this frame how long its content is: the next frame looks different.
    [[nodiscard]] bool unsettled() const { return unsettled_; }

    /// What is drawn next is what somebody wrote, and is shown in no other language.
    void set_verbatim(bool verbatim) { verbatim_ = verbatim; }

    // -- panels: text that leaves one is a fault. They nest.
    void begin_panel(const Rect& rect);
    void end_panel();
    /// A panel whose content may be longer than itself; moved by the wheel, the page keys, and by the focus.
    /// @return where the content begins, with its width less the bar's
    [[nodiscard]] Rect begin_scroll(const std::string& name, const Rect& rect);
    void end_scroll(float content_bottom);

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
    /// One of a few, side by side. @return the one that is chosen now
    std::size_t choice(const std::string& name, const Rect& rect, std::span<const std::string> labels,
                       std::size_t chosen);
    /// A line of text that can be typed into while the focus is on it: at a caret that Left, Right, Home and End move.
    /// @param most_bytes it may hold
    /// @param hidden     each character is shown as a star
    /// @return Enter was pressed in it
    bool field(const std::string& name, const Rect& rect, std::string& text, std::size_t most_bytes,
               bool hidden = false);
    /// An area that can be pressed; the caller draws it, end() draws the focus around it.
    /// @return pressed and let go inside, or focused and Enter or Space pressed
    bool area(const std::string& name, const Rect& rect, bool* hovered = nullptr);
    /// Keyboard focus is on this area.
    [[nodiscard]] bool focused(const std::string& name) const { return focus_ == name; }
    /// Enter and Space belong to a control now.
    [[nodiscard]] bool has_focus() const { return !focus_.empty(); }
    [[nodiscard]] const std::string& focus() const { return focus_; }
    void clear_focus() { focus_.clear(); }
    void focus_on(const std::string& name);

    [[nodiscard]] ImDrawList* draw_list() const;
    [[nodiscard]] ImFont* font(Face face) const;
    [[nodiscard]] float font_size(Face face) const;  ///< nominal, as the look asks for it

    /// To be called around text that goes to the draw list by other ways. @param size nominal pixels
    [[nodiscard]] int text_begins() const;
    void text_ends(int first_vertex, const std::string& words, float size);

 private:
    struct Scroll {
        float offset = 0.0f, content = 0.0f, visible = 0.0f;
        bool used = false;
    };
    struct Panel {
        Rect rect, clip;
        std::string scroll;  ///< name when it scrolls
        float top = 0.0f;    ///< of the content
    };
    struct Control {
        std::string name;
        Rect rect, clip;
        std::string scroll;
    };

    void load_fonts(float scale);
    void move_focus();
    void bring_into_view(const Control& control);
    [[nodiscard]] const Control* neighbour(const Control& from, Key direction) const;
    void draw_focus();
    [[nodiscard]] const std::string& in_words(const std::string& text, std::string& room) const;
    void type_at_caret(const std::string& name, std::string& text, std::size_t most_bytes);

    std::unique_ptr<PanelRenderer> panel_renderer_;
    std::string text_file_, bold_file_;
    float scale_ = 0.0f, text_scale_ = 1.0f, width_ = 0.0f, height_ = 0.0f;
    const Input* input_ = nullptr;
    ImFont* fonts_[6] = {};
    LayoutCheck check_;
    std::vector<Place> places_;
    std::vector<Panel> panels_;
    std::vector<Control> controls_, last_controls_;  ///< in the order of the Tab key
    std::map<std::string, Scroll> scrolls_;
    std::string focus_, held_;
    std::string typing_in_;  ///< the field that has the focus, whose caret stands before this byte:
    std::size_t caret_ = 0;
    bool verbatim_ = false;
    bool over_button_ = false, unsettled_ = false, focus_moved_ = false, arrows_move_focus_ = true;
};

/// sRGB 0xRRGGBB as ImGui wants it.
[[nodiscard]] unsigned packed(unsigned rgb, int alpha = 255);

}  // namespace app
