#pragma once

#include <memory>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

#include "sim/anatomy/head.hpp"
#include "sim/core/parallel.hpp"
#include "sim/request.hpp"
#include "sim/tissue/neck_turn.hpp"
#include "sim/tissue/response.hpp"
#include "sim/tissue/tethers.hpp"

/// A patient's tissue with its strings: how it settles when posture changes and when threads are pulled.
///
/// The reference shape is upright, at rest. What is solved for is the change: gravity's change of direction, threads.

namespace sim::fe {

class FiniteStrain;

/// Where a string holds on.
struct StringSite {
    std::string of;  ///< ligament by name, or "septum"
    ChartPlace top, bottom;
    bool to_floor = false;  ///< its lower end is on the floor, which does not move
    String string;
};

/// A thread's way: straight in the chart between two places, far end first.
struct ThreadPath {
    ChartPlace far_end, near_end;
    int barbs = 25;
    double pull_n = 0.0;  ///< at the near end; 0 to 20
};

/// What is asked of the tissue.
struct TissueLoad {
    Vec3 gravity_change_m_per_s2{};   ///< each part -50 to 50
    std::vector<ThreadPath> threads;  ///< up to 40
};

/// @throws InputError naming what is outside its range or outside the mesh: gravity_change_m_per_s2.x,
///         threads[0].pull_n, threads[2].far_end.s_m ...
void validate(const HexMesh& mesh, const TissueLoad& load);

using sim::kGravityMPerS2;
/// From upright to lying on the back.
[[nodiscard]] inline Vec3 lying_down() { return Vec3(0.0, 1.0, -1.0) * kGravityMPerS2; }

struct Settled {
    Eigen::VectorXd displacement_m;  ///< three a node that moves
    Eigen::VectorXd force_n;         ///< what gravity's change, strings and barbs put on those nodes
    TetherState tethers;
    std::vector<double> thread_pulled_in_m;  ///< how far each thread's near end came out
};

/// What a patient's strings and gravity do to the tissue: slow to work out, the same each time, and so worth keeping.
struct StringFields {
    Eigen::MatrixXd compliance_m_per_n;  ///< of the strings' coordinates, symmetric
    Eigen::MatrixXd gravity_field_m;     ///< of every unknown for 1 m/s2 along x, y, z
    Eigen::MatrixXf skin_m_per_n;        ///< of the skin, three rows a column of the mesh, for 1 N on each coordinate
};

/// A state of strings, barbs and threads that was not found within its iterations.
class NotSettled : public std::runtime_error {
 public:
    NotSettled(const TetherState& state, const std::string& of);
    [[nodiscard]] int iterations() const { return iterations_; }
    [[nodiscard]] double residual() const { return residual_; }

 private:
    int iterations_;
    double residual_;
};

/// @param of what was asked, for the words: "lying down" @throws NotSettled
void require_settled(const TetherState& state, const std::string& of);

/// The whole of it as bytes, for a cache. What is read back is the same to the last bit.
[[nodiscard]] std::string save(const StringFields& fields);
/// @throws InputError for bytes that are cut short or hold something else
[[nodiscard]] StringFields load_string_fields(std::string_view bytes);

/// The skin alone, without a back-solve through the whole body.
struct SkinSettled {
    Eigen::VectorXd skin_m;  ///< three a column of the mesh
    TetherState tethers;
};

class TetheredBody {
 public:
    /// Mesh and factor, then the compliance of every string: seconds for the first, tens of seconds for the second.
    ///
    /// @param progress told how far it is between stages and batches of columns; what it throws ends the build
    /// @param kept fields of the same body, built from the same head, settings and parameters by the same program
    /// @throws FactorError (also when memory cannot be had), InputError (also for kept fields of another size)
    TetheredBody(const Head& head, const ChartSettings& settings, const TissueParameters& parameters,
                 const Progress& progress = {}, std::optional<StringFields> kept = std::nullopt);

    /// @throws InputError as validate(TissueLoad)
    [[nodiscard]] Settled settle(const TissueLoad& load);
    /// The same skin as settle() without threads, to single precision, in milliseconds.
    /// @param start tethers of the state before, or a fresh one
    [[nodiscard]] SkinSettled settle_skin(const Vec3& gravity_change_m_per_s2, const TetherState& start = {});
    /// What gravity's change and strings of a state of settle_skin() put on every unknown, newtons.
    [[nodiscard]] Eigen::VectorXd load_n(const Vec3& gravity_change_m_per_s2, const TetherState& tethers) const;
    /// Displacement of every unknown that belongs to a state of settle_skin(): one back-solve.
    [[nodiscard]] Eigen::VectorXd whole_m(const Vec3& gravity_change_m_per_s2, const TetherState& tethers);
    /// The body where displacements are not small; made when first asked for.
    [[nodiscard]] const FiniteStrain& finite_strain();

    [[nodiscard]] const HexMesh& mesh() const { return mesh_; }
    [[nodiscard]] const LayeredBody& body() const { return body_; }
    [[nodiscard]] const TurningNeck& neck() const { return neck_; }
    [[nodiscard]] const std::vector<StringSite>& strings() const { return sites_; }
    [[nodiscard]] Response& response() { return *response_; }
    [[nodiscard]] const StringFields& fields() const { return fields_; }
    [[nodiscard]] const Eigen::MatrixXd& string_compliance() const { return fields_.compliance_m_per_n; }
    [[nodiscard]] const SparseColumns& string_columns() const { return columns_; }
    [[nodiscard]] const Eigen::MatrixXd& gravity_loads() const { return gravity_load_; }
    /// Displacement of the skin near a point of the reference shape. @pre the point lies in the mesh
    [[nodiscard]] Vec3 skin_moved_m(const Settled& settled, const Vec3& near_m) const;

    /// Gravity's part of the skin's displacement and of the strings' coordinates.
    [[nodiscard]] Eigen::VectorXd gravity_skin_m(const Vec3& change_m_per_s2) const;
    [[nodiscard]] Eigen::VectorXd gravity_moved_m(const Vec3& change_m_per_s2) const;
    /// Adds what forces on the strings' coordinates do to the skin.
    void add_string_skin(const Eigen::VectorXd& force_n, Eigen::VectorXd& skin_m) const;

 private:
    void build(const Head& head, const ChartSettings& settings, const TissueParameters& parameters,
               const Progress& progress, std::optional<StringFields> kept);
    void work_out_fields(const Progress& progress);
    void check_fields() const;

    HexMesh mesh_;
    TurningNeck neck_;
    LayeredBody body_;
    std::optional<Response> response_;
    std::vector<StringSite> sites_;
    SparseColumns columns_;         ///< three a string
    Eigen::MatrixXd gravity_load_;  ///< for 1 m/s2 along x, y, z
    StringFields fields_;
    Eigen::MatrixXd gravity_moved_;  ///< the strings' coordinates in gravity's fields
    TetherProblem posture_;          ///< strings alone, for settle_skin()
    std::shared_ptr<const FiniteStrain> finite_strain_;
};

/// A cell more skewed than this (scaled Jacobian) is refused: what it answers is noise. Assumed; meshes are made to
/// keep kJacobianLimit, and coarse ones for checks come near this.
inline constexpr double kJacobianRefused = 0.02;

/// @throws FactorError for a mesh with a cell that is inverted or skewed beyond kJacobianRefused
void refuse_degenerate(const HexMesh& mesh);

/// @throws FactorError when the factor of a mesh with these settings is estimated to take more than they allow; nothing
///         has been allocated by then
void refuse_too_large(const ChartSettings& settings);

/// Where the strings of a patient hold: septa over the treated region and a little beyond, and each ligament.
[[nodiscard]] std::vector<StringSite> place_strings(const Head& head, const HexMesh& mesh,
                                                    const TissueParameters& parameters);

/// Three columns a string, x, y, z: its top's patch less its bottom's.
[[nodiscard]] SparseColumns string_columns(const HexMesh& mesh, const std::vector<StringSite>& sites);

/// One column a barb, along the thread towards its near end.
[[nodiscard]] SparseColumns barb_columns(const HexMesh& mesh, const ThreadPath& path);

}  // namespace sim::fe
