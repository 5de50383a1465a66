#include "sim/barbed_thread/concerns.hpp"

#include "sim/anatomy/head.hpp"
#include "sim/tissue/read_out.hpp"
#include "sim/trace.hpp"

namespace sim {

std::vector<Concern> concerns_of(const Anatomy& anatomy) {
    std::vector<Concern> out;
    const auto* head = dynamic_cast<const Head*>(&anatomy);
    if (head == nullptr) return out;
    for (const Side side : {Side::left, Side::right}) {
        const auto add = [&](std::string_view name, const Vec3& at) {
            out.push_back({std::string(name), side, {quantised(at.x), quantised(at.y), quantised(at.z)}});
        };
        const auto add_landmark = [&](std::string_view name, std::string_view landmark) {
            for (const Landmark& mark : head->landmarks())
                if (mark.name == landmark && mark.side == side) add(name, mark.skin.position_m);
        };
        add(kConcernNames[0], fe::compartment_m(*head, "jowl", side));
        add_landmark(kConcernNames[1], "cheilion");
        add(kConcernNames[2], fe::compartment_m(*head, "nasolabial compartment", side));
        add_landmark(kConcernNames[3], "gonion");
    }
    return out;
}

}  // namespace sim
