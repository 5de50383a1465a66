#include "engine/view/ultrasound.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/view/probe_model.hpp"
#include "sim/anatomy/slab.hpp"

using Catch::Matchers::WithinAbs;
using sim::kMm;
using sim::Vec3;

namespace {

constexpr double kTurn = 0.0;
constexpr double kBeatS = 60.0 / view::kPulsesPerMin;
constexpr double kDiastoleS = 0.98 * kBeatS;  // before the pulse's rise
const Vec3 kOut(0, 0, 1);

sim::Structure vessel(const char* name, sim::StructureKind kind, double x_mm, double depth_mm, double radius_mm) {
    sim::Structure out;
    out.name = name;
    out.kind = kind;
    out.line = {{{x_mm * kMm, -0.05, -depth_mm * kMm}, radius_mm * kMm},
                {{x_mm * kMm, 0.05, -depth_mm * kMm}, radius_mm * kMm}};
    return out;
}

/// Flat tissue with an artery and a vein that run square to the plane of a probe at turn 0.
std::shared_ptr<const sim::Anatomy> flat() {
    sim::SlabParameters slab;
    slab.structures = {vessel("artery", sim::StructureKind::artery, -5.0, 8.4, 1.2),
                       vessel("vein", sim::StructureKind::vein, 5.0, 8.4, 1.2)};
    return std::make_shared<const sim::Slab>(slab);
}

view::ProbePose in_the_middle(double press_mm = 0.0) {
    return view::probe_on({Vec3(0.0), kOut}, kTurn, press_mm * kMm);
}

/// Fully developed speckle: nothing but scatterers, no loss beyond what the time gain makes up for.
view::EchoField even_field(const view::ProbeSettings& settings) {
    const sim::Slab slab({});
    view::EchoField field = view::field_at_rest(slab, view::ProbeMap(slab, in_the_middle(), settings));
    std::fill(field.scatter.begin(), field.scatter.end(), 1.0f);
    std::fill(field.mirror.begin(), field.mirror.end(), 0.0f);
    std::fill(field.loss.begin(), field.loss.end(), static_cast<float>(view::kTimeGain));
    return field;
}

struct Moments {
    double mean = 0.0, sd = 0.0;
};

Moments moments(const view::EchoGrid& grid, const std::vector<float>& values, int from_row, int to_row) {
    double sum = 0.0, squares = 0.0, count = 0.0;
    for (int r = from_row; r < to_row; ++r)
        for (int l = 8; l < grid.lines - 8; ++l) {
            const auto v = static_cast<double>(values[grid.at(r, l)]);
            sum += v;
            squares += v * v;
            count += 1.0;
        }
    const double mean = sum / count;
    return {mean, std::sqrt(squares / count - mean * mean)};
}

double correlation(const std::vector<float>& a, const std::vector<float>& b, const view::EchoGrid& grid) {
    double ab = 0.0;
    const Moments of_a = moments(grid, a, 60, 300), of_b = moments(grid, b, 60, 300);
    double count = 0.0;
    for (int r = 60; r < 300; ++r)
        for (int l = 8; l < grid.lines - 8; ++l) {
            const std::size_t i = grid.at(r, l);
            ab += (static_cast<double>(a[i]) - of_a.mean) * (static_cast<double>(b[i]) - of_b.mean);
            count += 1.0;
        }
    return ab / count / (of_a.sd * of_b.sd);
}

double mean_grey(const view::EchoPicture& picture, int column, int half_columns, int row, int half_rows) {
    double sum = 0.0;
    for (int r = row - half_rows; r <= row + half_rows; ++r)
        for (int c = column - half_columns; c <= column + half_columns; ++c) sum += picture.at(c, r);
    return sum / ((2 * half_rows + 1) * (2 * half_columns + 1));
}

int column_at(const view::EchoPicture& picture, double x_mm) {
    return static_cast<int>(std::lround(0.5 * (picture.columns - 1) + x_mm * kMm / picture.pixel_m));
}

int row_at(const view::EchoPicture& picture, double depth_mm) {
    return static_cast<int>(std::lround((depth_mm * kMm + view::kGelFilmM) / picture.pixel_m));
}

/// Width of what is dark about a place along a column or a row, in pixels.
/// @param step (columns, rows) of the way that is looked along
int dark_run(const view::EchoPicture& picture, int column, int row, int step_c, int step_r) {
    constexpr double kDark = 36.0;
    const auto dark = [&](int n) {
        const int c = column + n * step_c, r = row + n * step_r;
        return mean_grey(picture, c, step_c == 0 ? 4 : 0, r, step_r == 0 ? 4 : 0) < kDark;
    };
    int run = 0;
    for (int n = 0; dark(n); ++n) ++run;
    for (int n = -1; dark(n); --n) ++run;
    return run;
}

}  // namespace

TEST_CASE("speckle of many scatterers has the statistics of its theory", "[view][ultrasound]") {
    // Burckhardt 1978, IEEE Trans Sonics Ultrason 25:1-6, and Goodman 1975: amplitudes of a sum of many random phasors
    // are Rayleigh distributed, with mean / sd = sqrt(pi / (4 - pi)) = 1.913
    const view::ProbeSettings settings;
    const view::EchoField field = even_field(settings);
    const std::vector<float> seen = view::envelope(field, settings, 1);
    const Moments all = moments(field.grid, seen, 40, 300);
    CHECK_THAT(all.mean / all.sd, WithinAbs(1.913, 0.05));
    // of a Rayleigh distribution 1 - exp(-1) lies below the rms, exp(-4) above twice the rms
    const double rms = std::sqrt(all.mean * all.mean + all.sd * all.sd);
    double below = 0.0, above = 0.0, count = 0.0;
    for (std::size_t i = field.grid.at(40, 0); i < field.grid.at(300, 0); ++i) {
        const double v = static_cast<double>(seen[i]);
        below += v < rms ? 1.0 : 0.0;
        above += v > 2.0 * rms ? 1.0 : 0.0;
        count += 1.0;
    }
    CHECK_THAT(below / count, WithinAbs(0.632, 0.015));
    CHECK_THAT(above / count, WithinAbs(0.0183, 0.005));
}

TEST_CASE("speckle goes along with the tissue and changes as the probe moves on", "[view][ultrasound]") {
    const view::ProbeSettings settings;
    const sim::Slab slab({});
    const auto at = [&](double x_mm, double y_mm) {
        view::EchoField field = even_field(settings);
        const view::ProbeMap map(slab, view::probe_on({Vec3(x_mm, y_mm, 0.0) * kMm, kOut}, kTurn), settings);
        const view::EchoField here = view::field_at_rest(slab, map);
        field.re = here.re;
        field.im = here.im;
        return view::envelope(field, settings, 1);
    };
    const view::EchoGrid grid(settings);
    const std::vector<float> first = at(0.0, 0.0);
    CHECK(correlation(first, at(0.0, 0.0), grid) > 0.99);
    // one line further along the footprint the same scatterers stand one line to the side
    std::vector<float> shifted = at(10.0 * grid.line_m() / kMm, 0.0);
    std::rotate(shifted.rbegin(), shifted.rbegin() + 10, shifted.rend());
    CHECK(correlation(first, shifted, grid) > 0.5);
    // across the plane others come in, all of them within the thickness of the beam
    const double near = correlation(first, at(0.0, 0.11), grid), far = correlation(first, at(0.0, 2.0), grid);
    CHECK(near > 0.3);
    CHECK(near < 0.95);
    CHECK(std::fabs(far) < 0.1);
}

TEST_CASE("sound is lost on its way, and the time gain makes up for soft tissue", "[view][ultrasound]") {
    const view::ProbeSettings settings;
    view::EchoField field = even_field(settings);
    const auto level_db = [&](int row) {
        return 20.0 * std::log10(moments(field.grid, view::envelope(field, settings, 1), row - 12, row + 13).mean);
    };
    CHECK_THAT(level_db(250), WithinAbs(level_db(70), 0.6));
    // 0.3 dB / (cm MHz) more than made up for, at 15 MHz, there and back: 9 dB in each cm
    std::fill(field.loss.begin(), field.loss.end(), static_cast<float>(view::kTimeGain) + 0.3f);
    CHECK_THAT(level_db(70) - level_db(250), WithinAbs(9.0, 0.6));  // 180 rows are 10 mm
}

TEST_CASE("layers of flat tissue lie in the picture where they are", "[view][ultrasound]") {
    view::Ultrasound probe(flat());
    const view::EchoPicture& picture = probe.look(in_the_middle(), {}, 0.0);
    const sim::SlabParameters slab;
    double depth_mm = 0.0;
    for (std::size_t k = 0; k <= slab.thickness_m.size(); ++k) {
        // brightest row within 0.35 mm, over a band of columns between the vessels
        int best = 0;
        double most = -1.0;
        const int wanted = row_at(picture, depth_mm);
        for (int r = std::max(0, wanted - 6); r <= wanted + 6; ++r) {
            const double grey = mean_grey(picture, column_at(picture, 0.0), 20, r, 0);
            if (grey > most) {
                most = grey;
                best = r;
            }
        }
        INFO("edge " << k << " at " << depth_mm << " mm");
        CHECK(std::abs(best - wanted) <= 1);
        if (k < slab.thickness_m.size()) depth_mm += slab.thickness_m[k] / kMm;
    }
}

TEST_CASE("vessels are dark where they are and as wide as they are", "[view][ultrasound]") {
    view::Ultrasound probe(flat());
    const view::EchoPicture& picture = probe.look(in_the_middle(), {}, kDiastoleS);
    for (const double x_mm : {-5.0, 5.0}) {
        const int column = column_at(picture, x_mm), row = row_at(picture, 8.4);
        CHECK(mean_grey(picture, column, 6, row, 6) < 12.0);
        // 2.4 mm across; the wall's echo is as wide as the beam and takes up to two of its widths from the lumen
        const double high_mm = dark_run(picture, column, row, 0, 1) * picture.pixel_m / kMm;
        const double wide_mm = dark_run(picture, column, row, 1, 0) * picture.pixel_m / kMm;
        CHECK_THAT(high_mm, WithinAbs(2.4, 0.4));
        CHECK_THAT(wide_mm, WithinAbs(2.4, 0.7));
    }
    // behind 2.4 mm of blood, which takes 0.2 dB / (cm MHz) from the sound where fat takes 0.48, it is brighter by
    // 2 * 15 MHz * 0.24 cm * 0.28 = 2.0 dB, or 8.6 of 255 greys over 60 dB
    const auto behind = [](view::Ultrasound& which) {
        const view::EchoPicture& seen = which.look(in_the_middle(), {}, kDiastoleS);
        return mean_grey(seen, column_at(seen, -5.0), 6, row_at(seen, 12.5), 30);
    };
    view::Ultrasound without(std::make_shared<const sim::Slab>(sim::SlabParameters{}));
    CHECK_THAT(behind(probe) - behind(without), WithinAbs(8.6, 2.5));
}

TEST_CASE("arteries beat and veins do not; a vein gives way to the probe", "[view][ultrasound]") {
    view::Ultrasound probe(flat());
    const auto height = [&](double x_mm, double time_s, double press_mm) {
        const view::EchoPicture& picture = probe.look(in_the_middle(press_mm), {}, time_s);
        const double depth_mm = probe.map().lines[0].y_mm(8.4) - view::kGelFilmM / kMm;
        return dark_run(picture, column_at(picture, x_mm), row_at(picture, depth_mm), 0, 1);
    };
    const double low_s = kDiastoleS, high_s = 1.14 * kBeatS;
    CHECK_THAT(view::pulse_at(high_s), WithinAbs(1.0, 1e-6));
    CHECK(view::pulse_at(low_s) < 0.05);
    // 8 % of 2.4 mm are 3.5 pixels
    CHECK(height(-5.0, high_s, 0.0) >= height(-5.0, low_s, 0.0) + 2);
    CHECK(std::abs(height(5.0, high_s, 0.0) - height(5.0, low_s, 0.0)) <= 1);
    CHECK(height(5.0, low_s, 1.5) <= 4);
    CHECK(height(-5.0, low_s, 1.5) > 30);
}

TEST_CASE("bone throws a shadow, the deep fascia does not", "[view][ultrasound]") {
    sim::SlabParameters slab;
    const auto below = [&] {
        view::Ultrasound probe(std::make_shared<const sim::Slab>(slab));
        const view::EchoPicture& picture = probe.look(in_the_middle(), {}, 0.0);
        return mean_grey(picture, picture.columns / 2, 100, row_at(picture, 17.5), 20);
    };
    slab.floor = sim::FloorKind::bone;
    const double under_bone = below();
    slab.floor = sim::FloorKind::fascia;
    CHECK(under_bone < 25.0);
    CHECK(below() > under_bone + 30.0);
}

TEST_CASE("a shaft in the plane is a bright line at its depth, with echoes of itself", "[view][ultrasound]") {
    view::Ultrasound probe(flat());
    const std::array<Vec3, 2> line{Vec3(-2.0, 0.0, -4.0) * kMm, Vec3(2.0, 0.0, -4.0) * kMm};
    const std::array<Vec3, 2> aside{Vec3(-2.0, 3.0, -4.0) * kMm, Vec3(2.0, 3.0, -4.0) * kMm};
    const double radius_mm = 0.41;  // 21 G: 0.819 mm, ISO 9626
    const auto grey = [&](std::span<const Vec3> shaft, double depth_mm) {
        const view::EchoPicture& picture = probe.look(in_the_middle(), {}, 0.0, {shaft, radius_mm * kMm});
        return mean_grey(picture, column_at(picture, 0.0), 12, row_at(picture, depth_mm), 0);
    };
    CHECK(grey(line, 4.0 - radius_mm) > 240.0);
    CHECK(grey(line, 4.0 + radius_mm) > grey(line, 4.0) + 30.0);  // one diameter below
    CHECK(grey(aside, 4.0 - radius_mm) < 180.0);                  // out of the plane it is not seen
}

TEST_CASE("a flat footprint loses a round cheek unless it is pressed on", "[view][ultrasound]") {
    // a ball of tissue of 40 mm radius: 12 mm from the middle the skin lies 1.8 mm lower
    class Ball final : public sim::Anatomy {
     public:
        [[nodiscard]] sim::LayerPoint layers_at(const Vec3& p) const override {
            sim::LayerPoint at;
            at.depth_m = 0.04 - glm::length(p);
            at.bottom_m = {1.5 * kMm, 6.0 * kMm, 7.0 * kMm, 10.0 * kMm, 15.0 * kMm};
            at.layer = at.depth_m < 0.0 ? sim::Layer::outside : sim::Layer::skin;
            return at;
        }
        [[nodiscard]] Vec3 inward_at(const Vec3& p) const override { return -glm::normalize(p); }
        [[nodiscard]] std::optional<sim::SkinPoint> ray_to_skin(const Vec3&, const Vec3&) const override {
            return std::nullopt;
        }
        [[nodiscard]] sim::SkinPoint nearest_skin(const Vec3& p) const override {
            return {0.04 * glm::normalize(p), glm::normalize(p)};
        }
    };
    const auto ball = std::make_shared<const Ball>();
    view::Ultrasound probe(ball);
    const sim::SkinPoint top = ball->nearest_skin(Vec3(0, 0, 0.04));
    const auto lit = [&](double press_mm, double x_mm) {
        const view::EchoPicture& picture = probe.look(view::probe_on(top, kTurn, press_mm * kMm), {}, 0.0);
        return mean_grey(picture, column_at(picture, x_mm), 3, row_at(picture, 1.0), 8);  // in the skin
    };
    CHECK(lit(0.0, 0.0) > 100.0);
    CHECK(lit(0.0, 12.0) < 3.0);
    CHECK(lit(1.5, 12.0) > 100.0);
    // gap by hand: 40 - sqrt(40^2 - 12^2) mm
    const view::ProbeMap map(*ball, view::probe_on(top, kTurn), {});
    const int line = static_cast<int>(std::lround(12.0 * kMm / map.grid.line_m() + 0.5 * (map.grid.lines - 1)));
    const double x_mm = map.grid.x_m(line) / kMm;
    CHECK_THAT(map.depth_of_m(line, sim::Layer::outside) / kMm,
               WithinAbs(view::kGelFilmM / kMm + 40.0 - std::sqrt(1600.0 - x_mm * x_mm), 0.02));
    CHECK_FALSE(map.lines[static_cast<std::size_t>(line)].contact);
}

TEST_CASE("a place told from the picture is the place that was asked", "[view][ultrasound]") {
    const auto anatomy = flat();
    const view::ProbeMap map(*anatomy, view::probe_on({Vec3(0.0), kOut}, 0.5 * sim::kPi), {});
    const int line = map.grid.lines - 1;
    const Vec3 p = map.place_m(line, 5.0 * kMm + view::kGelFilmM);
    // turned by 90 degrees clockwise the picture's right lies below: -y
    CHECK_THAT(p.y, WithinAbs(-map.grid.x_m(line), 1e-9));
    CHECK_THAT(p.z, WithinAbs(-5.0 * kMm, 0.005 * kMm));  // an edge is closed in on to 3 um
    CHECK_THAT(map.depth_of_m(line, sim::Layer::skin), WithinAbs(1.5 * kMm + view::kGelFilmM, 0.005 * kMm));
}

TEST_CASE("the probe stands on the skin with its mark at the picture's left", "[view][ultrasound]") {
    view::ObjectMesh mesh;
    const view::ProbePose pose = in_the_middle();
    view::append_probe(mesh, pose, 25.0 * kMm);
    REQUIRE_FALSE(mesh.triangles.empty());
    float low = 1e9f, high = -1e9f;
    double mark_x = 0.0, marked = 0.0;
    for (const view::ObjectVertex& v : mesh.vertices) {
        low = std::min(low, v.position_mm.z);
        high = std::max(high, v.position_mm.z);
        CHECK_THAT(static_cast<double>(glm::length(v.normal)), WithinAbs(1.0, 1e-3));
        if (v.colour.y > 2.0f * v.colour.x) {
            mark_x += static_cast<double>(v.position_mm.x);
            marked += 1.0;
        }
    }
    CHECK_THAT(static_cast<double>(low), WithinAbs(0.0, 0.01));  // the skin is the plane z = 0
    CHECK(high > 90.0f);
    REQUIRE(marked > 0.0);
    CHECK_THAT(mark_x / marked, WithinAbs(-15.7, 0.5));  // beside the head's left end: 12.5 + 3.0 + 0.2 mm
}
