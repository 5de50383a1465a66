#include "sim/tissue/factor.hpp"

#include <cholmod.h>

#include <algorithm>
#include <array>
#include <numeric>
#include <utility>

#include "sim/core/errors.hpp"

extern "C" {
void openblas_set_num_threads(int threads);
char* openblas_get_corename(void);
}

namespace sim::fe {

struct Factor::Held {
    cholmod_common common{};
    cholmod_factor* factor = nullptr;
    cholmod_dense* x = nullptr;  // kept between solves: fresh memory each time costs half as much again
    cholmod_dense* work_y = nullptr;
    cholmod_dense* work_e = nullptr;
    int unknowns = 0;
    double flops = 0.0;

    Held() { cholmod_start(&common); }
    ~Held() {
        cholmod_free_dense(&x, &common);
        cholmod_free_dense(&work_y, &common);
        cholmod_free_dense(&work_e, &common);
        cholmod_free_factor(&factor, &common);
        cholmod_finish(&common);
    }
    Held(const Held&) = delete;
    Held& operator=(const Held&) = delete;

    void check(const char* doing) const {
        const std::string at = std::string("tissue: ") + doing + ": ";
        switch (common.status) {
            case CHOLMOD_OK:
                return;
            case CHOLMOD_OUT_OF_MEMORY:
                throw FactorError(FactorTrouble::out_of_memory, at + "memory could not be had" + wanted());
            case CHOLMOD_TOO_LARGE:
                throw FactorError(FactorTrouble::too_large, at + std::to_string(unknowns) + " unknowns are too many");
            case CHOLMOD_NOT_POSDEF: {
                const int unknown = static_cast<const int*>(factor->Perm)[factor->minor];
                throw FactorError(FactorTrouble::not_positive_definite,
                                  at + "the stiffness is not positive definite at unknown " + std::to_string(unknown) +
                                      ": something there is held by nothing, or a modulus is negative",
                                  unknown);
            }
            default:
                throw FactorError(FactorTrouble::other, at + "failed with status " + std::to_string(common.status));
        }
    }
    [[nodiscard]] std::string wanted() const {
        if (factor == nullptr || factor->xsize == 0) return {};
        return ", the factor alone takes " + std::to_string(factor->xsize * sizeof(double) / 1'000'000) + " MB";
    }
};

namespace {

/// CHOLMOD's view of an Eigen matrix; nothing is copied. CHOLMOD takes pointers to what it only reads.
cholmod_sparse view_of(const SparseUpper& k) {
    cholmod_sparse view{};
    view.nrow = view.ncol = static_cast<std::size_t>(k.rows());
    view.nzmax = static_cast<std::size_t>(k.nonZeros());
    view.p = const_cast<int*>(k.outerIndexPtr());
    view.i = const_cast<int*>(k.innerIndexPtr());
    view.x = const_cast<double*>(k.valuePtr());
    view.stype = 1;  // upper triangle
    view.itype = CHOLMOD_INT;
    view.xtype = CHOLMOD_REAL;
    view.dtype = CHOLMOD_DOUBLE;
    view.sorted = 1;
    view.packed = 1;
    return view;
}

cholmod_dense view_of(const Eigen::MatrixXd& b) {
    cholmod_dense view{};
    view.nrow = view.d = static_cast<std::size_t>(b.rows());
    view.ncol = static_cast<std::size_t>(b.cols());
    view.nzmax = static_cast<std::size_t>(b.size());
    view.x = const_cast<double*>(b.data());
    view.xtype = CHOLMOD_REAL;
    view.dtype = CHOLMOD_DOUBLE;
    return view;
}

}  // namespace

Factor::Factor(const SparseUpper& k, std::span<const int> order) : held_(std::make_unique<Held>()) {
    SIM_ASSERT(order.size() == static_cast<std::size_t>(k.rows()));
    openblas_set_num_threads(1);
    Held& h = *held_;
    h.unknowns = static_cast<int>(k.rows());
    h.common.print = 0;  // trouble is thrown, not printed
    h.common.supernodal = CHOLMOD_SUPERNODAL;
    h.common.final_ll = 1;
    h.common.nmethods = 1;
    h.common.method[0].ordering = CHOLMOD_GIVEN;
    h.common.postorder = 1;
    cholmod_sparse view = view_of(k);
    h.factor = cholmod_analyze_p(&view, const_cast<int*>(order.data()), nullptr, 0, &h.common);
    h.check("ordering");
    h.flops = h.common.fl;
    cholmod_factorize(&view, h.factor, &h.common);
    h.check("factor");
}

Factor::~Factor() = default;
Factor::Factor(Factor&&) noexcept = default;
Factor& Factor::operator=(Factor&&) noexcept = default;

Eigen::MatrixXd Factor::solve(const Eigen::MatrixXd& b) {
    Held& h = *held_;
    SIM_ASSERT(b.rows() == h.unknowns);
    cholmod_dense view = view_of(b);
    cholmod_solve2(CHOLMOD_A, h.factor, &view, nullptr, &h.x, nullptr, &h.work_y, &h.work_e, &h.common);
    h.check("solve");
    return Eigen::Map<const Eigen::MatrixXd>(static_cast<const double*>(h.x->x), b.rows(), b.cols());
}

int Factor::unknowns() const { return held_->unknowns; }
double Factor::entries() const { return static_cast<double>(held_->factor->xsize); }
double Factor::flops() const { return held_->flops; }
std::size_t Factor::bytes() const { return held_->factor->xsize * sizeof(double) + held_->factor->ssize * sizeof(int); }
std::size_t Factor::peak_bytes() const { return held_->common.memory_usage; }

std::string blas_kernel() { return openblas_get_corename(); }

std::vector<int> natural_order(int unknowns) {
    std::vector<int> order(static_cast<std::size_t>(unknowns));
    std::iota(order.begin(), order.end(), 0);
    return order;
}

namespace {

/// A block of columns of the grid, ends excluded.
struct Block {
    int left, right, low, high;
    [[nodiscard]] int wide() const { return right - left; }
    [[nodiscard]] int tall() const { return high - low; }
    [[nodiscard]] bool empty() const { return wide() <= 0 || tall() <= 0; }
    [[nodiscard]] bool leaf() const { return wide() <= kLeaf && tall() <= kLeaf; }

 private:
    static constexpr int kLeaf = 3;  // columns a side below which parting wins nothing
};

/// A block in two, and the line of columns between.
struct Parted {
    Block first, second, line;
};

Parted part(const Block& block) {
    Parted out{block, block, block};
    if (block.wide() >= block.tall()) {
        const int middle = (block.left + block.right) / 2;
        out.first.right = middle, out.second.left = middle + 1;
        out.line.left = middle, out.line.right = middle + 1;
    } else {
        const int middle = (block.low + block.high) / 2;
        out.first.high = middle, out.second.low = middle + 1;
        out.line.low = middle, out.line.high = middle + 1;
    }
    return out;
}

void dissect(const Block& block, int wide, std::vector<int>& columns) {
    const auto put = [&](const Block& all) {
        for (int j = all.low; j < all.high; ++j)
            for (int i = all.left; i < all.right; ++i) columns.push_back(j * wide + i);
    };
    if (block.empty()) return;
    if (block.leaf()) return put(block);
    const Parted parted = part(block);
    dissect(parted.first, wide, columns);
    dissect(parted.second, wide, columns);
    put(parted.line);
}

/// Columns outside a block that touch it: they are eliminated after it.
double columns_around(const Block& b, int wide, int high) {
    const double across = std::min(b.right + 1, wide) - std::max(b.left - 1, 0);
    const double down = std::min(b.high + 1, high) - std::max(b.low - 1, 0);
    return across * down - static_cast<double>(b.wide()) * b.tall();
}

double entries_of(const Block& block, int wide, int high, int per_column) {
    if (block.empty()) return 0.0;
    const Parted parted = part(block);
    const Block& last = block.leaf() ? block : parted.line;
    const double own = static_cast<double>(per_column) * last.wide() * last.tall();
    const double after = per_column * columns_around(block, wide, high);
    const double here = own * (own + after);  // a supernode keeps its whole square
    if (block.leaf()) return here;
    return here + entries_of(parted.first, wide, high, per_column) + entries_of(parted.second, wide, high, per_column);
}

}  // namespace

std::vector<int> dissection_order(int wide, int high, int per_column) {
    SIM_ASSERT(wide > 0 && high > 0 && per_column > 0);
    std::vector<int> columns;
    dissect({0, wide, 0, high}, wide, columns);
    std::vector<int> order;
    order.reserve(columns.size() * static_cast<std::size_t>(per_column));
    for (const int column : columns)
        for (int k = 0; k < per_column; ++k) order.push_back(column * per_column + k);
    return order;
}

double dissection_entries(int wide, int high, int per_column) {
    SIM_ASSERT(wide > 0 && high > 0 && per_column > 0);
    return entries_of({0, wide, 0, high}, wide, high, per_column);
}

}  // namespace sim::fe
