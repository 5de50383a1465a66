#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "engine/app/input.hpp"
#include "engine/app/job.hpp"
#include "engine/app/settings.hpp"
#include "engine/view/portrait.hpp"
#include "sim/anatomy/parameters.hpp"

/// The patient of a case that is being written, built anew whenever what makes it has changed.

namespace app {

class AuthoringHead {
 public:
    AuthoringHead();

    /// Who is to be shown; nothing where there is no head.
    void show(const std::optional<sim::HeadParameters>& patient);
    /// @return the picture changed
    bool advance(double elapsed_s);
    [[nodiscard]] bool there() const { return look_ != nullptr; }
    [[nodiscard]] bool busy() const { return building_ || (wanted_ && wanted_ != shown_); }

    [[nodiscard]] view::DrawList draw_list(double aspect) const;
    void move(const Input& input, const Rect& picture, const Settings& settings, bool left_orbits);
    void look_at_side(bool left);

    /// The skin under a place of the picture.
    [[nodiscard]] std::optional<view::SkinSpot> under(Point at, const Rect& picture) const;
    /// A way on the skin between two places of the head.
    [[nodiscard]] std::vector<view::SkinSpot> way(const sim::Vec3& from_m, const sim::Vec3& to_m) const;
    /// Where a place of the skin is seen; nothing when it lies on the far side.
    [[nodiscard]] std::optional<Point> seen(const view::SkinSpot& spot, const Rect& picture) const;

 private:
    std::optional<sim::HeadParameters> wanted_, shown_, being_built_;
    std::shared_ptr<const view::HeadLook> look_;
    std::unique_ptr<Job<std::shared_ptr<const view::HeadLook>>> building_;
    view::Camera camera_;
    double steady_s_ = 0.0;  ///< for so long nothing was changed
};

}  // namespace app
