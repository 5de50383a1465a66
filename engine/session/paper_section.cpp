#include "engine/session/paper_section.hpp"

#include <fmt/format.h>

#include <memory>

namespace session {

namespace {

struct Moment {
    std::size_t track = 0;  ///< index in the recording's tracks
    double along_m = 0.0;
    int loss = 0;  ///< its number, 0: none
};

/// In the order in which they are tried.
std::vector<Moment> moments_of(const sim::Recording& recording, const std::vector<report::Loss>& losses) {
    std::vector<Moment> out;
    for (const report::Loss& loss : losses)
        if (loss.track >= 0 && loss.along_m)
            out.push_back({static_cast<std::size_t>(loss.track), *loss.along_m, loss.number});
    if (!recording.tracks.empty()) out.push_back({recording.tracks.size() - 1, recording.tracks.back().length_m, 0});
    return out;
}

}  // namespace

std::optional<report::ShaftSection> paper_section(Replay& replay, const std::vector<report::Loss>& losses,
                                                  const sim::Bands& bands) {
    const sim::Recording& recording = replay.recording();
    const std::int64_t stood = replay.step();
    std::optional<report::ShaftSection> out;
    for (const Moment& moment : moments_of(recording, losses)) {
        replay.seek(step_at_distance(recording, recording.tracks[moment.track].track, moment.along_m));
        const sim::State& state = replay.state();
        if (state.hands.instrument < 0) continue;
        const sim::Model& model = replay.model();
        const auto& instrument = model.scenario.tray[static_cast<std::size_t>(state.hands.instrument)];
        // a small window tells whether there is enough under the skin to be cut along
        const auto probe = view::slice_of(*model.anatomy, bands, state, instrument, {-1.0, 1.0, -1.0, 1.0});
        if (!probe) continue;
        const std::string where = fmt::format("track {} at {:.0f} mm, {}", moment.track + 1, moment.along_m / sim::kMm,
                                              report::clock_words(static_cast<double>(state.step) * sim::kStepS));
        out = report::ShaftSection{
            moment.loss > 0 ? fmt::format("Number {}: {}", moment.loss, where) : report::capital(where),
            probe->tip_depth_mm,
            [anatomy = model.anatomy, bands, instrument,
             state = std::make_shared<const sim::State>(state)](const view::SliceWindow& window) {
                return view::slice_of(*anatomy, bands, *state, instrument, window);
            }};
        break;
    }
    replay.seek(stood);
    return out;
}

}  // namespace session
