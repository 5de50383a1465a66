#include "engine/app/kept_panels.hpp"

#include <glad/gl.h>
#include <imgui.h>

#include <algorithm>
#include <catch2/catch.hpp>

#include "engine/app/theme.hpp"
#include "engine/app/ui.hpp"
#include "engine/files/places.hpp"
#include "engine/gl/window.hpp"
#include "tests/support/offscreen_window.hpp"

namespace {

constexpr int kWidth = 320, kHeight = 240;
constexpr app::Rect kPart{20.4f, 30.6f, 200.3f, 120.2f};  // not on whole pixels
constexpr int kLeft = 20, kTop = 31, kRight = 221, kBottom = 151;

struct Shot {
    gl::Picture picture;
    std::uint64_t content = 0;  ///< of the kept part
};

/// One frame on a ground of this grey: round corners, slanted lines and words in a part that is kept.
Shot frame(app::Ui& ui, const std::string& words, float grey, float shift = 0.0f) {
    static const app::Input kNothing{};
    glBindFramebuffer(GL_FRAMEBUFFER, 0);
    glViewport(0, 0, kWidth, kHeight);
    glClearColor(grey, grey, grey, 1.0f);
    glClear(GL_COLOR_BUFFER_BIT);
    ui.begin(kWidth, kHeight, kNothing);
    app::begin_kept(ui, app::KeptPanel::tray, kPart, app::theme::kPaper);
    ui.box({40.3f + shift, 50.2f, 90.0f, 40.0f}, app::theme::kBlue, 9.0f);
    ui.line({30.0f, 60.0f}, {200.0f, 120.5f}, app::theme::kInk, 1.7f);
    ui.text(app::Face::text14, 44.0f, 60.0f, app::theme::kInk, words, 150.0f);
    app::end_kept(ui);
    Shot shot;
    const ImDrawList& list = *ui.draw_list();
    app::KeptRun run;
    for (int c = 0; c < list.CmdBuffer.Size; ++c)
        if (app::opens_kept(list, c, kHeight, run)) shot.content = run.content;
    ui.end();
    shot.picture = gl::read_picture(kWidth, kHeight);
    return shot;
}

/// Bytes that differ, inside or outside the part.
std::size_t differing(const gl::Picture& a, const gl::Picture& b, bool inside) {
    std::size_t count = 0;
    for (int y = 0; y < kHeight; ++y)
        for (int x = 0; x < kWidth; ++x) {
            if ((x >= kLeft && x < kRight && y >= kTop && y < kBottom) != inside) continue;
            const std::size_t at = 3 * (static_cast<std::size_t>(y) * kWidth + static_cast<std::size_t>(x));
            for (std::size_t k = at; k < at + 3; ++k) count += a.rgb[k] != b.rgb[k] ? 1u : 0u;
        }
    return count;
}

}  // namespace

TEST_CASE("a kept part looks as it does when it is drawn, pixel by pixel, whatever lies around it", "[app][gl]") {
    const auto window = support::window_if_any(kWidth, kHeight);
    if (!window) return;
    app::Ui ui(files::shipped_folder() / "assets/fonts.json", true);
    const Shot fresh = frame(ui, "Blunt cannula", 0.9f);
    REQUIRE(fresh.content != 0);
    for (int again = 1; again < app::KeptPanels::kRestFrames; ++again)
        static_cast<void>(frame(ui, "Blunt cannula", 0.9f));  // kept from here on
    const Shot kept = frame(ui, "Blunt cannula", 0.2f);
    CHECK(kept.content == fresh.content);
    CHECK(differing(kept.picture, fresh.picture, true) == 0);
    CHECK(differing(kept.picture, fresh.picture, false) > 1000);  // the ground is another one

    // other words are drawn at once, and are not what was kept
    const Shot other = frame(ui, "Pilot needle", 0.2f);
    CHECK(other.content != kept.content);
    CHECK(differing(other.picture, kept.picture, true) > 50);
    CHECK(differing(other.picture, kept.picture, false) == 0);
    CHECK(frame(ui, "Pilot needle", 0.2f, 1.0f).content != other.content);  // moved by a pixel

    // back to the first words: the picture that is still held is the right one
    CHECK(differing(frame(ui, "Blunt cannula", 0.2f).picture, fresh.picture, true) == 0);
}

TEST_CASE("a part is kept when it has been the same for some frames, and only at its own size", "[app][gl]") {
    const auto window = support::window_if_any(kWidth, kHeight);
    if (!window) return;
    app::KeptPanels panels;
    app::KeptRun run;
    run.box = {10, 20, 30, 40};
    run.content = 7;
    for (int i = 0; i < app::KeptPanels::kRestFrames; ++i) {
        CHECK(panels.picture(run) == nullptr);
        panels.drawn(run);
    }
    CHECK(panels.picture(run) != nullptr);
    app::KeptRun larger = run;
    larger.box.width = 31;
    CHECK(panels.picture(larger) == nullptr);
    app::KeptRun changed = run;
    changed.content = 9;
    CHECK(panels.picture(changed) == nullptr);
    panels.drawn(changed);
    CHECK(panels.picture(run) != nullptr);  // one other frame in between does not lose it
}
