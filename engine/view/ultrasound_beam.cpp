#include "engine/view/ultrasound_beam.hpp"

#include <algorithm>
#include <cmath>

#include "sim/core/errors.hpp"

namespace view {

namespace {

constexpr int kRows = 360;
constexpr double kSoundMPerS = 1540.0;        // mean of soft tissue, to which machines are set
constexpr double kPulseCycles = 2.3;          // of a well damped probe; assumed
constexpr double kFNumber = 3.0;              // focal length over aperture; assumed, usual 2 to 3
constexpr double kFocusM = 8.0e-3;            // assumed: the layers that matter here
constexpr double kDepthOfFocusM = 8.0e-3;     // assumed; machines focus anew at every depth as they receive
constexpr double kNoiseDb = -86.0;            // of the receiver, before the time gain; assumed
constexpr double kFwhm = 2.3548200450309493;  // of a normal curve over its standard deviation
constexpr double kReach = 2.6;                // of a filter, standard deviations

/// Half of a normal curve, sampled; the sum of squares of the whole is one, so that noise keeps its power.
std::vector<float> taps(double sigma) {
    const auto reach = std::max(1, static_cast<int>(std::ceil(kReach * sigma)));
    std::vector<double> raw;
    double power = 0.0;
    for (int k = 0; k <= reach; ++k) {
        raw.push_back(std::exp(-0.5 * k * k / (sigma * sigma)));
        power += (k == 0 ? 1.0 : 2.0) * raw.back() * raw.back();
    }
    std::vector<float> out;
    for (const double value : raw) out.push_back(static_cast<float>(value / std::sqrt(power)));
    return out;
}

double sum_of(const std::vector<float>& half) {
    double sum = 0.0;
    for (std::size_t k = 0; k < half.size(); ++k) sum += (k == 0 ? 1.0 : 2.0) * static_cast<double>(half[k]);
    return sum;
}

double axial_sigma_rows(const EchoGrid& grid, const ProbeSettings& settings) {
    return kPulseCycles * kSoundMPerS / (2.0 * settings.frequency_hz) / kFwhm / grid.row_m;
}

double lateral_sigma_lines(const EchoGrid& grid, const ProbeSettings& settings, int row) {
    const double away = (row * grid.row_m - kFocusM) / kDepthOfFocusM;
    const double focus_m = kFNumber * kSoundMPerS / settings.frequency_hz;
    return focus_m * std::sqrt(1.0 + away * away) / kFwhm / grid.line_m();
}

/// Two numbers of mean 0 and variance 1/2 each, near enough to normal once a few are added up.
void noise_of(std::uint32_t bits, float& re, float& im) {
    // each the sum of two bytes: variance 2 * (256^2 - 1) / 12
    constexpr float kScale = 0.70710678f / 104.5117f;
    re = kScale * (static_cast<float>((bits & 255U) + ((bits >> 8) & 255U)) - 255.0f);
    im = kScale * (static_cast<float>(((bits >> 16) & 255U) + (bits >> 24)) - 255.0f);
}

/// One row of the field as the wave comes back from it: scatterers and interfaces, weakened by what lies above.
/// @param level dB of each line so far, moved on by this row
struct RowEcho {
    const EchoField& field;
    const ProbeSettings& settings;
    std::uint32_t frame;
    double mirror_scale;

    void run(int row, std::vector<float>& level_db, float* re, float* im) const {
        const EchoGrid& grid = field.grid;
        const double per_row = 2.0 * 100.0 * grid.row_m * settings.frequency_hz * 1e-6;  // of one dB / (cm MHz)
        const auto step = static_cast<float>(per_row);
        constexpr auto kGain = static_cast<float>(kTimeGain);
        const float noise = amplitude(kNoiseDb + kTimeGain * per_row * row);
        const auto mirror_weight = static_cast<float>(mirror_scale);
        const std::size_t first = grid.at(row, 0);
        for (int l = 0; l < grid.lines; ++l) {
            const std::size_t i = first + static_cast<std::size_t>(l);
            float& db = level_db[static_cast<std::size_t>(l)];
            db += step * (kGain - field.loss[i]);
            const float weight = std::exp2(0.16609640f * db);  // 10^(db/20)
            float own_re = 0.0f, own_im = 0.0f;
            noise_of(lattice_bits(row, l, static_cast<std::int32_t>(frame)), own_re, own_im);
            const float scatter = weight * field.scatter[i];
            re[l] = scatter * field.re[i] + weight * mirror_weight * field.mirror[i] + noise * own_re;
            im[l] = scatter * field.im[i] + noise * own_im;
        }
    }
};

/// out += tap * in, over a row
void add_row(std::vector<float>& out, std::size_t to, const std::vector<float>& in, std::size_t from, std::size_t count,
             float tap) {
    float* o = out.data() + to;
    const float* a = in.data() + from;
    for (std::size_t i = 0; i < count; ++i) o[i] += tap * a[i];
}

std::vector<float> along_depth(const EchoGrid& grid, const std::vector<float>& in, const std::vector<float>& half) {
    std::vector<float> out(in.size(), 0.0f);
    const auto lines = static_cast<std::size_t>(grid.lines);
    const auto reach = static_cast<int>(half.size()) - 1;
    for (int row = 0; row < grid.rows; ++row)
        for (int k = -reach; k <= reach; ++k)
            if (row + k >= 0 && row + k < grid.rows)
                add_row(out, grid.at(row, 0), in, grid.at(row + k, 0), lines,
                        half[static_cast<std::size_t>(std::abs(k))]);
    return out;
}

void across(const EchoGrid& grid, const std::vector<float>& in, int row, const std::vector<float>& half,
            std::vector<float>& padded, float* out) {
    const auto lines = static_cast<std::size_t>(grid.lines), reach = half.size() - 1;
    padded.assign(lines + 2 * reach, 0.0f);
    std::copy_n(in.data() + grid.at(row, 0), lines, padded.data() + reach);
    std::fill_n(out, lines, 0.0f);
    for (std::size_t k = 0; k <= 2 * reach; ++k) {
        const float tap = half[k > reach ? k - reach : reach - k];
        const float* a = padded.data() + k;
        for (std::size_t l = 0; l < lines; ++l) out[l] += tap * a[l];
    }
}

}  // namespace

float amplitude(double db) { return static_cast<float>(std::pow(10.0, 0.05 * db)); }

EchoGrid::EchoGrid(const ProbeSettings& settings) : rows(kRows), row_m(settings.depth_m / kRows) {
    SIM_ASSERT(settings.depth_m > 0.0 && settings.width_m > 0.0 && settings.frequency_hz > 0.0);
    lines = static_cast<int>(std::floor(settings.width_m / line_m())) + 1;
}

EchoField::EchoField(const EchoGrid& g)
    : grid(g),
      scatter(g.size(), 0.0f),
      mirror(g.size(), 0.0f),
      loss(g.size(), 0.0f),
      re(g.size(), 0.0f),
      im(g.size(), 0.0f) {}

std::vector<float> envelope(const EchoField& field, const ProbeSettings& settings, std::uint32_t frame) {
    const EchoGrid& grid = field.grid;
    const std::vector<float> axial = taps(axial_sigma_rows(grid, settings));
    std::vector<std::vector<float>> lateral;
    double at_focus = 0.0;
    for (int row = 0; row < grid.rows; ++row) {
        lateral.push_back(taps(lateral_sigma_lines(grid, settings, row)));
        at_focus = row == 0 ? sum_of(lateral.back()) : std::min(at_focus, sum_of(lateral.back()));
    }
    // an interface of amplitude 1 across the focused beam gives an envelope of 1
    const RowEcho echo{field, settings, frame, 1.0 / (static_cast<double>(axial[0]) * at_focus)};
    std::vector<float> re(grid.size()), im(grid.size()), level_db(static_cast<std::size_t>(grid.lines), 0.0f);
    for (int row = 0; row < grid.rows; ++row)
        echo.run(row, level_db, re.data() + grid.at(row, 0), im.data() + grid.at(row, 0));
    re = along_depth(grid, re, axial);
    im = along_depth(grid, im, axial);

    std::vector<float> out(grid.size()), padded, a(static_cast<std::size_t>(grid.lines)), b(a.size());
    for (int row = 0; row < grid.rows; ++row) {
        const std::vector<float>& half = lateral[static_cast<std::size_t>(row)];
        across(grid, re, row, half, padded, a.data());
        across(grid, im, row, half, padded, b.data());
        for (std::size_t l = 0; l < a.size(); ++l) out[grid.at(row, 0) + l] = std::sqrt(a[l] * a[l] + b[l] * b[l]);
    }
    return out;
}

EchoPicture picture_of(const EchoGrid& grid, const std::vector<float>& envelope, const ProbeSettings& settings) {
    EchoPicture picture;
    picture.columns = 2 * grid.lines - 1;
    picture.rows = grid.rows;
    picture.pixel_m = grid.row_m;
    picture.grey.resize(static_cast<std::size_t>(picture.columns) * static_cast<std::size_t>(picture.rows));
    // 20 log10(e) = 6.0206 log2(e)
    const auto range = static_cast<float>(settings.dynamic_range_db);
    const float slope = 255.0f * 6.0205999f / range;
    const float base = 255.0f * (static_cast<float>(settings.gain_db) / range + 1.0f);
    const auto grey_of = [&](float e) {
        const float value = base + slope * std::log2(std::max(e, 1e-7f));
        return static_cast<std::uint8_t>(std::clamp(value, 0.0f, 255.0f));
    };
    std::size_t to = 0;
    for (int row = 0; row < grid.rows; ++row) {
        const float* e = envelope.data() + grid.at(row, 0);
        std::uint8_t last = 0;
        for (int l = 0; l < grid.lines; ++l) {
            const std::uint8_t here = grey_of(e[l]);
            if (l > 0) picture.grey[to++] = static_cast<std::uint8_t>((last + here + 1) / 2);
            picture.grey[to++] = last = here;
        }
    }
    return picture;
}

}  // namespace view
