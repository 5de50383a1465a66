#include "engine/app/skin_under_tip.hpp"

#include <algorithm>
#include <chrono>
#include <thread>
#include <utility>

#include "sim/instruments/track.hpp"

namespace app {

SkinUnderTip::SkinUnderTip(std::shared_ptr<session::LiveTissue> tissue) {
    if (tissue) tip_.emplace(std::move(tissue));
}

bool SkinUnderTip::advance(const sim::State& state, double elapsed_s, bool at_once, view::Scene& scene) {
    if (!tip_ || !tip_->advance(state, scene.model(), elapsed_s, at_once)) return false;
    if (!follower_) follower_.emplace(*tip_->shape()->mesh, tip_->shape()->on_skin);
    view::LiveSkin live;
    live.parts = follower_->moves(tip_->skin_m(), tip_->detail_m());
    live.entry_moved_m = tip_->skin_moved_m(state.hands.entry.position_m);
    live.closed_share = tip_->closed_share();
    if (state.in_skin && state.track && !state.track->nodes.empty())
        for (int i = 0;; ++i) {
            const double arc_m = std::min(session::kShaftPieceM * i, state.inserted_m);
            const sim::Vec3 place_m = arc_m < state.inserted_m ? sim::way_at(*state.track, arc_m) : state.tip_m;
            live.along.push_back({arc_m, place_m, tip_->skin_moved_m(place_m)});
            if (!(arc_m < state.inserted_m)) break;
        }
    scene.set_live_skin(std::move(live));
    return true;
}

void SkinUnderTip::wait(const sim::State& state, view::Scene& scene) {
    constexpr int kMostRests = 2000;  // 10 s: blocks take a third of a second for eight nodes
    for (int i = 0; i < kMostRests; ++i) {
        advance(state, 0.0, true, scene);
        if (!tip_ || !tip_->lacks_blocks()) return;
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
}

}  // namespace app
