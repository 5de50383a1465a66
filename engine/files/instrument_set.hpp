#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "engine/files/obj_model.hpp"
#include "sim/scenario.hpp"

/// The models of the instruments in assets/instruments, as their manifest lists them.

namespace files {

/// One instrument: +z from the hub to the tip, 0 where the hub ends and the length begins.
struct InstrumentModel {
    std::string name;
    sim::TipShape tip = sim::TipShape::blunt;
    int gauge = 21;
    double length_mm = 0.0, hub_end_mm = 0.0, hub_face_mm = 0.0;
    double tip_from_mm = 0.0;  ///< where the straight tube ends and the shape of the tip begins
    ObjModel model;            ///< parts "hub", "shaft", "tip", perhaps "bore"
};

struct InstrumentSet {
    std::vector<InstrumentModel> instruments;
    ObjModel holder;  ///< what a hub is held by; +z to the hub, 0 at the hub's end; no parts where it was refused
    double holder_length_mm = 0.0;
    std::vector<std::string> troubles;  ///< what was refused, with file, place, value and what is accepted
};

/// Never throws for what is on disk: what cannot be used is left out and told. A model is also refused when its tip or
/// its tube is not where its gauge and length put them, or a hub colour is not that of ISO 6009.
[[nodiscard]] InstrumentSet load_instrument_set(const std::filesystem::path& folder);

}  // namespace files
