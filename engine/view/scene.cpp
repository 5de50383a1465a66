#include "engine/view/scene.hpp"

#include <algorithm>
#include <cmath>

#include "engine/view/fingers.hpp"
#include "engine/view/head_look.hpp"
#include "engine/view/lean_look.hpp"
#include "engine/view/probe_model.hpp"
#include "engine/view/shaft_look.hpp"
#include "engine/view/shapes.hpp"
#include "sim/anatomy/slab.hpp"
#include "sim/instruments/gauge.hpp"
#include "sim/tissue/moved_body.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;
constexpr double kBlockAirM = 30.0 * sim::kMm;    // drawn around the planned work
constexpr double kBlockFloorM = 12.0 * sim::kMm;  // of floor below the muscle
constexpr double kGridM = 1.5 * sim::kMm;         // of a slab's skin: fine enough for a tent to be round
constexpr double kSideCellM = 0.5 * sim::kMm;
constexpr double kStillDepthM = 16.0 * sim::kMm;  // to which a live tip moves the tissue in the picture; by eye
constexpr unsigned kPenColour = 0x5B3A8E;         // marker pen
constexpr unsigned kThreadColour = 0x6A3E8C;

glm::vec3 millimetres(const Vec3& p_m) { return glm::vec3(p_m) * kMmPerM; }

std::shared_ptr<const Surface> skin_of(const Block& block) {
    auto surface = std::make_shared<Surface>();
    const Vec3 size_m = block.high_m - block.low_m;
    const auto cells = [](double length_m) { return static_cast<std::uint32_t>(std::ceil(length_m / kGridM)); };
    const std::uint32_t nx = cells(size_m.x), ny = cells(size_m.y);
    for (std::uint32_t j = 0; j <= ny; ++j)
        for (std::uint32_t i = 0; i <= nx; ++i) {
            SurfaceVertex vertex;
            vertex.position_mm =
                millimetres({block.low_m.x + size_m.x * i / nx, block.low_m.y + size_m.y * j / ny, 0.0});
            vertex.normal = {0, 0, 1};
            vertex.rest_mm = vertex.position_mm;
            surface->vertices.push_back(vertex);
        }
    for (std::uint32_t j = 0; j < ny; ++j)
        for (std::uint32_t i = 0; i < nx; ++i) {
            const std::uint32_t a = j * (nx + 1) + i;
            for (const std::uint32_t k : {a, a + 1, a + nx + 2, a, a + nx + 2, a + nx + 1})
                surface->triangles.push_back(k);
        }
    return surface;
}

LayerFace side(const Vec3& origin_m, const Vec3& u_m, const Vec3& v_m) {
    LayerFace face;
    face.origin_mm = millimetres(origin_m);
    face.edge_u_mm = millimetres(u_m);
    face.edge_v_mm = millimetres(v_m);
    face.normal = glm::vec3(glm::normalize(glm::cross(u_m, v_m)));
    face.cut_by_box = true;
    return face;
}

/// Pen strokes lie on the skin: the way between two skin points, laid down on it.
std::vector<sim::SkinPoint> over_skin(const sim::Anatomy& anatomy, const Vec3& from_m, const Vec3& to_m) {
    constexpr int kPieces = 48;
    std::vector<sim::SkinPoint> line;
    for (int i = 0; i <= kPieces; ++i)
        line.push_back(anatomy.nearest_skin(glm::mix(from_m, to_m, static_cast<double>(i) / kPieces)));
    return line;
}

bool shows_thread(const sim::TrackRecord& track) { return track.loaded && track.final && track.pieces.size() >= 2; }

constexpr double kThreadRadiusM = 0.17 * sim::kMm;  // USP 2-0: 0.30 to 0.35 mm across, from memory

/// A thread that was cut begins at its end under the skin.
void drop_cut_part(std::vector<Vec3>& line, const sim::HeldThread& thread) {
    double beyond_m = thread.trimmed() ? std::max(0.0, *thread.cut_m - thread.tail_out_m) : 0.0;
    std::size_t first = 0;
    while (first + 2 < line.size() && beyond_m > 0.0) {
        const double piece_m = glm::length(line[first + 1] - line[first]);
        if (piece_m > beyond_m) {
            line[first] = glm::mix(line[first], line[first + 1], beyond_m / piece_m);
            break;
        }
        beyond_m -= piece_m;
        ++first;
    }
    line.erase(line.begin(), line.begin() + static_cast<std::ptrdiff_t>(first));
}

template <class Moved>
void append_threads(ObjectMesh& mesh, std::span<const sim::TrackRecord> left, std::span<const sim::HeldThread> held,
                    Moved moved_m) {
    for (const sim::TrackRecord& track : left) {
        if (!shows_thread(track)) continue;
        const auto thread = std::find_if(held.begin(), held.end(),
                                         [&](const sim::HeldThread& one) { return one.track == track.track; });
        if (thread != held.end() && thread->out) continue;
        std::vector<Vec3> line{track.entry_m};
        for (const sim::TrackPiece& piece : track.pieces) line.push_back(piece.middle_m);
        if (thread != held.end()) drop_cut_part(line, *thread);
        for (Vec3& p : line) p += moved_m(p);
        append_tube(mesh, line, std::vector<double>(line.size(), kThreadRadiusM), {linear(kThreadColour), 0.25f}, 8);
    }
}

/// Of the skin over a place of the shaft.
Vec3 moved_along(const std::vector<LiveSkin::Along>& along, double arc_m) {
    std::size_t k = 1;
    while (k + 1 < along.size() && along[k].arc_m < arc_m) ++k;
    if (along.size() < 2) return along.front().moved_m;
    const LiveSkin::Along &a = along[k - 1], &b = along[k];
    const double length_m = b.arc_m - a.arc_m;
    const double f = length_m > 1e-9 ? std::clamp((arc_m - a.arc_m) / length_m, 0.0, 1.0) : 0.0;
    return glm::mix(a.moved_m, b.moved_m, f);
}

/// Where the live tip brings a place on the cut's walls; as layers.vert does it.
glm::vec3 lifted_in_cut(const CutBox& box, const glm::vec3& p_mm) {
    if (box.lift.empty()) return p_mm;
    const glm::vec3 at = glm::transpose(box.axes) * (p_mm - box.centre_mm);
    const float along = std::clamp(0.5f * at.x / box.half_mm.x + 0.5f, 0.0f, 1.0f) * (kCutStations - 1);
    const auto first = std::min(static_cast<std::size_t>(along), kCutStations - 2);
    const glm::vec4 here = glm::mix(box.lift[first], box.lift[first + 1], along - static_cast<float>(first));
    const float deep_mm = here.w - at.y;
    return p_mm + glm::vec3(here) * std::max(0.0f, 1.0f - deep_mm / (static_cast<float>(kStillDepthM) * kMmPerM));
}

/// A mesh with some of its vertices elsewhere.
std::shared_ptr<const ObjectMesh> with_moves(const std::shared_ptr<const ObjectMesh>& mesh, const VertexMoves* moves) {
    if (!mesh || moves == nullptr) return mesh;
    auto out = std::make_shared<ObjectMesh>(*mesh);
    for (std::size_t k = 0; k < moves->vertex.size(); ++k) {
        ObjectVertex& vertex = out->vertices[moves->vertex[k]];
        vertex.position_mm += moves->move_mm[k];
        vertex.normal = glm::normalize(vertex.normal + moves->turn[k]);
    }
    return out;
}

}  // namespace

Block block_around(const sim::Scenario& scenario, const sim::Anatomy& anatomy) {
    Vec3 low(1.0), high(-1.0);
    for (const sim::PlannedVector& vector : scenario.plan)
        for (const Vec3& p : {vector.entry_m, vector.end_m}) {
            low = glm::min(low, p);
            high = glm::max(high, p);
        }
    if (scenario.plan.empty()) low = high = Vec3{};
    const Vec3 edge(sim::Slab::kHalfWidthM);
    low = glm::max(low - Vec3(kBlockAirM), -edge);
    high = glm::min(high + Vec3(kBlockAirM), edge);
    const double floor_m = anatomy.layers_at(0.5 * (low + high)).bottom_of(sim::Layer::muscle);
    return {{low.x, low.y, -(floor_m + kBlockFloorM)}, {high.x, high.y, 0.0}};
}

Scene::Scene(std::shared_ptr<const sim::Model> model, HeadLook head,
             std::shared_ptr<const InstrumentModels> instruments)
    : model_(std::move(model)),
      look_(std::move(head)),
      instruments_(instruments ? std::move(instruments) : std::make_shared<const InstrumentModels>()),
      block_(look_.surfaces.empty() ? std::optional(block_around(model_->scenario, *model_->anatomy)) : std::nullopt),
      cutaway_(model_->anatomy, block_) {
    if (block_) build_block();
    mark_plan();
    build_structures();
    shown_ = parts();
    clean_ = shown_.surfaces.front();
    follow_live();
}

SceneParts Scene::parts() const {
    return {look_.surfaces, {marks_, look_.hairs}, {structures_.begin(), structures_.end()}};
}

void Scene::pose(std::shared_ptr<const PatientMoves> from, std::shared_ptr<const PatientMoves> to, float share) {
    from_ = std::move(from);
    to_ = std::move(to);
    share_ = share;
    shown_ = moved_parts(parts(), from_.get(), to_.get(), share_);
    moved_ = to_ && share_ >= 1.0f ? std::make_shared<const MovedAnatomy>(model_->anatomy, to_->body) : nullptr;
    cutaway_ = Cutaway(moved_ ? moved_ : model_->anatomy, block_);
    clean_ = shown_.surfaces.front();
    paint_skin();
    follow_live();
}

void Scene::follow_visit(const sim::State& state, std::span<const sim::Event> events) {
    SkinSigns signs = skin_signs(*model_, state, events);
    if (signs == signs_) return;
    const bool wiped = signs.wiped != std::array<SkinSigns::Wipe, sim::kSkinAreas>{};
    if (wiped && !areas_) areas_.emplace(*look_.surfaces.front(), *model_->anatomy);
    const auto recoloured = [](const SkinSigns& a, const SkinSigns& b) {
        return a.blebs != b.blebs || a.blanched != b.blanched || a.bruises != b.bruises || a.wiped != b.wiped;
    };
    const bool marked = signs.marks != signs_.marks || signs.pulses != signs_.pulses || signs.drops != signs_.drops;
    const bool paint = recoloured(signs, signs_);
    signs_ = std::move(signs);
    if (marked) sign_marks_ = on_skin_of(signs_, *look_.surfaces.front(), *model_->anatomy);
    if (paint) paint_skin();
    follow_live();
}

void Scene::paint_skin() {
    shown_.surfaces.front() = painted(look_.surfaces.front(), clean_, signs_, areas_ ? &*areas_ : nullptr);
}

/// The cut's walls go along with the skin over them.
void Scene::lift_cut(CutBox& box) const {
    if (live_.along.size() < 2) return;
    struct Station {
        float along_mm, high_mm;
        glm::vec3 moved_mm;
    };
    std::vector<Station> stations;
    for (const LiveSkin::Along& one : live_.along) {
        const Vec3 place_m = one.place_m + moved_m(one.place_m);
        const sim::SkinPoint skin = model_->anatomy->nearest_skin(one.place_m);
        const Vec3 skin_m = skin.position_m + moved_m(skin.position_m);
        const glm::vec3 at = glm::transpose(box.axes) * (millimetres(place_m) - box.centre_mm);
        const glm::vec3 top = glm::transpose(box.axes) * (millimetres(skin_m) - box.centre_mm);
        stations.push_back({at.x, top.y, millimetres(one.moved_m)});
    }
    std::sort(stations.begin(), stations.end(), [](const auto& a, const auto& b) { return a.along_mm < b.along_mm; });
    for (std::size_t i = 0; i < kCutStations; ++i) {
        const float x = box.half_mm.x * (2.0f * static_cast<float>(i) / (kCutStations - 1) - 1.0f);
        std::size_t k = 1;
        while (k + 1 < stations.size() && stations[k].along_mm < x) ++k;
        const Station &a = stations[k - 1], &b = stations[k];
        const float length_mm = b.along_mm - a.along_mm;
        const float f = length_mm > 1e-3f ? std::clamp((x - a.along_mm) / length_mm, 0.0f, 1.0f) : 0.0f;
        box.lift.emplace_back(glm::mix(a.moved_mm, b.moved_mm, f), glm::mix(a.high_mm, b.high_mm, f));
    }
}

void Scene::set_live_skin(LiveSkin live) {
    live_ = std::move(live);
    follow_live();
}

void Scene::follow_live() {
    live_on_skin_ = shown_.on_skin;
    for (std::size_t i = 0; i < live_on_skin_.size(); ++i) {
        const std::size_t part = shown_.surfaces.size() + i;
        if (part < live_.parts.size()) live_on_skin_[i] = with_moves(shown_.on_skin[i], live_.parts[part].get());
    }
    live_on_skin_.front() = on_blebs(live_on_skin_.front(), *marks_, signs_);
    shown_signs_ = carried(sign_marks_, *look_.surfaces.front(), *clean_,
                           live_.parts.empty() ? nullptr : live_.parts.front().get());
    if (shown_signs_) shown_signs_ = on_blebs(shown_signs_, *sign_marks_.mesh, signs_);
}

/// What the tissue does not show, as the step's closed form has it: a lifted tip without blocks or without tissue, and
/// the rest of a dent that a tip makes in closed skin, which is as deep as the tip has gone.
Tent Scene::closed_tent(const sim::State& state) const {
    Tent tent;
    const bool in_skin = state.inserted_m > 0.0;
    const Vec3 at_m = in_skin ? state.tip_m : state.hands.entry.position_m;
    const double sunk_m = std::max(0.0, -glm::dot(live_.entry_moved_m, state.hands.entry.normal));
    const double height_m = in_skin ? state.tent_m * live_.closed_share : -std::max(0.0, state.press_m - sunk_m);
    tent.centre_mm = millimetres(at_m + moved_m(at_m));
    tent.outward = glm::vec3(turned(at_m, state.hands.entry.normal));
    tent.height_mm = static_cast<float>(height_m) * kMmPerM;
    tent.width_mm = std::max(3.0f, static_cast<float>(state.tent_width_m) * kMmPerM);
    return tent;
}

Vec3 Scene::moved_m(const Vec3& rest_m) const {
    const auto of = [&](const std::shared_ptr<const PatientMoves>& moves) {
        return moves ? moves->body->moved_m(rest_m) : Vec3(0.0);
    };
    return glm::mix(of(from_), of(to_), static_cast<double>(share_));
}

Vec3 Scene::turned(const Vec3& rest_m, const Vec3& direction) const {
    const auto of = [&](const std::shared_ptr<const PatientMoves>& moves) {
        return moves ? moves->body->turned(rest_m, direction) : direction;
    };
    return glm::mix(of(from_), of(to_), static_cast<double>(share_));
}

void Scene::append_other_hand(ObjectMesh& mesh, const sim::State& state) const {
    if (!state.hand.placed) return;
    sim::SecondHand hand = state.hand;
    const bool acts = hand.force_n > 0.0;
    if (!acts) hand.force_n = 1.0;  // where its fingers would press
    std::vector<sim::SkinPoint> pads;
    for (const sim::HandPad& pad : sim::load_of(*model_->anatomy, hand).pads) {
        sim::SkinPoint at = model_->anatomy->nearest_skin(pad.place_m);
        at.position_m += moved_m(at.position_m);
        pads.push_back(at);
    }
    const Vec3 beside = glm::cross(hand.at.normal, hand.along);
    const Vec3 along = std::cos(hand.turn_rad) * hand.along + std::sin(hand.turn_rad) * beside;
    for (const Finger& finger : fingers_of(hand.grip, pads, along, acts)) append_finger(mesh, finger);
}

Vec3 Scene::shown_at(const Vec3& skin_m) const { return skin_m + moved_m(skin_m); }

/// What looks out of the skin: a thread's tail until it is cut, and what was left of it where it was cut too far out.
void Scene::append_tails(ObjectMesh& mesh, const sim::State& state) const {
    constexpr double kTailM = 28.0 * sim::kMm, kRisesM = 5.0 * sim::kMm;  // as much as is seen of it; by eye
    constexpr int kPieces = 14;
    for (const sim::HeldThread& thread : state.threads) {
        if (thread.out || thread.ramp_m.empty()) continue;
        const double out_m = thread.trimmed() ? std::max(0.0, -thread.tail_depth_m) : kTailM + thread.tail_out_m;
        if (out_m < 0.3 * sim::kMm) continue;
        const sim::SkinPoint at = model_->anatomy->nearest_skin(thread.ramp_m.front());
        const Vec3 normal = turned(at.position_m, at.normal), entry_m = shown_at(at.position_m);
        // it stands off the skin, away from the way it goes in, and hangs
        const Vec3 back = at.position_m - thread.ramp_m.back();
        Vec3 flat = back - at.normal * glm::dot(back, at.normal);
        flat = glm::length(flat) > 1e-6 ? glm::normalize(flat) : Vec3(0, 1, 0);
        flat = turned(at.position_m, flat);
        std::vector<Vec3> line;
        for (int i = 0; i <= kPieces; ++i) {
            const double s_m = out_m * i / kPieces, rise_m = kRisesM * s_m / (s_m + kRisesM);
            line.push_back(entry_m + normal * rise_m + flat * std::max(0.0, s_m - rise_m));
        }
        append_tube(mesh, line, std::vector<double>(line.size(), 1.4 * kThreadRadiusM), {linear(kThreadColour), 0.25f},
                    8);
    }
}

/// Within the tissue the shaft goes along with what it lies in, outside with the entry.
std::vector<Vec3> Scene::moved_shaft(std::vector<Vec3> shaft_m, const sim::State& state) const {
    if (!to_ && !from_) return shaft_m;
    const Vec3& entry_m = state.hands.entry.position_m;
    const Vec3 entry_moved = moved_m(entry_m);
    double under_m = state.inserted_m;
    for (std::size_t i = shaft_m.size(); i-- > 0;) {
        const double back_m = i > 0 ? glm::length(shaft_m[i] - shaft_m[i - 1]) : 0.0;
        if (under_m > 0.0)
            shaft_m[i] += moved_m(shaft_m[i]);
        else
            shaft_m[i] = entry_m + entry_moved + turned(entry_m, shaft_m[i] - entry_m);
        under_m -= back_m;
    }
    return shaft_m;
}

/// The live tip moves skin; below it less moves, in proportion down to a depth where nothing does. That is for the eye:
/// blocks tell of the skin alone.
std::vector<Vec3> Scene::lifted_shaft(std::vector<Vec3> shaft_m, const sim::State& state) const {
    if (live_.along.empty() && live_.entry_moved_m == Vec3(0.0)) return shaft_m;
    double arc_m = state.inserted_m;
    for (std::size_t i = shaft_m.size(); i-- > 0;) {
        const double back_m = i > 0 ? glm::length(shaft_m[i] - shaft_m[i - 1]) : 0.0;
        if (!(arc_m > 0.0)) {
            shaft_m[i] += live_.entry_moved_m;
        } else if (!live_.along.empty()) {
            const double depth_m = std::max(0.0, model_->anatomy->layers_at(shaft_m[i]).depth_m);
            shaft_m[i] += std::max(0.0, 1.0 - depth_m / kStillDepthM) * moved_along(live_.along, arc_m);
        }
        arc_m -= back_m;
    }
    return shaft_m;
}

void Scene::build_structures() {
    std::array<std::shared_ptr<ObjectMesh>, 6> meshes;
    const auto mesh_of = [&meshes](std::size_t section) -> ObjectMesh& {
        if (!meshes[section]) meshes[section] = std::make_shared<ObjectMesh>();
        return *meshes[section];
    };
    for (const sim::Structure& structure : model_->anatomy->structures())
        append_structure(mesh_of(static_cast<std::size_t>(structure.kind)), structure);
    for (const sim::Ligament& ligament : model_->anatomy->ligaments())
        append_ligament(mesh_of(static_cast<std::size_t>(Section::ligament)), ligament);
    std::copy(meshes.begin(), meshes.end(), structures_.begin());
}

void Scene::build_block() {
    look_.surfaces = {skin_of(*block_)};
    look_.tone = {0.16f, 0.35f, 0.0f};
    look_.images.detail = skin_detail_image();
    work_out_lean_images(look_.images, look_.tone);
    const Vec3 a = block_->low_m, b = block_->high_m, up(0, 0, b.z - a.z);
    auto sides = std::make_shared<std::vector<LayerFace>>();
    sides->push_back(side(a, {b.x - a.x, 0, 0}, up));
    sides->push_back(side({b.x, a.y, a.z}, {0, b.y - a.y, 0}, up));
    sides->push_back(side({b.x, b.y, a.z}, {a.x - b.x, 0, 0}, up));
    sides->push_back(side({a.x, b.y, a.z}, {0, a.y - b.y, 0}, up));
    for (LayerFace& face : *sides) sample_layers(face, *model_->anatomy, kSideCellM, block_);
    block_sides_ = std::move(sides);
}

void Scene::mark_plan() {
    const Finish pen{linear(kPenColour), 0.0f};
    constexpr double kStrokeM = 0.9 * sim::kMm;
    constexpr std::size_t kDash = 3, kGap = 2;  // in pieces of the line
    const sim::Anatomy& anatomy = *model_->anatomy;
    auto marks = std::make_shared<ObjectMesh>();
    for (const sim::PlannedVector& vector : model_->scenario.plan) {
        const std::vector<sim::SkinPoint> line = over_skin(anatomy, vector.entry_m, vector.end_m);
        for (std::size_t i = kDash; i + kDash < line.size(); i += kDash + kGap)
            append_stroke(*marks, std::span(line).subspan(i, kDash + 1), kStrokeM, pen);
        append_ring(*marks, anatomy, line.front(), vector.entry_tolerance_m, kStrokeM, pen);
        // the far end: a bar across the line
        const sim::SkinPoint& end = line.back();
        const Vec3 across = glm::normalize(glm::cross(end.normal, end.position_m - line[line.size() - 3].position_m));
        constexpr double kBarM = 4.0 * sim::kMm;
        append_stroke(*marks, over_skin(anatomy, end.position_m - across * kBarM, end.position_m + across * kBarM),
                      kStrokeM, pen);
    }
    marks_ = std::move(marks);
}

DrawList Scene::draw(const sim::State& state, std::span<const sim::TrackRecord> left, const Camera& camera,
                     double aspect, const SceneOptions& options) {
    DrawList out;
    out.view_projection = glm::mat4(camera.view_projection_mm(aspect));
    out.eye_mm = millimetres(camera.eye_m());
    out.tone = look_.tone;
    out.images = look_.images;
    out.surfaces = shown_.surfaces;
    out.live.assign(live_.parts.begin(), live_.parts.begin() + static_cast<std::ptrdiff_t>(std::min(
                                                                   live_.parts.size(), shown_.surfaces.size())));
    if (options.opacity[0] > 0.0f) out.hairs = live_on_skin_[1];
    out.tent = closed_tent(state);
    if (block_sides_) out.faces.push_back(block_sides_);

    if (options.marks && options.opacity[0] > 0.0f) out.marks.push_back(live_on_skin_[0]);
    if (shown_signs_ && options.opacity[0] > 0.0f) out.marks.push_back(shown_signs_);
    for (const SkinSigns::Mark& mark : signs_.marks)
        out.mark_names.push_back({mark.name, millimetres(mark.skin_m + moved_m(mark.skin_m)), {}});
    const std::vector<Vec3> shaft_m = moved_shaft(shaft_among_layers(state, *model_->anatomy), state);
    const bool holding = state.hands.instrument >= 0 && shaft_m.size() >= 2;
    if (holding)
        append_instrument(out.objects, model_->scenario.tray[static_cast<std::size_t>(state.hands.instrument)],
                          lifted_shaft(shaft_m, state), turned(state.hands.entry.position_m, state.hands.entry.normal),
                          *instruments_);
    if (options.probe) {
        ProbePose shown = *options.probe;
        shown.at_m += moved_m(shown.at_m);
        append_probe(out.objects, shown, options.probe_width_m);
    }
    if (!options.probe || state.hand.force_n > 0.0) append_other_hand(out.objects, state);
    append_threads(out.objects, left, state.threads, [this](const Vec3& p_m) { return moved_m(p_m); });
    append_tails(out.objects, state);

    const bool faded = std::any_of(options.opacity.begin(), options.opacity.end(), [](float o) { return o < 1.0f; });
    if (options.cutaway && !faded && holding && state.inserted_m > 0.0) {
        const int gauge = model_->scenario.tray[static_cast<std::size_t>(state.hands.instrument)].gauge;
        cutaway_.follow(part_under_skin(shaft_m, state.inserted_m), sim::gauge(gauge).radius_m(), camera.eye_m());
    } else {
        cutaway_.close();
    }
    out.cut = cutaway_.box();
    if (out.cut) lift_cut(*out.cut);
    if (cutaway_.faces()) out.faces.push_back(cutaway_.faces());

    const StructureKinds& kinds = options.kinds;
    const std::array shown{kinds.arteries,         kinds.veins,    kinds.nerves, kinds.glands_and_ducts,
                           kinds.glands_and_ducts, kinds.ligaments};
    for (std::size_t section = 0; section < shown.size(); ++section)
        if (options.structures && shown[section] && shown_.inside[section])
            out.solids.push_back(shown_.inside[section]);
    out.labels = cutaway_.labels();
    if (out.cut)
        for (Label& label : out.labels) label.at_mm = lifted_in_cut(*out.cut, label.at_mm);
    out.unsettled = cutaway_.unsettled();
    out.see_through = options.structures || options.opacity[0] < 1.0f;
    if (faded) out.skin_opacity = options.opacity[0];
    if (faded && tops_[0])
        for (std::size_t top = tops_.size(); top-- > 0;)
            if (options.opacity[top + 1] > 0.0f) out.layer_tops.push_back({tops_[top], options.opacity[top + 1]});
    // under layers that are whole nothing is seen
    for (auto top = out.layer_tops.rbegin(); top != out.layer_tops.rend(); ++top)
        if (top->opacity >= 1.0f) {
            out.layer_tops.erase(out.layer_tops.begin(), std::prev(top.base()));
            break;
        }
    return out;
}

CameraPose Scene::facing() const {
    CameraPose pose;
    if (block_) {
        // a block on a table, seen by somebody who stands before it
        pose.up = {0, 0, 1};
        pose.front = {0, -1, 0};
        pose.elevation_rad = 38.0 * sim::kPi / 180.0;
        pose.azimuth_rad = -14.0 * sim::kPi / 180.0;
        return pose;
    }
    // reclined by about 40 degrees, as patients are treated; seen from the side of the work
    constexpr double kReclineRad = 40.0 * sim::kPi / 180.0;
    pose.up = {0, std::cos(kReclineRad), std::sin(kReclineRad)};
    pose.front = {0, -std::sin(kReclineRad), std::cos(kReclineRad)};
    Vec3 outward{};
    for (const sim::PlannedVector& vector : model_->scenario.plan)
        outward += model_->anatomy->nearest_skin(0.5 * (vector.entry_m + vector.end_m)).normal;
    if (!(glm::length(outward) > 0.1)) outward = pose.front;
    outward = glm::normalize(outward);
    // from straight above, a cut beside the shaft shows its floor: stand somewhat towards the jaw and see its wall
    constexpr double kTowardsJawRad = 28.0 * sim::kPi / 180.0;
    const Vec3 down = Vec3(0, -1, 0) + outward * outward.y;
    if (glm::length(down) > 0.1)
        outward = std::cos(kTowardsJawRad) * outward + std::sin(kTowardsJawRad) * glm::normalize(down);
    const Vec3 right = glm::cross(pose.up, pose.front);
    pose.azimuth_rad = std::atan2(glm::dot(outward, right), glm::dot(outward, pose.front));
    pose.elevation_rad = std::asin(std::clamp(glm::dot(outward, pose.up), -0.9, 0.7));
    return pose;
}

CameraPose Scene::whole(double aspect) const {
    CameraPose pose = facing();
    std::vector<Vec3> points;
    if (block_) {
        for (const double x : {block_->low_m.x, block_->high_m.x})
            for (const double y : {block_->low_m.y, block_->high_m.y})
                for (const double z : {block_->low_m.z, block_->high_m.z}) points.emplace_back(x, y, z);
        return framing(pose, points, aspect, 1.12);
    }
    // crown, chin, both ears and the nose of an adult head
    points = {{0, 0.11, 0}, {0, -0.13, 0.06}, {-0.08, 0, 0}, {0.08, 0, 0}, {0, -0.02, 0.11}};
    return framing(pose, points, aspect, 1.15);
}

CameraPose Scene::work(double aspect) const {
    std::vector<Vec3> points;
    for (const sim::PlannedVector& vector : model_->scenario.plan) {
        points.push_back(vector.entry_m);
        points.push_back(vector.end_m);
    }
    if (points.empty()) return whole(aspect);
    CameraPose pose = framing(facing(), points, aspect, 1.0);
    // 60 mm of track and room for a hand's instrument beside it
    constexpr double kSeenM = 0.115;
    pose.distance_m = kSeenM / (2.0 * std::tan(0.5 * Camera::kFieldOfViewRad));
    return pose;
}

std::optional<sim::SkinPoint> Scene::pick(const Ray& ray) const {
    std::optional<sim::SkinPoint> hit = moved_ ? moved_->ray_to_rest(ray.origin_m, ray.direction)
                                               : model_->anatomy->ray_to_skin(ray.origin_m, ray.direction);
    if (hit && block_ &&
        !(hit->position_m.x >= block_->low_m.x && hit->position_m.x <= block_->high_m.x &&
          hit->position_m.y >= block_->low_m.y && hit->position_m.y <= block_->high_m.y))
        return std::nullopt;
    return hit;
}

}  // namespace view
