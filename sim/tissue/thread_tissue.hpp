#pragma once

#include <array>
#include <memory>
#include <vector>

#include "sim/request.hpp"
#include "sim/tissue/tethers.hpp"

/// Who answers questions about threads: the finite-element body of a head (fe_threads.hpp), or the flat patient's
/// closed form below.

namespace sim {

/// Reach of fingers that stroke the skin; assumed.
inline constexpr double kFingerSigmaM = 6.0 * kMm;
/// Of finger pulp held against the skin; assumed, 500 to 3000.
inline constexpr double kPulpNPerM = 1500.0;

/// The tissue of one patient as threads feel it. Same question, same bits, whatever was asked before.
class ThreadTissue {
 public:
    virtual ~ThreadTissue() = default;
    /// Never throws for what a question holds: trouble is part of the answer.
    [[nodiscard]] virtual ThreadAnswer answer(const ThreadRequest& request) = 0;
};

/// Of the flat patient, its skin the plane z = 0: Kelvin's load, spread over a ball as wide as a barb's reach, in an
/// endless body of the face's soft tissue taken as one. Free surface, layers and floor are left out, so that lifts and
/// shares are of the right order and no better. Where dimples form it does not say: they are 0. It knows of no final
/// shape, and answers with the linear one.
[[nodiscard]] std::unique_ptr<ThreadTissue> flat_thread_tissue();

/// The answer where no body could be had.
[[nodiscard]] ThreadAnswer no_answer(const ThreadRequest& request, ThreadTrouble trouble);

namespace fe {

/// Threads of a request put on a body.
/// @param problem strings and compliance of the body: its last coordinates are the barbs, in the request's order, and
///        its load holds all but the pulls
/// @return the solved problem's state; where it converged `answer` holds forces, slips and tails, not yet quantised
TetherState settle_threads(const ThreadRequest& request, TetherProblem& problem, ThreadAnswer& answer);

/// The two directions along the skin in which a finger that presses there holds it; the third is none.
/// @pre the hand's first pad presses
[[nodiscard]] std::array<Vec3, 3> hold_axes(const HandLoad& hand);

/// A finger that keeps the skin from sliding: a string from a place to itself, taut as soon as that moves.
/// @param first_coordinate of three: way of the skin from its anchor, along hold_axes()
[[nodiscard]] String hold_at(int first_coordinate);

/// Quantise all that the record keeps. What is not finite becomes trouble.
[[nodiscard]] ThreadAnswer quantised(ThreadAnswer answer);

}  // namespace fe

}  // namespace sim
