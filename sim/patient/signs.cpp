#include "sim/patient/signs.hpp"

#include <array>
#include <cstddef>

namespace sim {

namespace {

struct SignWords {
    std::string_view name, words, response;
    bool said = false;
};

constexpr std::array<SignWords, kSigns> kSignTable{{
    {"pain", "That hurts.", "Stop, wait, numb the place.", true},
    {"electric pain", "That went through me like a spark.", "Stop, take out, plan another way.", true},
    {"bruise spreading", "A bruise spreads under the skin.", "Take out and press for 5 to 10 min.", false},
    {"expanding swelling", "The swelling grows and turns firm.", "Press firmly and call for help.", false},
    {"blanching", "The skin turns white, far beyond the bleb.", "Stop injecting, follow the vascular protocol.", false},
    {"clear fluid", "Clear fluid comes out at the entry.", "Take out and refer.", false},
    {"taste", "I taste something, and I feel it inside my cheek.", "Take out and discard.", true},
    {"tingling", "My lips tingle and my ears ring.", "Stop, call for help, follow the toxicity protocol.", true},
    {"agitation", "The patient grows restless and speaks fast.", "Call for help, follow the toxicity protocol.", false},
    {"seizure", "The patient convulses.", "Call for help.", false},
    {"pallor", "The patient is pale and sweats; the pulse is slow.", "Stop, lay flat, legs up.", false},
    {"collapse", "The patient no longer answers.", "Lay flat and call for help.", false},
    {"swallow", "I have to swallow.", "Hold still until it is over.", true},
}};

}  // namespace

std::string_view name_of(Sign sign) { return kSignTable[static_cast<std::size_t>(sign)].name; }
std::string_view words_of(Sign sign) { return kSignTable[static_cast<std::size_t>(sign)].words; }
std::string_view response_words(Sign sign) { return kSignTable[static_cast<std::size_t>(sign)].response; }
bool is_said(Sign sign) { return kSignTable[static_cast<std::size_t>(sign)].said; }

}  // namespace sim
