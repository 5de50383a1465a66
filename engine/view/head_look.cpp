#include "engine/view/head_look.hpp"

#include "sim/anatomy/skin_mesh.hpp"
#include "sim/anatomy/skin_texture.hpp"

namespace view {

namespace {

constexpr int kFacePixels = 1024;   // over 140 mm: a brow hair is one to two pixels
constexpr int kDetailPixels = 256;  // over 24 mm

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

}  // namespace

HeadLook build_head_look(const sim::HeadParameters& parameters, const RunAll& run_all,
                         const std::function<void(double)>& progress) {
    const sim::SkinField field(parameters);
    const auto told = [&progress](double fraction) {
        if (progress) progress(fraction);
    };
    sim::SkinMesh mesh = sim::build_skin_mesh(field, sim::MeshDetail::lean, told, run_all);
    auto skin = std::make_shared<Surface>();
    skin->face = true;
    skin->vertices.reserve(mesh.vertices.size());
    for (const sim::SkinVertex& vertex : mesh.vertices) skin->vertices.push_back(vertex_of(vertex));
    skin->triangles = std::move(mesh.triangles);

    HeadLook look;
    look.surfaces = {std::move(skin)};
    look.tone = {static_cast<float>(parameters.melanin), static_cast<float>(parameters.blood),
                 static_cast<float>(parameters.beard)};
    look.images.detail = image_of(sim::skin_detail(kDetailPixels));
    sim::FacePaint paint = sim::paint_face(field, kFacePixels);
    look.images.face = image_of(std::move(paint.colour));
    look.images.relief = image_of(std::move(paint.relief));
    using Window = sim::PaintWindow;
    look.images.face_window_mm = {Window::kLowX, Window::kLowY, Window::kSide};
    return look;
}

}  // namespace view
