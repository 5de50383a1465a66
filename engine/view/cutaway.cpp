#include "engine/view/cutaway.hpp"

#include <algorithm>
#include <cmath>

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr double kLeanRad = 30.0 * sim::kPi / 180.0;  // of the far wall towards the viewer: upright it is seen edge on
constexpr double kHalfWidthM = 8.5 * sim::kMm;
constexpr double kDeepM = 34.0 * sim::kMm;
constexpr double kBlockMarginM = 2.0 * sim::kMm;  // of a slab's lowest part that the box leaves standing
constexpr double kAboveM = 16.0 * sim::kMm;       // a cheek bulges this far above a chord
constexpr double kBehindM = 4.0 * sim::kMm, kAheadM = 8.0 * sim::kMm;  // of entry and tip
constexpr double kStepM = 2.0 * sim::kMm;  // the box grows in steps, so that layers are not sampled each frame
constexpr double kTurnCos = 0.99995;       // half a degree: less does not move the box
constexpr double kWallCellM = 0.40 * sim::kMm, kSideCellM = 0.6 * sim::kMm;
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
    const auto samples = [cell_m](const glm::vec3& edge_mm) {
        return 1 + static_cast<int>(std::ceil(static_cast<double>(glm::length(edge_mm)) / (cell_m * 1000.0)));
    };
    face.columns = samples(face.edge_u_mm);
    face.rows = samples(face.edge_v_mm);
    face.layer.resize(static_cast<std::size_t>(face.columns) * static_cast<std::size_t>(face.rows));
    std::size_t at = 0;
    for (int row = 0; row < face.rows; ++row)
        for (int column = 0; column < face.columns; ++column, ++at) {
            const float u = static_cast<float>(column) / static_cast<float>(face.columns - 1);
            const float v = static_cast<float>(row) / static_cast<float>(face.rows - 1);
            const Vec3 p_m = Vec3(face.origin_mm + u * face.edge_u_mm + v * face.edge_v_mm) / 1000.0;
            const sim::LayerPoint point = anatomy.layers_at(p_m);
            const float coordinate = inside(block, p_m) ? layer_coordinate(point) : -1.0f;
            face.layer[at] = {coordinate, 0.5f * static_cast<float>(point.floor), 99.0f, 0.0f};
        }
}

Cutaway::Cutaway(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block)
    : anatomy_(std::move(anatomy)), block_(block) {}

void Cutaway::close() {
    shown_.reset();
    box_.reset();
    faces_.reset();
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
                      glm::dot(shown_->wall, frame->wall) > kTurnCos;
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
    box_ = box;

    const Vec3 u = frame.along * length_m, v = frame.out * height_m, w = frame.wall * width_m;
    auto faces = std::make_shared<std::vector<LayerFace>>();
    faces->push_back(parallelogram(low, u, v, frame.wall));
    faces->push_back(parallelogram(low, w, v, frame.along));
    faces->push_back(parallelogram(low + u, w, v, -frame.along));
    faces->push_back(parallelogram(low, u, w, frame.out));
    faces->push_back(parallelogram(low + w, u, v, -frame.wall));
    for (std::size_t i = 0; i < faces->size(); ++i)
        sample_layers((*faces)[i], *anatomy_, i == 0 ? kWallCellM : kSideCellM, block_);
    faces_ = std::move(faces);
}

}  // namespace view
