#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <span>
#include <string>
#include <vector>

/// Surfaces of which instruments are made. Millimetres; +z from the hub to the tip, +y to the side that a bevel or a
/// port faces.

namespace models {

struct Corner {
    glm::dvec3 position_mm{}, normal{};
};

/// One object of an OBJ file. Triangles run anticlockwise seen from outside.
struct Part {
    std::string name;
    std::vector<Corner> corners;
    std::vector<std::array<std::uint32_t, 3>> triangles;

    std::uint32_t add(const Corner& corner);
    void triangle(std::uint32_t a, std::uint32_t b, std::uint32_t c);  ///< left out when it has no area
};

/// How a turned profile departs from a circle: factors of x and y, by the angle around.
using Section = std::function<glm::dvec2(double angle_rad)>;
[[nodiscard]] Section round_section();
[[nodiscard]] Section ribbed(int ribs, double rise);  ///< @param rise of a rib, as a share of the radius
[[nodiscard]] Section oval(double x, double y);

/// A profile turned about z, each piece with edges of its own.
/// @param profile (z, radius) from back to front along the outside, so that the outside is at its right
void turn(Part& part, std::span<const glm::dvec2> profile, int sides, const Section& section);

/// The end of a needle cut by one plane that opens towards +y.
/// @param bore gets the dark inside
void bevel(Part& steel, Part& bore, double outer_r, double inner_r, double from_z, double tip_z, double angle_rad,
           int sides);

/// The rounded end of a cannula with an oval port at +y.
struct Port {
    double middle_z = 0.0, half_length = 0.0, half_width = 0.0;
};
void blunt_end(Part& steel, Part& bore, double outer_r, double inner_r, double from_z, double tip_z, const Port& port,
               int sides);

/// Wavefront OBJ: objects, corners with normals, triangles. The same bytes for the same parts.
[[nodiscard]] std::string obj_text(const std::string& comment, std::span<const Part> parts);

}  // namespace models
