/// Pictures of the tissue mesh of the shipped patients, for looking at what was built: its skin and its floor from
/// around, cells coloured by scaled Jacobian, and cuts along lines of the chart. Prints the quality.
///
///   meshview OUT_FOLDER [edge in mm] [patient | random [how many, default 200] [first seed]]

#include <cairo.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <string>

#include <glm/common.hpp>
#include <glm/vec2.hpp>

#include "sim/anatomy/skin_field.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/hex_mesh.hpp"
#include "tests/support/heads.hpp"

namespace {

using sim::kMm;
using sim::Vec3;
using sim::fe::HexMesh;
using sim::fe::kCellsDeep;

constexpr int kPixels = 760;

class Canvas {
 public:
    Canvas(int wide, int high) : surface_(cairo_image_surface_create(CAIRO_FORMAT_RGB24, wide, high)) {
        cr_ = cairo_create(surface_);
        cairo_set_source_rgb(cr_, 0.10, 0.11, 0.12);
        cairo_paint(cr_);
    }
    ~Canvas() {
        cairo_destroy(cr_);
        cairo_surface_destroy(surface_);
    }
    Canvas(const Canvas&) = delete;
    Canvas& operator=(const Canvas&) = delete;
    void polygon(const std::vector<glm::dvec2>& points, const Vec3& fill) {
        cairo_new_path(cr_);
        for (const auto& p : points) cairo_line_to(cr_, p.x, p.y);
        cairo_close_path(cr_);
        cairo_set_source_rgb(cr_, fill.x, fill.y, fill.z);
        cairo_fill_preserve(cr_);
        cairo_set_source_rgb(cr_, 0.15, 0.15, 0.18);
        cairo_set_line_width(cr_, 0.5);
        cairo_stroke(cr_);
    }
    void write(const std::string& path) {
        if (cairo_surface_write_to_png(surface_, path.c_str()) != CAIRO_STATUS_SUCCESS)
            std::fprintf(stderr, "meshview: %s could not be written\n", path.c_str());
    }

 private:
    cairo_surface_t* surface_;
    cairo_t* cr_;
};

Vec3 quality_colour(double jacobian) {
    if (jacobian < sim::fe::kJacobianLimit) return {0.9, 0.1, 0.1};
    return glm::mix(Vec3(0.95, 0.65, 0.2), Vec3(0.55, 0.75, 0.85), std::clamp((jacobian - 0.2) / 0.6, 0.0, 1.0));
}

struct Eye {
    Vec3 right, up, out;
};

void draw_level(Canvas& canvas, const HexMesh& mesh, int level, const Eye& eye, double left_px) {
    struct Quad {
        double near;
        std::vector<glm::dvec2> at;
        Vec3 fill;
    };
    std::vector<Quad> quads;
    const Vec3 middle(0.0, -0.055, 0.02);
    for (int j = 0; j + 1 < mesh.chart.high; ++j)
        for (int i = 0; i + 1 < mesh.chart.wide; ++i) {
            Quad quad;
            double worst = 1.0;
            for (int k = 0; k < kCellsDeep; ++k)
                worst = std::min(
                    worst, sim::fe::scaled_jacobian(mesh.cells.nodes_of(static_cast<std::size_t>(mesh.cell(i, j, k)))));
            const auto cell = mesh.cells.cell[static_cast<std::size_t>(mesh.cell(i, j, std::min(level, 6)))];
            Vec3 centre{};
            std::array<Vec3, 4> corner;
            for (std::size_t a = 0; a < 4; ++a) {
                corner[a] = mesh.cells.node_m[static_cast<std::size_t>(cell[a + (level == kCellsDeep ? 4 : 0)])];
                centre += 0.25 * corner[a];
                const Vec3 off = corner[a] - middle;
                quad.at.emplace_back(left_px + kPixels * (0.5 + glm::dot(off, eye.right) / 0.27),
                                     kPixels * (0.5 - glm::dot(off, eye.up) / 0.27));
            }
            const Vec3 n = glm::normalize(glm::cross(corner[2] - corner[0], corner[3] - corner[1]));
            quad.fill = quality_colour(worst) * (0.45 + 0.55 * std::abs(glm::dot(n, eye.out)));
            quad.near = glm::dot(centre, eye.out);
            quads.push_back(std::move(quad));
        }
    std::sort(quads.begin(), quads.end(), [](const Quad& a, const Quad& b) { return a.near < b.near; });
    for (const Quad& quad : quads) canvas.polygon(quad.at, quad.fill);
}

void draw_around(const HexMesh& mesh, int level, const std::string& path) {
    Canvas canvas(4 * kPixels, kPixels);
    const Vec3 up(0, 1, 0);
    const auto eye = [&](const Vec3& from) {
        const Vec3 out = glm::normalize(from);
        const Vec3 right = glm::normalize(glm::cross(up, out));
        return Eye{right, glm::cross(out, right), out};
    };
    int at = 0;
    for (const Vec3& from : {Vec3(0, 0, 1), Vec3(0.7, -0.35, 0.7), Vec3(1, 0, 0), Vec3(0.8, -0.1, -0.7)})
        draw_level(canvas, mesh, level, eye(from), kPixels * at++);
    canvas.write(path);
}

/// Cells along one line of the chart, unrolled into the plane that fits: (x, z) of a row, (z, y) of a column line.
void draw_cuts(const HexMesh& mesh, const std::string& path) {
    constexpr Vec3 kLayer[kCellsDeep]{{0.60, 0.22, 0.22}, {0.90, 0.74, 0.38}, {0.55, 0.75, 0.85}, {0.80, 0.42, 0.40},
                                      {0.95, 0.84, 0.46}, {0.97, 0.88, 0.55}, {0.90, 0.69, 0.59}};
    Canvas canvas(4 * kPixels, kPixels);
    const auto& chart = mesh.chart;
    const auto cut = [&](int i, int j, bool row, int place) {
        for (int k = 0; k < kCellsDeep; ++k) {
            const auto cell = mesh.cells.cell[static_cast<std::size_t>(mesh.cell(i, j, k))];
            std::vector<glm::dvec2> at;
            for (const std::size_t a :
                 row ? std::array<std::size_t, 4>{0, 3, 7, 4} : std::array<std::size_t, 4>{0, 1, 5, 4}) {
                const Vec3 p = mesh.cells.node_m[static_cast<std::size_t>(cell[a])];
                at.emplace_back(kPixels * (place + 0.5 + (row ? p.x : p.z - 0.02) / 0.24),
                                kPixels * (row ? 0.45 - (p.z - 0.01) / 0.24 : 0.5 - (p.y + 0.055) / 0.27));
            }
            canvas.polygon(at, kLayer[k]);
        }
    };
    for (int i = 0; i + 1 < chart.wide; ++i) {
        cut(i, chart.top + (chart.bottom - chart.top) / 4, true, 0);
        cut(i, chart.top + 3 * (chart.bottom - chart.top) / 5, true, 1);
    }
    for (int j = 0; j + 1 < chart.high; ++j) {
        cut(chart.wide / 2, j, false, 2);
        cut(chart.wide / 2 + (chart.right - chart.left) / 4, j, false, 3);
    }
    canvas.write(path);
}

void print(const std::string& name, const HexMesh& mesh) {
    const auto q = sim::fe::quality_of(mesh);
    std::printf(
        "%s: %d mended by up to %.1f, skin %.2f mm; %d unknowns, edge %.2f mm, Jacobian least %.3f (%s at %.0f %.0f "
        "%.0f), 1 %% %.3f, under %.4f\n",
        name.c_str(), mesh.mended_columns, mesh.mended_most_m / kMm, mesh.mended_top_m / kMm, q.unknowns,
        q.edge_mean_m / kMm, q.least_jacobian,
        std::string(name_of(static_cast<sim::fe::CellLayer>(q.worst_layer))).c_str(), q.worst_m.x / kMm,
        q.worst_m.y / kMm, q.worst_m.z / kMm, q.percentile_1_jacobian, q.share_under_limit);
}

/// A patient anywhere within the accepted ranges.
sim::HeadParameters random_patient(std::uint64_t seed) {
    sim::Random random(seed);
    sim::HeadParameters p;
    for (const auto& field : sim::head_parameter_fields()) p.*field.member = random.uniform(field.low, field.high);
    p.asymmetry_seed = seed;
    return p;
}

void show(const sim::HeadParameters& head, const std::string& name, const std::string& folder,
          const sim::fe::ChartSettings& settings, bool pictures) {
    const auto tissue = sim::build_head_tissue(head, support::on_two_threads, {});
    const HexMesh mesh = sim::fe::build_mesh(*tissue, settings);
    print(name, mesh);
    if (!pictures) return;
    const std::string prefix = folder + "/" + name;
    draw_around(mesh, kCellsDeep, prefix + "_mesh_skin.png");
    draw_around(mesh, 0, prefix + "_mesh_floor.png");
    draw_cuts(mesh, prefix + "_mesh_cuts.png");
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) {
        std::fprintf(stderr, "usage: meshview OUT_FOLDER [edge in mm] [patient | random [how many] [first seed]]\n");
        return 2;
    }
    sim::fe::ChartSettings settings;
    if (argc > 2) settings.edge_m = std::atof(argv[2]) * kMm;
    const std::string only = argc > 3 ? argv[3] : "";
    if (only == "random") {
        const int count = argc > 4 ? std::atoi(argv[4]) : 200;
        const int first = argc > 5 ? std::atoi(argv[5]) : 1000;
        for (int seed = first; seed < first + count; ++seed)
            show(random_patient(static_cast<std::uint64_t>(seed)), "random_" + std::to_string(seed), argv[1], settings,
                 count == 1);
        return 0;
    }
    for (const support::NamedPatient& patient : support::patients())
        if (only.empty() || only == patient.name)
            show(patient.head, std::string(patient.name), argv[1], settings, true);
    return 0;
}
