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

/// @throws FactorError
[[nodiscard]] Deck make_deck(const Head& head, TetheredBody& body, DeckLoad load);

}  // namespace sim::fe
