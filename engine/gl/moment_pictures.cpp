#include "engine/gl/moment_pictures.hpp"

#include <cmath>
#include <utility>

#include "engine/gl/window.hpp"

namespace gl {

namespace {

constexpr int kWidth = 600, kHeight = 400;
constexpr std::size_t kMost = 3;
constexpr int kSamples = 4;
constexpr double kAspect = static_cast<double>(kWidth) / kHeight, kFromFarther = 1.5;
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

report::Picture drawn(Renderer& renderer, view::Scene& scene, const session::Replay& replay, const view::Camera& camera,
                      const view::SceneOptions& options, std::string caption) {
    Canvas canvas(kWidth, kHeight, kSamples);
    canvas.bind();
    renderer.begin();
    scene.follow_visit(replay.state(), replay.recording().events);
    view::DrawList list = scene.draw(replay.state(), replay.tracks_closed(), camera, kAspect, options);
    while (list.unsettled) list = scene.draw(replay.state(), replay.tracks_closed(), camera, kAspect, options);
    renderer.draw(list);
    canvas.show(0, 0, 0, kWidth, kHeight);
    return {kWidth, kHeight, opaque(read_picture(kWidth, kHeight)), std::move(caption)};
}

}  // namespace

report::Picture end_picture(Renderer& renderer, view::Scene& scene, session::Replay& replay, std::string caption) {
    const std::int64_t stood = replay.step();
    replay.seek(replay.steps());
    view::CameraPose pose = scene.work(kAspect);
    pose.distance_m *= kFromFarther;  // nose, ear and chin tell where one is
    view::SceneOptions options;
    options.cutaway = false;
    report::Picture out = drawn(renderer, scene, replay, view::Camera(pose), options, std::move(caption));
    replay.seek(stood);
    return out;
}

std::vector<report::Picture> moment_pictures(Renderer& renderer, view::Scene& scene, session::Replay& replay,
                                             const std::vector<report::Loss>& losses, const SkinAt& skin_at) {
    std::vector<report::Picture> out;
    const std::int64_t stood = replay.step();
    for (const report::Loss& loss : report::costliest(losses, kMost)) {
        replay.seek(loss.time_s > 0.0 ? std::llround(loss.time_s / sim::kStepS) : replay.steps());
        if (skin_at) skin_at(replay.state());
        out.push_back(drawn(renderer, scene, replay, camera_at(scene, loss, kAspect), {}, ""));
    }
    replay.seek(stood);
    return out;
}

}  // namespace gl
