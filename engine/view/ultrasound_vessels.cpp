#include <algorithm>
#include <cmath>
#include <glm/glm.hpp>

#include "engine/view/ultrasound_tissue.hpp"

/// What runs through the layers under a probe, at a moment of the pulse, and a shaft among it.

namespace view {

namespace {

using sim::kMm;

const float kBlood = amplitude(-62), kWall = amplitude(-26), kWallMirror = amplitude(-11), kDuctFluid = amplitude(-60),
            kNerveRim = amplitude(-19), kNerveInside = amplitude(-36);
constexpr float kBloodLoss = 0.2f, kNerveLoss = 1.0f;  // Culjat et al. 2010, from memory; nerve assumed

/// How a structure is pictured.
struct Look {
    float inside = 0.0f, loss = 0.0f, rim = 0.0f;
    float wall_mm = 0.0f;  ///< half the thickness of its wall
    float widened = 1.0f;  ///< of its radius
    float flat = 1.0f;     ///< of its height along the beam
    bool fascicles = false;
};

Look look_of(sim::StructureKind kind, double pulse, double press_m) {
    switch (kind) {
        case sim::StructureKind::artery:
            return {kBlood, kBloodLoss, kWall, 0.11f, static_cast<float>(1.0 + kArteryWidens * pulse), 1.0f, false};
        case sim::StructureKind::vein: {
            // a vein has no pressure to speak of and gives way first
            const auto shut = static_cast<float>(std::min(1.0, press_m / kVeinShutM));
            return {kBlood, kBloodLoss, kWall * 0.8f, 0.07f, 1.0f + 0.25f * shut, 1.0f - 0.94f * shut, false};
        }
        case sim::StructureKind::nerve:
            return {kNerveInside, kNerveLoss, kNerveRim, 0.12f, 1.0f, 1.0f, true};
        case sim::StructureKind::duct:
        case sim::StructureKind::gland:
            return {kDuctFluid, kBloodLoss, kWall, 0.16f, 1.0f, 1.0f, false};
    }
    return {};
}

/// A piece of a structure's line as the probe sees it: x along the footprint, y along the beam, z across; mm.
struct Piece {
    glm::vec3 a{}, way{};
    float radius_a = 0.0f, radius_b = 0.0f;
};

/// Where a sample lies against a structure.
struct Against {
    float inside_mm = -100.0f;  ///< of its wall, negative outside
    float facing = 0.0f;        ///< cosine of the angle between beam and wall's normal
};

Against against(const Piece& piece, const Look& look, const glm::vec2& at) {
    const glm::vec3 p(at, 0.0f);
    const float t =
        glm::clamp(glm::dot(p - piece.a, piece.way) / std::max(1e-9f, glm::dot(piece.way, piece.way)), 0.0f, 1.0f);
    glm::vec3 off = p - piece.a - t * piece.way;
    off.y /= look.flat;
    const float far = glm::length(off), radius = look.widened * glm::mix(piece.radius_a, piece.radius_b, t);
    return {radius - far, far > 1e-6f ? std::fabs(off.y) / far : 1.0f};
}

class Painter {
 public:
    Painter(EchoField& field, const ProbeMap& map) : field_(field), map_(map), seen_(field.grid.size()) {}

    void paint(const sim::Structure& structure, const Look& look) {
        touched_.clear();
        for (std::size_t i = 0; i + 1 < structure.line.size(); ++i) {
            const Piece piece = seen(structure.line[i], structure.line[i + 1]);
            const float most = look.widened * std::max(piece.radius_a, piece.radius_b) + 2.0f * look.wall_mm;
            const float za = piece.a.z, zb = za + piece.way.z;
            if (std::min(za, zb) > most || std::max(za, zb) < -most) continue;
            measure(piece, look, most);
        }
        for (const std::size_t i : touched_) {
            put(i, look, seen_[i]);
            seen_[i] = {};
        }
    }

 private:
    [[nodiscard]] glm::vec3 seen(const Vec3& p_m) const {
        const Vec3 off = (p_m - map_.pose.at_m) / kMm;
        return {glm::dot(off, map_.pose.along), glm::dot(off, map_.pose.inward), glm::dot(off, map_.pose.across())};
    }
    [[nodiscard]] Piece seen(const sim::StructureNode& a, const sim::StructureNode& b) const {
        const glm::vec3 from = seen(a.position_m);
        return {from, seen(b.position_m) - from, static_cast<float>(a.radius_m / kMm),
                static_cast<float>(b.radius_m / kMm)};
    }

    void measure(const Piece& piece, const Look& look, float most) {
        const EchoGrid& grid = map_.grid;
        const double row_mm = grid.row_m / kMm, line_mm = grid.line_m() / kMm, first_mm = grid.x_m(0) / kMm;
        const auto [low_x, high_x] = std::minmax({piece.a.x, piece.a.x + piece.way.x});
        const auto [low_y, high_y] = std::minmax({piece.a.y, piece.a.y + piece.way.y});
        const int l0 = std::max(0, static_cast<int>((static_cast<double>(low_x - most) - first_mm) / line_mm));
        const int l1 =
            std::min(grid.lines - 1, static_cast<int>((static_cast<double>(high_x + most) - first_mm) / line_mm) + 1);
        for (int l = l0; l <= l1; ++l) {
            const LineOfSight& line = map_.lines[static_cast<std::size_t>(l)];
            if (!line.contact) continue;
            const double x = grid.x_m(l) / kMm;
            const int r0 = std::max(0, static_cast<int>(line.y_mm(static_cast<double>(low_y - most)) / row_mm));
            const int r1 =
                std::min(grid.rows - 1, static_cast<int>(line.y_mm(static_cast<double>(high_y + most)) / row_mm) + 1);
            for (int r = r0; r <= r1; ++r) {
                const double y = r * row_mm;
                if (y < line.begin_mm) continue;
                const Against found = against(piece, look, glm::vec2(x, line.ref_mm(y)));
                if (found.inside_mm < -2.0f * look.wall_mm) continue;
                const std::size_t i = grid.at(r, l);
                if (seen_[i].inside_mm < -50.0f) touched_.push_back(i);
                if (found.inside_mm > seen_[i].inside_mm) seen_[i] = found;
            }
        }
    }

    void put(std::size_t i, const Look& look, const Against& found) {
        const float wall = 1.0f - std::min(1.0f, std::fabs(found.inside_mm) / look.wall_mm);
        const bool in = found.inside_mm > 0.0f;
        if (in) {
            field_.scatter[i] = look.inside;
            field_.mirror[i] = 0.0f;
            field_.loss[i] = look.loss;
            if (look.fascicles) {
                // bundles are dark, what lies between them is bright
                const auto bits = static_cast<float>(lattice_bits(static_cast<int>(i), 3, 5) >> 24) / 255.0f;
                field_.scatter[i] *= 0.5f + 2.5f * bits * bits;
            }
        }
        if (wall <= 0.0f) return;
        const float square = found.facing * found.facing, bright = square * square;
        field_.scatter[i] = std::max(field_.scatter[i], wall * look.rim * (0.25f + 0.75f * bright));
        field_.mirror[i] += wall * kWallMirror * bright * bright * 0.4f;
    }

    EchoField& field_;
    const ProbeMap& map_;
    std::vector<Against> seen_;
    std::vector<std::size_t> touched_;
};

}  // namespace

double pulse_at(double time_s) {
    constexpr double kUpstroke = 0.14, kFall = 0.22;  // of a beat; assumed, of the shape of a radial pulse
    const double beat = time_s * kPulsesPerMin / 60.0, phase = beat - std::floor(beat);
    if (phase < kUpstroke) return std::pow(std::sin(0.5 * sim::kPi * phase / kUpstroke), 2);
    const double since = phase - kUpstroke;
    const double notch = 0.12 * std::exp(-std::pow((since - 0.28) / 0.07, 2));
    return std::min(1.0, std::exp(-since / kFall) + notch);
}

void add_vessels(EchoField& field, const sim::Anatomy& anatomy, const ProbeMap& map, double pulse) {
    using K = sim::StructureKind;
    Painter painter(field, map);
    for (const K kind : {K::duct, K::nerve, K::vein, K::artery})
        for (const sim::Structure& structure : anatomy.structures())
            if (structure.kind == kind) painter.paint(structure, look_of(kind, pulse, map.pose.press_m));
}

namespace {

constexpr double kShaftDb = 6.0;      // steel; assumed
constexpr double kEchoFallsDb = 4.5;  // from one of its echoes to the next; assumed
constexpr int kShaftEchoes = 7;
constexpr double kBeamHalfMm = 0.55;     // of the slice that a beam sees, to 1/e; assumed
constexpr double kShaftFallsRad = 0.45;  // aslant, to 1/e; assumed: why a steep needle is hard to see
constexpr double kShaftLeast = 0.08;
constexpr float kShaftLoss = 9.0f;  // dB / (cm MHz) in the shaft's thickness: an incomplete shadow; assumed

void shaft_on_line(EchoField& field, const ProbeMap& map, int l, double ref_mm, double radius_mm, double weight) {
    const EchoGrid& grid = map.grid;
    const LineOfSight& line = map.lines[static_cast<std::size_t>(l)];
    const double row_mm = grid.row_m / kMm, top_mm = line.y_mm(ref_mm) - radius_mm;
    for (int k = 0; k < kShaftEchoes; ++k) {
        const double row = (top_mm + 2.0 * radius_mm * k) / row_mm;
        if (!(row >= 0.0 && row < grid.rows - 1)) continue;
        const auto above = static_cast<int>(row);
        const auto t = static_cast<float>(row - above);
        const float echo = static_cast<float>(weight) * amplitude(kShaftDb - kEchoFallsDb * k - (k > 0 ? 6.0 : 0.0));
        field.mirror[grid.at(above, l)] += (1.0f - t) * echo;
        field.mirror[grid.at(above + 1, l)] += t * echo;
    }
    const int from = std::max(0, static_cast<int>(top_mm / row_mm)),
              to = std::min(grid.rows - 1, static_cast<int>((top_mm + 2.0 * radius_mm) / row_mm));
    for (int r = from; r <= to; ++r)
        field.loss[grid.at(r, l)] += static_cast<float>(std::min(1.0, weight)) * kShaftLoss;
}

}  // namespace

void add_shaft(EchoField& field, const ProbeMap& map, const ShaftUnderProbe& shaft) {
    const ProbePose& pose = map.pose;
    for (int l = 0; l < map.grid.lines; ++l) {
        const LineOfSight& line = map.lines[static_cast<std::size_t>(l)];
        const double x_m = map.grid.x_m(l);
        if (!line.contact) continue;
        for (std::size_t i = 0; i + 1 < shaft.line_m.size(); ++i) {
            const Vec3 a = shaft.line_m[i] - pose.at_m, way = shaft.line_m[i + 1] - shaft.line_m[i];
            const double along = glm::dot(way, pose.along), xa = glm::dot(a, pose.along);
            if (std::fabs(along) < 1e-9) continue;
            const double t = (x_m - xa) / along;
            if (!(t >= 0.0 && t < 1.0)) continue;
            const Vec3 p = a + t * way;
            const double off_mm = glm::dot(p, pose.across()) / kMm, ref_mm = glm::dot(p, pose.inward) / kMm;
            if (line.y_mm(ref_mm) < line.begin_mm) continue;
            const double slope = std::asin(std::clamp(glm::dot(way, pose.inward) / glm::length(way), -1.0, 1.0));
            const double in_plane =
                std::exp(-std::pow(std::max(0.0, std::fabs(off_mm) - shaft.radius_m / kMm) / kBeamHalfMm, 2));
            const double facing = kShaftLeast + (1.0 - kShaftLeast) * std::exp(-std::pow(slope / kShaftFallsRad, 2));
            if (in_plane > 0.02) shaft_on_line(field, map, l, ref_mm, shaft.radius_m / kMm, in_plane * facing);
        }
    }
}

}  // namespace view
