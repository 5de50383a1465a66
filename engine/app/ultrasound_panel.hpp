#pragma once

#include <optional>

#include "engine/app/ui.hpp"
#include "engine/gl/objects.hpp"
#include "engine/view/ultrasound.hpp"
#include "sim/command.hpp"
#include "sim/scenario.hpp"
#include "sim/state.hpp"

namespace app {

/// The probe that the other hand holds, and its live picture. The picture names nothing by itself: it is an instrument
/// of the case, there in graded work too.
class UltrasoundPanel {
 public:
    explicit UltrasoundPanel(std::shared_ptr<const sim::Anatomy> anatomy);

    /// Taken up, and where it stands once the other hand has been laid on the skin.
    [[nodiscard]] bool taken() const { return taken_; }
    void take(bool taken) { taken_ = taken; }
    [[nodiscard]] std::optional<view::ProbePose> pose() const;
    [[nodiscard]] double width_m() const { return settings_.width_m; }

    /// How it is held, in what the record keeps; nothing while a drag goes ahead of the hand.
    [[nodiscard]] std::optional<sim::Command> held() const;

    /// Held where the other hand lies; a drag over the picture goes ahead of it.
    void follow(const sim::State& state);
    void turn(int degrees);

    /// The pointer is over the panel as it was drawn last, and not over the patient behind it.
    [[nodiscard]] bool covers(Point p) const { return taken_ && rect_.holds(p); }

    /// Time goes on. @return the pulse asks for another picture
    [[nodiscard]] bool advance(double elapsed_s);

    struct Asked {
        bool close = false;
        std::optional<sim::Vec3> lay_m;  ///< the other hand is to be laid there
    };
    /// @param instrument in hand, null for none  @param time_s of the patient  @param names layers beside the picture
    Asked draw(Ui& ui, const Rect& rect, const sim::State& state, const sim::InstrumentSpec* instrument, double time_s,
               bool names);

 private:
    void draw_picture(Ui& ui, const Rect& rect, bool names);
    void draw_names(Ui& ui, const Rect& rect) const;
    void draw_scale(Ui& ui, const Rect& rect) const;
    void draw_controls(Ui& ui, const Rect& rect, Asked& asked);
    void drag(Ui& ui, const Rect& picture, Asked& asked);
    [[nodiscard]] sim::SkinPoint slid(double along_m, double across_m) const;

    std::shared_ptr<const sim::Anatomy> anatomy_;
    view::Ultrasound probe_;
    view::ProbeSettings settings_;
    Rect rect_;
    bool taken_ = false, dragging_ = false;
    std::optional<sim::SkinPoint> at_;
    sim::Vec3 hand_m_{};                  ///< where the other hand lay last
    int turn_degrees_ = 0, control_ = 0;  ///< control_: the one that is shown where there is room for one
    double press_m_ = 0.0, since_s_ = 0.0;
    gl::Texture texture_;
    int texture_w_ = 0, texture_h_ = 0;
    std::vector<std::uint8_t> rgba_;
};

}  // namespace app
