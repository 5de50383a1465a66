#pragma once

#include <memory>
#include <optional>

#include "engine/session/live_tip.hpp"
#include "engine/view/live_skin.hpp"
#include "engine/view/scene.hpp"

/// The patient's skin as it tents, sinks and is dragged under the hands, from the tissue that is there or comes.

namespace app {

class SkinUnderTip {
 public:
    /// @param tissue may be null: the skin keeps the steps' closed form
    explicit SkinUnderTip(std::shared_ptr<session::LiveTissue> tissue);

    /// One frame on. @param elapsed_s of the viewer's time @param at_once without a fade  @return the picture changes
    bool advance(const sim::State& state, double elapsed_s, bool at_once, view::Scene& scene);
    /// Wait until the skin stands as the hands have it: for stills. Only with tissue that is ready or has failed.
    void wait(const sim::State& state, view::Scene& scene);

 private:
    std::optional<session::LiveTip> tip_;
    std::optional<view::SkinFollower> follower_;
};

}  // namespace app
