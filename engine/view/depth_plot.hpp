#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "engine/view/canvas.hpp"
#include "engine/view/plot_axes.hpp"
#include "sim/scoring/rubric.hpp"

/// The depth trace: how deep the shaft lay at each millimetre of its way, among the layers that were there. One code
/// for the screen and for paper.

namespace view {

/// One place along a track.
struct DepthSample {
    double along_m = 0.0;                        ///< from the entry
    double shallowest_m = 0.0, deepest_m = 0.0;  ///< of the axis while the track was open
    std::array<double, sim::kTissueLayers> bottom_m{};
    sim::AxisBand band;
    std::optional<double> clearance_m;      ///< to the nearest structure on record
    std::string structure;                  ///< its name
    double margin_m = 0.0;                  ///< that it asks for
    [[nodiscard]] double excess_m() const;  ///< worst distance past the band: < 0 too shallow, > 0 too deep
    /// Depth that is read out: the one that lies farther from the band's middle.
    [[nodiscard]] double told_m() const;
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

/// The moment in words: "17.7 mm from the entry: depth 1.9 mm, 0.7 mm above the target band; facial artery 2.1 mm
/// away".
[[nodiscard]] std::string moment_words(const DepthTrace& trace, double along_m);

/// Another way through the same tissue, drawn as a line with its name beside it.
struct BesideTrace {
    enum class Look { dashes, dots, long_dashes };  ///< told apart in grey too
    DepthTrace trace;
    std::string name;
    Look look = Look::dashes;
};

/// A place along the track that a list beside the plot refers to by number.
struct NumberedPlace {
    double along_m = 0.0;
    int number = 0;
    bool selected = false;
};

struct PlotStyle {
    double text_size = 14.0;         ///< canvas units; at least 14 px on a screen at 100 %
    std::optional<double> cursor_m;  ///< place along the track that is read out
    bool cursor_words = true;        ///< false: they stand elsewhere
    std::vector<BesideTrace> beside{};
    std::vector<NumberedPlace> numbered{};
};

/// Where the parts of a depth trace were put: to point at them.
struct DepthPlotPlaces {
    CanvasRect plot, strip;
    Scale along_mm, depth_mm, clearance_mm;
    /// Place along the track under a canvas x, kept to what is shown.
    [[nodiscard]] double along_m_at(double x) const;
};

DepthPlotPlaces draw_depth_trace(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace,
                                 const PlotStyle& style);

/// The same where there is little room: layers, band and shaft over the way, with the depth of the bottom for an axis.
/// Draws nothing of a trace without samples.
void draw_depth_strip(Canvas& canvas, const CanvasRect& where, const DepthTrace& trace, double text_size);

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
