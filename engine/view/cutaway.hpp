#pragma once

#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "engine/view/cut_sheet.hpp"
#include "engine/view/draw_list.hpp"
#include "sim/anatomy/anatomy.hpp"

/// A box cut out of the tissue beside the shaft, with the layers on its inner faces.
///
/// The far wall carries the shaft, bends as it does and leans towards the viewer; the box is deep enough for its floor
/// to stay out of sight where the tissue is thick. Layers are sampled through Anatomy, so that slab and head look
/// alike. A picture pays for what is new and for a share of what is not quite right any more.

namespace view {

class Cutaway {
 public:
    /// @param block as sample_layers
    Cutaway(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block);

    /// Follow the shaft.
    /// @param shaft_m from the entry to the tip; fewer than two points: no cut
    void follow(std::span<const Vec3> shaft_m, double shaft_radius_m, const Vec3& eye_m);
    void close();

    [[nodiscard]] const std::optional<CutBox>& box() const { return box_; }
    [[nodiscard]] std::shared_ptr<const std::vector<LayerFace>> faces() const { return faces_; }
    /// Names of the layers on the far wall, where there is room for them.
    [[nodiscard]] const std::vector<Label>& labels() const { return labels_; }
    /// Work is left that follow() will do though the shaft rests.
    [[nodiscard]] bool unsettled() const;
    /// Samples that the last follow() took.
    [[nodiscard]] std::size_t sampled() const { return sampled_; }

    static constexpr std::size_t kSamplesAPicture = 700;  ///< of what can wait
    static constexpr std::size_t kAheadAPicture = 250;    ///< of what the shaft has yet to reach

 private:
    [[nodiscard]] std::optional<CutFrame> frame_of(std::span<const Vec3> shaft_m, const Vec3& eye_m);
    void choose_sheet(const CutFrame& wanted, std::span<const Vec3> shaft_m, double shaft_radius_m);
    void publish();
    void name_layers(const LayerFace& wall);

    std::shared_ptr<const sim::Anatomy> anatomy_;
    std::optional<Block> block_;
    double side_sign_ = 0.0;          ///< to which side of the shaft the box opens; kept while the viewer allows it
    std::optional<CutSheet> shown_;   ///< what is drawn
    std::optional<CutSheet> coming_;  ///< turned as the shaft has turned; takes over when it is sampled
    std::size_t sampled_ = 0;
    std::optional<CutBox> box_;
    std::shared_ptr<const std::vector<LayerFace>> faces_;
    std::vector<Label> labels_;
};

}  // namespace view
