#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "engine/view/canvas.hpp"
#include "sim/scoring/rubric.hpp"

/// The depth trace: how deep the shaft lay at each millimetre of its way, among the layers that were there.

namespace view {

/// One place along a track.
struct DepthSample {
    double along_m = 0.0;                        ///< from the entry
    double shallowest_m = 0.0, deepest_m = 0.0;  ///< of the axis while the track was open
    std::array<double, sim::kTissueLayers> bottom_m{};
    sim::AxisBand band;
    std::optional<double> clearance_m;      ///< to the nearest structure on record
    std::string structure;                  ///< its name
    [[nodiscard]] double excess_m() const;  ///< worst distance past the band: < 0 too shallow, > 0 too deep
};

struct DepthTrace {
    std::vector<DepthSample> samples;  ///< rising in along_m
    double shaft_radius_m = 0.0;
    double planned_m = 0.0;  ///< 0: nothing planned
    double ramp_m = 0.0;
};

/// Of a closed track, from its pieces.
[[nodiscard]] DepthTrace depth_trace_of(const sim::Recording& recording, const sim::TrackRecord& track,
                                        const sim::Bands& bands);
/// Of a track that may still be open, from the rows: the tip as it went in.
[[nodiscard]] DepthTrace depth_trace_of(const sim::Recording& recording, int track, double shaft_radius_m,
                                        const sim::Bands& bands);

/// The moment in words: "31 mm in: axis 4.2 mm deep, in the band; facial artery 2.1 mm away".
[[nodiscard]] std::string moment_words(const DepthTrace& trace, double along_m);

struct PlotStyle {
    double text_size = 14.0;         ///< canvas units; at least 14 px on a screen at 100 %
    std::optional<double> cursor_m;  ///< place along the track that is read out
};

void draw_depth_trace(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace, const PlotStyle& style);

/// Force on the hand while the tip was pushed on, over the way.
struct ForceCurve {
    struct Sample {
        double along_m = 0.0, hand_n = 0.0, tip_n = 0.0, ligament_n = 0.0;
    };
    std::vector<Sample> samples;  ///< rising in along_m: the first time the tip came there
};
[[nodiscard]] ForceCurve force_curve_of(const sim::Recording& recording, int track);
void draw_force_curve(Canvas& canvas, const CanvasRect& where, const ForceCurve& curve, const PlotStyle& style);

}  // namespace view
