#include "engine/view/cutaway.hpp"

#include <algorithm>
#include <cmath>
#include <glm/common.hpp>

#include "sim/core/errors.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr double kShortestM = 2.0 * sim::kMm;  // of the shaft under the skin for a cut to be worth showing
constexpr double kFlipCos = -0.25;             // the box changes side only when clearly seen from behind
// a sheet is left for another one when the shaft has turned from it by so much, or the entry has gone so far; along the
// sheet's own plane a turn changes less
constexpr double kTurnRad = 0.035, kTurnAlongRad = 0.07, kShiftM = 1.0 * sim::kMm;
// another place altogether: nothing of the old one is worth showing meanwhile
constexpr double kElsewhereRad = 0.5, kElsewhereM = 5.0 * sim::kMm;

double angle_between(const Vec3& a, const Vec3& b) { return std::acos(std::clamp(glm::dot(a, b), -1.0, 1.0)); }

bool elsewhere(const CutFrame& a, const CutFrame& b) {
    return glm::length(a.entry_m - b.entry_m) > kElsewhereM || angle_between(a.along, b.along) > kElsewhereRad;
}

bool turned(const CutFrame& a, const CutFrame& b) {
    return glm::length(a.entry_m - b.entry_m) > kShiftM || angle_between(a.wall, b.wall) > kTurnRad ||
           angle_between(a.along, b.along) > kTurnAlongRad;
}

/// Where a sheet in this frame ought to be for a shaft.
void aim(CutSheet& sheet, std::span<const Vec3> shaft_m) {
    const CutFrame& frame = sheet.frame();
    std::vector<double> along_m;
    for (const Vec3& p_m : shaft_m) along_m.push_back(glm::dot(p_m - frame.entry_m, frame.along));
    std::size_t next = 1;
    const auto bend_mm = [&](double x_m) {
        // places come in rising order but for the first of each face
        if (x_m < along_m[next - 1]) next = 1;
        while (next + 1 < along_m.size() && along_m[next] < x_m) ++next;
        const double x0 = along_m[next - 1], x1 = along_m[next];
        const double t = x1 > x0 ? std::clamp((x_m - x0) / (x1 - x0), 0.0, 1.0) : 1.0;
        const Vec3 p_m = glm::mix(shaft_m[next - 1], shaft_m[next], t);
        return static_cast<float>(glm::dot(p_m - frame.entry_m, frame.wall)) * kMmPerM;
    };
    sheet.aim(along_m.back(), bend_mm);
}

}  // namespace

Cutaway::Cutaway(std::shared_ptr<const sim::Anatomy> anatomy, const std::optional<Block>& block)
    : anatomy_(std::move(anatomy)), block_(block) {}

void Cutaway::close() {
    shown_.reset();
    coming_.reset();
    sampled_ = 0;
    box_.reset();
    faces_.reset();
    labels_.clear();
    side_sign_ = 0.0;
}

bool Cutaway::unsettled() const { return coming_ || (shown_ && shown_->missing() > 0); }

std::optional<CutFrame> Cutaway::frame_of(std::span<const Vec3> shaft_m, const Vec3& eye_m) {
    if (shaft_m.size() < 2) return std::nullopt;
    CutFrame frame;
    frame.entry_m = shaft_m.front();
    const Vec3 chord = shaft_m.back() - shaft_m.front();
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
    frame.wall = std::cos(kCutLeanRad) * side_sign_ * side + std::sin(kCutLeanRad) * normal;
    frame.out = std::cos(kCutLeanRad) * normal - std::sin(kCutLeanRad) * side_sign_ * side;
    return frame;
}

/// A sheet to show, and another one under way when the shaft has turned away from it.
void Cutaway::choose_sheet(const CutFrame& wanted, std::span<const Vec3> shaft_m, double shaft_radius_m) {
    if (!shown_ || elsewhere(shown_->frame(), wanted)) {
        // the wall stands a little behind the shaft, so that the whole shaft is seen lying on it
        shown_.emplace(anatomy_, block_, wanted, shaft_radius_m);
        coming_.reset();
    } else if (!turned(shown_->frame(), wanted)) {
        coming_.reset();
    } else if (!coming_ || elsewhere(coming_->frame(), wanted)) {
        coming_.emplace(anatomy_, block_, wanted, shaft_radius_m);
    }
    aim(*shown_, shaft_m);
    if (!coming_) return;
    aim(*coming_, shaft_m);
    sampled_ += coming_->sample(kSamplesAPicture);
    if (!coming_->covered()) return;
    shown_ = std::move(coming_);
    coming_.reset();
}

void Cutaway::follow(std::span<const Vec3> shaft_m, double shaft_radius_m, const Vec3& eye_m) {
    sampled_ = 0;
    const std::optional<CutFrame> wanted = frame_of(shaft_m, eye_m);
    if (!wanted) {
        close();
        return;
    }
    const void* const before = faces_ ? faces_->front().sheet.get() : nullptr;
    const double length_before_m = shown_ ? shown_->length_m() : 0.0;
    choose_sheet(*wanted, shaft_m, shaft_radius_m);
    const std::size_t before_these = sampled_;
    // what the box newly opens cannot wait; the rest takes what is left of the picture's share
    while (!shown_->covered()) sampled_ += shown_->sample(kSamplesAPicture);
    if (sampled_ < kSamplesAPicture) sampled_ += shown_->sample(kSamplesAPicture - sampled_);
    if (!faces_ || sampled_ > before_these || shown_->length_m() != length_before_m || before != shown_->sheet())
        publish();
    // then the shaft's next way, a little in each picture
    if (sampled_ < kSamplesAPicture && shown_->missing() == 0) sampled_ += shown_->prepare_step(kAheadAPicture);
}

void Cutaway::publish() {
    box_ = shown_->box();
    auto faces = std::make_shared<std::vector<LayerFace>>(shown_->faces());
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
            const float c = wall.layer[static_cast<std::size_t>(column * wall.rows + row)].x;
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
