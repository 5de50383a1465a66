#include <algorithm>

#include "sim/instruments/gauge.hpp"
#include "sim/stages.hpp"

namespace sim {

namespace {

constexpr double kRowTravelM = 0.25 * kMm;
constexpr double kRowTravelOutM = 1.0 * kMm;  // on the way out nothing new is met: fewer rows serve
constexpr std::int64_t kRowSteps = 64;        // 256 ms
constexpr double kReachM = 15.0 * kMm;        // the nearest structure is looked for this far

TraceRow row_of(const StepContext& context) {
    const State& s = context.state;
    TraceRow row;
    row.step = s.step;
    row.track = s.track ? s.track->index : -1;
    row.inserted_m = row_quantised(s.inserted_m, kRowPerM);
    for (int i = 0; i < 3; ++i) row.tip_m[i] = row_quantised(s.tip_m[i], kRowPerM);
    row.yaw_rad = row_quantised(s.hands.yaw_rad, kRowPerRad);
    row.pitch_rad = row_quantised(s.hands.pitch_rad, kRowPerRad);
    row.layers = context.model.anatomy->layers_at(s.tip_m);
    row.layers.depth_m = row_quantised(row.layers.depth_m, kRowPerM);
    for (double& bottom : row.layers.bottom_m) bottom = row_quantised(bottom, kRowBottomPerM);
    row.layers.fraction = row_fraction(row.layers);
    row.tip_force_n = row_quantised(s.force.tip_n, kRowPerN);
    row.friction_n = row_quantised(s.force.friction_n, kRowPerN);
    row.ligament_n = row_quantised(s.force.ligament_n, kRowPerN);
    row.hand_n = row_quantised(s.force.hand_n, kRowPerN);
    row.tent_m = row_quantised(s.tent_m, kRowPerM);

    std::vector<Clearance> found;
    context.model.anatomy->clearances(s.tip_m, s.tip_m, kReachM, found);
    const auto nearest = std::min_element(
        found.begin(), found.end(), [](const Clearance& a, const Clearance& b) { return a.distance_m < b.distance_m; });
    if (nearest != found.end()) {
        const double radius_m = 0.5 * gauge(context.instrument().gauge).outer_m;
        row.nearest = {nearest->structure, row_quantised(nearest->distance_m - radius_m, kRowPerM)};
    }
    return row;
}

}  // namespace

void trace(const StepContext& context) {
    State& s = context.state;
    if (s.hands.instrument < 0 || !s.in_skin) return;
    // an event is always beside a row, so that its moment can be read out whole
    const bool outwards = s.track && s.track->withdrawing;
    const bool wanted = s.travel_since_row_m >= (outwards ? kRowTravelOutM : kRowTravelM) ||
                        s.step - s.last_row_step >= kRowSteps || !context.report.events.empty();
    if (!wanted) return;
    context.report.rows.push_back(row_of(context));
    s.travel_since_row_m = 0.0;
    s.last_row_step = s.step;
}

}  // namespace sim
