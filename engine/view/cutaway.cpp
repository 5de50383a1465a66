#include "engine/view/cutaway.hpp"

#include <algorithm>
#include <cmath>
#include <glm/common.hpp>

#include "sim/core/errors.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr double kLeanRad = 30.0 * sim::kPi / 180.0;  // of the far wall towards the viewer: upright it is seen edge on
constexpr double kHalfWidthM = 8.5 * sim::kMm;
constexpr double kDeepM = 34.0 * sim::kMm;
constexpr double kBlockMarginM = 2.0 * sim::kMm;  // of a slab's lowest part that the box leaves standing
constexpr double kAboveM = 16.0 * sim::kMm;       // a cheek bulges this far above a chord
constexpr double kBehindM = 4.0 * sim::kMm, kAheadM = 8.0 * sim::kMm;  // of entry and tip
constexpr double kStepM = 3.0 * sim::kMm;  // the box grows in steps, so that layers are not sampled each frame
constexpr double kTurnCos = 0.99995;       // half a degree: less does not move the box
constexpr float kBendSlackMm = 0.15f;      // of the wall from the shaft's curve
constexpr double kWallCellM = 0.55 * sim::kMm, kSideCellM = 1.1 * sim::kMm;
constexpr double kShortestM = 2.0 * sim::kMm;     // of the shaft under the skin for a cut to be worth showing
constexpr double kFlipCos = -0.25;                // the box changes side only when clearly seen from behind
constexpr double kFloorScaleM = 10.0 * sim::kMm;  // one unit of layer coordinate below the floor

glm::vec3 millimetres(const Vec3& p_m) { return glm::vec3(p_m) * kMmPerM; }

/// The skin side is open: whether a point lies above the skin is for the layers to say.
bool inside(const std::optional<Block>& block, const Vec3& p_m) {
    constexpr double kSlackM = 1e-6;  // faces of the block itself lie on its bounds
    if (!block) return true;
    for (int k = 0; k < 3; ++k) {
        if (p_m[k] < block->low_m[k] - kSlackM) return false;
        if (k < 2 && p_m[k] > block->high_m[k] + kSlackM) return false;
    }
    return true;
}

/// A piece of a structure, mm.
struct Piece {
    glm::vec3 a{}, along{};
    float ra = 0.0f, rb = 0.0f, length2 = 0.0f, kind = 0.0f;
};

/// What of the structures comes near a face.
std::vector<Piece> pieces_near(const LayerFace& face, const sim::Anatomy& anatomy) {
    constexpr float kMarginMm = 8.0f;
    const glm::vec3 centre = face.origin_mm + 0.5f * (face.edge_u_mm + face.edge_v_mm);
    const float reach = 0.5f * glm::length(face.edge_u_mm + face.edge_v_mm) + kMarginMm;
    float bend = 0.0f;
    for (const float rise : face.rise_mm) bend = std::max(bend, std::fabs(rise));
    std::vector<Piece> pieces;
    for (const sim::Structure& structure : anatomy.structures())
        for (std::size_t i = 0; i + 1 < structure.line.size(); ++i) {
            const sim::StructureNode &from = structure.line[i], &to = structure.line[i + 1];
            const glm::vec3 a = millimetres(from.position_m), along = millimetres(to.position_m) - a;
            const glm::vec3 away = a + 0.5f * along - centre;
            const float half = 0.5f * glm::length(along), thick = static_cast<float>(from.radius_m) * kMmPerM;
            if (glm::length(away) > reach + half) continue;
            // what does not come through the face need not be asked at each of its points
            if (std::fabs(glm::dot(away, face.normal)) > half + thick + bend + 1.0f) continue;
            pieces.push_back({a, along, static_cast<float>(from.radius_m) * kMmPerM,
                              static_cast<float>(to.radius_m) * kMmPerM, std::max(1e-6f, glm::dot(along, along)),
                              static_cast<float>(structure.kind)});
        }
    return pieces;
}

/// Distance to the nearest wall in mm, negative inside, and what it is.
glm::vec2 nearest_piece(const std::vector<Piece>& pieces, const glm::vec3& p_mm) {
    glm::vec2 best(99.0f, 0.0f);
    for (const Piece& piece : pieces) {
        const float t = glm::clamp(glm::dot(p_mm - piece.a, piece.along) / piece.length2, 0.0f, 1.0f);
        const float away = glm::length(p_mm - piece.a - t * piece.along) - glm::mix(piece.ra, piece.rb, t);
        if (away < best.x) best = {away, piece.kind};
    }
    return best;
}

int samples_along(const glm::vec3& edge_mm, double cell_m) {
    return 1 + static_cast<int>(std::ceil(static_cast<double>(glm::length(edge_mm)) / (cell_m * 1000.0)));
}

/// How far a shaft lies towards the viewer from the chord, at even stations along a box around it.
std::array<float, kCutStations> bend_of(std::span<const Vec3> shaft_m, const Vec3& along, const Vec3& wall,
                                        double box_length_m) {
    std::array<float, kCutStations> bend{};
    std::size_t next = 1;
    for (std::size_t k = 0; k < kCutStations; ++k) {
        const double x = -kBehindM + box_length_m * static_cast<double>(k) / (kCutStations - 1);
        const auto at = [&](std::size_t i) { return glm::dot(shaft_m[i] - shaft_m.front(), along); };
        while (next + 1 < shaft_m.size() && at(next) < x) ++next;
        const double x0 = at(next - 1), x1 = at(next);
        const double t = x1 > x0 ? std::clamp((x - x0) / (x1 - x0), 0.0, 1.0) : 1.0;
        const Vec3 p_m = glm::mix(shaft_m[next - 1], shaft_m[next], t);
        bend[k] = static_cast<float>(glm::dot(p_m - shaft_m.front(), wall)) * kMmPerM;
    }
    return bend;
}

float between_stations(const std::array<float, kCutStations>& bend, float share) {
    const float at = glm::clamp(share, 0.0f, 1.0f) * static_cast<float>(kCutStations - 1);
    const auto first = std::min(static_cast<std::size_t>(at), kCutStations - 2);
    return glm::mix(bend[first], bend[first + 1], at - static_cast<float>(first));
}

float furthest_apart(const std::array<float, kCutStations>& a, const std::array<float, kCutStations>& b) {
    float most = 0.0f;
    for (std::size_t k = 0; k < kCutStations; ++k) most = std::max(most, std::fabs(a[k] - b[k]));
    return most;
}

LayerFace parallelogram(const Vec3& origin_m, const Vec3& u_m, const Vec3& v_m, const Vec3& normal) {
    LayerFace face;
    face.origin_mm = millimetres(origin_m);
    face.edge_u_mm = millimetres(u_m);
    face.edge_v_mm = millimetres(v_m);
    face.normal = glm::vec3(normal);
    return face;
}

}  // namespace

float layer_coordinate(const sim::LayerPoint& at) {
    if (at.depth_m < 0.0) return static_cast<float>(at.depth_m / std::max(1e-4, at.bottom_of(sim::Layer::skin)));
    double top_m = 0.0;
    for (int k = 0; k < sim::kTissueLayers; ++k) {
        const double bottom_m = at.bottom_m[static_cast<std::size_t>(k)];
        if (at.depth_m < bottom_m) return static_cast<float>(k + (at.depth_m - top_m) / (bottom_m - top_m));
        top_m = bottom_m;
    }
    return static_cast<float>(sim::kTissueLayers + std::min(3.0, (at.depth_m - top_m) / kFloorScaleM));
}

void sample_layers(LayerFace& face, const sim::Anatomy& anatomy, double cell_m, const std::optional<Block>& block) {
    face.columns = samples_along(face.edge_u_mm, cell_m);
    face.rows = samples_along(face.edge_v_mm, cell_m);
    SIM_ASSERT(face.rise_mm.empty() || face.rise_mm.size() == static_cast<std::size_t>(face.columns));
    face.layer.resize(static_cast<std::size_t>(face.columns) * static_cast<std::size_t>(face.rows));
    const std::vector<Piece> pieces = pieces_near(face, anatomy);
    std::size_t at = 0;
    for (int row = 0; row < face.rows; ++row)
        for (int column = 0; column < face.columns; ++column, ++at) {
            const float u = static_cast<float>(column) / static_cast<float>(face.columns - 1);
            const float v = static_cast<float>(row) / static_cast<float>(face.rows - 1);
            glm::vec3 p_mm = face.origin_mm + u * face.edge_u_mm + v * face.edge_v_mm;
            if (!face.rise_mm.empty()) p_mm += face.normal * face.rise_mm[static_cast<std::size_t>(column)];
            const Vec3 p_m = Vec3(p_mm) / 1000.0;
            const glm::vec2 nearest = nearest_piece(pieces, p_mm);
            const sim::LayerPoint point = anatomy.layers_at(p_m);
            const float coordinate = inside(block, p_m) ? layer_coordinate(point) : -1.0f;
            face.layer[at] = {coordinate, 0.5f * static_cast<float>(point.floor), nearest.x, nearest.y};
        }
}

Cutaway::Cutaway(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block)
    : anatomy_(std::move(anatomy)), block_(block) {}

void Cutaway::close() {
    shown_.reset();
    box_.reset();
    faces_.reset();
    labels_.clear();
    side_sign_ = 0.0;
}

std::optional<Cutaway::Frame> Cutaway::frame_of(std::span<const Vec3> shaft_m, const Vec3& eye_m) {
    if (shaft_m.size() < 2) return std::nullopt;
    Frame frame;
    frame.entry_m = shaft_m.front();
    const Vec3 chord = shaft_m.back() - shaft_m.front();
    frame.length_m = std::ceil(glm::length(chord) / kStepM) * kStepM;
    if (!(glm::length(chord) > kShortestM)) return std::nullopt;
    frame.along = glm::normalize(chord);
    const Vec3 middle_m = shaft_m.front() + 0.5 * chord;
    Vec3 normal = anatomy_->nearest_skin(middle_m).normal;
    normal -= frame.along * glm::dot(normal, frame.along);
    if (!(glm::length(normal) > 0.2)) return std::nullopt;  // straight in: there is no wall to lay the shaft on
    normal = glm::normalize(normal);
    const Vec3 side = glm::cross(normal, frame.along);
    const double seen = glm::dot(glm::normalize(eye_m - middle_m), side);
    if (side_sign_ == 0.0 || seen * side_sign_ < kFlipCos) side_sign_ = seen < 0.0 ? -1.0 : 1.0;
    frame.wall = std::cos(kLeanRad) * side_sign_ * side + std::sin(kLeanRad) * normal;
    frame.out = std::cos(kLeanRad) * normal - std::sin(kLeanRad) * side_sign_ * side;
    frame.bend_mm = bend_of(shaft_m, frame.along, frame.wall, kBehindM + frame.length_m + kAheadM);
    return frame;
}

void Cutaway::follow(std::span<const Vec3> shaft_m, double shaft_radius_m, const Vec3& eye_m) {
    const std::optional<Frame> frame = frame_of(shaft_m, eye_m);
    if (!frame) {
        close();
        return;
    }
    const bool same = shown_ && shown_->length_m == frame->length_m &&
                      glm::length(shown_->entry_m - frame->entry_m) < 0.2 * sim::kMm &&
                      glm::dot(shown_->along, frame->along) > kTurnCos &&
                      glm::dot(shown_->wall, frame->wall) > kTurnCos &&
                      furthest_apart(shown_->bend_mm, frame->bend_mm) < kBendSlackMm;
    if (same) return;
    shown_ = frame;
    rebuild(*frame, shaft_radius_m);
}

void Cutaway::rebuild(const Frame& frame, double shaft_radius_m) {
    const double length_m = kBehindM + frame.length_m + kAheadM;
    // the wall stands a little behind the shaft, so that the whole shaft is seen lying on it
    const Vec3 corner = frame.entry_m - frame.along * kBehindM - frame.wall * shaft_radius_m;
    // a slab's box stops in its floor: measured down the leaning wall, the near edge of the box's floor lying highest
    const double deep_m =
        block_ ? std::min(kDeepM, (block_->high_m.z - block_->low_m.z - kBlockMarginM) / std::cos(kLeanRad)) : kDeepM;
    const Vec3 low = corner - frame.out * deep_m;
    const double height_m = deep_m + kAboveM, width_m = 2.0 * kHalfWidthM;

    CutBox box;
    box.axes = glm::mat3(glm::vec3(frame.along), glm::vec3(frame.out), glm::vec3(frame.wall));
    box.half_mm = millimetres(0.5 * Vec3(length_m, height_m, width_m));
    box.centre_mm = millimetres(low + 0.5 * (frame.along * length_m + frame.out * height_m + frame.wall * width_m));
    box.bend = frame.bend_mm;
    box_ = box;

    const Vec3 u = frame.along * length_m, v = frame.out * height_m, w = frame.wall * width_m;
    auto faces = std::make_shared<std::vector<LayerFace>>();
    const Vec3 low_shift = frame.wall * (static_cast<double>(frame.bend_mm.front()) / 1000.0),
               high_shift = frame.wall * (static_cast<double>(frame.bend_mm.back()) / 1000.0);
    faces->push_back(parallelogram(low, u, v, frame.wall));
    faces->push_back(parallelogram(low + low_shift, w, v, frame.along));
    faces->push_back(parallelogram(low + u + high_shift, w, v, -frame.along));
    faces->push_back(parallelogram(low, u, w, frame.out));
    faces->push_back(parallelogram(low + w, u, v, -frame.wall));
    for (std::size_t i = 0; i < faces->size(); ++i) {
        LayerFace& face = (*faces)[i];
        const double cell_m = i == 0 ? kWallCellM : kSideCellM;
        if (i == 0 || i == 4) {  // the far and the near wall
            const int columns = samples_along(face.edge_u_mm, cell_m);
            for (int column = 0; column < columns; ++column)
                face.rise_mm.push_back(
                    (i == 0 ? 1.0f : -1.0f) *
                    between_stations(frame.bend_mm, static_cast<float>(column) / static_cast<float>(columns - 1)));
        }
        sample_layers(face, *anatomy_, cell_m, block_);
    }
    name_layers(faces->front());
    faces_ = std::move(faces);
}

/// At the deep end of the wall, one name in the middle of each layer that is thick enough to be pointed at.
void Cutaway::name_layers(const LayerFace& wall) {
    constexpr float kThickEnoughMm = 0.5f, kFromEndMm = 4.0f;
    labels_.clear();
    const float row_mm = glm::length(wall.edge_v_mm) / static_cast<float>(wall.rows - 1);
    const float end = 1.0f - kFromEndMm / glm::length(wall.edge_u_mm);
    const int column = static_cast<int>(end * static_cast<float>(wall.columns - 1));
    for (std::size_t layer = 0; layer < sim::kTissueLayers; ++layer) {
        int first = -1, last = -1;
        for (int row = 0; row < wall.rows; ++row) {
            const float c = wall.layer[static_cast<std::size_t>(row * wall.columns + column)].x;
            if (c < static_cast<float>(layer) || c >= static_cast<float>(layer + 1)) continue;
            first = first < 0 ? row : first;
            last = row;
        }
        if (first < 0 || static_cast<float>(last - first + 1) * row_mm < kThickEnoughMm) continue;
        const float v = 0.5f * static_cast<float>(first + last) / static_cast<float>(wall.rows - 1);
        const glm::vec3 at = wall.origin_mm + end * wall.edge_u_mm + v * wall.edge_v_mm +
                             wall.normal * wall.rise_mm[static_cast<std::size_t>(column)];
        labels_.push_back(
            {std::string(name_of(static_cast<sim::Layer>(layer + 1))), at, glm::normalize(wall.edge_u_mm)});
    }
}

}  // namespace view
