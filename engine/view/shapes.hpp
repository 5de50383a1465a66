#pragma once

#include <span>

#include "engine/view/draw_list.hpp"
#include "engine/view/instrument_models.hpp"
#include "sim/anatomy/anatomy.hpp"
#include "sim/scenario.hpp"

/// Shapes of instruments, vessels and marks, appended to a mesh.

namespace view {

using sim::Vec3;

struct Finish {
    glm::vec3 colour{};  ///< linear
    float gloss = 0.0f;
};

/// A round tube along a line, closed at both ends by half spheres.
/// @param radius_m one for each point
void append_tube(ObjectMesh& mesh, std::span<const Vec3> line_m, std::span<const double> radius_m, const Finish& finish,
                 int sides = 14);

/// A flat stroke that lies on the skin, as a marker pen leaves it.
void append_stroke(ObjectMesh& mesh, std::span<const sim::SkinPoint> line, double width_m, const Finish& finish);

/// A circle drawn on the skin around a place.
void append_ring(ObjectMesh& mesh, const sim::Anatomy& anatomy, const sim::SkinPoint& at, double radius_m,
                 double width_m, const Finish& finish);

/// An instrument along its shaft: the tube is swept along the curve, hub and tip come from its model. Where there is no
/// model for it, plain_model() stands in.
/// @param shaft_m from the hub to the tip, at least two points
/// @param up      side that a bevel or a port faces
void append_instrument(ObjectMesh& mesh, const sim::InstrumentSpec& instrument, std::span<const Vec3> shaft_m,
                       const Vec3& up, const InstrumentModels& models);

/// What stands in for a model that is not there: turned shapes of about the same size.
[[nodiscard]] InstrumentModel plain_model(const sim::InstrumentSpec& instrument);
[[nodiscard]] std::vector<ModelMesh> plain_holder();

/// What a part of an instrument is made of. @param gauge decides the colour of a hub
[[nodiscard]] Finish finish_of(ModelRole role, int gauge);

void append_structure(ObjectMesh& mesh, const sim::Structure& structure);

/// The two faces of a sheet of fibres.
void append_ligament(ObjectMesh& mesh, const sim::Ligament& ligament);

/// sRGB colour of the hub by gauge, 0xRRGGBB.
[[nodiscard]] unsigned hub_colour(int gauge);
[[nodiscard]] unsigned structure_colour(sim::StructureKind kind);  ///< sRGB, 0xRRGGBB

/// sRGB bytes to a linear colour.
[[nodiscard]] glm::vec3 linear(unsigned rgb);

}  // namespace view
