#pragma once

#include <string>

#include "sim/tissue/posture.hpp"

/// The same mesh and load for CalculiX, an independent finite-element program, with our answer beside it.
///
/// Both sides use the full brick (C3D8) and leave skin tension out, since the other program has neither mean dilatation
/// nor that stiffness; the rim of the mesh is held; gravity, strings and barbs are nodal forces, those of the solved
/// state. Millimetres, newtons, megapascals; no field is longer than 20 characters.

namespace sim::fe {

enum class DeckLoad : std::uint8_t {
    upright,  ///< the weight of the upright face put on its reference shape, without strings
    supine,   ///< the change from upright to lying, strings included
    thread    ///< one thread on the left pulled by 1 N, strings included
};

struct Deck {
    std::string input;  ///< CalculiX input, complete
    std::string table;  ///< node,x_mm,y_mm,z_mm,ux_mm,uy_mm,uz_mm for every node, numbered as in the deck
};

/// What such a deck asks, before anything is solved.
struct DeckProblem {
    HexMesh mesh;             ///< its rim held too
    LayeredBody body;         ///< few kinds of material, no tension, no springs at the rim
    Eigen::VectorXd force_n;  ///< three a node that moves
    std::vector<int> order;   ///< of elimination

    /// The full brick's factor. @throws FactorError
    [[nodiscard]] Factor factor() const;
};
/// @throws FactorError, InputError, NotSettled
[[nodiscard]] DeckProblem deck_problem(const Head& head, TetheredBody& body, DeckLoad load);
/// @param displacement_m what factor() gives for force_n
[[nodiscard]] Deck write_deck(const DeckProblem& problem, const Eigen::VectorXd& displacement_m);

/// All of it. @throws as deck_problem
[[nodiscard]] Deck make_deck(const Head& head, TetheredBody& body, DeckLoad load);

}  // namespace sim::fe
