#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/anatomy/head.hpp"
#include "sim/tissue/response.hpp"
#include "sim/tissue/tethers.hpp"

/// A patient's tissue with its strings: how it settles when posture changes and when threads are pulled.
///
/// The reference shape is upright, at rest. What is solved for is the change: gravity's change of direction, threads.

namespace sim::fe {

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
    Vec3 gravity_change_m_per_s2{};
    std::vector<ThreadPath> threads;
};

inline constexpr double kGravityMPerS2 = 9.81;
/// From upright to lying on the back.
[[nodiscard]] inline Vec3 lying_down() { return Vec3(0.0, 1.0, -1.0) * kGravityMPerS2; }

struct Settled {
    Eigen::VectorXd displacement_m;  ///< three a node that moves
    Eigen::VectorXd force_n;         ///< what gravity's change, strings and barbs put on those nodes
    TetherState tethers;
    std::vector<double> thread_pulled_in_m;  ///< how far each thread's near end came out
};

class TetheredBody {
 public:
    /// Factor and the compliance of every string: seconds. @throws FactorError, InputError
    TetheredBody(const Head& head, const ChartSettings& settings, const TissueParameters& parameters);

    /// @throws InputError for a pull outside 0 to 20 N or a path with fewer than two barbs
    [[nodiscard]] Settled settle(const TissueLoad& load);

    [[nodiscard]] const HexMesh& mesh() const { return mesh_; }
    [[nodiscard]] const LayeredBody& body() const { return body_; }
    [[nodiscard]] const std::vector<StringSite>& strings() const { return sites_; }
    [[nodiscard]] Response& response() { return response_; }
    [[nodiscard]] const Eigen::MatrixXd& string_compliance() const { return compliance_; }
    [[nodiscard]] const SparseColumns& string_columns() const { return columns_; }
    [[nodiscard]] const Eigen::MatrixXd& gravity_loads() const { return gravity_load_; }
    /// Displacement of the skin near a point of the reference shape. @pre the point lies in the mesh
    [[nodiscard]] Vec3 skin_moved_m(const Settled& settled, const Vec3& near_m) const;

 private:
    HexMesh mesh_;
    LayeredBody body_;
    Response response_;
    std::vector<StringSite> sites_;
    SparseColumns columns_;                         ///< three a string
    Eigen::MatrixXd compliance_;                    ///< of the strings
    Eigen::MatrixXd gravity_load_, gravity_field_;  ///< for 1 m/s2 along x, y, z
    Eigen::MatrixXd gravity_moved_;                 ///< the strings' coordinates in those fields
};

/// Where the strings of a patient hold: septa over the treated region and a little beyond, and each ligament.
[[nodiscard]] std::vector<StringSite> place_strings(const Head& head, const HexMesh& mesh,
                                                    const TissueParameters& parameters);

/// Three columns a string, x, y, z: its top's patch less its bottom's.
[[nodiscard]] SparseColumns string_columns(const HexMesh& mesh, const std::vector<StringSite>& sites);

/// One column a barb, along the thread towards its near end.
[[nodiscard]] SparseColumns barb_columns(const HexMesh& mesh, const ThreadPath& path);

}  // namespace sim::fe
