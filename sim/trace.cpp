#include "sim/trace.hpp"

#include <cmath>

namespace sim {

std::string_view name_of(EventKind kind) {
    static constexpr std::array<std::string_view, kEventKinds> names{
        "instrument taken",   "entry chosen",     "skin punctured",
        "entry refused",      "entry opened",     "track opened",
        "layer crossed",      "ligament met",     "ligament stopped",
        "ligament parted",    "ligament skirted", "plunge",
        "resistance doubled", "wall touched",     "wall breached",
        "floor touched",      "lining breached",  "skin broken through",
        "re-angled",          "tip lifted",       "withdrawal began",
        "thread left",        "track closed",     "instrument discarded",
        "aid used",           "finished"};
    return names[static_cast<std::size_t>(kind)];
}

// one division, not a multiplication by 1e10 and back: the nearest double to n / 1e10 is what text reads back as
double quantised(double value) { return std::round(value * 1e10) / 1e10; }

double row_quantised(double value) { return std::round(value * 1e6) / 1e6; }

}  // namespace sim
