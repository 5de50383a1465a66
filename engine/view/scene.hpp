#pragma once

#include <array>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "engine/view/camera.hpp"
#include "engine/view/cutaway.hpp"
#include "engine/view/draw_list.hpp"
#include "engine/view/instrument_models.hpp"
#include "engine/view/layer_tops.hpp"
#include "engine/view/moved_patient.hpp"
#include "engine/view/skin_paint.hpp"
#include "engine/view/structure_kinds.hpp"
#include "engine/view/ultrasound_map.hpp"
#include "sim/model.hpp"
#include "sim/state.hpp"

/// From a model and a state to what is drawn. Reads both, changes neither.

namespace view {

struct SceneOptions {
    bool cutaway = true;
    bool structures = false;  ///< as solids seen through the skin; otherwise the cut shows where it goes through them
    StructureKinds kinds;
    bool marks = true;  ///< planned vectors as pen strokes
    /// Held by the other hand, as on the skin at rest; its fingers are then seen only when they do something.
    std::optional<ProbePose> probe;
    double probe_width_m = 0.0;
    /// Skin, superficial fat, SMAS, deep fat, muscle, floor: 1 whole .. 0 taken off. What lies under the skin is shown
    /// once set_layer_tops() has been called, and then without a cut.
    std::array<float, kShownLayers> opacity{1.0f, 1.0f, 1.0f, 1.0f, 1.0f, 1.0f};
};

/// What a head adds to a scene; a slab brings its own.
struct HeadLook {
    std::vector<std::shared_ptr<const Surface>> surfaces;  ///< skin and what the patient wears
    SkinTone tone;
    SkinImages images;
    std::shared_ptr<const ObjectMesh> hairs;  ///< lashes and brows
};

/// What a live tip does to the skin that is shown, on top of any posture.
struct LiveSkin {
    std::vector<std::shared_ptr<const VertexMoves>> parts;  ///< SceneParts: surfaces, then on_skin; null: nothing
    Vec3 entry_moved_m{};                                   ///< of the skin where the instrument goes in
    struct Along {
        double arc_m = 0.0;  ///< of the shaft, from the entry
        Vec3 place_m{};      ///< of its axis at rest
        Vec3 moved_m{};      ///< of the skin over it
    };
    std::vector<Along> along;   ///< rising in arc, from the entry to the tip; may be empty
    double closed_share = 1.0;  ///< of a lifted tip's closed-form tent that is still shown
};

class Scene {
 public:
    /// @param head        nothing for a slab
    /// @param instruments null: plain shapes
    explicit Scene(std::shared_ptr<const sim::Model> model, HeadLook head = {},
                   std::shared_ptr<const InstrumentModels> instruments = nullptr);

    /// @param left threads that lie in the tissue
    [[nodiscard]] DrawList draw(const sim::State& state, std::span<const sim::TrackRecord> left, const Camera& camera,
                                double aspect, const SceneOptions& options);

    /// Whole patient or block, as it is first seen, and the same close to the planned work.
    [[nodiscard]] CameraPose whole(double aspect) const;
    [[nodiscard]] CameraPose work(double aspect) const;

    /// Skin under a ray, if what is drawn is hit: as a point of the reference shape, whatever the posture.
    [[nodiscard]] std::optional<sim::SkinPoint> pick(const Ray& ray) const;

    [[nodiscard]] const sim::Model& model() const { return *model_; }
    /// Of the patient or the block: from where the tops of layers are worked out.
    [[nodiscard]] const std::vector<std::shared_ptr<const Surface>>& surfaces() const { return look_.surfaces; }
    void set_layer_tops(LayerTops tops) { tops_ = std::move(tops); }

    /// What goes along with the tissue, at rest: skin, what is worn, marks and hairs; structures.
    [[nodiscard]] SceneParts parts() const;
    /// Show the patient so much of the way from one posture to another; null: upright, the reference shape. A cut is
    /// sampled anew, so that a posture is changed while nothing is in the skin.
    void pose(std::shared_ptr<const PatientMoves> from, std::shared_ptr<const PatientMoves> to, float share);
    void set_live_skin(LiveSkin live);
    /// How far what lies here at rest is shown from there by posture and threads.
    [[nodiscard]] Vec3 moved_m(const Vec3& rest_m) const;
    /// A direction there as it is shown, gone round with a turn of the head.
    [[nodiscard]] Vec3 turned(const Vec3& rest_m, const Vec3& direction) const;
    /// Show what a visit has left on the skin by this moment; nothing is done where it looks as before.
    /// @param events of the attempt, rising in step
    void follow_visit(const sim::State& state, std::span<const sim::Event> events);
    void append_other_hand(ObjectMesh& mesh, const sim::State& state) const;

 private:
    [[nodiscard]] CameraPose facing() const;
    void follow_live();
    void paint_skin();
    [[nodiscard]] Vec3 shown_at(const Vec3& skin_m) const;
    void append_tails(ObjectMesh& mesh, const sim::State& state) const;
    [[nodiscard]] Tent closed_tent(const sim::State& state) const;
    void lift_cut(CutBox& box) const;
    [[nodiscard]] std::vector<Vec3> lifted_shaft(std::vector<Vec3> shaft_m, const sim::State& state) const;
    void mark_plan();
    void build_structures();
    void build_block();

    std::shared_ptr<const sim::Model> model_;
    HeadLook look_;
    std::shared_ptr<const InstrumentModels> instruments_;
    std::optional<Block> block_;
    std::shared_ptr<const std::vector<LayerFace>> block_sides_;
    std::shared_ptr<const ObjectMesh> marks_;
    /// One mesh for each Section, ligaments last; null where there is none.
    std::array<std::shared_ptr<const ObjectMesh>, 6> structures_;
    LayerTops tops_{};
    Cutaway cutaway_;

    [[nodiscard]] std::vector<Vec3> moved_shaft(std::vector<Vec3> shaft_m, const sim::State& state) const;

    std::shared_ptr<const PatientMoves> from_, to_;
    float share_ = 1.0f;
    std::shared_ptr<const MovedAnatomy> moved_;  ///< null in the reference shape and on the way
    SceneParts shown_;                           ///< parts() where posture and threads have brought them
    LiveSkin live_;
    std::vector<std::shared_ptr<const ObjectMesh>> live_on_skin_;  ///< shown_.on_skin with what live_ does to it

    // -- what a visit leaves on the skin
    SkinSigns signs_;
    OnSkin sign_marks_;
    std::optional<WipedAreas> areas_;                ///< made when the first is wiped
    std::shared_ptr<const Surface> clean_;           ///< shown skin without signs
    std::shared_ptr<const ObjectMesh> shown_signs_;  ///< sign_marks_ where the skin is shown
};

/// The part of a slab that is drawn: the planned work with room around it, and some floor.
[[nodiscard]] Block block_around(const sim::Scenario& scenario, const sim::Anatomy& anatomy);

}  // namespace view
