#include "engine/view/shapes.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "engine/view/structure_kinds.hpp"
#include "sim/core/errors.hpp"
#include "sim/instruments/gauge.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr unsigned kSteel = 0xB4BABF, kLigament = 0xD9D2C0;
constexpr int kCapRings = 3;

glm::vec3 millimetres(const Vec3& p_m) { return glm::vec3(p_m) * kMmPerM; }

/// One ring of a tube that has been worked out as a profile: where, how wide, and how its normal leans along the axis.
struct Ring {
    glm::vec3 centre{}, axis{};
    float radius = 0.0f, lean = 0.0f;
};

glm::vec3 any_square_to(const glm::vec3& axis) {
    const glm::vec3 other = std::fabs(axis.y) < 0.9f ? glm::vec3(0, 1, 0) : glm::vec3(1, 0, 0);
    return glm::normalize(glm::cross(axis, other));
}

void append_rings(ObjectMesh& mesh, std::span<const Ring> rings, const Finish& finish, int sides) {
    SIM_ASSERT(rings.size() >= 2 && sides >= 3);
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    const auto around = static_cast<std::uint32_t>(sides);
    glm::vec3 u = any_square_to(rings.front().axis);
    for (const Ring& ring : rings) {
        // carried along the line, so that a bend does not twist the tube
        u = u - ring.axis * glm::dot(u, ring.axis);
        u = glm::dot(u, u) < 1e-8f ? any_square_to(ring.axis) : glm::normalize(u);
        const glm::vec3 w = glm::cross(ring.axis, u);
        const float flat = std::sqrt(std::max(0.0f, 1.0f - ring.lean * ring.lean));
        for (std::uint32_t k = 0; k < around; ++k) {
            const float angle = 2.0f * std::numbers::pi_v<float> * static_cast<float>(k) / static_cast<float>(sides);
            const glm::vec3 out = u * std::cos(angle) + w * std::sin(angle);
            mesh.vertices.push_back(
                {ring.centre + out * ring.radius, out * flat + ring.axis * ring.lean, finish.colour, finish.gloss});
        }
    }
    for (std::uint32_t r = 0; r + 1 < rings.size(); ++r)
        for (std::uint32_t k = 0; k < around; ++k) {
            const std::uint32_t a = first + r * around + k, b = first + r * around + (k + 1) % around;
            for (const std::uint32_t i : {a, b, a + around, b, b + around, a + around}) mesh.triangles.push_back(i);
        }
}

std::vector<glm::vec3> axes_of(std::span<const Vec3> line_m) {
    std::vector<glm::vec3> axes(line_m.size(), glm::vec3(0, 0, 1));
    for (std::size_t i = 0; i < line_m.size(); ++i) {
        const Vec3 along = line_m[std::min(i + 1, line_m.size() - 1)] - line_m[i > 0 ? i - 1 : 0];
        if (glm::length(along) > 1e-9) axes[i] = glm::vec3(glm::normalize(along));
    }
    return axes;
}

/// A surface of revolution about a straight axis. @param profile (distance along, radius) in mm
void append_turned(ObjectMesh& mesh, const glm::vec3& origin, const glm::vec3& axis, std::span<const glm::vec2> profile,
                   const Finish& finish) {
    std::vector<Ring> rings;
    for (std::size_t i = 0; i + 1 < profile.size(); ++i) {
        // each cone gets its own rings, so that edges stay crisp
        const glm::vec2 step = profile[i + 1] - profile[i];
        const float lean = -step.y / std::max(1e-6f, glm::length(step));
        rings.push_back({origin + axis * profile[i].x, axis, profile[i].y, lean});
        rings.push_back({origin + axis * profile[i + 1].x, axis, profile[i + 1].y, lean});
    }
    append_rings(mesh, rings, finish, 24);
}

}  // namespace

glm::vec3 linear(unsigned rgb) {
    const auto channel = [](unsigned byte) {
        const float s = static_cast<float>(byte & 255u) / 255.0f;
        return s <= 0.04045f ? s / 12.92f : std::pow((s + 0.055f) / 1.055f, 2.4f);  // IEC 61966-2-1
    };
    return {channel(rgb >> 16), channel(rgb >> 8), channel(rgb)};
}

unsigned hub_colour(int gauge) {
    const std::array<std::uint8_t, 3>& srgb = sim::gauge(gauge).hub_srgb;
    return static_cast<unsigned>(srgb[0]) << 16 | static_cast<unsigned>(srgb[1]) << 8 | static_cast<unsigned>(srgb[2]);
}

unsigned structure_colour(sim::StructureKind kind) {
    switch (kind) {
        case sim::StructureKind::artery:
            return 0xC0392E;
        case sim::StructureKind::vein:
            return 0x4667A8;
        case sim::StructureKind::nerve:
            return 0xE7CF63;
        case sim::StructureKind::duct:
            return 0xA9BF9B;
        case sim::StructureKind::gland:
            return 0xD2A079;
    }
    return 0x808080;
}

unsigned kind_colour(std::size_t kind) {
    constexpr std::array kColours{sim::StructureKind::artery, sim::StructureKind::vein, sim::StructureKind::nerve,
                                  sim::StructureKind::gland};
    return kind < kColours.size() ? structure_colour(kColours[kind]) : kLigament;
}

void append_tube(ObjectMesh& mesh, std::span<const Vec3> line_m, std::span<const double> radius_m, const Finish& finish,
                 int sides) {
    SIM_ASSERT(line_m.size() >= 2 && radius_m.size() == line_m.size());
    const std::vector<glm::vec3> axes = axes_of(line_m);
    std::vector<Ring> rings;
    const auto cap = [&](std::size_t at, float sign) {
        const float radius = static_cast<float>(radius_m[at]) * kMmPerM;
        for (int k = 0; k < kCapRings; ++k) {
            const int step = sign < 0 ? k : kCapRings - 1 - k;
            const float angle = 0.5f * std::numbers::pi_v<float> * (1.0f - static_cast<float>(step) / kCapRings);
            rings.push_back({millimetres(line_m[at]) + axes[at] * (sign * radius * std::sin(angle)), axes[at],
                             radius * std::cos(angle), sign * std::sin(angle)});
        }
    };
    cap(0, -1.0f);
    for (std::size_t i = 0; i < line_m.size(); ++i)
        rings.push_back({millimetres(line_m[i]), axes[i], static_cast<float>(radius_m[i]) * kMmPerM, 0.0f});
    cap(line_m.size() - 1, 1.0f);
    append_rings(mesh, rings, finish, sides);
}

void append_stroke(ObjectMesh& mesh, std::span<const sim::SkinPoint> line, double width_m, const Finish& finish) {
    constexpr double kAboveSkinM = 0.12 * sim::kMm;  // or it would fight with the skin for the same depth
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    for (std::size_t i = 0; i < line.size(); ++i) {
        const Vec3 along = line[std::min(i + 1, line.size() - 1)].position_m - line[i > 0 ? i - 1 : 0].position_m;
        const Vec3 across =
            glm::length(along) > 1e-9 ? glm::normalize(glm::cross(line[i].normal, along)) : Vec3(1, 0, 0);
        for (const double side : {-0.5, 0.5})
            mesh.vertices.push_back(
                {millimetres(line[i].position_m + line[i].normal * kAboveSkinM + across * (side * width_m)),
                 glm::vec3(line[i].normal), finish.colour, finish.gloss});
    }
    for (std::uint32_t i = 0; i + 1 < line.size(); ++i) {
        const std::uint32_t a = first + 2 * i;
        for (const std::uint32_t k : {a, a + 2, a + 1, a + 1, a + 2, a + 3}) mesh.triangles.push_back(k);
    }
}

void append_ring(ObjectMesh& mesh, const sim::Anatomy& anatomy, const sim::SkinPoint& at, double radius_m,
                 double width_m, const Finish& finish) {
    constexpr int kPieces = 40;
    const Vec3 u = glm::normalize(glm::cross(at.normal, std::fabs(at.normal.y) < 0.9 ? Vec3(0, 1, 0) : Vec3(1, 0, 0)));
    const Vec3 w = glm::cross(at.normal, u);
    std::vector<sim::SkinPoint> ring;
    for (int i = 0; i <= kPieces; ++i) {
        const double angle = 2.0 * sim::kPi * i / kPieces;
        ring.push_back(anatomy.nearest_skin(at.position_m + radius_m * (std::cos(angle) * u + std::sin(angle) * w)));
    }
    append_stroke(mesh, ring, width_m, finish);
}

namespace {

/// Where a model's axes lie in space.
struct Frame {
    glm::vec3 origin_mm{};
    glm::mat3 axes{1.0f};  ///< columns: across, up, along to the tip
};

Frame frame_at(const Vec3& origin_m, const Vec3& along, const Vec3& up) {
    const glm::vec3 z = glm::vec3(glm::normalize(along));
    glm::vec3 y = glm::vec3(up) - z * glm::dot(glm::vec3(up), z);
    y = glm::dot(y, y) < 1e-6f ? any_square_to(z) : glm::normalize(y);
    return {millimetres(origin_m), glm::mat3(glm::cross(y, z), y, z)};
}

/// @param from_z of the model, which comes to the frame's origin  @param scale the same along all axes
void append_part(ObjectMesh& mesh, const ModelMesh& part, const Frame& frame, float from_z, float scale,
                 const Finish& finish) {
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    for (std::size_t i = 0; i < part.positions_mm.size(); ++i) {
        const glm::vec3 place = scale * (part.positions_mm[i] - glm::vec3(0, 0, from_z));
        mesh.vertices.push_back(
            {frame.origin_mm + frame.axes * place, frame.axes * part.normals[i], finish.colour, finish.gloss});
    }
    for (const std::uint32_t i : part.triangles) mesh.triangles.push_back(first + i);
}

/// A turned shape as a part of a model. @param along +1 or -1: the profile runs along +z or -z
ModelMesh turned_part(ModelRole role, float along, std::span<const glm::vec2> profile) {
    ObjectMesh mesh;
    append_turned(mesh, {}, {0.0f, 0.0f, along}, profile, {});
    ModelMesh part{role, {}, {}, mesh.triangles};
    for (const ObjectVertex& vertex : mesh.vertices) {
        part.positions_mm.push_back(vertex.position_mm);
        part.normals.push_back(vertex.normal);
    }
    return part;
}

/// The line from its beginning to where this length of it is left.
std::vector<Vec3> all_but_the_last(std::span<const Vec3> line_m, double length_m) {
    std::size_t last = line_m.size() - 1;
    while (last > 1 && glm::length(line_m[last] - line_m[last - 1]) <= length_m) {
        length_m -= glm::length(line_m[last] - line_m[last - 1]);
        --last;
    }
    std::vector<Vec3> out(line_m.begin(), line_m.begin() + static_cast<std::ptrdiff_t>(last));
    const Vec3 back = line_m[last - 1] - line_m[last];
    out.push_back(line_m[last] + back * std::min(0.999, length_m / std::max(1e-9, glm::length(back))));
    return out;
}

}  // namespace

InstrumentModel plain_model(const sim::InstrumentSpec& instrument) {
    const float r = static_cast<float>(sim::gauge(instrument.gauge).radius_m()) * kMmPerM;
    const float length = static_cast<float>(instrument.length_m) * kMmPerM;
    // a bevel drawn as a taper of about 20 degrees: from the side it looks the same
    const float tip = instrument.tip == sim::TipShape::bevel ? 5.5f * r : r, end = length - tip;
    const glm::vec2 hub[] = {{0.0f, r},     {0.0f, 1.2f},  {5.0f, 2.1f},  {5.0f, 3.2f},
                             {15.0f, 3.6f}, {15.0f, 4.3f}, {16.5f, 4.3f}, {16.5f, 0.0f}};
    const glm::vec2 shaft[] = {{0.0f, r}, {end, r}};
    const glm::vec2 taper[] = {{end, r}, {length, 0.06f * r}};
    const glm::vec2 dome[] = {{end, r}, {end + 0.5f * r, 0.87f * r}, {end + 0.87f * r, 0.5f * r}, {length, 0.0f}};
    InstrumentModel model{instrument.tip, instrument.gauge, length, -hub[7].x, end, {}};
    model.parts = {turned_part(ModelRole::hub, -1.0f, hub), turned_part(ModelRole::shaft, 1.0f, shaft),
                   instrument.tip == sim::TipShape::bevel ? turned_part(ModelRole::tip, 1.0f, taper)
                                                          : turned_part(ModelRole::tip, 1.0f, dome)};
    return model;
}

std::vector<ModelMesh> plain_holder() {
    const glm::vec2 handle[] = {{0.0f, 3.4f}, {3.5f, 5.0f}, {35.5f, 5.4f}, {38.5f, 4.6f}, {38.5f, 0.0f}};
    return {turned_part(ModelRole::holder, -1.0f, handle)};
}

Finish finish_of(ModelRole role, int gauge) {
    switch (role) {
        case ModelRole::hub:
            return {linear(hub_colour(gauge)), 0.22f};
        case ModelRole::bore:
            return {linear(0x23262A), 0.1f};
        case ModelRole::holder:
            return {linear(0xDADFE2), 0.30f};
        default:
            return {linear(kSteel), 0.85f};
    }
}

void append_instrument(ObjectMesh& mesh, const sim::InstrumentSpec& instrument, std::span<const Vec3> shaft_m,
                       const Vec3& up, const InstrumentModels& models) {
    SIM_ASSERT(shaft_m.size() >= 2);
    const InstrumentModel* nearest = models.nearest(instrument);
    const std::optional<InstrumentModel> plain =
        nearest == nullptr ? std::optional(plain_model(instrument)) : std::nullopt;
    const InstrumentModel* model = nearest == nullptr ? &*plain : nearest;
    // a tip of another gauge has the same shape, smaller or larger
    const double radius_m = sim::gauge(instrument.gauge).radius_m();
    const double scale = radius_m / sim::gauge(model->gauge).radius_m();
    const double tip_m = scale * static_cast<double>(model->length_mm - model->tip_from_mm) * sim::kMm;
    const std::vector<Vec3> tube = all_but_the_last(shaft_m, tip_m);
    append_tube(mesh, tube, std::vector<double>(tube.size(), radius_m), finish_of(ModelRole::shaft, 0), 16);
    const Frame tip = frame_at(shaft_m.back(), shaft_m.back() - tube.back(), up),
                hub = frame_at(shaft_m[0], shaft_m[1] - shaft_m[0], up);
    for (const ModelMesh& part : model->parts) {
        const Finish finish = finish_of(part.role, instrument.gauge);
        if (part.role == ModelRole::hub) append_part(mesh, part, hub, 0.0f, 1.0f, finish);
        if (part.role == ModelRole::tip || part.role == ModelRole::bore)
            append_part(mesh, part, tip, model->length_mm, static_cast<float>(scale), finish);
    }
    // a thread comes out at the back of its cannula, which is then held by its flange
    if (!instrument.loaded)
        for (const ModelMesh& part : models.holder.empty() ? plain_holder() : models.holder)
            append_part(mesh, part, hub, -model->hub_end_mm, 1.0f, finish_of(part.role, instrument.gauge));
}

void append_structure(ObjectMesh& mesh, const sim::Structure& structure) {
    std::vector<Vec3> line;
    std::vector<double> radius;
    for (const sim::StructureNode& node : structure.line) {
        line.push_back(node.position_m);
        radius.push_back(node.radius_m);
    }
    const float gloss = structure.kind == sim::StructureKind::gland ? 0.02f : 0.18f;
    append_tube(mesh, line, radius, {linear(structure_colour(structure.kind)), gloss}, 12);
}

void append_ligament(ObjectMesh& mesh, const sim::Ligament& ligament) {
    SIM_ASSERT(ligament.deep_m.size() == ligament.superficial_m.size() && ligament.deep_m.size() >= 2);
    const Finish fibres{linear(kLigament), 0.05f};
    for (const double side : {-1.0, 1.0}) {
        const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
        for (std::size_t i = 0; i < ligament.deep_m.size(); ++i) {
            const std::size_t next = std::min(i + 1, ligament.deep_m.size() - 1), last = i > 0 ? i - 1 : 0;
            const Vec3 across = glm::cross(ligament.deep_m[next] - ligament.deep_m[last],
                                           ligament.superficial_m[i] - ligament.deep_m[i]);
            const Vec3 normal = glm::length(across) > 1e-12 ? side * glm::normalize(across) : Vec3(0, 0, side);
            for (const Vec3& p_m : {ligament.deep_m[i], ligament.superficial_m[i]})
                mesh.vertices.push_back({millimetres(p_m + ligament.half_thickness_m * normal), glm::vec3(normal),
                                         fibres.colour, fibres.gloss});
        }
        for (std::uint32_t i = 0; i + 1 < ligament.deep_m.size(); ++i) {
            const std::uint32_t a = first + 2 * i;
            for (const std::uint32_t k : {a, a + 2, a + 1, a + 1, a + 2, a + 3}) mesh.triangles.push_back(k);
        }
    }
}

}  // namespace view
