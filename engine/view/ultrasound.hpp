#pragma once

#include <memory>
#include <optional>

#include "engine/view/ultrasound_tissue.hpp"

/// The live picture of a linear probe, from the patient's anatomy alone. What rests is worked out when the probe has
/// moved; what the pulse moves, with each picture.

namespace view {

class Ultrasound {
 public:
    explicit Ultrasound(std::shared_ptr<const sim::Anatomy> anatomy);

    /// @param time_s of the patient: where in the pulse
    /// @param shaft  nothing in the tissue: no line
    const EchoPicture& look(const ProbePose& pose, const ProbeSettings& settings, double time_s,
                            const ShaftUnderProbe& shaft = {});

    /// Of the last picture.
    [[nodiscard]] const ProbeMap& map() const { return *map_; }
    [[nodiscard]] const EchoPicture& picture() const { return picture_; }

 private:
    std::shared_ptr<const sim::Anatomy> anatomy_;
    ProbeSettings settings_;
    std::optional<ProbeMap> map_;
    std::optional<EchoField> rest_;
    std::uint32_t frame_ = 0;
    EchoPicture picture_;
};

}  // namespace view
