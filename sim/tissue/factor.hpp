#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>

#include <Eigen/Core>

#include "sim/tissue/assembly.hpp"

/// The Cholesky factor of a stiffness matrix, by CHOLMOD's supernodal code, and back-solves with it.
///
/// One BLAS thread: two change the last bits and win nothing. The ordering is the caller's: CHOLMOD's own choices call
/// METIS, which draws from the process-wide rand().

namespace sim::fe {

/// Why a factor could not be had.
enum class FactorTrouble : std::uint8_t { not_positive_definite, out_of_memory, too_large, degenerate_cells, other };

class FactorError : public std::runtime_error {
 public:
    FactorError(FactorTrouble trouble, const std::string& what, std::optional<int> unknown = std::nullopt)
        : std::runtime_error(what), trouble_(trouble), unknown_(unknown) {}
    [[nodiscard]] FactorTrouble trouble() const { return trouble_; }
    /// Where a stiffness is not positive definite.
    [[nodiscard]] std::optional<int> unknown() const { return unknown_; }

 private:
    FactorTrouble trouble_;
    std::optional<int> unknown_;
};

/// Solves on one Factor share its work space: one thread at a time.
class Factor {
 public:
    /// @param order the elimination order: order[i] is the unknown eliminated i-th, each once
    /// @throws FactorError
    Factor(const SparseUpper& k, std::span<const int> order);
    ~Factor();
    Factor(Factor&&) noexcept;
    Factor& operator=(Factor&&) noexcept;

    /// x = K^-1 b, column by column of b at once. The number of columns changes the last bits, so whoever promises
    /// equal bits keeps it the same.
    [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& b);

    [[nodiscard]] int unknowns() const;
    [[nodiscard]] double entries() const;          ///< of the factor
    [[nodiscard]] double flops() const;            ///< of the factorisation, as the analysis counts them
    [[nodiscard]] std::size_t bytes() const;       ///< held by the factor
    [[nodiscard]] std::size_t peak_bytes() const;  ///< most that was held while it was made

 private:
    struct Held;
    std::unique_ptr<Held> held_;
};

/// The BLAS kernels in use, such as "SkylakeX": they decide the last bits, so records and cache keys name them.
[[nodiscard]] std::string blas_kernel();

/// The order 0, 1, 2 ... for small meshes.
[[nodiscard]] std::vector<int> natural_order(int unknowns);

/// Nested dissection of a regular grid of columns: the last eliminated is a line of columns that parts the grid in two,
/// and so on within each part. Fixed by the grid alone.
///
/// @param wide, high columns along each direction @param per_column unknowns of a column, numbered together;
///        column (i, j) is j * wide + i
[[nodiscard]] std::vector<int> dissection_order(int wide, int high, int per_column);

/// Entries of the factor that this order leads to, counted from the grid alone: nothing is allocated. Within a tenth of
/// what the factor then holds, for cells that join each column to its eight neighbours.
[[nodiscard]] double dissection_entries(int wide, int high, int per_column);

}  // namespace sim::fe
