#include <atomic>
#include <chrono>
#include <exception>
#include <fstream>
#include <string>
#include <thread>

#include <fmt/format.h>
#include <CLI/CLI.hpp>
#include <glm/gtc/constants.hpp>
#include <nlohmann/json.hpp>

#include "tools/headview/shade.hpp"

// the header of stb is not written for our warnings
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#pragma GCC diagnostic ignored "-Wold-style-cast"
#pragma GCC diagnostic ignored "-Wmissing-field-initializers"
#pragma GCC diagnostic ignored "-Wunused-function"
#define STB_IMAGE_WRITE_STATIC
#define STB_IMAGE_WRITE_IMPLEMENTATION
#include <stb/stb_image_write.h>
#pragma GCC diagnostic pop

/// headview --out face.jpg --views 0,2;40,4;90,0 scenarios/patients/ilva.json ...: one row of views a patient.

namespace {

using namespace headview;

constexpr int kThreads = 2;

void on_threads(int n, const std::function<void(int)>& body) {
    std::atomic<int> next{0};
    const auto work = [&] {
        for (int i = next++; i < n; i = next++) body(i);
    };
    std::vector<std::thread> others;
    for (int k = 1; k < kThreads; ++k) others.emplace_back(work);
    work();
    for (std::thread& t : others) t.join();
}

sim::HeadParameters read_patient(const std::string& file) {
    std::ifstream in(file);
    const nlohmann::json json = nlohmann::json::parse(in);
    sim::HeadParameters head;
    for (const sim::HeadParameterField& f : sim::head_parameter_fields()) {
        head.*f.member = json.value(std::string(f.name), head.*f.member);
    }
    head.asymmetry_seed = json.value("asymmetry_seed", head.asymmetry_seed);
    return head;
}

struct Options {
    std::vector<std::string> patients;
    std::string out = "faces.jpg";
    std::vector<float> azimuths_deg{0.0f, 42.0f, 90.0f};
    float elevation_deg = 3.0f;
    int width = 420, height = 520, quality = 88;
    float frame_mm = 285.0f;  ///< height of the picture at the target
    std::vector<float> target_mm{0.0f, -22.0f, 20.0f};
    bool full = false, bare = false;
};

template <class Mesh>
std::vector<glm::vec3> positions(const Mesh& mesh) {
    std::vector<glm::vec3> out;
    for (const auto& v : mesh.vertices) out.push_back(v.position_mm);
    return out;
}

void draw_cloth(const sim::ClothMesh& mesh, const glm::vec3& colour, const sim::OcclusionGrid& scene, const Camera& eye,
                Picture& to) {
    draw(positions(mesh), mesh.triangles, eye, ClothShader(mesh, scene, colour, eye.eye_mm, on_threads), to);
}

void draw_hairs(const sim::SkinField& skin, const Camera& eye, Picture& to) {
    sim::HairMesh mesh = sim::build_hairs(skin);
    // seen from both sides
    const std::size_t once = mesh.triangles.size();
    for (std::size_t i = 0; i < once; i += 3)
        for (const std::size_t k : {i, i + 2, i + 1}) mesh.triangles.push_back(mesh.triangles[k]);
    draw(positions(mesh), mesh.triangles, eye, HairShader(mesh, static_cast<float>(skin.parameters().melanin)), to);
}

void draw_patient(const Options& options, const std::string& file, const sim::SkinTemplate& from, int row,
                  Picture& sheet) {
    constexpr int kOversampling = 2;
    const auto start = std::chrono::steady_clock::now();
    const sim::Dressing dressing{sim::SkinField(read_patient(file))};
    const sim::OcclusionGrid scene = sim::scene_grid(dressing, on_threads);
    const sim::PatientMeshes meshes = sim::build_patient_meshes(dressing, from, scene, {}, on_threads);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    fmt::print("{}: {:.1f} s; skin {} triangles, {} flipped; cap {}, drape {}, pillow {}\n", file, took.count(),
               meshes.skin.triangles.size() / 3, meshes.skin.flipped, meshes.cap.triangles.size() / 3,
               meshes.drape.triangles.size() / 3, meshes.pillow.triangles.size() / 3);
    for (std::size_t k = 0; k < options.azimuths_deg.size(); ++k) {
        Picture view(options.width * kOversampling, options.height * kOversampling);
        const float rad = glm::pi<float>() / 180.0f;
        const glm::vec3 target(options.target_mm[0], options.target_mm[1], options.target_mm[2]);
        const Camera eye = camera(options.azimuths_deg[k] * rad, options.elevation_deg * rad, options.frame_mm, target,
                                  static_cast<float>(options.width) / static_cast<float>(options.height));
        draw(positions(meshes.skin), meshes.skin.triangles, eye,
             SkinShader(meshes.skin, dressing.skin(), scene, eye.eye_mm, on_threads), view);
        if (!options.bare) {
            draw_cloth(meshes.cap, {0.36f, 0.50f, 0.50f}, scene, eye, view);
            draw_cloth(meshes.drape, {0.40f, 0.52f, 0.56f}, scene, eye, view);
            draw_cloth(meshes.pillow, {0.76f, 0.73f, 0.68f}, scene, eye, view);
        }
        draw_hairs(dressing.skin(), eye, view);
        reduce(view, kOversampling, static_cast<int>(k) * options.width, row * options.height, sheet);
    }
}

bool save(const Picture& sheet, const std::string& file, int quality) {
    std::vector<std::uint8_t> bytes;
    for (const glm::vec3& c : sheet.colour) {
        for (int k = 0; k < 3; ++k)
            bytes.push_back(static_cast<std::uint8_t>(255.0f * glm::clamp(c[k], 0.0f, 1.0f) + 0.5f));
    }
    return stbi_write_jpg(file.c_str(), sheet.width, sheet.height, 3, bytes.data(), quality) != 0;
}

int run(const Options& options) {
    const sim::SkinTemplate from =
        sim::build_skin_template(options.full ? sim::MeshDetail::full : sim::MeshDetail::lean, on_threads);
    Picture sheet(options.width * static_cast<int>(options.azimuths_deg.size()),
                  options.height * static_cast<int>(options.patients.size()));
    for (std::size_t i = 0; i < options.patients.size(); ++i) {
        draw_patient(options, options.patients[i], from, static_cast<int>(i), sheet);
    }
    if (save(sheet, options.out, options.quality)) return 0;
    fmt::print(stderr, "{}: cannot write\n", options.out);
    return 1;
}

}  // namespace

int main(int argc, char** argv) {
    Options options;
    CLI::App app("Pictures of patients, to judge faces by eye");
    app.add_option("patients", options.patients, "patient files")->required()->check(CLI::ExistingFile);
    app.add_option("--out", options.out, "JPEG file to write");
    app.add_option("--azimuths", options.azimuths_deg, "degrees, 0 from the front, > 0 from the patient's left");
    app.add_option("--elevation", options.elevation_deg, "degrees");
    app.add_option("--width", options.width, "pixels of one view")->check(CLI::Range(16, 4000));
    app.add_option("--height", options.height, "pixels of one view")->check(CLI::Range(16, 4000));
    app.add_option("--frame-mm", options.frame_mm, "height of the picture at its middle");
    app.add_option("--target-mm", options.target_mm, "middle of the picture")->expected(3);
    app.add_option("--quality", options.quality, "of the JPEG")->check(CLI::Range(1, 100));
    app.add_flag("--full", options.full, "the full mesh instead of the lean one");
    app.add_flag("--bare", options.bare, "without cloth");
    CLI11_PARSE(app, argc, argv);
    try {
        return run(options);
    } catch (const std::exception& e) {
        fmt::print(stderr, "{}\n", e.what());
        return 1;
    }
}
