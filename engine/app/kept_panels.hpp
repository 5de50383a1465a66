#pragma once

#include <cstdint>
#include <map>
#include <span>

#include "engine/gl/objects.hpp"

struct ImDrawCmd;
struct ImDrawList;

namespace app {

class Ui;
struct Rect;

/// Parts of a screen that are shown from a picture while what is drawn in them stays the same.
enum class KeptPanel : std::uintptr_t { band, tray, trace, footer };

/// What is drawn until end_kept() belongs to this part. The rectangle is laid out with the ground's colour first, so
/// that nothing behind it shows. Parts do not nest; what is drawn over one later is not part of it.
void begin_kept(Ui& ui, KeptPanel part, const Rect& rect, unsigned ground);
void end_kept(Ui& ui);

/// Pixels that a command may touch, y counted from the bottom of the window.
struct PixelBox {
    int x = 0, y = 0, width = 0, height = 0;
};
[[nodiscard]] PixelBox pixels_of(const ImDrawCmd& command, float window_height);

/// The commands of one part in a list.
struct KeptRun {
    KeptPanel part = KeptPanel::band;
    int first = 0, last = 0;  ///< commands between the two marks, last excluded
    PixelBox box;
    std::uint64_t content = 0;  ///< equal for equal drawings
};

/// The part that a command opens. @return nothing when it opens none, or one without area
[[nodiscard]] bool opens_kept(const ImDrawList& list, int command, float window_height, KeptRun& run);

/// The pictures. A part is copied from the window when it has been the same in kRestFrames frames, for a copy waits
/// until all before it is drawn, and laid in its place from then on: the pixels are those that drawing it would give.
class KeptPanels {
 public:
    /// @return the part's picture when it holds this content, otherwise nullptr
    [[nodiscard]] const gl::Texture* picture(const KeptRun& run) const;
    /// The part has just been drawn into the bound framebuffer.
    void drawn(const KeptRun& run);

    static constexpr int kRestFrames = 4;

 private:
    struct Kept {
        gl::Texture texture;
        int width = 0, height = 0;
        std::uint64_t held = 0, last = 0;  ///< content of the picture, and of the frame before
        int frames = 0;                    ///< in which it has been the last
    };
    std::map<KeptPanel, Kept> kept_;
};

}  // namespace app
