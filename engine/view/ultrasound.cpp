#include "engine/view/ultrasound.hpp"

namespace view {

Ultrasound::Ultrasound(std::shared_ptr<const sim::Anatomy> anatomy) : anatomy_(std::move(anatomy)) {}

const EchoPicture& Ultrasound::look(const ProbePose& pose, const ProbeSettings& settings, double time_s,
                                    const ShaftUnderProbe& shaft) {
    const bool same_grid = settings.width_m == settings_.width_m && settings.depth_m == settings_.depth_m;
    if (!map_ || !(map_->pose == pose) || !same_grid) {
        map_.emplace(*anatomy_, pose, settings);
        rest_ = field_at_rest(*anatomy_, *map_);
    }
    settings_ = settings;
    EchoField field = *rest_;
    add_vessels(field, *anatomy_, *map_, pulse_at(time_s));
    if (!shaft.line_m.empty()) add_shaft(field, *map_, shaft);
    picture_ = picture_of(map_->grid, envelope(field, settings, frame_++), settings);
    return picture_;
}

}  // namespace view
