#include "sim/tissue/thread_tissue.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/tissue/closed_form.hpp"

namespace sim {

ThreadAnswer no_answer(const ThreadRequest& request, ThreadTrouble trouble) {
    ThreadAnswer out;
    out.key = request.key;
    out.trouble = trouble;
    return out;
}

namespace fe {

namespace {

ThreadLine line_of(const ThreadGrip& grip, int first_coordinate) {
    ThreadLine line;
    for (std::size_t i = 0; i < grip.barbs.size(); ++i) {
        const BarbGrip& barb = grip.barbs[i];
        line.tissue.push_back(first_coordinate + static_cast<int>(i));
        line.hold.push_back({barb.to_entry_n, barb.to_far_n, barb.slip_m});
        if (i > 0) line.gap_m.push_back(glm::length(barb.place_m - grip.barbs[i - 1].place_m));
    }
    return line;
}

/// What the barb has slid through once it has come to rest: as much as keeps its spring within what it holds.
double slipped_m(const Barb& barb, const Eigen::VectorXd& moved_m) {
    const double stretch_m = moved_m[barb.thread] - moved_m[barb.tissue];
    const double elastic_n = barb.stiffness_n_per_m * (stretch_m - barb.slipped_m);
    if (elastic_n > barb.capacity_n) return stretch_m - barb.capacity_n / barb.stiffness_n_per_m;
    if (elastic_n < -barb.reverse_n) return stretch_m + barb.reverse_n / barb.stiffness_n_per_m;
    return barb.slipped_m;
}

}  // namespace

TetherState settle_threads(const ThreadRequest& request, TetherProblem& problem, ThreadAnswer& answer) {
    int barbs = 0;
    for (const ThreadGrip& grip : request.threads) barbs += static_cast<int>(grip.barbs.size());
    int at = static_cast<int>(problem.load_m.size()) - barbs;
    Eigen::VectorXd start = Eigen::VectorXd::Zero(problem.load_m.size());
    for (const ThreadGrip& grip : request.threads) {
        add_thread(problem, line_of(grip, at), grip.pull_n, start);
        at += static_cast<int>(grip.barbs.size());
    }
    TetherState state = solve_tethers(problem, start);
    answer.iterations = state.iterations;
    answer.trouble = state.converged ? ThreadTrouble::none : ThreadTrouble::not_converged;
    std::size_t next = 0;
    for (const ThreadGrip& grip : request.threads) {
        ThreadAnswer::OfThread out;
        for (std::size_t i = 0; i < grip.barbs.size(); ++i, ++next) {
            const Barb& barb = problem.barbs[next];
            out.barbs.push_back(
                {barb_force_n(barb, state.moved_m), slipped_m(barb, state.moved_m), state.moved_m[barb.tissue]});
            out.tail_out_m = state.moved_m[barb.thread];  // the last one is the nearest to the entry
        }
        answer.threads.push_back(std::move(out));
    }
    return state;
}

std::array<Vec3, 3> hold_axes(const HandLoad& hand) {
    const Vec3 out = -glm::normalize(hand.pads.front().push);
    // any direction across will do: the hold is the same all round
    const Vec3 across = std::abs(out.x) < 0.7 ? Vec3(1, 0, 0) : Vec3(0, 1, 0);
    const Vec3 first = glm::normalize(glm::cross(out, across));
    return {first, glm::cross(out, first), Vec3{}};
}

String hold_at(int first_coordinate) {
    constexpr double kSlackM = 1e-6 * kMm;
    String finger;
    finger.first = first_coordinate;
    finger.length_m = kSlackM;
    finger.stiffness_n_per_m = kPulpNPerM;
    return finger;
}

ThreadAnswer quantised(ThreadAnswer answer) {
    bool finite = true;
    const auto round = [&](double& value, double per_unit) {
        value = row_quantised(value, per_unit);
        finite = finite && std::isfinite(value);
    };
    for (ThreadAnswer::OfThread& thread : answer.threads) {
        round(thread.tail_out_m, kLiftPerM);
        round(thread.dimple_m, kLiftPerM);
        for (ThreadAnswer::OfBarb& barb : thread.barbs) {
            round(barb.force_n, kLiftPerN);
            round(barb.slip_m, kLiftPerM);
            round(barb.over_m, kLiftPerM);
        }
    }
    round(answer.hand_held_n, kLiftPerN);
    for (Vec3& moved_m : answer.moved_m)
        for (int i = 0; i < 3; ++i) round(moved_m[i], kLiftPerM);
    if (!finite) answer.trouble = ThreadTrouble::not_converged;
    if (answer.trouble == ThreadTrouble::none) return answer;
    ThreadAnswer none;
    none.key = answer.key;
    none.trouble = answer.trouble;
    none.iterations = answer.iterations;
    return none;
}

}  // namespace fe

namespace {

/// Displacement of an endless body at an offset from a load of 1 N along `along`, spread over a ball of radius reach:
/// Kelvin's solution far away; near it the spread load's, as Cortez 2001 gives for fluids and de Goes, James 2017 for
/// solids, from memory. It is positive definite, whatever the places.
Vec3 moved_by_m(const Vec3& offset_m, const Vec3& along, double reach_m) {
    constexpr double a = 1.0 / (4.0 * kPi * kLumpedShearPa), b = a / (4.0 * (1.0 - kLumpedPoisson));
    const double r = std::sqrt(glm::dot(offset_m, offset_m) + reach_m * reach_m);
    const double r3 = r * r * r;
    return ((a - b) / r + a * reach_m * reach_m / (2.0 * r3)) * along + (b / r3 * glm::dot(offset_m, along)) * offset_m;
}

class FlatThreads final : public ThreadTissue {
 public:
    ThreadAnswer answer(const ThreadRequest& request) override {
        std::vector<BarbGrip> barbs;
        for (const ThreadGrip& grip : request.threads) barbs.insert(barbs.end(), grip.barbs.begin(), grip.barbs.end());
        // a hold's three coordinates first, then the barbs'
        std::vector<Along> along;
        if (request.hand.holds)
            for (const Vec3& axis : fe::hold_axes(request.hand))
                along.push_back({request.hand.pads.front().place_m, axis, kFingerSigmaM});
        for (const BarbGrip& barb : barbs) along.push_back({barb.place_m, barb.towards_entry, kCouplingM});
        const auto n = static_cast<Eigen::Index>(along.size());
        fe::TetherProblem problem;
        problem.compliance_m_per_n.resize(n, n);
        problem.load_m.resize(n);
        const std::vector<Load> strokes = stroke_loads(request);
        std::vector<Load> fingers = strokes;
        for (const HandPad& pad : request.hand.pads)
            fingers.push_back({pad.place_m, request.hand.force_n * pad.push, kFingerSigmaM});
        for (Eigen::Index i = 0; i < n; ++i) {
            const Along& at = along[static_cast<std::size_t>(i)];
            // a finger that holds goes along with what its own press does
            const bool holds = request.hand.holds && i < 3;
            problem.load_m[i] = glm::dot(moved_m(holds ? strokes : fingers, at.place_m), at.along);
            for (Eigen::Index j = 0; j < n; ++j) {
                const Along& from = along[static_cast<std::size_t>(j)];
                // the mean square of both reaches keeps it symmetric and positive definite
                const double reach_m = std::sqrt(0.5 * (at.reach_m * at.reach_m + from.reach_m * from.reach_m));
                problem.compliance_m_per_n(i, j) =
                    glm::dot(moved_by_m(at.place_m - from.place_m, from.along, reach_m), at.along);
            }
        }
        if (request.hand.holds) {
            for (Eigen::Index r = 0; r < 3; ++r)
                problem.load_m[r] -= glm::dot(request.hand.anchor_m, along[static_cast<std::size_t>(r)].along);
            problem.strings.push_back(fe::hold_at(0));
        }
        ThreadAnswer out;
        out.key = request.key;
        const fe::TetherState state = fe::settle_threads(request, problem, out);
        std::vector<Load> loads = fingers;
        for (std::size_t i = 0; i < along.size(); ++i)
            loads.push_back(
                {along[i].place_m, state.force_n[static_cast<Eigen::Index>(i)] * along[i].along, along[i].reach_m});
        if (request.hand.holds) out.hand_held_n = state.force_n.head<3>().norm();
        for (const auto* places : {&request.read_m, &request.inside_m})
            for (const Vec3& place : *places) out.moved_m.push_back(moved_m(loads, place));
        return fe::quantised(std::move(out));
    }

 private:
    /// A direction at a place, and what is about it that moves with it.
    struct Along {
        Vec3 place_m{}, along{};
        double reach_m = 0.0;
    };
    struct Load {
        Vec3 place_m{}, force_n{};
        double reach_m = 0.0;
    };

    static Vec3 moved_m(const std::vector<Load>& loads, const Vec3& place_m) {
        Vec3 sum{};
        for (const Load& load : loads) {
            const double size_n = glm::length(load.force_n);
            if (size_n > 0.0) sum += size_n * moved_by_m(place_m - load.place_m, load.force_n / size_n, load.reach_m);
        }
        return sum;
    }

    /// Fingers on the skin right above the barbs of the stroke.
    static std::vector<Load> stroke_loads(const ThreadRequest& request) {
        std::vector<Load> out;
        if (request.stroke.thread < 0) return out;
        const ThreadGrip& grip = request.threads[static_cast<std::size_t>(request.stroke.thread)];
        const double each_n = request.stroke.towards_entry_n / (request.stroke.last - request.stroke.first + 1);
        for (int i = request.stroke.first; i <= request.stroke.last; ++i) {
            const BarbGrip& barb = grip.barbs[static_cast<std::size_t>(i)];
            const Vec3 flat(barb.towards_entry.x, barb.towards_entry.y, 0.0);
            const double length = glm::length(flat);
            if (length > 0.0)
                out.push_back({{barb.place_m.x, barb.place_m.y, 0.0}, each_n / length * flat, kFingerSigmaM});
        }
        return out;
    }
};

}  // namespace

std::unique_ptr<ThreadTissue> flat_thread_tissue() { return std::make_unique<FlatThreads>(); }

}  // namespace sim
