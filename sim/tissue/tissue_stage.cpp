#include <algorithm>

#include "sim/instruments/gauge.hpp"
#include "sim/stages.hpp"

namespace sim {

namespace {

constexpr std::int64_t kNoticeSteps = 16;  // 64 ms: time for a worker to answer before the step that reads it

}  // namespace

void tissue(const StepContext& context, std::span<const Answer> answers) {
    State& s = context.state;
    for (const Request& request : due(s)) {
        const auto found =
            std::find_if(answers.begin(), answers.end(), [&](const Answer& a) { return a.key == request.key; });
        if (found == answers.end()) {
            ++context.report.faults.answers_missing;
            continue;
        }
        if (!s.track || s.track->index != request.track) continue;  // asked for a way that was given up
        for (TrackNode& node : s.track->nodes) {
            if (node.arc_m + 1e-12 < request.station * kStationM) continue;
            node.normal_stiffness_pa = found->normal_stiffness_pa;
            node.tangent_stiffness_pa = found->tangent_stiffness_pa;
            node.tent_per_force_m_per_n = found->tent_per_force_m_per_n;
            node.tent_width_m = found->tent_width_m;
        }
    }
    std::erase_if(s.pending, [&](const Request& request) { return request.due_step <= s.step; });

    if (!s.track || !context.model.scenario.mechanics.tissue_response) return;
    Track& track = *s.track;
    while (track.stations_asked * kStationM <= track.farthest_m) {
        const LayerPoint at = context.model.anatomy->layers_at(track.nodes.back().centre_m);
        Request request;
        request.key = s.next_key++;
        request.due_step = s.step + kNoticeSteps;
        request.track = track.index;
        request.station = track.stations_asked++;
        request.depth_m = at.depth_m;
        request.bottom_m = at.bottom_m;
        request.shaft_radius_m = 0.5 * gauge(context.instrument().gauge).outer_m;
        s.pending.push_back(request);
        context.report.requests.push_back(request);
    }
}

}  // namespace sim
