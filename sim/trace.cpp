#include "sim/trace.hpp"

#include <algorithm>
#include <cmath>

namespace sim {

std::string_view name_of(EventKind kind) {
    static constexpr std::array<std::string_view, kEventKinds> names{
        "instrument taken", "entry chosen",    "skin punctured",       "entry refused",    "entry opened",
        "track opened",     "layer crossed",   "ligament met",         "ligament stopped", "ligament parted",
        "ligament skirted", "plunge",          "resistance doubled",   "wall touched",     "wall breached",
        "floor touched",    "lining breached", "skin broken through",  "re-angled",        "tip lifted",
        "withdrawal began", "thread left",     "followed out",         "track closed",     "traction",
        "stroked",          "thread slipped",  "thread out",           "thread refused",   "tissue trouble",
        "hand settled",     "hand slipped",    "instrument discarded", "trimmed",          "tail settled",
        "deed done",        "decided",         "deed refused",         "time passed",      "injected",
        "contaminated",     "unclean entry",   "patient moved",        "sign shown",       "bleeding stopped",
        "aid used",         "probe held",      "device changed",       "finished"};
    return names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(Device device) {
    static constexpr std::array<std::string_view, kDevices> names{"keys", "mouse", "controller"};
    return names[static_cast<std::size_t>(device)];
}

std::string_view name_of(Grip grip) {
    static constexpr std::array<std::string_view, kGrips> names{"press",      "counter-hold", "push",
                                                                "draw tight", "pinch",        "lift a fold"};
    return names[static_cast<std::size_t>(grip)];
}

std::string_view words_of(ThreadRefusal refusal) {
    static constexpr std::array<std::string_view, kThreadRefusals> words{"there is no such thread",
                                                                         "the thread is out",
                                                                         "the stroke before has not been let go",
                                                                         "this patient's tissue does not give",
                                                                         "no barb lies in that half",
                                                                         "the other hand lies nowhere yet",
                                                                         "its tail has been cut"};
    return words[static_cast<std::size_t>(refusal)];
}

std::string_view words_of(ThreadTrouble trouble) {
    static constexpr std::array<std::string_view, kThreadTroubles> words{
        "", "the tissue found no rest", "what was asked about lies outside the modelled tissue",
        "the tissue could not be built", "the skin would move further than is computed well"};
    return words[static_cast<std::size_t>(trouble)];
}

// one division, not a multiplication by 1e10 and back: the nearest double to n / 1e10 is what text reads back as
double quantised(double value) { return std::round(value * 1e10) / 1e10; }

double row_quantised(double value, double per_unit) { return std::round(value * per_unit) / per_unit; }

double row_fraction(const LayerPoint& layers) {
    if (layers.layer == Layer::outside || layers.layer == Layer::floor) return 0.0;
    const auto index = static_cast<std::size_t>(layers.layer) - 1;
    const double top_m = index == 0 ? 0.0 : layers.bottom_m[index - 1];
    const double thickness_m = layers.bottom_m[index] - top_m;
    return thickness_m > 0.0 ? std::clamp((layers.depth_m - top_m) / thickness_m, 0.0, 1.0) : 0.0;
}

}  // namespace sim
