#include "sim/step.hpp"

#include <catch2/catch.hpp>

#include "sim/core/errors.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::Command;
using sim::EventKind;
using sim::kMm;
using sim::Verb;

TEST_CASE("a blunt cannula is refused by closed skin and enters where a pilot has been", "[sim][step]") {
    const sim::Model model = support::slab_model();
    support::Play play(model);
    play.command({Verb::take, {1}});
    play.command({Verb::entry, {0, 0, 0}});
    play.command({Verb::aim, {0, 30'000}});
    play.push_mm(5.0);
    CHECK(play.count(EventKind::entry_refused) == 1);
    CHECK(play.state.inserted_m == 0.0);

    support::open_entry(play);
    play.command({Verb::take, {1}});
    play.push_mm(5.0);
    CHECK(play.count(EventKind::track_opened) == 1);
    CHECK(play.state.inserted_m > 3.0 * kMm);
}

TEST_CASE("the gate drops what is physically impossible", "[sim][step]") {
    const sim::Model model = support::slab_model();
    support::Play play(model);
    // nothing in the hand: nothing to push
    play.push_mm(5.0);
    CHECK(play.state.inserted_m == 0.0);
    support::open_entry(play);
    play.command({Verb::take, {1}});
    play.push_mm(5.0);
    // the cannula is in the skin: the hand cannot take another instrument
    play.command({Verb::take, {0}});
    CHECK(play.state.hands.instrument == 1);
}

TEST_CASE("a command outside its range is named", "[sim][step]") {
    CHECK_THROWS_WITH(sim::validate(Command{Verb::push, {6000}}), Contains("push.by_um") && Contains("-5000 to 5000"));
    CHECK_THROWS_WITH(sim::validate(Command{Verb::finish, {1}}), Contains("finish.argument 1"));
}

TEST_CASE("a copied state goes on with the same bits", "[sim][step]") {
    const sim::Model model = support::slab_model();
    support::Play play(model);
    support::open_entry(play);
    play.command({Verb::take, {1}});
    play.command({Verb::aim, {0, 20'000}});
    play.push_mm(10.0);
    support::Play copy = play;
    play.push_mm(10.0);
    copy.push_mm(10.0);
    CHECK(play.state.inserted_m == copy.state.inserted_m);
    CHECK(play.state.tip_m == copy.state.tip_m);
    CHECK(play.state.force.hand_n == copy.state.force.hand_n);
    CHECK(play.rows.back().layers.depth_m == copy.rows.back().layers.depth_m);
}

TEST_CASE("motions that add up to nothing but rounding leave the skin once", "[sim][step]") {
    support::Play play(support::slab_model());
    play.command({sim::Verb::take, {0}});
    play.command({sim::Verb::entry, {0, 0, 0}});
    play.command({sim::Verb::aim, {0, 40'000}});
    play.push_mm(6.0);
    play.push_mm(-7.0);
    play.command({sim::Verb::take, {1}});
    play.command({sim::Verb::aim, {0, 20'000}});
    // 30 mm in by 20 um a step and out by 48: in four parts each these add up to 2e-15 m, not to none
    for (int i = 0; i < 1500; ++i) play.command({sim::Verb::push, {20}});
    for (int i = 0; i < 625; ++i) play.command({sim::Verb::push, {-48}});
    play.wait(250);
    CHECK(play.count(sim::EventKind::track_opened) == 1);
    CHECK(play.count(sim::EventKind::track_closed) == 1);
}
