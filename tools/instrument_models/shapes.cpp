#include "tools/instrument_models/shapes.hpp"

#include <fmt/format.h>

#include <cmath>
#include <glm/geometric.hpp>
#include <numbers>

namespace models {

namespace {

constexpr double kTurn = 2.0 * std::numbers::pi;

glm::dvec3 on_circle(double radius, double angle_rad, double z) {
    return {radius * std::cos(angle_rad), radius * std::sin(angle_rad), z};
}

glm::dvec3 outwards(double angle_rad) { return on_circle(1.0, angle_rad, 0.0); }

/// Triangles between two rows of as many corners.
void strip(Part& part, std::span<const std::uint32_t> low, std::span<const std::uint32_t> high) {
    for (std::size_t i = 0; i + 1 < low.size(); ++i) {
        part.triangle(low[i], low[i + 1], high[i]);
        part.triangle(low[i + 1], high[i + 1], high[i]);
    }
}

/// A fixed number of digits, and no negative zero.
std::string digits(double value) {
    std::string text = fmt::format("{:.4f}", value);
    return text == "-0.0000" ? "0.0000" : text;
}

}  // namespace

std::uint32_t Part::add(const Corner& corner) {
    corners.push_back(corner);
    return static_cast<std::uint32_t>(corners.size() - 1);
}

void Part::triangle(std::uint32_t a, std::uint32_t b, std::uint32_t c) {
    const glm::dvec3 p = corners[a].position_mm;
    const glm::dvec3 across = glm::cross(corners[b].position_mm - p, corners[c].position_mm - p);
    constexpr double kLeastMm2 = 1e-7;
    if (!(glm::length(across) > kLeastMm2)) return;
    // the normals say which side is outside
    const bool outside = glm::dot(across, corners[a].normal + corners[b].normal + corners[c].normal) > 0.0;
    triangles.push_back({a, outside ? b : c, outside ? c : b});
}

Section round_section() {
    return [](double) { return glm::dvec2(1.0); };
}

Section ribbed(int ribs, double rise) {
    return [ribs, rise](double angle_rad) { return glm::dvec2(1.0 + rise * std::cos(ribs * angle_rad)); };
}

Section oval(double x, double y) {
    return [x, y](double) { return glm::dvec2(x, y); };
}

void turn(Part& part, std::span<const glm::dvec2> profile, int sides, const Section& section) {
    const auto place = [&section](const glm::dvec2& at, double angle_rad) {
        const glm::dvec3 p = on_circle(at.y, angle_rad, at.x);
        const glm::dvec2 factor = section(angle_rad);
        return glm::dvec3(p.x * factor.x, p.y * factor.y, p.z);
    };
    for (std::size_t i = 0; i + 1 < profile.size(); ++i) {
        std::vector<std::uint32_t> rows[2];
        for (int k = 0; k <= sides; ++k) {
            const double angle = kTurn * (k % sides) / sides;
            for (int end = 0; end < 2; ++end) {
                // where the profile meets the axis, the direction around is that of the other end
                const glm::dvec2& at = profile[i + static_cast<std::size_t>(end)];
                const glm::dvec2& wide = at.y > 0.0 ? at : profile[i + static_cast<std::size_t>(1 - end)];
                constexpr double kStepRad = 1e-5;
                const glm::dvec3 around = place(wide, angle + kStepRad) - place(wide, angle - kStepRad);
                const glm::dvec3 along = place(profile[i + 1], angle) - place(profile[i], angle);
                rows[end].push_back(part.add({place(at, angle), glm::normalize(glm::cross(around, along))}));
            }
        }
        strip(part, rows[0], rows[1]);
    }
}

void bevel(Part& steel, Part& bore, double outer_r, double inner_r, double from_z, double tip_z, double angle_rad,
           int sides) {
    // the plane goes through the point, which lies on the wall at -y
    const double slope = 1.0 / std::tan(angle_rad);
    const auto on_plane = [&](double r, double angle) {
        return on_circle(r, angle, tip_z - slope * (r * std::sin(angle) + outer_r));
    };
    const glm::dvec3 facing(0.0, std::cos(angle_rad), std::sin(angle_rad));
    std::vector<std::uint32_t> base, rim, outer, inner, mouth, deep;
    for (int k = 0; k <= sides; ++k) {
        // begins at the point, so that it is a corner
        const double angle = kTurn * (k % sides) / sides - 0.25 * kTurn;
        base.push_back(steel.add({on_circle(outer_r, angle, from_z), outwards(angle)}));
        rim.push_back(steel.add({on_plane(outer_r, angle), outwards(angle)}));
        outer.push_back(steel.add({on_plane(outer_r, angle), facing}));
        inner.push_back(steel.add({on_plane(inner_r, angle), facing}));
        mouth.push_back(bore.add({on_plane(inner_r, angle), -outwards(angle)}));
        deep.push_back(bore.add({on_circle(inner_r, angle, from_z), -outwards(angle)}));
    }
    strip(steel, base, rim);
    strip(steel, outer, inner);
    strip(bore, mouth, deep);
}

namespace {

/// Part of the wall around a port, between two angles: an oval hole in a piece of the cylinder.
void port_wall(Part& steel, Part& bore, double outer_r, double inner_r, const Port& port, double low_z, double high_z,
               double half_angle) {
    constexpr int kAlong = 8, kAcross = 4;  // pieces of the border
    std::vector<glm::dvec2> border;         // (angle from +y, z), anticlockwise seen from outside
    for (int i = 0; i < kAlong; ++i) border.emplace_back(half_angle * (1.0 - 2.0 * i / kAlong), high_z);
    for (int i = 0; i < kAcross; ++i) border.emplace_back(-half_angle, high_z + (low_z - high_z) * i / kAcross);
    for (int i = 0; i < kAlong; ++i) border.emplace_back(half_angle * (2.0 * i / kAlong - 1.0), low_z);
    for (int i = 0; i < kAcross; ++i) border.emplace_back(half_angle, low_z + (high_z - low_z) * i / kAcross);
    border.push_back(border.front());
    std::vector<std::uint32_t> edge, hole, lip, well;
    const std::uint32_t bottom = bore.add({{0.0, 0.0, port.middle_z}, {0.0, 1.0, 0.0}});
    for (const glm::dvec2& at : border) {
        // the same direction from the middle, on the oval
        const double turned = std::atan2((at.y - port.middle_z) / port.half_length, at.x * outer_r / port.half_width);
        const double angle = 0.25 * kTurn - port.half_width / outer_r * std::cos(turned);
        const double z = port.middle_z + port.half_length * std::sin(turned);
        const double border_angle = 0.25 * kTurn - at.x;
        edge.push_back(steel.add({on_circle(outer_r, border_angle, at.y), outwards(border_angle)}));
        hole.push_back(steel.add({on_circle(outer_r, angle, z), outwards(angle)}));
        const glm::dvec3 inwards =
            glm::normalize(glm::dvec3(0.0, outer_r, port.middle_z) - on_circle(outer_r, angle, z));
        lip.push_back(bore.add({on_circle(outer_r, angle, z), inwards}));
        well.push_back(bore.add({on_circle(inner_r, angle, z), inwards}));
    }
    strip(steel, edge, hole);
    strip(bore, lip, well);
    for (std::size_t i = 0; i + 1 < well.size(); ++i) bore.triangle(well[i], well[i + 1], bottom);
}

}  // namespace

void blunt_end(Part& steel, Part& bore, double outer_r, double inner_r, double from_z, double tip_z, const Port& port,
               int sides) {
    constexpr int kDomeRings = 4;
    const double dome_z = tip_z - outer_r, low_z = port.middle_z - 1.4 * port.half_length,
                 high_z = port.middle_z + 1.4 * port.half_length;
    const glm::dvec2 below[] = {{from_z, outer_r}, {low_z, outer_r}};
    const glm::dvec2 above[] = {{high_z, outer_r}, {dome_z, outer_r}};
    turn(steel, below, sides, round_section());
    turn(steel, above, sides, round_section());
    // beside the port: a third of the way round is the port's
    const int port_sides = sides / 3, first = sides / 4 + port_sides / 2;
    std::vector<std::uint32_t> low, high;
    for (int k = first; k <= first + sides - port_sides; ++k) {
        const double angle = kTurn * (k % sides) / sides;
        low.push_back(steel.add({on_circle(outer_r, angle, low_z), outwards(angle)}));
        high.push_back(steel.add({on_circle(outer_r, angle, high_z), outwards(angle)}));
    }
    strip(steel, low, high);
    port_wall(steel, bore, outer_r, inner_r, port, low_z, high_z, 0.5 * kTurn * port_sides / sides);
    std::vector<std::uint32_t> last;
    for (int ring = 0; ring <= kDomeRings; ++ring) {
        const double lift = 0.25 * kTurn * ring / kDomeRings;
        std::vector<std::uint32_t> row;
        for (int k = 0; k <= sides; ++k) {
            const glm::dvec3 normal =
                outwards(kTurn * (k % sides) / sides) * std::cos(lift) + glm::dvec3(0, 0, std::sin(lift));
            row.push_back(steel.add({glm::dvec3(0, 0, dome_z) + outer_r * normal, normal}));
        }
        if (ring > 0) strip(steel, last, row);
        last = row;
    }
}

std::string obj_text(const std::string& comment, std::span<const Part> parts) {
    std::string text = "# " + comment + "\n# millimetres; +z from the hub to the tip, +y to the side that faces up\n";
    std::uint32_t before = 1;
    for (const Part& part : parts) {
        text += "o " + part.name + "\n";
        for (const Corner& c : part.corners)
            text +=
                "v " + digits(c.position_mm.x) + " " + digits(c.position_mm.y) + " " + digits(c.position_mm.z) + "\n";
        for (const Corner& c : part.corners)
            text += "vn " + digits(c.normal.x) + " " + digits(c.normal.y) + " " + digits(c.normal.z) + "\n";
        for (const auto& t : part.triangles)
            text += fmt::format("f {0}//{0} {1}//{1} {2}//{2}\n", before + t[0], before + t[1], before + t[2]);
        before += static_cast<std::uint32_t>(part.corners.size());
    }
    return text;
}

}  // namespace models
