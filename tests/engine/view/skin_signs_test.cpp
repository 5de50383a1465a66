#include "engine/view/skin_signs.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "engine/view/skin_paint.hpp"
#include "tests/support/visits.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using view::SkinSigns;

namespace {

SkinSigns signs_of(const support::Play& play) { return view::skin_signs(play.model, play.state, play.events); }

/// 60 mm of flat skin, a vertex each half millimetre.
std::shared_ptr<const view::Surface> flat_skin() {
    auto skin = std::make_shared<view::Surface>();
    for (int i = -60; i <= 60; ++i)
        for (int j = -60; j <= 60; ++j) {
            view::SurfaceVertex vertex;
            vertex.position_mm = {0.5f * static_cast<float>(i), 0.5f * static_cast<float>(j), 0.0f};
            vertex.normal = {0, 0, 1};
            skin->vertices.push_back(vertex);
        }
    return skin;
}

const view::SurfaceVertex& vertex_at(const view::Surface& skin, float x_mm, float y_mm) {
    const auto i = static_cast<std::size_t>(std::lround(2.0f * x_mm) + 60);
    const auto j = static_cast<std::size_t>(std::lround(2.0f * y_mm) + 60);
    return skin.vertices[i * 121 + j];
}

void finger_at(support::Play& play, std::int64_t x_um) {
    play.command({sim::Verb::touch, {x_um, 0, 0}});
    play.wait(1);
}

}  // namespace

TEST_CASE("without a visit the skin shows nothing", "[view]") {
    support::Play play(support::slab_model());
    support::open_entry(play);
    CHECK(signs_of(play) == SkinSigns{});
    CHECK_FALSE(signs_of(play).colours());
}

TEST_CASE("a mark is shown where it was made, the last of its kind and side", "[view]") {
    support::Play play(support::visit_model());
    finger_at(play, 10'000);
    play.command(support::deed(sim::Deed::mark_point, 0));
    CHECK(signs_of(play).marks.empty() == (play.events.back().step >= play.state.step));
    play.wait(1);
    REQUIRE(signs_of(play).marks.size() == 1);
    CHECK(signs_of(play).marks[0].name == "jaw artery");
    CHECK_THAT(signs_of(play).marks[0].skin_m.x, WithinAbs(10.0 * kMm, 1e-9));
    finger_at(play, 14'000);
    play.command(support::deed(sim::Deed::mark_point, 0));
    play.command(support::deed(sim::Deed::mark_point, 1));
    play.wait(1);
    REQUIRE(signs_of(play).marks.size() == 2);
    CHECK(signs_of(play).marks[0].name == "jaw artery");
    CHECK_THAT(signs_of(play).marks[0].skin_m.x, WithinAbs(14.0 * kMm, 1e-9));
    finger_at(play, -14'000);  // the other side keeps its own
    play.command(support::deed(sim::Deed::mark_point, 0));
    play.wait(1);
    CHECK(signs_of(play).marks.size() == 3);
}

TEST_CASE("vectors that are marked keep both ends, each end with its entry", "[view]") {
    support::Play play(support::visit_model());
    for (const std::int64_t from_um : {0, 20'000}) {
        finger_at(play, from_um);
        play.command(support::deed(sim::Deed::mark_point, static_cast<int>(sim::MarkPoint::vector_entry)));
        finger_at(play, from_um + 10'000);
        play.command(support::deed(sim::Deed::mark_point, static_cast<int>(sim::MarkPoint::vector_end)));
    }
    play.wait(1);
    const SkinSigns signs = signs_of(play);
    REQUIRE(signs.marks.size() == 4);
    CHECK_FALSE(signs.marks[2].from_m);
    REQUIRE(signs.marks[3].from_m);
    CHECK_THAT(signs.marks[3].from_m->x, WithinAbs(20.0 * kMm, 1e-9));
    CHECK(view::on_skin_of(signs, *flat_skin(), *play.model.anatomy).mesh);
}

TEST_CASE("a pulse that was felt fades, one that was not is not shown", "[view]") {
    const support::Play play(support::visit_model());
    std::vector<sim::Event> felt{
        {10, sim::EventKind::deed_done, static_cast<int>(sim::Deed::feel_pulse), {0.01, 0, 0}, {0.0, 1.0, 0.0, 0.0}}};
    sim::State state = play.state;
    const auto fresh_at = [&](double s) {
        state.step = 10 + std::llround(s / sim::kStepS);
        const SkinSigns signs = view::skin_signs(play.model, state, felt);
        return signs.pulses.empty() ? 0.0 : signs.pulses[0].fresh;
    };
    CHECK(fresh_at(0.1) == 1.0);
    CHECK_THAT(fresh_at(0.5 * view::kPulseShownS), WithinAbs(0.5, 1e-9));
    CHECK(fresh_at(view::kPulseShownS) == 0.0);
    felt[0].value[1] = 0.0;
    CHECK(fresh_at(0.1) == 0.0);
}

TEST_CASE("a bleb holds the fluid that was put in and sinks as it is taken up", "[view]") {
    const support::Play play(support::visit_model());
    sim::State state = play.state;
    state.step = 1;
    sim::inject(state.visit.anaesthetic, {0, 0, -1.0 * kMm}, 0.2, sim::patient_s(state));
    const SkinSigns now = view::skin_signs(play.model, state, {});
    REQUIRE(now.blebs.size() == 1);
    // what the skin is lifted by, summed over flat skin, is half of the volume: 0.1 ml = 100 mm3; rounded to 0.1 mm of
    // height
    const auto skin = flat_skin();
    const auto shown = view::painted(skin, skin, now, nullptr);
    double volume_mm3 = 0.0;
    for (const view::SurfaceVertex& vertex : shown->vertices)
        volume_mm3 += 0.25 * static_cast<double>(vertex.position_mm.z);
    CHECK_THAT(volume_mm3, WithinRel(100.0, 0.05));
    CHECK(static_cast<double>(shown->moved_most_mm) >= now.blebs[0].height_m / kMm - 1e-5);
    CHECK(vertex_at(*shown, 0, 0).paint.x < 0.0f);          // pale
    CHECK(vertex_at(*shown, 3, 0).normal.x > 0.05f);        // its side looks outwards
    CHECK(vertex_at(*shown, 25, 0).position_mm.z == 0.0f);  // beyond it nothing
    CHECK(vertex_at(*shown, 25, 0).paint == glm::vec4(0.0f));

    // the same deep in the fat lifts less and leaves the skin its colour
    sim::State deep = play.state;
    deep.step = 1;
    sim::inject(deep.visit.anaesthetic, {0, 0, -6.0 * kMm}, 0.2, sim::patient_s(deep));
    const SkinSigns low = view::skin_signs(play.model, deep, {});
    REQUIRE(low.blebs.size() == 1);
    CHECK(low.blebs[0].height_m < 0.5 * now.blebs[0].height_m);
    CHECK(low.blebs[0].pale == 0.0);

    // after one time constant the share 1/e of the fluid is left, after six nothing that is seen
    state.visit.passed_s += view::kFluidGoneS;
    const SkinSigns later = view::skin_signs(play.model, state, {});
    REQUIRE(later.blebs.size() == 1);
    const auto volume = [](const SkinSigns::Bleb& bleb) {
        return sim::kPi / 3.0 * bleb.radius_m * bleb.radius_m * bleb.height_m;
    };
    CHECK_THAT(volume(later.blebs[0]) / volume(now.blebs[0]), WithinAbs(std::exp(-1.0), 0.05));
    state.visit.passed_s += 5.0 * view::kFluidGoneS;
    CHECK(view::skin_signs(play.model, state, {}).blebs.empty());
}

TEST_CASE("pallor shows while an artery is filled, is wider with more, and goes", "[view]") {
    const support::Play play(support::visit_model());
    const auto into_vessel = [](std::int64_t step, double ml) {
        return sim::Event{step, sim::EventKind::injected, 0, {0, 0, -4.0 * kMm}, {ml, 10.0 * ml, 2.0, 1.0}};
    };
    std::vector<sim::Event> events{
        into_vessel(5, 0.05),
        {5, sim::EventKind::sign_shown, static_cast<int>(sim::Sign::blanching), {0, 0, -4.0 * kMm}, {0.05, 0, 0, 0}}};
    sim::State state = play.state;
    state.step = 6;
    const SkinSigns little = view::skin_signs(play.model, state, events);
    REQUIRE(little.blanched.size() == 1);
    CHECK(little.blanched[0].strength == 1.0);
    CHECK_THAT(little.blanched[0].skin_m.z, WithinAbs(0.0, 1e-9));
    events.push_back(into_vessel(7, 0.3));
    state.step = 8;
    const SkinSigns more = view::skin_signs(play.model, state, events);
    REQUIRE(more.blanched.size() == 1);
    CHECK(more.blanched[0].radius_m > 1.5 * little.blanched[0].radius_m);
    const auto skin = flat_skin();
    CHECK(vertex_at(*view::painted(skin, skin, more, nullptr), 0, 0).paint.x < -0.5f);
    state.visit.passed_s += 4.0 * view::kPallorFadesS;
    CHECK(view::skin_signs(play.model, state, events).blanched.empty());
    // fluid beside a vessel pales nothing beyond its bleb
    events[0].value[3] = 0.0;
    events.resize(1);
    CHECK(view::skin_signs(play.model, state, events).blanched.empty());
}

TEST_CASE("a bruise grows with the blood that is lost and darkens", "[view]") {
    const support::Play play(support::visit_model());
    sim::State state = play.state;
    state.step = 1;
    sim::Bleeding bleeding;
    bleeding.place_m = {0, 0, -5.0 * kMm};
    const auto with = [&](double ml) {
        state.visit.bleeding = {bleeding};
        state.visit.bleeding[0].out_ml = ml;
        const SkinSigns signs = view::skin_signs(play.model, state, {});
        return signs.bruises.empty() ? SkinSigns::Patch{} : signs.bruises[0];
    };
    CHECK(with(0.0).strength == 0.0);
    CHECK(with(0.1).strength < with(0.3).strength);
    CHECK(with(0.3).strength == 1.0);
    // eight times the blood: twice as wide
    CHECK_THAT(with(4.0).radius_m / with(0.5).radius_m, WithinAbs(2.0, 0.06));
    const auto skin = flat_skin();
    state.visit.bleeding[0].out_ml = 1.0;
    const auto fresh = view::painted(skin, skin, view::skin_signs(play.model, state, {}), nullptr);
    CHECK(vertex_at(*fresh, 0, 0).paint.x > 1.0f);
    CHECK(vertex_at(*fresh, 28, 0).paint.x == 0.0f);
}

TEST_CASE("a needle leaves a drop, a second one beside it none of its own, and bleeding makes it larger", "[view]") {
    support::Play play(support::visit_model());
    support::needle_in(play, support::kFineNeedle, 3.0);
    support::needle_out(play, 4.0);
    REQUIRE(signs_of(play).drops.size() == 1);
    const double fine_m = signs_of(play).drops[0].radius_m;
    support::needle_in(play, 0, 6.0);
    support::needle_out(play, 7.0);
    REQUIRE(signs_of(play).drops.size() == 1);
    CHECK(signs_of(play).drops[0].radius_m > fine_m);
    const double thick_m = signs_of(play).drops[0].radius_m;
    sim::Bleeding bleeding;
    bleeding.place_m = {3.0 * kMm, 0, -5.0 * kMm};
    bleeding.out_ml = 0.5;
    play.state.visit.bleeding = {bleeding};
    CHECK(signs_of(play).drops[0].radius_m > thick_m + 0.5 * kMm);
}

TEST_CASE("iodine stains what was wiped with it, until the patient sits up more", "[view]") {
    support::Play play(support::visit_model());
    play.command(support::deed(sim::Deed::prepare_skin_mild, 0));
    play.command(support::deed(sim::Deed::prepare_skin, 1));
    play.wait(1);
    const SkinSigns signs = signs_of(play);
    CHECK(signs.wiped[0].brown == 1.0);
    CHECK(signs.wiped[1].brown == 0.0);
    CHECK(signs.wiped[1].wet > 0.4);
    CHECK(signs.wiped[2] == SkinSigns::Wipe{});
    const auto skin = flat_skin();
    const view::WipedAreas areas(*skin, *play.model.anatomy);
    const auto shown = view::painted(skin, skin, signs, &areas);
    CHECK(vertex_at(*shown, 20, 0).shade.w > 0.4f);  // left: x > 0
    CHECK(vertex_at(*shown, -20, 0).shade.w == 0.0f);
    CHECK(vertex_at(*shown, -20, 0).paint.w > 0.2f);
    play.command(support::let_pass(90));
    CHECK(signs_of(play).wiped[1].wet == 0.0);
    play.command(support::deed(sim::Deed::set_chair, static_cast<int>(sim::Chair::reclined)));
    play.command(support::deed(sim::Deed::set_chair, static_cast<int>(sim::Chair::upright)));
    play.wait(1);
    CHECK(signs_of(play).wiped[0].brown == 0.5);
}

TEST_CASE("what lies on the skin goes along with the skin that is shown", "[view]") {
    const support::Play play(support::visit_model());
    SkinSigns signs;
    signs.drops.push_back({{5.0 * kMm, 0, 0}, 1.0 * kMm});
    const auto rest = flat_skin();
    const view::OnSkin on = view::on_skin_of(signs, *rest, *play.model.anatomy);
    REQUIRE(on.mesh);
    REQUIRE(on.along.size() == on.mesh->vertices.size());
    auto moved = std::make_shared<view::Surface>(*rest);
    for (view::SurfaceVertex& vertex : moved->vertices) vertex.position_mm.y += 2.0f;
    view::VertexMoves live;
    for (std::uint32_t i = 0; i < rest->vertices.size(); ++i) {
        live.vertex.push_back(i);
        live.move_mm.emplace_back(0, 0, 3.0f);
    }
    const auto shown = view::carried(on, *rest, *moved, &live);
    for (std::size_t k = 0; k < on.mesh->vertices.size(); ++k) {
        const glm::vec3 way = shown->vertices[k].position_mm - on.mesh->vertices[k].position_mm;
        CHECK_THAT(static_cast<double>(glm::length(way - glm::vec3(0, 2, 3))), WithinAbs(0.0, 1e-5));
    }
    CHECK_FALSE(view::on_skin_of({}, *rest, *play.model.anatomy).mesh);
    // and stands on a bleb
    signs.blebs.push_back({{5.0 * kMm, 0, 0}, 8.0 * kMm, 2.0 * kMm, 0.0});
    const auto raised = view::on_blebs(on.mesh, *on.mesh, signs);
    float high = 0.0f;
    for (std::size_t k = 0; k < on.mesh->vertices.size(); ++k)
        high = std::max(high, raised->vertices[k].position_mm.z - on.mesh->vertices[k].position_mm.z);
    CHECK_THAT(static_cast<double>(high), WithinAbs(2.0, 0.1));
}

TEST_CASE("skin without signs is handed on as it is", "[view]") {
    const auto rest = flat_skin();
    CHECK(view::painted(rest, rest, {}, nullptr) == rest);
}
