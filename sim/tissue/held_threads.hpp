#pragma once

#include <functional>

#include "sim/tissue/posture.hpp"

/// Threads that lie in a patient's tissue, ready to be pulled again and again.
///
/// Their barbs' columns are solved once; what follows is the small dense problem of strings, barbs and threads, and the
/// skin that belongs to its forces.

namespace sim::fe {

/// What unit forces on columns do: to the strings, to one another, to the skin; and gravity's field at them.
struct ColumnFields {
    Eigen::MatrixXd strings_m_per_n;  ///< a row for each coordinate of the strings
    Eigen::MatrixXd own_m_per_n;      ///< symmetric
    Eigen::MatrixXf skin_m_per_n;     ///< three rows a column of the mesh
    Eigen::MatrixXd gravity_moved_m;  ///< for 1 m/s2 along x, y, z
};

/// One batch of back-solves for 48 columns.
/// @param also told the first column of each batch and what its columns do to each unknown; may be empty
[[nodiscard]] ColumnFields solve_fields(
    TetheredBody& body, const SparseColumns& columns,
    const std::function<void(int first, const Eigen::Ref<const Eigen::MatrixXd>& moved)>& also = {});

/// Refers to the body it was made for, which must outlive it.
class HeldThreads {
 public:
    /// One batch of back-solves for 48 barbs. @throws InputError for a path with fewer than two barbs or more than 200
    HeldThreads(TetheredBody& body, std::vector<ThreadPath> paths);

    struct Pulled {
        SkinSettled settled;
        std::vector<double> pulled_in_m;  ///< how far each thread's near end came out
    };
    /// Starts from the state of the pull before. @param pull_n at each near end, 0 to 20
    /// @throws InputError for a pull outside its range
    [[nodiscard]] Pulled pull(const Vec3& gravity_change_m_per_s2, std::span<const double> pull_n);

    [[nodiscard]] const std::vector<ThreadPath>& paths() const { return paths_; }
    [[nodiscard]] const SparseColumns& columns() const { return columns_; }  ///< of strings, then barbs

 private:
    void solve_columns();

    TetheredBody& body_;
    std::vector<ThreadPath> paths_;
    SparseColumns columns_;
    Eigen::Index strings_ = 0, barbs_ = 0;
    Eigen::MatrixXf skin_m_per_n_;   ///< of the skin for 1 N on each barb
    Eigen::MatrixXd gravity_moved_;  ///< the barbs' coordinates in gravity's fields
    TetherProblem problem_;
    std::vector<ThreadInProblem> threads_;
    std::vector<double> pull_n_;  ///< that start_ belongs to
    Eigen::VectorXd start_;
};

}  // namespace sim::fe
