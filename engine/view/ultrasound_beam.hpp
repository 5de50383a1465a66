#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

/// From what scatters and reflects under a linear probe to the picture on its screen.
///
/// A resolution cell holds many scatterers, so its echo is the sum of many small ones with random phase: complex normal
/// noise, filtered by the axial and lateral width of the beam. Its envelope is Rayleigh distributed, with a mean 1.91
/// times its standard deviation: Burckhardt 1978, IEEE Trans Sonics Ultrason 25:1-6. Sound is taken to run at 1540 m/s
/// in everything, as every machine takes it; what fat's 1450 m/s does to depths is left out.
///
/// Not modelled: refraction, side lobes, aberration, flow. Depths are metres, levels decibels.

namespace view {

struct ProbeSettings {
    double width_m = 25.0e-3;        ///< of the footprint; small linear probes have 20 to 40 mm
    double depth_m = 20.0e-3;        ///< of the picture
    double frequency_hz = 15.0e6;    ///< linear probes for skin and face have 12 to 22 MHz
    double gain_db = 0.0;            ///< on top of the time gain
    double dynamic_range_db = 60.0;  ///< from black to white

    friend bool operator==(const ProbeSettings&, const ProbeSettings&) = default;
};

/// Lines of sight side by side, each sampled along the depth; the picture has two columns for a line and one row for a
/// sample, and so square pixels.
struct EchoGrid {
    int lines = 0, rows = 0;
    double row_m = 0.0;  ///< a pixel

    explicit EchoGrid(const ProbeSettings& settings);
    [[nodiscard]] double line_m() const { return 2.0 * row_m; }
    [[nodiscard]] double x_m(int line) const { return (line - 0.5 * (lines - 1)) * line_m(); }
    [[nodiscard]] std::size_t at(int row, int line) const {
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(lines) + static_cast<std::size_t>(line);
    }
    [[nodiscard]] std::size_t size() const { return at(rows, 0); }
};

/// What lies under the probe. Row by row, lines side by side.
struct EchoField {
    EchoGrid grid;
    std::vector<float> scatter;  ///< rms amplitude of the echo of many scatterers; 1 is white at no gain
    std::vector<float> mirror;   ///< amplitude of the echo of an interface that lies square to the beam
    std::vector<float> loss;     ///< dB / (cm MHz), one way
    std::vector<float> re, im;   ///< scatterers: complex, normal, of unit power

    explicit EchoField(const EchoGrid& g);
};

/// What the time gain makes up for, dB / (cm MHz): soft tissue has 0.5 to 0.7 (Szabo 2014, Diagnostic Ultrasound
/// Imaging, 2nd ed., ch. 4).
inline constexpr double kTimeGain = 0.6;

/// Envelope of the received echoes with the time gain put on, row by row.
/// @param frame makes the receiver's own noise another one
[[nodiscard]] std::vector<float> envelope(const EchoField& field, const ProbeSettings& settings, std::uint32_t frame);

struct EchoPicture {
    int columns = 0, rows = 0;
    double pixel_m = 0.0;
    std::vector<std::uint8_t> grey;  ///< rows from the probe downwards

    [[nodiscard]] std::uint8_t at(int column, int row) const {
        return grey[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                    static_cast<std::size_t>(column)];
    }
};

/// Logarithm of the envelope, from black to white over the dynamic range.
[[nodiscard]] EchoPicture picture_of(const EchoGrid& grid, const std::vector<float>& envelope,
                                     const ProbeSettings& settings);

/// Amplitude of a level.
[[nodiscard]] float amplitude(double db);

/// 32 bits that a place in a lattice has for ever. After the integer finalisers of Wellons 2018 (public domain).
[[nodiscard]] inline std::uint32_t lattice_bits(std::int32_t i, std::int32_t j, std::int32_t k) {
    std::uint32_t h = static_cast<std::uint32_t>(i) * 0x8da6b343U ^ static_cast<std::uint32_t>(j) * 0xd8163841U ^
                      static_cast<std::uint32_t>(k) * 0xcb1ab31fU;
    h ^= h >> 16;
    h *= 0x7feb352dU;
    h ^= h >> 15;
    h *= 0x846ca68bU;
    h ^= h >> 16;
    return h;
}

}  // namespace view
