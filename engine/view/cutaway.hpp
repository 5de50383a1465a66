#pragma once

#include <array>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"

/// A box cut out of the tissue beside the shaft, with the layers on its inner faces.
///
/// The far wall carries the shaft, bends as it does and leans towards the viewer; the box is deep enough for its floor
/// to stay out of sight where the tissue is thick. Layers are sampled through Anatomy, so that slab and head look
/// alike.

namespace view {

using sim::Vec3;

/// Where a point lies among the layers as one number without jumps, so that it may be blended between samples.
/// @return 0..1 skin, 1..2 superficial fat, 2..3 SMAS, 3..4 deep fat, 4..5 muscle, > 5 floor, < 0 outside
[[nodiscard]] float layer_coordinate(const sim::LayerPoint& at);

/// The part of an endless slab that is drawn; beyond it there is nothing.
struct Block {
    Vec3 low_m{}, high_m{};
};

/// Fill a face by asking the anatomy at every sample. @param block nothing for a head
void sample_layers(LayerFace& face, const sim::Anatomy& anatomy, double cell_m, const std::optional<Block>& block);

class Cutaway {
 public:
    /// @param block as sample_layers
    Cutaway(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block);

    /// Follow the shaft. Samples anew only when the box moved.
    /// @param shaft_m from the entry to the tip; fewer than two points: no cut
    void follow(std::span<const Vec3> shaft_m, double shaft_radius_m, const Vec3& eye_m);
    void close();

    [[nodiscard]] const std::optional<CutBox>& box() const { return box_; }
    [[nodiscard]] std::shared_ptr<const std::vector<LayerFace>> faces() const { return faces_; }
    /// Names of the layers on the far wall, where there is room for them.
    [[nodiscard]] const std::vector<Label>& labels() const { return labels_; }

 private:
    struct Frame {
        Vec3 entry_m{}, along{}, out{}, wall{};
        double length_m = 0.0;
        std::array<float, kCutStations> bend_mm{};  ///< of the shaft towards the viewer, along the box
    };
    [[nodiscard]] std::optional<Frame> frame_of(std::span<const Vec3> shaft_m, const Vec3& eye_m);
    void rebuild(const Frame& frame, double shaft_radius_m);
    void name_layers(const LayerFace& wall);

    std::shared_ptr<const sim::Anatomy> anatomy_;
    std::optional<Block> block_;
    double side_sign_ = 0.0;  ///< to which side of the shaft the box opens; kept while the viewer allows it
    std::optional<Frame> shown_;
    std::optional<CutBox> box_;
    std::shared_ptr<const std::vector<LayerFace>> faces_;
    std::vector<Label> labels_;
};

}  // namespace view
