#pragma once

#include <array>
#include <memory>
#include <vector>

#include "engine/view/draw_list.hpp"
#include "engine/view/skin_signs.hpp"
#include "sim/anatomy/anatomy.hpp"

/// Puts what skin_signs() found on the surfaces that are drawn. Colour and swelling go to the vertices, so that they
/// cost nothing where nothing is; marks, rings and drops are small meshes that lie on the skin.

namespace view {

/// Of each vertex of the skin how much of it belongs to the areas that are wiped: worked out once for a patient.
class WipedAreas {
 public:
    /// @param rest the skin in the reference shape
    WipedAreas(const Surface& rest, const sim::Anatomy& anatomy);
    [[nodiscard]] float share(sim::SkinArea area, std::size_t vertex) const {
        return share_[static_cast<std::size_t>(area)][vertex];
    }

 private:
    std::array<std::vector<float>, sim::kSkinAreas> share_;
};

/// The skin with colours and blebs.
/// @param rest   the same in the reference shape, whose vertices say where signs lie
/// @param shown  as posture and threads have it
/// @param areas  null: nothing is wiped
[[nodiscard]] std::shared_ptr<const Surface> painted(const std::shared_ptr<const Surface>& rest,
                                                     const std::shared_ptr<const Surface>& shown,
                                                     const SkinSigns& signs, const WipedAreas* areas);

/// Marks, rings and drops, and the vertex of the skin that each of their vertices goes along with.
struct OnSkin {
    std::shared_ptr<const ObjectMesh> mesh;  ///< in the reference shape; null: there are none
    std::vector<std::uint32_t> along;
};
[[nodiscard]] OnSkin on_skin_of(const SkinSigns& signs, const Surface& rest, const sim::Anatomy& anatomy);

/// The same where the skin is shown, without its blebs. @param live may be null
[[nodiscard]] std::shared_ptr<const ObjectMesh> carried(const OnSkin& signs, const Surface& rest, const Surface& shown,
                                                        const VertexMoves* live);

/// What lies on the skin stands as high as the blebs under it. @param rest the same mesh in the reference shape
[[nodiscard]] std::shared_ptr<const ObjectMesh> on_blebs(const std::shared_ptr<const ObjectMesh>& mesh,
                                                         const ObjectMesh& rest, const SkinSigns& signs);

}  // namespace view
