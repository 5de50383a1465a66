#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"

/// The layers on the inner faces of a cut, sampled column by column: a cut that grows or bends keeps what it has.

namespace view {

using sim::Vec3;

/// The part of an endless slab that is drawn; beyond it there is nothing.
struct Block {
    Vec3 low_m{}, high_m{};
};

inline constexpr double kCutLeanRad = 30.0 * sim::kPi / 180.0;  ///< of the far wall towards the viewer

/// Where a cut lies. The axes are unit and at right angles; `wall` points towards the viewer.
struct CutFrame {
    Vec3 entry_m{}, along{}, out{}, wall{};
};

/// Where a point lies among the layers as one number without jumps, so that it may be blended between samples.
/// @return 0..1 skin, 1..2 superficial fat, 2..3 SMAS, 3..4 deep fat, 4..5 muscle, > 5 floor, < 0 outside
[[nodiscard]] float layer_coordinate(const sim::LayerPoint& at);

/// Fill a face by asking the anatomy at every sample. @param block nothing for a head
void sample_layers(LayerFace& face, const sim::Anatomy& anatomy, double cell_m, const std::optional<Block>& block);

/// The five inner faces of one box in one frame of reference. Every column of samples lies where the anatomy was asked:
/// a column that is waiting to be asked again is drawn in its old place, never with layers that belong elsewhere.
class CutSheet {
 public:
    static constexpr double kBehindM = 4.0 * sim::kMm, kAheadM = 8.0 * sim::kMm;  ///< of entry and tip
    static constexpr double kStepM = 3.0 * sim::kMm;  ///< the box grows in steps; columns divide one evenly
    static constexpr float kBendSlackMm = 0.15f;      ///< of a column from where the shaft wants it

    /// @param wall_behind_m how far the wall stands behind the shaft's axis  @param block as sample_layers
    CutSheet(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block, const CutFrame& frame,
             double wall_behind_m);

    /// Where the sheet ought to be from now on.
    /// @param length_m    of the shaft along the frame's first axis, kept to whole steps upwards
    /// @param bend_mm     of the shaft towards the viewer at a place along the first axis, metres from the entry
    void aim(double length_m, const std::function<float(double)>& bend_mm);
    /// Ask the anatomy where that is still to be done, what was never asked first.
    /// @param most samples, exceeded by no more than one face that shifts as one  @return how many
    std::size_t sample(std::size_t most);
    /// Ask ahead for what the box will open with its next step, so that no picture has to ask for all of it.
    /// @param most as of sample(), exceeded by no more than one column  @return how many
    std::size_t prepare_step(std::size_t most);
    /// Samples that sample() would take with no limit.
    [[nodiscard]] std::size_t missing() const;
    /// Everything that is aimed at was asked at least once.
    [[nodiscard]] bool covered() const;

    [[nodiscard]] const CutFrame& frame() const { return frame_; }
    [[nodiscard]] double length_m() const { return length_m_; }  ///< of the shaft, whole steps
    /// Of the far wall, as LayerFace::sheet.
    [[nodiscard]] const void* sheet() const { return faces_[0].sheet.get(); }
    /// As it has been sampled. @pre covered()
    [[nodiscard]] CutBox box() const;
    [[nodiscard]] std::vector<LayerFace> faces() const;

 private:
    struct Column {
        float asked_mm = 0.0f, wanted_mm = 0.0f;  ///< shift towards the viewer when it was sampled, and now
        std::uint32_t stamp = 0;                  ///< 0: never sampled
        [[nodiscard]] bool due() const;
    };
    struct Face {
        Vec3 origin_m{}, step_m{}, column_m{}, normal{};
        int rows = 0;
        std::size_t shown = 0;  ///< columns that are aimed at; more may be known
        bool bends = false;     ///< each column by itself; otherwise all shift as one
        std::vector<Column> columns;
        std::vector<glm::vec4> layer;  ///< column by column
        std::shared_ptr<const void> sheet = std::make_shared<int>(0);
    };

    [[nodiscard]] Face upright(const Vec3& origin_m, const Vec3& step_m, double cell_m, const Vec3& normal) const;
    void aim_columns(Face& face, std::size_t count, const std::function<float(std::size_t)>& shift_mm);
    void sample_column(Face& face, std::size_t column);
    [[nodiscard]] static bool asked(const Face& face);
    [[nodiscard]] LayerFace layer_face(const Face& face) const;

    std::shared_ptr<const sim::Anatomy> anatomy_;
    std::optional<Block> block_;
    CutFrame frame_;
    double deep_m_ = 0.0, length_m_ = 0.0;
    Vec3 corner_m_{};            ///< of the box: behind the entry, at the floor, on the wall
    std::array<Face, 5> faces_;  ///< far wall, behind the entry, ahead of the tip, floor, near wall
    Face next_ahead_;  ///< ahead of the tip once the box has grown by a step; columns as far as they are asked
    std::uint32_t stamps_ = 0;
};

}  // namespace view
