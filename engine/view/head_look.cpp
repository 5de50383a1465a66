#include "engine/view/head_look.hpp"

#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "engine/view/lean_look.hpp"
#include "sim/anatomy/dressing.hpp"
#include "sim/anatomy/hairs.hpp"
#include "sim/anatomy/skin_texture.hpp"

namespace view {

namespace {

constexpr int kFacePixels = 1024;   // over 140 mm: a brow hair is one to two pixels
constexpr int kDetailPixels = 256;  // over 24 mm

// linear colours of the cloth; assumed
constexpr glm::vec3 kCapDye{0.36f, 0.50f, 0.50f}, kDrapeDye{0.40f, 0.52f, 0.56f}, kPillowDye{0.76f, 0.73f, 0.68f};

std::shared_ptr<const Image> image_of(sim::TextureImage texture) {
    auto image = std::make_shared<Image>();
    image->width = image->height = texture.size;
    image->rgba = std::move(texture.rgba);
    return image;
}

SurfaceVertex vertex_of(const sim::SkinVertex& from) {
    SurfaceVertex to;
    to.position_mm = from.position_mm;
    to.normal = from.normal;
    to.rest_mm = from.rest_mm;
    to.paint = {from.paint.blood, from.paint.melanin, from.paint.beard, from.paint.wetness};
    to.shade = {from.ambient, from.curvature_per_mm, from.paint.pores, 0.0f};
    return to;
}

std::shared_ptr<const Surface> cloth_of(sim::ClothMesh mesh, const glm::vec3& dye) {
    auto cloth = std::make_shared<Surface>();
    cloth->kind = SurfaceKind::cloth;
    cloth->colour = dye;
    cloth->vertices.reserve(mesh.vertices.size());
    for (const sim::ClothVertex& from : mesh.vertices) {
        SurfaceVertex to;
        to.position_mm = to.rest_mm = from.position_mm;
        to.normal = from.normal;
        to.shade = {from.ambient, 0.0f, 0.0f, 0.0f};
        cloth->vertices.push_back(to);
    }
    cloth->triangles = std::move(mesh.triangles);
    return cloth;
}

std::shared_ptr<const ObjectMesh> hairs_of(const sim::HairMesh& from, const SkinTone& tone) {
    // as in assets/shaders/skin.frag
    const glm::vec3 dark = glm::mix(glm::vec3(0.060f, 0.034f, 0.020f), glm::vec3(0.010f, 0.008f, 0.007f),
                                    glm::smoothstep(0.08f, 0.5f, tone.melanin));
    const glm::vec3 colours[] = {dark, 2.2f * dark, {0.22f, 0.21f, 0.20f}};  // in the order of sim::HairKind
    constexpr float kGloss = 0.02f;
    auto hairs = std::make_shared<ObjectMesh>();
    hairs->vertices.reserve(from.vertices.size());
    for (const sim::HairVertex& v : from.vertices)
        hairs->vertices.push_back({v.position_mm, v.normal, colours[static_cast<std::size_t>(v.kind)], kGloss});
    hairs->triangles = from.triangles;
    return hairs;
}

}  // namespace

std::shared_ptr<const Image> skin_detail_image() { return image_of(sim::skin_detail(kDetailPixels)); }

HeadLook build_head_look(const sim::HeadParameters& parameters, const RunAll& run_all,
                         const std::function<void(double)>& progress) {
    const sim::SkinField field(parameters);
    const auto told = [&progress](double fraction) {
        if (progress) progress(fraction);
    };
    const sim::Dressing dressing(field);
    sim::PatientMeshes meshes =
        sim::build_patient_meshes(dressing, sim::build_skin_template(sim::MeshDetail::lean, run_all),
                                  sim::scene_grid(dressing, run_all), told, run_all);
    sim::drop_buried(meshes, dressing, run_all);
    sim::SkinMesh& mesh = meshes.skin;
    auto skin = std::make_shared<Surface>();
    skin->face = true;
    skin->vertices.reserve(mesh.vertices.size());
    for (const sim::SkinVertex& vertex : mesh.vertices) skin->vertices.push_back(vertex_of(vertex));
    skin->triangles = std::move(mesh.triangles);

    HeadLook look;
    look.surfaces = {std::move(skin), cloth_of(std::move(meshes.cap), kCapDye),
                     cloth_of(std::move(meshes.drape), kDrapeDye), cloth_of(std::move(meshes.pillow), kPillowDye)};
    look.tone = {static_cast<float>(parameters.melanin), static_cast<float>(parameters.blood),
                 static_cast<float>(parameters.beard)};
    look.hairs = hairs_of(sim::build_hairs(field), look.tone);
    look.images.detail = skin_detail_image();
    sim::FacePaint paint = sim::paint_face(field, kFacePixels);
    look.images.face = image_of(std::move(paint.colour));
    look.images.relief = image_of(std::move(paint.relief));
    using Window = sim::PaintWindow;
    look.images.face_window_mm = {Window::kLowX, Window::kLowY, Window::kSide};
    work_out_lean_images(look.images, look.tone);
    return look;
}

}  // namespace view
