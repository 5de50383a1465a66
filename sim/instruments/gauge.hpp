#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string_view>

/// Tubing of needles and cannulas by gauge, and thread sizes: what a size printed on a pack means in metres.
///
/// Trusted for regular-wall stainless tube, 16 to 30 G. A hub colour never replaces the marked size.

namespace sim {

/// 18-8 stainless steel in bending; handbook value, from memory.
inline constexpr double kSteelYoungPa = 193e9;

struct Gauge {
    int number = 0;
    double outer_m = 0.0, inner_m = 0.0;          ///< nominal; needle gauge chart
    double outer_min_m = 0.0, outer_max_m = 0.0;  ///< limits of ISO 9626:2016, from memory
    std::string_view hub_colour;                  ///< ISO 6009:2016, from memory
    std::array<std::uint8_t, 3> hub_srgb{};       ///< that name as a screen shows it; assumed

    [[nodiscard]] double radius_m() const { return 0.5 * outer_m; }
    /// E pi (D^4 - d^4) / 64, N m^2.
    [[nodiscard]] double bending_stiffness_n_m2() const;
};

/// All gauges, thickest first.
[[nodiscard]] std::span<const Gauge> gauge_table();

/// @throws InputError when the number is not in the table
[[nodiscard]] const Gauge& gauge(int number);

struct ThreadSize {
    std::string_view usp;                               ///< "2-0"
    double metric = 0.0;                                ///< tenths of a millimetre
    double diameter_min_m = 0.0, diameter_max_m = 0.0;  ///< USP, synthetic absorbable

    [[nodiscard]] double diameter_m() const { return 0.5 * (diameter_min_m + diameter_max_m); }
};

/// All sizes, thinnest first.
[[nodiscard]] std::span<const ThreadSize> thread_size_table();

/// @throws InputError when the size is not in the table
[[nodiscard]] const ThreadSize& thread_size(std::string_view usp);

}  // namespace sim
