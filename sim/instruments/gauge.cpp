#include "sim/instruments/gauge.hpp"

#include <string>

#include "sim/core/errors.hpp"
#include "sim/core/vec.hpp"

namespace sim {

namespace {

constexpr Gauge row(int number, double outer_mm, double inner_mm, double min_mm, double max_mm, std::string_view colour,
                    std::array<std::uint8_t, 3> srgb) {
    return {number, outer_mm * kMm, inner_mm * kMm, min_mm * kMm, max_mm * kMm, colour, srgb};
}

// outer and inner diameter: common needle gauge chart; limits and colours: ISO 9626:2016, ISO 6009:2016, from memory
constexpr std::array<Gauge, 15> kGauges{
    row(16, 1.651, 1.194, 1.600, 1.690, "white", {245, 245, 245}),
    row(17, 1.473, 1.067, 1.400, 1.510, "red-violet", {150, 50, 100}),
    row(18, 1.270, 0.838, 1.200, 1.300, "pink", {240, 130, 160}),
    row(19, 1.067, 0.686, 1.030, 1.100, "cream", {245, 230, 190}),
    row(20, 0.908, 0.603, 0.860, 0.920, "yellow", {250, 215, 50}),
    row(21, 0.819, 0.514, 0.800, 0.830, "deep green", {0, 105, 70}),
    row(22, 0.718, 0.413, 0.698, 0.730, "black", {30, 30, 30}),
    row(23, 0.641, 0.337, 0.600, 0.673, "deep blue", {20, 60, 150}),
    row(24, 0.565, 0.311, 0.550, 0.580, "medium purple", {130, 80, 160}),
    row(25, 0.514, 0.260, 0.500, 0.530, "orange", {240, 130, 30}),
    row(26, 0.464, 0.260, 0.440, 0.470, "brown", {120, 80, 50}),
    row(27, 0.413, 0.210, 0.400, 0.420, "medium grey", {140, 140, 140}),
    row(28, 0.362, 0.184, 0.349, 0.370, "blue-green", {0, 130, 140}),
    row(29, 0.337, 0.184, 0.324, 0.351, "red", {200, 35, 45}),
    row(30, 0.311, 0.159, 0.298, 0.320, "yellow", {250, 215, 50}),
};

constexpr ThreadSize size(std::string_view usp, double metric, double min_mm, double max_mm) {
    return {usp, metric, min_mm * kMm, max_mm * kMm};
}

// USP, synthetic absorbable, diameter limits; the upper limit of 2-0 from memory
constexpr std::array<ThreadSize, 8> kThreadSizes{
    size("6-0", 0.7, 0.070, 0.099), size("5-0", 1.0, 0.100, 0.149), size("4-0", 1.5, 0.150, 0.199),
    size("3-0", 2.0, 0.200, 0.249), size("2-0", 3.0, 0.300, 0.339), size("0", 3.5, 0.350, 0.399),
    size("1", 4.0, 0.400, 0.499),   size("2", 5.0, 0.500, 0.599),
};

}  // namespace

double Gauge::bending_stiffness_n_m2() const {
    const double outer4 = outer_m * outer_m * outer_m * outer_m;
    const double inner4 = inner_m * inner_m * inner_m * inner_m;
    return kSteelYoungPa * kPi * (outer4 - inner4) / 64.0;
}

std::span<const Gauge> gauge_table() { return kGauges; }

const Gauge& gauge(int number) {
    for (const Gauge& row : kGauges)
        if (row.number == number) return row;
    throw InputError("gauge", static_cast<double>(number), "a whole number from 16 to 30");
}

std::span<const ThreadSize> thread_size_table() { return kThreadSizes; }

const ThreadSize& thread_size(std::string_view usp) {
    std::string accepted;
    for (const ThreadSize& size : kThreadSizes) {
        if (size.usp == usp) return size;
        accepted += (accepted.empty() ? "" : ", ") + std::string(size.usp);
    }
    throw InputError("usp_size", std::string(usp), accepted);
}

}  // namespace sim
