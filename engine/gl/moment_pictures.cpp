#include "engine/gl/moment_pictures.hpp"

#include <cmath>

#include "engine/gl/window.hpp"

namespace gl {

namespace {

constexpr int kWidth = 600, kHeight = 400;
constexpr std::size_t kMost = 3;
constexpr int kSamples = 4;
constexpr double kCloseM = 0.24;  // of the eye from the place

view::Camera camera_at(const view::Scene& scene, const report::Loss& loss, double aspect) {
    view::CameraPose pose = scene.work(aspect);
    if (loss.placed) {
        pose.target_m = loss.place_m;
        pose.distance_m = kCloseM;
    }
    return view::Camera(pose);
}

std::vector<std::uint8_t> opaque(const Picture& picture) {
    std::vector<std::uint8_t> rgba;
    rgba.reserve(picture.rgb.size() / 3 * 4);
    for (std::size_t i = 0; i + 2 < picture.rgb.size(); i += 3)
        rgba.insert(rgba.end(), {picture.rgb[i], picture.rgb[i + 1], picture.rgb[i + 2], 255});
    return rgba;
}

}  // namespace

std::vector<report::Picture> moment_pictures(Renderer& renderer, view::Scene& scene, session::Replay& replay,
                                             const std::vector<report::Loss>& losses) {
    std::vector<report::Picture> out;
    const std::int64_t stood = replay.step();
    const double aspect = static_cast<double>(kWidth) / kHeight;
    const Canvas canvas(kWidth, kHeight, kSamples);
    for (const report::Loss& loss : report::costliest(losses, kMost)) {
        replay.seek(loss.time_s > 0.0 ? std::llround(loss.time_s / sim::kStepS) : replay.steps());
        canvas.bind();
        const view::Camera camera = camera_at(scene, loss, aspect);
        view::DrawList list = scene.draw(replay.state(), replay.tracks_closed(), camera, aspect, {});
        while (list.unsettled) list = scene.draw(replay.state(), replay.tracks_closed(), camera, aspect, {});
        renderer.draw(list);
        canvas.show(0, 0, 0, kWidth, kHeight);
        out.push_back({kWidth, kHeight, opaque(read_picture(kWidth, kHeight)), ""});
    }
    replay.seek(stood);
    return out;
}

}  // namespace gl
