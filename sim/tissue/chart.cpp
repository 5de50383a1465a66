#include "sim/tissue/chart.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/anatomy/skin_field.hpp"
#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

// The treated region in nominal coordinates: from before one ear to before the other, cheekbone to middle of the neck.
constexpr double kHalfWideM = 120.0 * kMm;
constexpr double kTallM = 184.0 * kMm;
constexpr double kNominalRadiusM = 72.5 * kMm;  ///< turns s into the angle of a ray
constexpr double kMostBelowM = 40.0 * kMm;      ///< of margin: further down lie collar bones and shoulders
constexpr double kGrading = 1.3;                ///< of one margin cell to the next
constexpr double kAxisZM = 2.0 * kMm;           ///< rays start from points on the vertical axis x = 0 at this z
constexpr double kSmallTiltBehind = 0.35;       ///< behind the axis the planes tilt back up by this share

/// A plane that cuts a row: its height on the axis and its slope forwards, by nominal t. Drawn so that in front rows
/// follow brow, lips, chin, the line under the chin and the neck, and at the side the jaw (assumed; the cells are
/// evened out afterwards).
struct RowPlane {
    double t_mm, height_mm, slope;
};
constexpr RowPlane kRows[] = {{-70.0, 74.0, 0.06},   {0.0, 14.0, -0.04},     {60.0, -24.0, -0.28},
                              {90.0, -42.0, -0.46},  {112.0, -56.0, -0.66},  {130.0, -68.0, -0.74},
                              {150.0, -82.0, -0.80}, {184.0, -112.0, -0.84}, {226.0, -142.0, -0.84}};

RowPlane row_plane(double t_m) {
    const double t = std::clamp(t_m / kMm, kRows[0].t_mm, std::end(kRows)[-1].t_mm);
    std::size_t k = 1;
    while (k + 1 < std::size(kRows) && kRows[k].t_mm < t) ++k;
    const RowPlane& a = kRows[k - 1];
    const RowPlane& b = kRows[k];
    const double f = (t - a.t_mm) / (b.t_mm - a.t_mm);
    return {t, a.height_mm + f * (b.height_mm - a.height_mm), a.slope + f * (b.slope - a.slope)};
}

/// Node lines: even over [low, high], growing by kGrading beyond it until the margin's end on either side.
struct Lines {
    std::vector<double> at_m;
    int first = 0, last = 0;
};

Lines node_lines(double low_m, double high_m, double edge_m, double before_m, double after_m) {
    const auto margin = [&](double length_m) {
        std::vector<double> out;
        double step = edge_m;
        double sum = 0.0;
        while (sum < length_m - 0.5 * step) out.push_back(sum += (step *= kGrading));
        for (double& x : out) x *= length_m / sum;
        return out;
    };
    const int even = static_cast<int>(std::lround((high_m - low_m) / edge_m));
    const std::vector<double> before = margin(before_m);
    Lines lines;
    for (std::size_t k = before.size(); k-- > 0;) lines.at_m.push_back(low_m - before[k]);
    lines.first = static_cast<int>(lines.at_m.size());
    lines.last = lines.first + even;
    for (int k = 0; k <= even; ++k) lines.at_m.push_back(low_m + (high_m - low_m) * k / even);
    for (const double x : margin(after_m)) lines.at_m.push_back(high_m + x);
    return lines;
}

double base_m(const SkinField& skin, const Vec3& p_m) {
    return static_cast<double>(skin.large_forms_mm(glm::vec3(p_m / kMm))) * kMm;
}

Vec3 base_gradient(const SkinField& skin, const Vec3& p_m) {
    constexpr double kStepM = 1.5 * kMm;  // wider than rounding of single precision, finer than any large form
    Vec3 g{};
    for (int k = 0; k < 3; ++k) {
        Vec3 step{};
        step[k] = kStepM;
        g[k] = (base_m(skin, p_m + step) - base_m(skin, p_m - step)) / (2.0 * kStepM);
    }
    return g;
}

/// Where a ray from the axis leaves the base shape.
Vec3 leave(const SkinField& skin, const Vec3& from_m, const Vec3& direction) {
    constexpr double kStepM = 4.0 * kMm, kFarM = 0.16;
    constexpr int kHalvings = 20;
    double outside = 20.0 * kMm;
    while (outside < kFarM && base_m(skin, from_m + outside * direction) < 0.0) outside += kStepM;
    double inside = outside - kStepM;
    for (int i = 0; i < kHalvings; ++i) {
        const double middle = 0.5 * (inside + outside);
        (base_m(skin, from_m + middle * direction) < 0.0 ? inside : outside) = middle;
    }
    return from_m + outside * direction;
}

void first_guess(const SkinField& skin, Chart& chart) {
    chart.base_m.resize(static_cast<std::size_t>(chart.wide) * static_cast<std::size_t>(chart.high));
    for (int j = 0; j < chart.high; ++j) {
        const RowPlane plane = row_plane(chart.t_m[static_cast<std::size_t>(j)]);
        const Vec3 from(0.0, plane.height_mm * kMm, kAxisZM);
        for (int i = 0; i < chart.wide; ++i) {
            const double angle = chart.s_m[static_cast<std::size_t>(i)] / kNominalRadiusM;
            const double ahead = std::cos(angle) > 0.0 ? std::cos(angle) : kSmallTiltBehind * std::cos(angle);
            chart.base_m[chart.at(i, j)] =
                leave(skin, from, glm::normalize(Vec3(std::sin(angle), plane.slope * ahead, std::cos(angle))));
        }
    }
}

/// One round of evening out: every node moves towards the mean of its neighbours along both lines, weighted so that
/// equal steps in s and t become equal steps on the shape, and back onto the base shape. Nodes of the rim slide along.
void even_out(const SkinField& skin, Chart& chart) {
    constexpr double kStep = 0.6;
    const std::vector<Vec3> before = chart.base_m;
    const auto between = [](const Vec3& low, const Vec3& high, const std::vector<double>& line, int k) {
        const auto n = static_cast<std::size_t>(k);
        const double f = (line[n] - line[n - 1]) / (line[n + 1] - line[n - 1]);
        return low + f * (high - low);
    };
    for (int j = 0; j < chart.high; ++j)
        for (int i = 0; i < chart.wide; ++i) {
            const bool rim_s = i == 0 || i + 1 == chart.wide;
            const bool rim_t = j == 0 || j + 1 == chart.high;
            if (rim_s && rim_t) continue;
            Vec3 sum{};
            int parts = 0;
            if (!rim_s) sum += between(before[chart.at(i - 1, j)], before[chart.at(i + 1, j)], chart.s_m, i), ++parts;
            if (!rim_t) sum += between(before[chart.at(i, j - 1)], before[chart.at(i, j + 1)], chart.t_m, j), ++parts;
            Vec3 p = before[chart.at(i, j)];
            p += kStep * (sum / static_cast<double>(parts) - p);
            const Vec3 g = base_gradient(skin, p);
            chart.base_m[chart.at(i, j)] = p - g * (base_m(skin, p) / std::max(glm::dot(g, g), 0.25));
        }
}

}  // namespace

ChartSize chart_size(const ChartSettings& settings) {
    const auto cells = [&](double length_m) {
        double count = 0.0;
        double step = settings.edge_m;
        double sum = 0.0;
        while (sum < length_m - 0.5 * step) sum += (step *= kGrading), ++count;
        return count;
    };
    const double beside = cells(settings.margin_m);
    const double below = cells(std::min(settings.margin_m, kMostBelowM));
    return {std::round(2.0 * kHalfWideM / settings.edge_m) + 2.0 * beside + 1.0,
            std::round(kTallM / settings.edge_m) + beside + below + 1.0};
}

void validate(const ChartSettings& settings) {
    if (!(settings.edge_m >= 2.0 * kMm && settings.edge_m <= 8.0 * kMm))
        throw InputError("tissue.edge_m", settings.edge_m, "0.002 to 0.008");
    if (!(settings.margin_m >= 20.0 * kMm && settings.margin_m <= 70.0 * kMm))
        throw InputError("tissue.margin_m", settings.margin_m, "0.02 to 0.07");
    if (!(settings.most_bytes >= 1e6 && settings.most_bytes <= 1e12))
        throw InputError("tissue.most_bytes", settings.most_bytes, "1e6 to 1e12");
}

Chart build_chart(const SkinField& skin, const ChartSettings& settings) {
    constexpr int kRounds = 24, kNormalRounds = 4;
    validate(settings);
    const double margin = settings.margin_m;
    const Lines s = node_lines(-kHalfWideM, kHalfWideM, settings.edge_m, margin, margin);
    const Lines t = node_lines(0.0, kTallM, settings.edge_m, margin, std::min(margin, kMostBelowM));
    Chart chart;
    chart.wide = static_cast<int>(s.at_m.size());
    chart.high = static_cast<int>(t.at_m.size());
    chart.s_m = s.at_m, chart.t_m = t.at_m;
    chart.left = s.first, chart.right = s.last;
    chart.top = t.first, chart.bottom = t.last;
    first_guess(skin, chart);
    for (int round = 0; round < kRounds; ++round) even_out(skin, chart);
    for (const Vec3& p : chart.base_m) chart.outward.push_back(glm::normalize(base_gradient(skin, p)));
    smooth_over(chart, chart.outward, kNormalRounds);
    for (Vec3& n : chart.outward) n = glm::normalize(n);
    return chart;
}

namespace {

int line_of(const std::vector<double>& lines, double x, double& fraction) {
    const auto above = std::upper_bound(lines.begin(), lines.end(), x);
    const auto last = static_cast<std::ptrdiff_t>(lines.size()) - 2;
    const auto k = static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(above - lines.begin() - 1, 0, last));
    fraction = (x - lines[k]) / (lines[k + 1] - lines[k]);
    return static_cast<int>(k);
}

}  // namespace

ChartCell cell_of(const Chart& chart, double s_m, double t_m) {
    ChartCell out;
    out.i = line_of(chart.s_m, s_m, out.a);
    out.j = line_of(chart.t_m, t_m, out.b);
    return out;
}

std::array<std::pair<int, double>, 4> corners(const Chart& chart, const ChartCell& c) {
    const auto column = [&](int i, int j) { return static_cast<int>(chart.at(i, j)); };
    return {{{column(c.i, c.j), (1.0 - c.a) * (1.0 - c.b)},
             {column(c.i + 1, c.j), c.a * (1.0 - c.b)},
             {column(c.i, c.j + 1), (1.0 - c.a) * c.b},
             {column(c.i + 1, c.j + 1), c.a * c.b}}};
}

}  // namespace sim::fe
