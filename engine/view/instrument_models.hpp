#pragma once

#include <cstdint>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <vector>

#include "sim/scenario.hpp"

/// Models of instruments as they are drawn: on the patient, and from the side in the tray.

namespace view {

enum class ModelRole : std::uint8_t { hub, shaft, tip, bore, holder };

/// One part. Millimetres; +z from the hub to the tip, +y to the side that a bevel or a port faces.
struct ModelMesh {
    ModelRole role = ModelRole::hub;
    std::vector<glm::vec3> positions_mm, normals;
    std::vector<std::uint32_t> triangles;
};

/// 0 is where the hub ends and the length begins.
struct InstrumentModel {
    sim::TipShape tip = sim::TipShape::blunt;
    int gauge = 21;
    float length_mm = 0.0f, hub_end_mm = 0.0f, tip_from_mm = 0.0f;
    std::vector<ModelMesh> parts;
};

struct InstrumentModels {
    std::vector<InstrumentModel> shafts;
    std::vector<ModelMesh> holder;  ///< 0 where a hub ends
    float holder_length_mm = 0.0f;

    /// The same kind of tip, then the nearest gauge, then the nearest length; null when there is none of its kind.
    [[nodiscard]] const InstrumentModel* nearest(const sim::InstrumentSpec& instrument) const;
};

/// An instrument seen from the side at its own gauge and length: what faces the viewer, the farthest first.
struct SidePicture {
    struct Triangle {
        glm::vec2 at_mm[3];  ///< x along to the tip, y up
        ModelRole role = ModelRole::hub;
        float light = 0.0f;  ///< 0 in shade .. 1 lit
    };
    struct Edge {
        glm::vec2 from_mm, to_mm;  ///< of the outline
    };
    std::vector<Triangle> triangles;
    std::vector<Edge> outline;
    float from_mm = 0.0f, to_mm = 0.0f;  ///< along
};

/// @param holder with what the hub is held by, if its hub takes one
[[nodiscard]] SidePicture side_picture(const InstrumentModels& models, const sim::InstrumentSpec& instrument,
                                       bool holder);

}  // namespace view
