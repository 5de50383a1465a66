#pragma once

#include <array>
#include <cstddef>

/// Which structures are shown when they are shown, and what they are called.

namespace view {

struct StructureKinds {
    bool arteries = true, veins = true, nerves = true, glands_and_ducts = true, ligaments = false;

    friend bool operator==(const StructureKinds&, const StructureKinds&) = default;
};

struct StructureKindName {
    const char* key;    ///< in settings and in names of controls
    const char* words;  ///< on a button
    bool StructureKinds::*shown;
};
inline constexpr std::array<StructureKindName, 5> kStructureKinds{
    {{"arteries", "Arteries", &StructureKinds::arteries},
     {"veins", "Veins", &StructureKinds::veins},
     {"nerves", "Nerves", &StructureKinds::nerves},
     {"glands_and_ducts", "Gland and duct", &StructureKinds::glands_and_ducts},
     {"ligaments", "Ligaments", &StructureKinds::ligaments}}};

/// sRGB, 0xRRGGBB. @param kind index in kStructureKinds
[[nodiscard]] unsigned kind_colour(std::size_t kind);

}  // namespace view
