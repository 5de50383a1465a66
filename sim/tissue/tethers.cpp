#include "sim/tissue/tethers.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

/// A column of the square root of the energy's curvature: few entries.
struct Root {
    int count = 0;
    std::array<int, 3> at{};
    std::array<double, 3> value{};
};

/// Where a string's attachment is from its anchor, and how taut it is.
struct Pull {
    Vec3 along{};  ///< unit
    double distance_m = 0.0, force_n = 0.0;
};

Pull pull_of(const String& s, const Eigen::VectorXd& q) {
    const Vec3 r = s.rest_m + Vec3(q[s.first], q[s.first + 1], q[s.first + 2]);
    Pull out;
    out.distance_m = glm::length(r);
    out.force_n = std::max(0.0, s.stiffness_n_per_m * (out.distance_m - s.length_m));
    if (out.distance_m > 0.0) out.along = r / out.distance_m;
    return out;
}

/// Slopes of the energy at q, and the roots of its curvature where wanted.
class Energy {
 public:
    explicit Energy(const TetherProblem& problem) : problem_(problem) {
        for (const String& s : problem.strings) {
            // energy counts from the reference, which is at rest whatever a string pulls there
            const Pull rest = pull_of(s, Eigen::VectorXd::Zero(problem.load_m.size()));
            rest_pull_n_.push_back(rest.force_n * rest.along);
        }
        held_at_m_ = Eigen::VectorXd::Zero(problem.load_m.size());
    }

    void slope(const Eigen::VectorXd& q, Eigen::VectorXd& out) const {
        out.setZero(q.size());
        for (std::size_t i = 0; i < problem_.strings.size(); ++i) {
            const String& s = problem_.strings[i];
            if (s.parted) continue;
            const Pull now = pull_of(s, q);
            for (int r = 0; r < 3; ++r) out[s.first + r] += now.force_n * now.along[r] - rest_pull_n_[i][r];
        }
        for (const Barb& b : problem_.barbs) {
            const double force = barb_force_n(b, q);
            out[b.thread] += force;
            out[b.tissue] -= force;
            out[b.thread] += hold_n_per_m_ * (q[b.thread] - held_at_m_[b.thread]);
        }
    }

    /// Springs from every thread node to where it is now, so that a thread whose barbs all slip does not fly off.
    void hold_threads(double stiffness_n_per_m, const Eigen::VectorXd& at_m) {
        hold_n_per_m_ = stiffness_n_per_m;
        held_at_m_ = at_m;
    }

    void roots(const Eigen::VectorXd& q, std::vector<Root>& out, int& taut, int& slipping) const {
        out.clear();
        taut = slipping = 0;
        for (const String& s : problem_.strings) {
            const Pull now = pull_of(s, q);
            if (s.parted || !(now.force_n > 0.0)) continue;
            ++taut;
            add_string(s, now, out);
        }
        for (const Barb& b : problem_.barbs) {
            if (hold_n_per_m_ > 0.0) out.push_back({1, {b.thread, 0, 0}, {std::sqrt(hold_n_per_m_), 0.0, 0.0}});
            const double elastic = b.stiffness_n_per_m * (q[b.thread] - q[b.tissue] - b.slipped_m);
            if (elastic > b.capacity_n || elastic < -b.reverse_n) {
                ++slipping;
                continue;
            }
            const double root = std::sqrt(b.stiffness_n_per_m);
            out.push_back({2, {b.thread, b.tissue, 0}, {root, -root, 0.0}});
        }
    }

 private:
    static void add_string(const String& s, const Pull& now, std::vector<Root>& out) {
        // along the string its stiffness; across it pull over distance
        const Vec3 side = std::abs(now.along.x) < 0.6 ? Vec3(1, 0, 0) : Vec3(0, 1, 0);
        const Vec3 first = glm::normalize(glm::cross(now.along, side));
        const Vec3 second = glm::cross(now.along, first);
        const double across = std::sqrt(now.force_n / now.distance_m);
        const auto add = [&](const Vec3& v, double root) {
            out.push_back({3, {s.first, s.first + 1, s.first + 2}, {root * v.x, root * v.y, root * v.z}});
        };
        add(now.along, std::sqrt(s.stiffness_n_per_m));
        add(first, across);
        add(second, across);
    }

    const TetherProblem& problem_;
    std::vector<Vec3> rest_pull_n_;
    double hold_n_per_m_ = 0.0;
    Eigen::VectorXd held_at_m_;
};

/// C v. Strings that are slack carry nothing, so that most of a state's forces are 0.
Eigen::VectorXd times(const Eigen::MatrixXd& c, const Eigen::VectorXd& v) {
    Eigen::VectorXd out = Eigen::VectorXd::Zero(c.rows());
    for (Eigen::Index k = 0; k < v.size(); ++k)
        if (v[k] != 0.0) out += v[k] * c.col(k);
    return out;
}

/// Newton's direction for the forces: -(g - W S^-1 W'C g) with S = I + W'CW, where W W' is the energy's curvature.
Eigen::VectorXd newton_direction(const Eigen::MatrixXd& c, const Eigen::VectorXd& g, const std::vector<Root>& roots) {
    Eigen::VectorXd direction = -g;
    const auto n = static_cast<Eigen::Index>(roots.size());
    if (n == 0) return direction;
    const Eigen::VectorXd cg = times(c, g);
    Eigen::MatrixXd s(n, n);
    Eigen::VectorXd b(n);
    for (Eigen::Index j = 0; j < n; ++j) {
        const Root& root = roots[static_cast<std::size_t>(j)];
        b[j] = 0.0;
        for (int x = 0; x < root.count; ++x)
            b[j] += root.value[static_cast<std::size_t>(x)] * cg[root.at[static_cast<std::size_t>(x)]];
        for (Eigen::Index i = j; i < n; ++i) {
            const Root& other = roots[static_cast<std::size_t>(i)];
            double sum = 0.0;
            for (int x = 0; x < root.count; ++x)
                for (int y = 0; y < other.count; ++y)
                    sum += root.value[static_cast<std::size_t>(x)] * other.value[static_cast<std::size_t>(y)] *
                           c(other.at[static_cast<std::size_t>(y)], root.at[static_cast<std::size_t>(x)]);
            s(i, j) = sum;
        }
        s(j, j) += 1.0;
    }
    const Eigen::VectorXd y = s.selfadjointView<Eigen::Lower>().llt().solve(b);
    for (Eigen::Index j = 0; j < n; ++j) {
        const Root& root = roots[static_cast<std::size_t>(j)];
        for (int x = 0; x < root.count; ++x)
            direction[root.at[static_cast<std::size_t>(x)]] += root.value[static_cast<std::size_t>(x)] * y[j];
    }
    return direction;
}

}  // namespace

double barb_force_n(const Barb& barb, const Eigen::VectorXd& moved_m) {
    const double elastic = barb.stiffness_n_per_m * (moved_m[barb.thread] - moved_m[barb.tissue] - barb.slipped_m);
    return std::clamp(elastic, -barb.reverse_n, barb.capacity_n);
}

double string_force_n(const String& string, const Eigen::VectorXd& moved_m) {
    return string.parted ? 0.0 : pull_of(string, moved_m).force_n;
}

namespace {

/// How far along a Newton step to go: where the derivative of the whole energy has all but vanished. Energies
/// themselves would drown in rounding.
double step_length(const Energy& energy, const TetherState& state, const Eigen::VectorXd& g,
                   const Eigen::VectorXd& direction, const Eigen::VectorXd& moves) {
    constexpr double kAccept = 0.5, kFlat = 0.3;  // slopes along the step against the first one
    constexpr int kHalvings = 40;
    Eigen::VectorXd trial;
    const auto derivative = [&](double step) {
        energy.slope(state.moved_m + step * moves, trial);
        return (state.force_n + step * direction + trial).dot(moves);
    };
    const double first = std::abs(g.dot(moves));
    if (!(first > 0.0) || derivative(1.0) <= kAccept * first) return 1.0;
    double low = 0.0;
    double high = 1.0;
    double step = 1.0;
    for (int k = 0; k < kHalvings; ++k) {
        step = 0.5 * (low + high);
        const double d = derivative(step);
        if (std::abs(d) < kFlat * first) break;
        (d > 0.0 ? high : low) = step;
    }
    return step;
}

/// Newton's method from the state's forces, for at most so many further iterations. @return whether it got there
bool newton(const TetherProblem& problem, const Energy& energy, double tolerance, int most, TetherState& state) {
    constexpr double kLeastForceN = 1e-6;  // a residual is measured against no less
    constexpr int kRefresh = 8;            // iterations until rounding is swept out of the displacements
    const Eigen::MatrixXd& c = problem.compliance_m_per_n;
    Eigen::VectorXd slope;
    std::vector<Root> roots;
    state.moved_m = problem.load_m + times(c, state.force_n);
    for (int i = 0; i <= most; ++i) {
        energy.slope(state.moved_m, slope);
        energy.roots(state.moved_m, roots, state.taut, state.slipping);
        const Eigen::VectorXd g = state.force_n + slope;
        state.residual = g.cwiseAbs().maxCoeff() / std::max(kLeastForceN, slope.cwiseAbs().maxCoeff());
        if (state.residual < tolerance) return true;
        if (i == most) break;
        ++state.iterations;
        const Eigen::VectorXd direction = newton_direction(c, g, roots);
        const Eigen::VectorXd moves = times(c, direction);
        const double step = step_length(energy, state, g, direction, moves);
        state.force_n += step * direction;
        state.moved_m += step * moves;
        if (i % kRefresh == kRefresh - 1) state.moved_m = problem.load_m + times(c, state.force_n);
    }
    return false;
}

}  // namespace

TetherState solve_tethers(const TetherProblem& problem, const Eigen::VectorXd& start, const TetherSettings& settings) {
    // with one thread out of its barbs and another about to slip a plain start may crawl: then the threads are held
    // where they are by springs that are let go step by step (proximal point method), which convexity makes safe
    constexpr std::array<double, 6> kHoldNPerM{100.0, 10.0, 1.0, 0.1, 0.01, 0.0};
    constexpr double kRoughly = 1e-6;  // how well a held state is solved
    const auto size = problem.compliance_m_per_n.rows();
    SIM_ASSERT(size == problem.load_m.size() && (start.size() == 0 || start.size() == size));
    TetherState state;
    if (size == 0) {  // nothing is tied to anything
        state.converged = true;
        return state;
    }
    Energy energy(problem);
    state.force_n = start.size() > 0 ? start : Eigen::VectorXd::Zero(size);
    state.converged = newton(problem, energy, settings.tolerance, settings.most_iterations, state);
    for (std::size_t k = 0; k < kHoldNPerM.size() && !state.converged && !problem.barbs.empty(); ++k) {
        energy.hold_threads(kHoldNPerM[k], state.moved_m);
        const bool last = kHoldNPerM[k] == 0.0;
        const bool done =
            newton(problem, energy, last ? settings.tolerance : kRoughly, settings.most_iterations, state);
        state.converged = last && done;
    }
    return state;
}

namespace {

// nothing else holds a thread's own nodes, so its matrix needs a ground that no result feels: 1e-5 N/mm in all
constexpr double kGroundNPerM = 1e-2;

}  // namespace

ThreadInProblem add_thread(TetherProblem& problem, const ThreadLine& thread, double pull_n, Eigen::VectorXd& start) {
    const auto n = static_cast<Eigen::Index>(thread.tissue.size());
    SIM_ASSERT(n >= 1 && (n == 1 || !thread.gap_m.empty() || thread.spacing_m > 0.0));
    SIM_ASSERT(thread.gap_m.empty() || thread.gap_m.size() + 1 == thread.tissue.size());
    SIM_ASSERT(thread.hold.empty() || thread.hold.size() == thread.tissue.size());
    const Eigen::Index before = problem.load_m.size();
    Eigen::MatrixXd k = Eigen::MatrixXd::Identity(n, n) * (kGroundNPerM / static_cast<double>(n));
    for (Eigen::Index i = 0; i + 1 < n; ++i) {
        const double gap_m = thread.gap_m.empty() ? thread.spacing_m : thread.gap_m[static_cast<std::size_t>(i)];
        SIM_ASSERT(gap_m > 0.0);
        const double link = thread.axial_n / gap_m;
        k(i, i) += link, k(i + 1, i + 1) += link;
        k(i, i + 1) -= link, k(i + 1, i) -= link;
    }
    const Eigen::MatrixXd inverse = k.inverse();
    problem.compliance_m_per_n.conservativeResize(before + n, before + n);
    problem.compliance_m_per_n.rightCols(n).setZero();
    problem.compliance_m_per_n.bottomRows(n).setZero();
    problem.compliance_m_per_n.bottomRightCorner(n, n) = 0.5 * (inverse + inverse.transpose());
    problem.load_m.conservativeResize(before + n);
    problem.load_m.tail(n).setZero();
    start.conservativeResize(before + n);
    start.tail(n).setZero();
    for (std::size_t i = 0; i < thread.tissue.size(); ++i) {
        const BarbHold hold = thread.hold.empty()
                                  ? BarbHold{thread.capacity_n, thread.reverse_share * thread.capacity_n, 0.0}
                                  : thread.hold[i];
        problem.barbs.push_back({thread.tissue[i], static_cast<int>(before) + static_cast<int>(i), thread.barb_n_per_m,
                                 hold.forwards_n, hold.back_n, hold.slipped_m});
    }
    ThreadInProblem out{static_cast<int>(before), thread.tissue, thread.barb_n_per_m};
    pull_thread(problem, out, 0.0, pull_n, start);
    return out;
}

void pull_thread(TetherProblem& problem, const ThreadInProblem& thread, double was_n, double pull_n,
                 Eigen::VectorXd& start) {
    constexpr double kLeastN = 1e-3;  // a pull below this says nothing about how barbs share
    const auto n = static_cast<Eigen::Index>(thread.tissue.size());
    const Eigen::Index first = thread.first_node;
    const Eigen::MatrixXd& c = problem.compliance_m_per_n;
    SIM_ASSERT(problem.load_m.size() == c.rows() && start.size() == c.rows());
    problem.load_m.segment(first, n) = c.block(first, first, n, n).col(n - 1) * pull_n;
    for (Eigen::Index i = 0; i < n; ++i) {
        const double was = -start[first + i];
        const double now = was_n > kLeastN ? was * (pull_n / was_n) : pull_n / static_cast<double>(n);
        start[first + i] = -now;
        start[thread.tissue[static_cast<std::size_t>(i)]] += now - was;
    }
    // shift the whole thread so that its barbs carry the pull: on the ground alone it would be metres off
    double shift = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        const int tissue = thread.tissue[static_cast<std::size_t>(i)];
        const double tissue_m = problem.load_m[tissue] + c.col(tissue).dot(start);
        const double node_m = problem.load_m[first + i] + c.col(first + i).dot(start);
        shift += (tissue_m - node_m - start[first + i] / thread.barb_n_per_m) / static_cast<double>(n);
    }
    start.segment(first, n).array() += kGroundNPerM / static_cast<double>(n) * shift;
}

}  // namespace sim::fe
