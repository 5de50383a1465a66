#include "engine/app/authoring_head.hpp"

#include "engine/app/camera_hands.hpp"
#include "engine/session/prepare.hpp"
#include "engine/view/head_look.hpp"

namespace app {

namespace {

constexpr double kSteadyS = 0.25;  // a figure that is still being typed or drawn along builds no head
constexpr double kAzimuthRad = 45.0 * sim::kPi / 180.0, kDistanceM = 0.72;

double aspect_of(const Rect& picture) { return static_cast<double>(picture.w) / static_cast<double>(picture.h); }

}  // namespace

AuthoringHead::AuthoringHead() : camera_(view::portrait_pose(kAzimuthRad, kDistanceM)) {}

void AuthoringHead::show(const std::optional<sim::HeadParameters>& patient) {
    if (wanted_ == patient) return;
    wanted_ = patient;
    steady_s_ = 0.0;
    if (!patient) {
        look_.reset();
        shown_.reset();
    }
}

bool AuthoringHead::advance(double elapsed_s) {
    bool changed = camera_.tick(elapsed_s);
    steady_s_ += elapsed_s;
    if (building_ && building_->done()) {
        auto done = std::exchange(building_, nullptr)->take();
        if (wanted_) {
            look_ = std::move(done);
            shown_ = being_built_;
            changed = true;
        }
    }
    if (!building_ && wanted_ && wanted_ != shown_ && (steady_s_ >= kSteadyS || !look_)) {
        being_built_ = wanted_;
        building_ =
            std::make_unique<Job<std::shared_ptr<const view::HeadLook>>>([patient = *wanted_](const auto& tell) {
                return std::make_shared<const view::HeadLook>(view::build_head_look(
                    patient, session::two_threads(), [&tell](double fraction) { tell(fraction, "skin"); }));
            });
    }
    return changed;
}

view::DrawList AuthoringHead::draw_list(double aspect) const { return view::portrait(*look_, camera_, aspect); }

void AuthoringHead::move(const Input& input, const Rect& picture, const Settings& settings, bool left_orbits) {
    move_camera(camera_, input, picture, settings, left_orbits);
}

void AuthoringHead::look_at_side(bool left) {
    view::CameraPose pose = camera_.pose();
    if ((pose.azimuth_rad > 0.0) == left) return;
    pose.azimuth_rad = left ? kAzimuthRad : -kAzimuthRad;
    camera_.glide_to(pose);
}

std::optional<view::SkinSpot> AuthoringHead::under(Point at, const Rect& picture) const {
    if (!look_ || !picture.holds(at)) return std::nullopt;
    const double x = 2.0 * static_cast<double>((at.x - picture.x) / picture.w) - 1.0;
    const double y = 1.0 - 2.0 * static_cast<double>((at.y - picture.y) / picture.h);
    return view::skin_hit(*look_, camera_.ray(x, y, aspect_of(picture)));
}

std::vector<view::SkinSpot> AuthoringHead::way(const sim::Vec3& from_m, const sim::Vec3& to_m) const {
    return look_ ? view::way_on_skin(*look_, from_m, to_m) : std::vector<view::SkinSpot>();
}

std::optional<Point> AuthoringHead::seen(const view::SkinSpot& spot, const Rect& picture) const {
    if (glm::dot(spot.normal, camera_.eye_m() - spot.position_m) <= 0.0) return std::nullopt;
    const auto at = camera_.project(spot.position_m, aspect_of(picture));
    if (!at || std::fabs(at->x) > 1.0 || std::fabs(at->y) > 1.0) return std::nullopt;
    return Point{picture.x + 0.5f * static_cast<float>(at->x + 1.0) * picture.w,
                 picture.y + 0.5f * static_cast<float>(1.0 - at->y) * picture.h};
}

}  // namespace app
