#pragma once

#include <map>
#include <memory>
#include <utility>
#include <vector>

#include "sim/tissue/held_threads.hpp"
#include "sim/tissue/thread_tissue.hpp"

/// Threads with their barbs at true places in a patient's finite-element tissue, and the other hand on its skin.
///
/// What a thread's barbs do to one another is solved once and kept; an answer is then the small dense problem of
/// strings, barbs and threads, always begun from the same start. Each thread's columns fill batches of their own, so
/// that no other thread changes a bit of them. Where the final shape is asked for it is searched from the linear one,
/// under the forces of that, in a fixed number of steps at most.

namespace sim::fe {

/// Of the search for a final shape that an answer tells: under 1 N a thread takes 6 to 15. Assumed.
inline constexpr int kMostShapeSteps = 40;

/// Distance of the skin that a dimple is measured against.
inline constexpr double kDimpleRingM = 8.0 * kMm;  // assumed

class FeThreads final : public ThreadTissue {
 public:
    explicit FeThreads(std::shared_ptr<TetheredBody> body);

    [[nodiscard]] ThreadAnswer answer(const ThreadRequest& request) override { return settle(request).answer; }

    /// What moves the tissue beside gravity, strings and threads: a turn of the head.
    struct Displaced {
        Eigen::VectorXd moved_m;    ///< of every unknown, where nothing holds
        Eigen::VectorXd strings_m;  ///< of the strings' coordinates, beyond what moved_m does to them
    };
    struct SettledThreads {
        ThreadAnswer answer;
        Eigen::VectorXd skin_m;   ///< three a column of the mesh, of the answer's shape; empty with trouble
        Eigen::VectorXd force_n;  ///< on the strings' coordinates, then the barbs'; empty with trouble
    };
    /// @pre with `also` no final shape is asked for
    [[nodiscard]] SettledThreads settle(const ThreadRequest& request, const Displaced* also = nullptr);
    /// What a state without trouble puts on every unknown, newtons.
    [[nodiscard]] Eigen::VectorXd load_n(const ThreadRequest& request, const SettledThreads& settled);
    /// Displacement of every unknown that belongs to it: one back-solve.
    [[nodiscard]] Eigen::VectorXd whole_m(const ThreadRequest& request, const SettledThreads& settled,
                                          const Displaced* also = nullptr);

    [[nodiscard]] TetheredBody& body() { return *body_; }

 private:
    /// Skin over a barb, the ring around it, and the way out of the face there.
    struct OverBarb {
        Patch above;
        std::vector<Patch> ring;
        Vec3 outward{};
    };
    /// Fingers over some of a thread's barbs, 1 N towards the entry.
    struct Fingers {
        Eigen::VectorXd load_n, moved_m;  ///< of every unknown
    };
    /// The other hand on the skin: its pads for 1 N, and where it holds, 1 N along hold_axes() at its first pad.
    struct Hand {
        std::vector<HandPad> pads;
        bool holds = false;
        Eigen::VectorXd load_n, moved_m;  ///< of every unknown
        SparseColumns hold_columns;       ///< three, the last empty; or none
        Eigen::MatrixXd hold_moved_m;
    };
    /// A thread as it lies.
    struct Laid {
        int id = 0;
        std::vector<std::pair<Vec3, Vec3>> barbs;  ///< place and direction: what it is known by
        std::vector<ChartPlace> places;
        SparseColumns columns;
        ColumnFields fields;
        std::map<int, Eigen::MatrixXd> cross_m_per_n;  ///< by id of a thread before it: rows its barbs, columns ours
        std::vector<OverBarb> over;
        std::map<std::pair<int, int>, Fingers> fingers;  ///< by first and last barb
    };

    [[nodiscard]] std::vector<Laid*> lay(const ThreadRequest& request);
    [[nodiscard]] Laid* known(const ThreadGrip& grip);
    [[nodiscard]] std::unique_ptr<Laid> laid_out(const ThreadGrip& grip) const;
    void solve(Laid& thread, const std::vector<Laid*>& before);
    [[nodiscard]] const Fingers& fingers_over(Laid& thread, const StrokeGrip& stroke);
    [[nodiscard]] const Hand* hand_of(const HandLoad& load);
    [[nodiscard]] TetherProblem problem_of(const ThreadRequest& request, const std::vector<Laid*>& threads,
                                           const Hand* hand, const Displaced* also);
    void push_along(TetherProblem& problem, const std::vector<Laid*>& threads, const Hand* hand,
                    const Eigen::VectorXd& moved_m, double force_n) const;
    void add_hold(TetherProblem& problem, const std::vector<Laid*>& threads, const Hand& hand,
                  const ThreadRequest& request) const;
    [[nodiscard]] Eigen::VectorXd skin_of(const ThreadRequest& request, const std::vector<Laid*>& threads,
                                          const Hand* hand, const Eigen::VectorXd& force_n, const Displaced* also);
    [[nodiscard]] Eigen::VectorXd find_final_shape(const ThreadRequest& request, SettledThreads& out);
    void read_dimples(const std::vector<Laid*>& threads, SettledThreads& out) const;

    std::shared_ptr<TetheredBody> body_;
    std::vector<std::unique_ptr<Laid>> laid_;  ///< used last stands last
    std::vector<std::unique_ptr<Hand>> hands_;
    int next_id_ = 0;
};

}  // namespace sim::fe
