#pragma once

#include <optional>
#include <string>

#include "engine/app/ui.hpp"
#include "engine/view/structure_kinds.hpp"

/// Small rounded switches that lie on the picture.

namespace app {

inline constexpr float kChipH = 28.0f;

struct Chip {
    std::string name, label, key;    ///< key: beside the label, may be empty
    bool dot = false, on = false;    ///< a dot that is full when it is on
    std::optional<unsigned> swatch;  ///< colour of the full dot, where it says what the chip stands for
};

/// @return pressed
bool draw_chip(Ui& ui, const Rect& rect, const Chip& chip);
[[nodiscard]] float chip_width(const Ui& ui, const Chip& chip);

/// Room that a button with these words takes.
[[nodiscard]] float button_width(const Ui& ui, const std::string& label, const std::string& key);

/// One chip for each kind of structure, broken into lines between x and right.
/// @param first_right where the first line ends  @return where the lines end
float draw_kind_chips(Ui& ui, const std::string& name, float x, float y, float right, view::StructureKinds& kinds);

/// What went wrong, on a card of its own: what is, and the words that came with it.
struct TroubleCard {
    std::string is;  ///< in bold; may be empty
    std::string words;
    std::string button_name, button;  ///< what can be done about it; may be empty
};
/// @return height taken; pressed tells of the button
float draw_trouble_card(Ui& ui, float x, float y, float w, const TroubleCard& card, bool* pressed = nullptr);

}  // namespace app
