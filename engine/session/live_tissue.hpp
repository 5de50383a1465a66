#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include <glm/vec3.hpp>

#include "sim/core/parallel.hpp"
#include "sim/model.hpp"
#include "sim/request.hpp"

/// The finite-element tissue of a patient while somebody practises: built in the background, then asked how it settles.
///
/// How a patient settles in a posture is for the eye: it moves what is drawn and feeds no step and no score. Threads in
/// the tissue are asked about by steps, which wait for it.

namespace sim {
class Head;
struct State;
}  // namespace sim
namespace sim::fe {
class MovedBody;
class TetheredBody;
struct FollowWeights;
struct HexMesh;
struct TipBlock;
struct TipDetail;
struct TipNode;
struct TissueParameters;
}  // namespace sim::fe

namespace session {

/// How the patient is placed. Angles of the trunk and head together, from upright.
enum class Posture : std::uint8_t { upright, reclined, lying };
inline constexpr int kPostures = 3;
[[nodiscard]] std::string_view name_of(Posture posture);  ///< "upright", "reclined 40°", "lying"

/// How a patient is placed for treatment: laid back, and the head turned.
struct Position {
    Posture posture = Posture::upright;
    int turn_degrees = 0;  ///< of the head on the trunk, > 0 to the patient's left, within kMostTurnDegrees

    Position(Posture laid = Posture::upright, int turned_degrees = 0) : posture(laid), turn_degrees(turned_degrees) {}
    [[nodiscard]] bool at_rest() const { return *this == Position{}; }
    [[nodiscard]] double turn_rad() const { return turn_degrees * sim::kPi / 180.0; }
    friend bool operator==(const Position&, const Position&) = default;
};
inline constexpr int kMostTurnDegrees = 45, kTurnStepDegrees = 15;
/// Change of gravity against upright, in the head's frame.
[[nodiscard]] sim::Vec3 gravity_change_m_per_s2(const Position& position);

/// What a build tells beside its progress.
struct TissueNotes {
    bool from_cache = false;
    std::string cache;  ///< why the cache could not be used or written, empty when all is well
};

/// Makes the body. Called once, on the background thread; what it throws becomes words on the screen.
using TissueBuilder =
    std::function<std::unique_ptr<sim::fe::TetheredBody>(const sim::Progress& progress, TissueNotes& notes)>;

/// For the head of a model; null for the slab, which has no posture.
/// @param patient_hash of the patient's file: with build and processor the key of what is kept
[[nodiscard]] TissueBuilder tissue_builder(const std::shared_ptr<const sim::Model>& model,
                                           const std::string& patient_hash, bool use_cache = true);

/// The set of parameters that a patient's laxity chooses.
[[nodiscard]] sim::fe::TissueParameters tissue_parameters(const sim::Head& head);

struct TissueStatus {
    enum class Stage : std::uint8_t { building, ready, failed, cancelled };
    Stage stage = Stage::building;
    double fraction = 0.0;     ///< of the build
    std::string what;          ///< it does now
    std::string trouble;       ///< why it failed
    std::string about_tip;     ///< why the skin does not follow the tip, empty when it does
    std::string about_detail;  ///< why it follows on the mesh's own cells only, empty while it need not
    std::string about_turn;    ///< why the head cannot be turned, empty when it can
    double turn_share = 0.0;   ///< of what a turn of the head needs, solved after the rest is ready: 1 when it is there
    /// Of what was settled last. Small strains first; where they move the skin, the final shape when nobody asks
    /// anything for a while. At rest: there is nothing to look for.
    enum class Shape : std::uint8_t { at_rest, linear, refining, final, no_final };
    Shape shape = Shape::at_rest;
    TissueNotes notes;
    double ready_s = 0.0;  ///< from the start to ready
};

[[nodiscard]] std::string_view name_of(TissueStatus::Shape shape);  ///< "refining"

/// Further than this from the skin nothing goes along with it: nose and ears do.
inline constexpr double kSkinFarM = 25.0 * sim::kMm;

/// Places that go along with the tissue, in the reference shape.
struct Followers {
    struct OnSkin {
        std::vector<sim::Vec3> place_m;
        double far_m = 0.0;       ///< further than this from the skin they let go
        bool with_trunk = false;  ///< lies on the couch: no skin takes it along, and it turns with the trunk
    };
    std::vector<OnSkin> on_skin;                 ///< by fixed weights of the mesh's skin
    std::vector<std::vector<sim::Vec3>> inside;  ///< by where they lie among the layers
    std::vector<sim::Vec3> marks_m;              ///< on the skin: told how far they shift
};

/// A patient settled in a posture, with the threads that are in the tissue.
struct SettledPosture {
    Position position;
    std::shared_ptr<const sim::fe::MovedBody> body;
    std::vector<std::vector<glm::vec3>> on_skin_mm, inside_mm;  ///< displacements, in the order of Followers
    std::vector<sim::Vec3> marks_shift_m;                       ///< of the skin over the deep fascia beneath
    bool final_shape = false;                                   ///< or small strains
    int iterations = 0, taut_strings = 0;
};

/// What threads and the fingers on them did to the tissue at a moment of an attempt, from its record.
struct RecordedForces {
    struct At {
        sim::Vec3 place_m{};  ///< in the reference shape
        sim::Vec3 force_n{};
        friend bool operator==(const At&, const At&) = default;
    };
    std::vector<At> barbs;
    std::vector<At> fingers;  ///< on the skin over their places
    [[nodiscard]] bool none() const { return barbs.empty() && fingers.empty(); }
    friend bool operator==(const RecordedForces&, const RecordedForces&) = default;
};
[[nodiscard]] RecordedForces recorded_forces(const sim::State& state);

/// The tissue as somebody needs it who moves the skin by himself: it never changes, and outlives what made it.
struct TissueShape {
    std::shared_ptr<const sim::fe::HexMesh> mesh;
    std::vector<sim::fe::FollowWeights> on_skin;  ///< in the order of Followers
};

/// Hands that rest so long are taken to be done for the moment; by eye.
inline constexpr double kRestS = 1.5;

/// Posture is for the eye. Questions about threads are a step's: the same question has the same answer, whatever the
/// patient lies in and whatever was asked before; they come before postures, and postures before a tip's blocks. When
/// nobody has asked anything for a while, what was settled last is refined to its final shape, until somebody asks.
class LiveTissue {
 public:
    /// @param builder not null
    /// @param rest_s nobody asks for so long before the final shape is looked for
    LiveTissue(TissueBuilder builder, Followers followers, double rest_s = kRestS);
    /// Gives the build up. Does not wait for it: what runs ends by itself, before the next build begins.
    ~LiveTissue();
    LiveTissue(const LiveTissue&) = delete;
    LiveTissue& operator=(const LiveTissue&) = delete;

    [[nodiscard]] TissueStatus status() const;
    /// End the build at its next stage; nothing once it has ended.
    void cancel();

    /// Ask for a posture; the last one asked for counts. Answered some tens of milliseconds after the tissue is ready.
    void ask(const Position& position);
    /// The answer to what was asked last, once.
    [[nodiscard]] std::shared_ptr<const SettledPosture> take();

    /// A step's question; one at a time. Answered when the tissue is ready; when it has failed, by an answer that says
    /// so.
    void ask(const sim::ThreadRequest& request);
    /// The answer to it, once.
    [[nodiscard]] std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request);
    /// Why there is no answer yet, or none at all: plain words, or empty.
    [[nodiscard]] std::string about_threads() const;
    /// The patient as the last such answer left them, in the posture asked for last, once: for the eye.
    [[nodiscard]] std::shared_ptr<const SettledPosture> take_with_threads();

    /// Ask how the patient lies upright under these forces; the last ones asked for count.
    void ask(RecordedForces forces);
    [[nodiscard]] std::shared_ptr<const SettledPosture> take_recorded();

    /// The final shape of what was settled last, once. None once something else has been asked.
    [[nodiscard]] std::shared_ptr<const SettledPosture> take_refined();

    /// Null until the tissue is ready.
    [[nodiscard]] std::shared_ptr<const TissueShape> shape() const;
    /// Nodes whose blocks are wanted and then cells whose details are, the most urgent first; the last ones asked for
    /// count. For the eye.
    void ask(std::vector<sim::fe::TipNode> nodes, std::vector<sim::fe::TipNode> cells);
    /// Blocks that have been solved since the last call.
    [[nodiscard]] std::vector<sim::fe::TipBlock> take_tip_blocks();
    /// Details, likewise.
    [[nodiscard]] std::vector<sim::fe::TipDetail> take_tip_details();

 private:
    struct Shared;
    static void run(const std::shared_ptr<Shared>& shared);

    std::shared_ptr<Shared> shared_;
    std::thread thread_;
};

}  // namespace session
