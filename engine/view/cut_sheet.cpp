#include "engine/view/cut_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <glm/common.hpp>

#include "sim/core/errors.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr double kHalfWidthM = 8.5 * sim::kMm;
constexpr double kDeepM = 34.0 * sim::kMm;
constexpr double kBlockMarginM = 2.0 * sim::kMm;  // of a slab's lowest part that the box leaves standing
constexpr double kAboveM = 16.0 * sim::kMm;       // a cheek bulges this far above a chord
constexpr double kWallColumnM = 0.6 * sim::kMm, kSideColumnM = 1.0 * sim::kMm, kNearColumnM = 1.5 * sim::kMm;
constexpr double kWallRowM = 0.55 * sim::kMm, kSideRowM = 1.1 * sim::kMm;
// the ends are looked at aslant, and the one ahead is asked anew as a whole whenever the tip has gone on
constexpr double kEndColumnM = 2.0 * kHalfWidthM / 12.0, kEndRowM = 1.6 * sim::kMm;
constexpr double kFloorScaleM = 10.0 * sim::kMm;  // one unit of layer coordinate below the floor
constexpr double kSamePlaceM = 1e-9;
constexpr float kFarMm = 4.0f;  // structures farther from a sample than this are not told

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
struct Capsule {
    glm::vec3 a{}, along{};
    float ra = 0.0f, rb = 0.0f, length2 = 0.0f, kind = 0.0f;
};

/// What of the structures may come nearer than kFarMm to a straight line of samples.
std::vector<Capsule> capsules_near(const sim::Anatomy& anatomy, const glm::vec3& from_mm, const glm::vec3& line_mm) {
    const float line2 = std::max(1e-6f, glm::dot(line_mm, line_mm));
    std::vector<Capsule> near;
    for (const sim::Structure& structure : anatomy.structures())
        for (std::size_t i = 0; i + 1 < structure.line.size(); ++i) {
            const sim::StructureNode &from = structure.line[i], &to = structure.line[i + 1];
            const glm::vec3 a = millimetres(from.position_m), along = millimetres(to.position_m) - a;
            const float ra = static_cast<float>(from.radius_m) * kMmPerM,
                        rb = static_cast<float>(to.radius_m) * kMmPerM;
            const glm::vec3 middle = a + 0.5f * along;
            const float t = glm::clamp(glm::dot(middle - from_mm, line_mm) / line2, 0.0f, 1.0f);
            const float reach = 0.5f * glm::length(along) + std::max(ra, rb) + kFarMm;
            const glm::vec3 away = middle - from_mm - t * line_mm;
            if (glm::dot(away, away) > reach * reach) continue;
            near.push_back(
                {a, along, ra, rb, std::max(1e-6f, glm::dot(along, along)), static_cast<float>(structure.kind)});
        }
    return near;
}

/// Distance to the nearest wall in mm, negative inside, and what it is.
glm::vec2 nearest_wall(const std::vector<Capsule>& capsules, const glm::vec3& p_mm) {
    glm::vec2 best(kFarMm, 0.0f);
    for (const Capsule& one : capsules) {
        const float t = glm::clamp(glm::dot(p_mm - one.a, one.along) / one.length2, 0.0f, 1.0f);
        const float away = glm::length(p_mm - one.a - t * one.along) - glm::mix(one.ra, one.rb, t);
        if (away < best.x) best = {away, one.kind};
    }
    return best;
}

/// A straight line of samples, both ends included.
void sample_line(const sim::Anatomy& anatomy, const std::optional<Block>& block, const Vec3& from_m, const Vec3& line_m,
                 std::span<glm::vec4> out) {
    const std::vector<Capsule> capsules = capsules_near(anatomy, millimetres(from_m), millimetres(line_m));
    for (std::size_t row = 0; row < out.size(); ++row) {
        const Vec3 p_m = from_m + line_m * (static_cast<double>(row) / static_cast<double>(out.size() - 1));
        const glm::vec2 nearest = nearest_wall(capsules, millimetres(p_m));
        const sim::LayerPoint point = anatomy.layers_at(p_m);
        const float coordinate = inside(block, p_m) ? layer_coordinate(point) : -1.0f;
        out[row] = {coordinate, 0.5f * static_cast<float>(point.floor), nearest.x, nearest.y};
    }
}

int samples_along(double length_m, double cell_m) { return 1 + static_cast<int>(std::ceil(length_m / cell_m)); }

std::size_t columns_along(double length_m, double cell_m) {
    return 1 + static_cast<std::size_t>(std::lround(length_m / cell_m));
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
    SIM_ASSERT(face.rise_mm.empty());
    const Vec3 origin_m = Vec3(face.origin_mm) / 1000.0, u_m = Vec3(face.edge_u_mm) / 1000.0,
               v_m = Vec3(face.edge_v_mm) / 1000.0;
    face.columns = samples_along(glm::length(u_m), cell_m);
    face.rows = samples_along(glm::length(v_m), cell_m);
    const auto rows = static_cast<std::size_t>(face.rows);
    face.layer.resize(static_cast<std::size_t>(face.columns) * rows);
    for (std::size_t column = 0; column < static_cast<std::size_t>(face.columns); ++column)
        sample_line(anatomy, block,
                    origin_m + u_m * (static_cast<double>(column) / static_cast<double>(face.columns - 1)), v_m,
                    std::span(face.layer).subspan(column * rows, rows));
}

bool CutSheet::Column::due() const { return stamp == 0 || std::fabs(asked_mm - wanted_mm) > kBendSlackMm; }

CutSheet::CutSheet(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block,
                   const CutFrame& frame, double wall_behind_m)
    : anatomy_(std::move(anatomy)), block_(block), frame_(frame) {
    // a slab's box stops in its floor: measured down the leaning wall, the near edge of the box's floor lying highest
    deep_m_ = block_ ? std::min(kDeepM, (block_->high_m.z - block_->low_m.z - kBlockMarginM) / std::cos(kCutLeanRad))
                     : kDeepM;
    corner_m_ = frame.entry_m - frame.along * kBehindM - frame.wall * wall_behind_m - frame.out * deep_m_;
    const Vec3 width_m = frame.wall * (2.0 * kHalfWidthM);
    faces_[0] = upright(corner_m_, frame.along * kWallColumnM, kWallRowM, frame.wall);
    faces_[1] = upright(corner_m_, frame.wall * kEndColumnM, kEndRowM, frame.along);
    faces_[2] = upright(corner_m_, frame.wall * kEndColumnM, kEndRowM, -frame.along);
    Face& floor = faces_[3];
    floor.origin_m = corner_m_;
    floor.step_m = frame.along * kSideColumnM;
    floor.column_m = width_m;
    floor.normal = frame.out;
    floor.rows = samples_along(glm::length(width_m), kSideRowM);
    faces_[4] = upright(corner_m_ + width_m, frame.along * kNearColumnM, kSideRowM, -frame.wall);
    faces_[0].bends = faces_[4].bends = true;
}

CutSheet::Face CutSheet::upright(const Vec3& origin_m, const Vec3& step_m, double cell_m, const Vec3& normal) const {
    Face face;
    face.origin_m = origin_m;
    face.step_m = step_m;
    face.column_m = frame_.out * (deep_m_ + kAboveM);
    face.normal = normal;
    face.rows = samples_along(glm::length(face.column_m), cell_m);
    return face;
}

void CutSheet::aim_columns(Face& face, std::size_t count, const std::function<float(std::size_t)>& shift_mm) {
    face.shown = count;
    if (face.columns.size() < count) {
        face.columns.resize(count);
        face.layer.resize(count * static_cast<std::size_t>(face.rows));
    }
    for (std::size_t column = 0; column < count; ++column) face.columns[column].wanted_mm = shift_mm(column);
}

void CutSheet::aim(double length_m, const std::function<float(double)>& bend_mm) {
    length_m_ = std::ceil(std::max(0.0, length_m) / kStepM - 1e-9) * kStepM;
    const double box_m = kBehindM + length_m_ + kAheadM;
    const auto bend_at = [&bend_mm](double cell_m) {
        return [&bend_mm, cell_m](std::size_t column) {
            return bend_mm(-kBehindM + cell_m * static_cast<double>(column));
        };
    };
    aim_columns(faces_[0], columns_along(box_m, kWallColumnM), bend_at(kWallColumnM));
    aim_columns(faces_[4], columns_along(box_m, kNearColumnM), bend_at(kNearColumnM));
    aim_columns(faces_[3], columns_along(box_m, kSideColumnM), [](std::size_t) { return 0.0f; });

    const std::size_t across = columns_along(2.0 * kHalfWidthM, kEndColumnM);
    const float first_mm = bend_mm(-kBehindM), last_mm = bend_mm(length_m_ + kAheadM);
    aim_columns(faces_[1], across, [first_mm](std::size_t) { return first_mm; });
    Face& ahead = faces_[2];
    const Vec3 end_m = corner_m_ + frame_.along * box_m;
    if (glm::length(ahead.origin_m - end_m) > kSamePlaceM) {
        // it moves with the tip: what was asked there ahead, as a whole, is all that can be kept
        const bool ready = glm::length(next_ahead_.origin_m - end_m) < kSamePlaceM && asked(next_ahead_);
        if (ready)
            std::swap(ahead, next_ahead_);
        else
            for (Column& column : ahead.columns) column.stamp = 0;
        ahead.origin_m = end_m;
    }
    aim_columns(ahead, across, [last_mm](std::size_t) { return last_mm; });
}

void CutSheet::sample_column(Face& face, std::size_t index) {
    Column& column = face.columns[index];
    const Vec3 from_m = face.origin_m + face.step_m * static_cast<double>(index) +
                        frame_.wall * (static_cast<double>(column.wanted_mm) * sim::kMm);
    const auto rows = static_cast<std::size_t>(face.rows);
    sample_line(*anatomy_, block_, from_m, face.column_m, std::span(face.layer).subspan(index * rows, rows));
    column.asked_mm = column.wanted_mm;
    column.stamp = ++stamps_;
}

std::size_t CutSheet::sample(std::size_t most) {
    std::size_t taken = 0;
    for (const bool never_asked : {true, false})
        for (Face& face : faces_) {
            // faces that shift as one are asked as one, or they would come apart; the floor does not shift
            const bool whole = !face.bends && &face != &faces_[3];
            for (std::size_t i = 0; i < face.shown; ++i) {
                if (!face.columns[i].due() || (face.columns[i].stamp == 0) != never_asked) continue;
                if (taken >= most && !(whole && i > 0)) return taken;
                sample_column(face, i);
                taken += static_cast<std::size_t>(face.rows);
            }
        }
    return taken;
}

std::size_t CutSheet::prepare_step(std::size_t most) {
    SIM_ASSERT(covered());
    const double box_m = kBehindM + length_m_ + kStepM + kAheadM;
    const Vec3 end_m = corner_m_ + frame_.along * box_m;
    if (glm::length(next_ahead_.origin_m - end_m) > kSamePlaceM) {
        next_ahead_ = faces_[2];
        next_ahead_.sheet = std::make_shared<int>(0);
        next_ahead_.origin_m = end_m;
        for (Column& column : next_ahead_.columns) column.stamp = 0;
    }
    std::size_t taken = 0;
    // columns of a face from the first to before the last, where they were never asked; they bend as the last that is
    // shown
    const auto ask = [&](Face& face, std::size_t first, std::size_t end) {
        if (face.columns.size() < end) {
            face.columns.resize(end);
            face.layer.resize(end * static_cast<std::size_t>(face.rows));
        }
        for (std::size_t i = first; i < end && taken < most; ++i) {
            if (face.columns[i].stamp > 0) continue;
            face.columns[i].wanted_mm = face.columns[face.shown - 1].wanted_mm;
            sample_column(face, i);
            taken += static_cast<std::size_t>(face.rows);
        }
    };
    ask(faces_[0], faces_[0].shown, columns_along(box_m, kWallColumnM));
    ask(faces_[4], faces_[4].shown, columns_along(box_m, kNearColumnM));
    ask(faces_[3], faces_[3].shown, columns_along(box_m, kSideColumnM));
    ask(next_ahead_, 0, next_ahead_.shown);
    return taken;
}

std::size_t CutSheet::missing() const {
    std::size_t count = 0;
    for (const Face& face : faces_)
        for (std::size_t i = 0; i < face.shown; ++i)
            if (face.columns[i].due()) count += static_cast<std::size_t>(face.rows);
    return count;
}

bool CutSheet::covered() const { return std::all_of(faces_.begin(), faces_.end(), asked); }

/// All of it that is aimed at.
bool CutSheet::asked(const Face& face) {
    return face.shown > 1 && std::all_of(face.columns.begin(), face.columns.begin() + std::ptrdiff_t(face.shown),
                                         [](const Column& column) { return column.stamp > 0; });
}

CutBox CutSheet::box() const {
    SIM_ASSERT(covered());
    const Vec3 size_m(kBehindM + length_m_ + kAheadM, deep_m_ + kAboveM, 2.0 * kHalfWidthM);
    CutBox box;
    box.axes = glm::mat3(glm::vec3(frame_.along), glm::vec3(frame_.out), glm::vec3(frame_.wall));
    box.half_mm = millimetres(0.5 * size_m);
    box.centre_mm =
        millimetres(corner_m_ + 0.5 * (frame_.along * size_m.x + frame_.out * size_m.y + frame_.wall * size_m.z));
    // as the wall stands, not as it is wanted: skin and wall meet
    const Face& wall = faces_[0];
    for (std::size_t k = 0; k < kCutStations; ++k) {
        const float at =
            static_cast<float>(k) / static_cast<float>(kCutStations - 1) * static_cast<float>(wall.shown - 1);
        const auto first = std::min(static_cast<std::size_t>(at), wall.shown - 2);
        box.bend[k] =
            glm::mix(wall.columns[first].asked_mm, wall.columns[first + 1].asked_mm, at - static_cast<float>(first));
    }
    return box;
}

LayerFace CutSheet::layer_face(const Face& face) const {
    LayerFace out;
    const float shift_mm = face.bends ? 0.0f : face.columns.front().asked_mm;
    out.origin_mm = millimetres(face.origin_m) + glm::vec3(frame_.wall) * shift_mm;
    out.edge_u_mm = millimetres(face.step_m) * static_cast<float>(face.shown - 1);
    out.edge_v_mm = millimetres(face.column_m);
    out.normal = glm::vec3(face.normal);
    out.columns = static_cast<int>(face.shown);
    out.rows = face.rows;
    out.sheet = face.sheet;
    const auto sign = static_cast<float>(glm::dot(face.normal, frame_.wall));
    for (std::size_t i = 0; i < face.shown; ++i) {
        out.stamps.push_back(face.columns[i].stamp);
        if (face.bends) out.rise_mm.push_back(sign * face.columns[i].asked_mm);
    }
    const auto samples = static_cast<std::ptrdiff_t>(face.shown) * face.rows;
    out.layer.assign(face.layer.begin(), face.layer.begin() + samples);
    return out;
}

std::vector<LayerFace> CutSheet::faces() const {
    SIM_ASSERT(covered());
    std::vector<LayerFace> out;
    for (const Face& face : faces_) out.push_back(layer_face(face));
    return out;
}

}  // namespace view
