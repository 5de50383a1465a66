#include "engine/app/visit_words.hpp"

#include <catch2/catch.hpp>

#include "tests/support/visits.hpp"

using Catch::Matchers::Contains;
using sim::Stage;

namespace {

/// What the window hands on: model, state and the events so far.
struct Visit {
    support::Play play{support::visit_model()};
    [[nodiscard]] sim::Recording recording() const {
        sim::Recording out;
        out.events = play.events;
        out.tray = play.model.scenario.tray;
        return out;
    }
    [[nodiscard]] Stage stage() const { return app::visit_stage(play.model, play.state, recording()); }
    void show(sim::Sign sign) {
        play.events.push_back({play.state.step, sim::EventKind::sign_shown, static_cast<int>(sign), {}, {}});
    }
};

}  // namespace

TEST_CASE("the stage of a visit follows what is done", "[app][visit]") {
    Visit visit;
    CHECK(visit.stage() == Stage::consult);
    visit.play.command(support::deed(sim::Deed::photograph));
    visit.play.command(support::deed(sim::Deed::set_chair, 1));  // may be done at any time
    CHECK(visit.stage() == Stage::consult);
    visit.play.command({sim::Verb::touch, {0, 0, 0}});
    visit.play.command(support::deed(sim::Deed::mark_point));
    CHECK(visit.stage() == Stage::mark);
    support::prepare(visit.play);
    CHECK(visit.stage() == Stage::prepare);
    support::needle_in(visit.play, support::kFineNeedle, 3.0);
    CHECK(visit.stage() == Stage::numb);
    visit.play.command({sim::Verb::inject, {100, 0, 0}});
    support::needle_out(visit.play, 4.0);
    CHECK(visit.stage() == Stage::numb);
    support::needle_in(visit.play, 0, 6.0);
    CHECK(visit.stage() == Stage::enter);
    support::needle_out(visit.play, 7.0);
    visit.play.command(support::deed(sim::Deed::put_on_gloves));  // fresh ones: the visit does not go back
    CHECK(visit.stage() == Stage::pass);
    visit.play.command(support::deed(sim::Deed::count_sharps));
    CHECK(visit.stage() == Stage::finish);
    visit.play.command(support::deed(sim::Deed::discharge));
    CHECK(visit.stage() == Stage::follow_up);
}

TEST_CASE("what the patient says or shows is told for eight seconds", "[app][visit]") {
    Visit visit;
    CHECK_FALSE(app::shown_by_patient(visit.play.state, visit.recording()));
    visit.show(sim::Sign::tingling);
    auto shown = app::shown_by_patient(visit.play.state, visit.recording());
    REQUIRE(shown);
    CHECK(shown->said);
    CHECK_THAT(shown->words, Contains("\"My lips tingle"));
    visit.show(sim::Sign::pallor);
    shown = app::shown_by_patient(visit.play.state, visit.recording());
    REQUIRE(shown);
    CHECK_FALSE(shown->said);
    CHECK_THAT(shown->words, Contains("pale"));
    visit.play.wait(2001);
    CHECK_FALSE(app::shown_by_patient(visit.play.state, visit.recording()));
}

TEST_CASE("only coached words say what a sign asks for", "[app][visit]") {
    for (int i = 0; i < sim::kSigns; ++i) {
        Visit visit;
        const auto sign = static_cast<sim::Sign>(i);
        visit.show(sign);
        const std::string asked(sim::response_words(sign));
        const auto told = app::about_patient(visit.play.state, visit.recording(), true);
        REQUIRE(told);
        CHECK(told->is == asked);
        const auto graded = app::about_patient(visit.play.state, visit.recording(), false);
        if (graded) {
            CHECK_THAT(graded->is + graded->next, !Contains(asked));
        }
        const auto shown = app::shown_by_patient(visit.play.state, visit.recording());
        REQUIRE(shown);
        CHECK_THAT(shown->words, !Contains(asked));
    }
}
