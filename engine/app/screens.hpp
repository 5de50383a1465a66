#pragma once

#include <optional>
#include <string>
#include <vector>

#include "engine/app/library.hpp"
#include "engine/app/ui.hpp"
#include "sim/scoring/rubric.hpp"

/// Screens that need no state of their own beyond what they are shown.

namespace app {

/// The cautions that stand under every screen, at the same place, with what the machine lacks at their right.
void draw_footer(Ui& ui, const std::string& status);
/// Its height in pixels: more than one line where there is little room. Screens end above it.
[[nodiscard]] float footer_height(const Ui& ui);
/// Height of the band at the top of a screen, in pixels.
[[nodiscard]] float band_height(const Ui& ui);

/// Choose what to practise. @return the entry that was chosen
[[nodiscard]] std::optional<std::string> draw_start(Ui& ui, const std::vector<Entry>& entries,
                                                    const std::string& trouble);

/// A patient is being prepared.
void draw_loading(Ui& ui, const std::string& title, double fraction, const std::string& what);

enum class AfterScore { stay, library, again };

/// Verdict, the four headline measures, deductions. @param first first deduction shown, moved by the wheel
[[nodiscard]] AfterScore draw_score(Ui& ui, const sim::Score& score, const sim::Recording& recording,
                                    const sim::Bands& bands, int& first);

}  // namespace app
