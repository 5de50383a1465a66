#include "engine/app/kept_panels.hpp"

#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#include "engine/app/ui.hpp"
#include "engine/gl/check.hpp"

namespace app {

namespace {

// never called: marks in the list of what is to be drawn
void kept_begins(const ImDrawList*, const ImDrawCmd*) {}
void kept_ends(const ImDrawList*, const ImDrawCmd*) {}

/// Words of 64 bits mixed in turn (Fowler, Noll and Vo's prime).
class Content {
 public:
    void add(const void* bytes, std::size_t count) {
        const auto* from = static_cast<const unsigned char*>(bytes);
        while (count > 0) {
            std::uint64_t word = 0;
            const std::size_t part = std::min(count, sizeof word);
            std::memcpy(&word, from, part);
            value_ = (value_ ^ word) * 0x100000001b3ull;
            value_ ^= value_ >> 29;
            from += part;
            count -= part;
        }
    }
    [[nodiscard]] std::uint64_t value() const { return value_ | 1u; }  // 0 is no content

 private:
    std::uint64_t value_ = 0xcbf29ce484222325ull;
};

std::uint64_t content_of(const ImDrawList& list, int first, int last) {
    Content content;
    for (int c = first; c < last; ++c) {
        const ImDrawCmd& command = list.CmdBuffer[c];
        if (command.ElemCount == 0) continue;
        content.add(&command.ClipRect, sizeof command.ClipRect);
        content.add(&command.TextureId, sizeof command.TextureId);
        const ImDrawIdx* indices = list.IdxBuffer.Data + command.IdxOffset;
        const auto [low, high] = std::minmax_element(indices, indices + command.ElemCount);
        const unsigned least = *low, most = *high;
        for (unsigned i = 0; i < command.ElemCount; ++i) {
            const unsigned relative = indices[i] - least;
            content.add(&relative, sizeof relative);
        }
        content.add(list.VtxBuffer.Data + command.VtxOffset + least, (most - least + 1) * sizeof(ImDrawVert));
    }
    return content.value();
}

}  // namespace

void begin_kept(Ui& ui, KeptPanel part, const Rect& rect, unsigned ground) {
    // whole pixels: all of them are covered by the ground
    const Rect whole{std::round(rect.x), std::round(rect.y), std::round(rect.right()) - std::round(rect.x),
                     std::round(rect.bottom()) - std::round(rect.y)};
    ImDrawList& list = *ui.draw_list();
    list.PushClipRect({whole.x, whole.y}, {whole.right(), whole.bottom()}, true);
    list.AddCallback(kept_begins, reinterpret_cast<void*>(static_cast<std::uintptr_t>(part)));
    ui.box(whole, ground);
}

void end_kept(Ui& ui) {
    ui.draw_list()->AddCallback(kept_ends, nullptr);
    ui.draw_list()->PopClipRect();
}

PixelBox pixels_of(const ImDrawCmd& command, float window_height) {
    const ImVec4& clip = command.ClipRect;
    return {static_cast<int>(clip.x), static_cast<int>(window_height - clip.w), static_cast<int>(clip.z - clip.x),
            static_cast<int>(clip.w - clip.y)};
}

bool opens_kept(const ImDrawList& list, int command, float window_height, KeptRun& run) {
    const ImDrawCmd& mark = list.CmdBuffer[command];
    if (mark.UserCallback != kept_begins) return false;
    run.part = static_cast<KeptPanel>(reinterpret_cast<std::uintptr_t>(mark.UserCallbackData));
    run.first = run.last = command + 1;
    while (run.last < list.CmdBuffer.Size && list.CmdBuffer[run.last].UserCallback != kept_ends) ++run.last;
    run.box = pixels_of(mark, window_height);
    if (run.box.width <= 0 || run.box.height <= 0) return false;
    run.content = content_of(list, run.first, run.last);
    return true;
}

const gl::Texture* KeptPanels::picture(const KeptRun& run) const {
    const auto found = kept_.find(run.part);
    if (found == kept_.end()) return nullptr;
    const Kept& kept = found->second;
    const bool holds = kept.held == run.content && kept.width == run.box.width && kept.height == run.box.height;
    return holds ? &kept.texture : nullptr;
}

void KeptPanels::drawn(const KeptRun& run) {
    Kept& kept = kept_[run.part];
    kept.frames = kept.last == run.content ? kept.frames + 1 : 1;
    kept.last = run.content;
    if (kept.frames < kRestFrames) return;
    const PixelBox& box = run.box;
    if (!kept.texture || kept.width != box.width || kept.height != box.height) {
        kept.texture = gl::make_picture_texture(box.width, box.height);
        kept.width = box.width;
        kept.height = box.height;
    }
    gl::copy_from_framebuffer(kept.texture, box.x, box.y, box.width, box.height);
    kept.held = run.content;
}

}  // namespace app
