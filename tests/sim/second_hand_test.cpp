#include <catch2/catch.hpp>

#include <Eigen/Dense>

#include "sim/instruments/second_hand.hpp"
#include "sim/instruments/track.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"
#include "tests/support/play.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::EventKind;
using sim::Grip;
using sim::kMm;
using sim::Vec3;
using sim::Verb;
using support::Play;

namespace {

sim::Model flat_with_concerns() {
    sim::Model model = support::slab_model();
    model.concerns = {{"far", sim::Side::left, {50.0 * kMm, 0, 0}}, {"middle", sim::Side::left, {30.0 * kMm, 0, 0}}};
    return model;
}

/// Of this patient everything moves twice as far.
class TwiceAsSoft final : public sim::ThreadTissue {
 public:
    sim::ThreadAnswer answer(const sim::ThreadRequest& request) override {
        sim::ThreadAnswer out = flat_->answer(request);
        for (Vec3& moved_m : out.moved_m) moved_m *= 2.0;
        return out;
    }

 private:
    std::unique_ptr<sim::ThreadTissue> flat_ = sim::flat_thread_tissue();
};

constexpr std::int64_t grip_number(Grip grip) { return static_cast<std::int64_t>(grip); }

void lay(Play& play, double x_mm, Grip grip, std::int64_t force_mn, std::int64_t turn_mdeg = 0) {
    play.command({Verb::touch, {static_cast<std::int64_t>(x_mm * 1000.0), 0, 0}});
    play.command({Verb::grip, {grip_number(grip), turn_mdeg, force_mn}});
    play.wait(40);
}

/// A loaded cannula laid along +x at about 5 mm, so far.
Play with_cannula(double length_mm) {
    Play play(flat_with_concerns());
    support::open_entry(play);
    play.command({Verb::take, {2}});
    play.command({Verb::aim, {0, 30'000}});
    play.push_mm(9.0);
    play.command({Verb::aim, {0, 0}});
    play.push_mm(length_mm - 9.0);
    return play;
}

/// Where strings are as good as not there, so that the body is linear.
std::shared_ptr<sim::fe::TetheredBody> slack_body() {
    static const auto built = [] {
        sim::fe::TissueParameters p = support::few_strings(sim::fe::Laxity::lax);
        p.string_spacing_m = 50.0 * kMm;
        p.septum_n_per_m = p.ligament_n_per_m = 1e-3;
        return std::make_shared<sim::fe::TetheredBody>(*support::tissue_head(), support::coarse_chart(), p);
    }();
    return built;
}

Vec3 cheek_m(std::string_view where) { return sim::fe::compartment_m(*support::tissue_head(), where, sim::Side::left); }

sim::ThreadRequest pushed(const Vec3& at_m, const Vec3& push, double force_n, const std::vector<Vec3>& read_m) {
    sim::ThreadRequest out;
    out.key = 3;
    out.hand = {{{at_m, push}}, force_n, false, {}};
    out.read_m = read_m;
    return out;
}

}  // namespace

TEST_CASE("the shift test tells how far every concern comes, and lets go of it again", "[sim][hand]") {
    Play play(flat_with_concerns());
    lay(play, 50.0, Grip::push, 1000, 180'000);  // back along the vector, towards the entry
    REQUIRE(play.count(EventKind::hand_settled) == 1);
    CHECK(play.last(EventKind::hand_settled)->subject == static_cast<int>(Grip::push));
    CHECK(play.last(EventKind::hand_settled)->value[0] == 1.0);
    REQUIRE(play.lifts.size() == 2);  // as it came to the skin, and pushing
    CHECK(play.lifts.front().hand_n == 0.0);
    CHECK(play.lifts.back().thread == 0);
    CHECK(play.lifts.back().hand_n == 1.0);
    CHECK(play.state.concerns_moved_m.at(0).x < -0.5 * kMm);
    CHECK(play.state.concerns_moved_m.at(1).x < -0.1 * kMm);
    CHECK(play.state.concerns_moved_m.at(1).x > play.state.concerns_moved_m.at(0).x);
    CHECK_THAT(play.state.concerns_moved_m.at(0).y, WithinAbs(0.0, 1e-6));
    const double one_n_m = play.state.concerns_moved_m.at(0).x;
    play.command({Verb::grip, {grip_number(Grip::push), 180'000, 2000}});
    play.wait(40);
    CHECK_THAT(play.state.concerns_moved_m.at(0).x, WithinRel(2.0 * one_n_m, 1e-4));
    play.command({Verb::grip, {grip_number(Grip::push), 180'000, 0}});
    play.wait(40);
    CHECK(play.state.concerns_moved_m.at(0) == Vec3{});
    CHECK(play.lifts.back().hand_n == 0.0);
    const std::size_t rows = play.lifts.size();
    play.wait(100);
    CHECK(play.lifts.size() == rows);  // at rest nobody asks
}

TEST_CASE("a hand that cannot be there is refused with a reason, one that moves too much lets go", "[sim][hand]") {
    Play play(flat_with_concerns());
    play.command({Verb::grip, {grip_number(Grip::press), 0, 500}});
    REQUIRE(play.count(EventKind::thread_refused) == 1);
    CHECK(play.last(EventKind::thread_refused)->subject == 0);
    CHECK(play.last(EventKind::thread_refused)->value[0] == static_cast<double>(sim::ThreadRefusal::no_hand_there));

    sim::Model stiff = flat_with_concerns();
    stiff.scenario.mechanics.tissue_response = false;
    Play rigid(stiff);
    rigid.command({Verb::touch, {30'000, 0, 0}});
    CHECK(rigid.last(EventKind::thread_refused)->value[0] == static_cast<double>(sim::ThreadRefusal::rigid_tissue));

    // 5 N move the flat patient's skin by 14 mm, and one twice as soft by more than is computed well
    lay(play, 30.0, Grip::push, 5000);
    CHECK(play.count(EventKind::tissue_trouble) == 0);
    CHECK(play.state.hand.skin_moved_m > 10.0 * kMm);
    CHECK(play.state.hand.skin_moved_m < sim::kMostMovedByHandM);
    Play soft(flat_with_concerns());
    soft.tissue = std::make_shared<TwiceAsSoft>();
    lay(soft, 30.0, Grip::push, 5000);
    REQUIRE(soft.count(EventKind::tissue_trouble) == 1);
    CHECK(soft.last(EventKind::tissue_trouble)->subject == 0);
    CHECK(soft.last(EventKind::tissue_trouble)->value[0] == static_cast<double>(sim::ThreadTrouble::moved_too_far));
    CHECK(soft.state.hand.force_n == 0.0);
    CHECK(soft.faults.threads_unanswered == 1);
}

TEST_CASE("skin drawn tight gives way less before the needle is through", "[sim][hand]") {
    const auto press_at_n = [](double force_n, bool tight) {
        Play play(flat_with_concerns());
        if (tight) lay(play, 0.0, Grip::draw_tight, 3000);
        play.command({Verb::entry, {0, 0, 0}});
        play.command({Verb::take, {0}});
        play.command({Verb::aim, {0, 40'000}});
        double press_m = 0.0;
        for (int i = 0; i < 400 && !play.state.in_skin && play.state.force.hand_n < force_n; ++i) {
            press_m = play.state.press_m;
            play.command({Verb::push, {20}});
        }
        return press_m;
    };
    const double loose_m = press_at_n(0.6, false), tight_m = press_at_n(0.6, true);
    CHECK(loose_m > 0.5 * kMm);
    CHECK(tight_m < 0.95 * loose_m);
    CHECK(tight_m > 0.3 * loose_m);
}

TEST_CASE("a shaft goes with the tissue that the other hand moves", "[sim][hand]") {
    Play plain = with_cannula(30.0);
    plain.push_mm(15.0);
    Play folded = with_cannula(30.0);
    lay(folded, 42.0, Grip::fold, 3000);
    REQUIRE(folded.state.hand.settled_n == 3.0);
    CHECK(folded.state.hand.way_m.size() > 5);
    // the skin over the tip rises: the same straight push goes deeper among the layers
    CHECK(sim::moved_by_hand(folded.state.hand, 34.0 * kMm).z > sim::moved_by_hand(folded.state.hand, 10.0 * kMm).z);
    folded.push_mm(15.0);
    CHECK(folded.state.tip_m.z < plain.state.tip_m.z - 0.2 * kMm);
    // and is asked about again as the tip goes on
    CHECK(folded.state.hand.way_m.back() > 45.0 * kMm);
    // what it follows is where the tissue went: at the entry nothing, and no break on the way
    CHECK(sim::moved_by_hand(folded.state.hand, 0.0) == Vec3{});
    for (double at_m = 0.0; at_m < 50.0 * kMm; at_m += 0.5 * kMm)
        CHECK(glm::length(sim::moved_by_hand(folded.state.hand, at_m + 0.5 * kMm) -
                          sim::moved_by_hand(folded.state.hand, at_m)) < 0.3 * kMm);
    // let go, the way made under the hand stays where it was made
    const Vec3 way_m = sim::way_at(*folded.state.track, 20.0 * kMm);
    folded.command({Verb::grip, {grip_number(Grip::fold), 0, 0}});
    folded.wait(60);
    CHECK(sim::way_at(*folded.state.track, 20.0 * kMm) == way_m);
    CHECK(folded.state.hand.way_m.empty());
}

TEST_CASE("a finger over the far end is told when the cannula leaves its thread", "[sim][hand]") {
    Play play = with_cannula(50.0);
    lay(play, play.state.tip_m.x / kMm, Grip::press, 1000);
    play.push_mm(-60.0);
    play.wait(5);
    REQUIRE(play.state.threads.size() == 1);
    REQUIRE(play.count(EventKind::thread_left) == 1);
    CHECK(play.last(EventKind::thread_left)->value[1] == 1.0);

    Play far_off = with_cannula(50.0);
    lay(far_off, 10.0, Grip::press, 1000);
    far_off.push_mm(-60.0);
    far_off.wait(5);
    CHECK(far_off.last(EventKind::thread_left)->value[1] == 0.0);
}

TEST_CASE("a counter-hold keeps the skin where it was, until it slips", "[sim][hand]") {
    const auto pulled = [](bool held, std::int64_t pull_mn, std::int64_t press_mn) {
        Play play = with_cannula(50.0);
        play.push_mm(-60.0);
        play.wait(5);
        if (held) lay(play, 50.0, Grip::counter_hold, press_mn);
        play.command({Verb::traction, {1, pull_mn}});
        play.wait(80);
        return play;
    };
    const Play free = pulled(false, 400, 0), held = pulled(true, 400, 3000);
    CHECK(std::abs(held.state.concerns_moved_m.at(0).x) < 0.8 * std::abs(free.state.concerns_moved_m.at(0).x));
    CHECK(held.count(EventKind::hand_slipped) == 0);
    CHECK(held.last(EventKind::traction)->value[3] == 3.0);
    CHECK(free.last(EventKind::traction)->value[3] == 0.0);
    const Play slipped = pulled(true, 1500, 100);
    CHECK(slipped.count(EventKind::hand_slipped) == 1);
    CHECK(slipped.state.hand.force_n == 0.0);

    // a hand that comes to skin that is moved already holds it there
    Play late = pulled(false, 400, 0);
    const double before_m = late.state.concerns_moved_m.at(0).x;
    lay(late, 50.0, Grip::counter_hold, 500);
    CHECK_THAT(late.state.concerns_moved_m.at(0).x, WithinAbs(before_m, 0.05 * kMm));
    // and so does one that is laid and holds in one and the same moment, having lain elsewhere before
    Play at_once = pulled(false, 400, 0);
    lay(at_once, 10.0, Grip::press, 100);
    const double held_m = at_once.state.concerns_moved_m.at(0).x;
    at_once.step({{Verb::touch, {50'000, 0, 0}}, {Verb::grip, {grip_number(Grip::counter_hold), 0, 500}}});
    at_once.wait(80);
    CHECK(at_once.state.hand.settled_n == 0.5);
    CHECK_THAT(at_once.state.concerns_moved_m.at(0).x, WithinAbs(held_m, 0.05 * kMm));
}

TEST_CASE("fingers on a head obey Betti's theorem and superpose", "[sim][hand][tissue]") {
    sim::fe::FeThreads tissue(slack_body());
    const Vec3 jowl = cheek_m("jowl"), cheek = cheek_m("middle cheek compartment");
    const Vec3 up(0, 1, 0);
    // Betti 1872: the work of one load over the way of the other is the same either way; what is read is a patch of 2
    // mm where fingers push on one of 6
    constexpr double kSmallN = 0.05;
    const auto by_jowl = tissue.answer(pushed(jowl, up, kSmallN, {jowl, cheek}));
    const auto by_cheek = tissue.answer(pushed(cheek, up, kSmallN, {jowl, cheek}));
    REQUIRE(by_jowl.trouble == sim::ThreadTrouble::none);
    CHECK_THAT(by_jowl.moved_m[1].y, WithinRel(by_cheek.moved_m[0].y, 0.02));
    CHECK(by_jowl.moved_m[0].y >
          1.5 * by_jowl.moved_m[1].y);  // most where it pushes; a stiff sheet takes the rest along

    sim::ThreadRequest both = pushed(jowl, up, kSmallN, {jowl, cheek});
    both.hand.pads.push_back({cheek, up});
    const auto sum = tissue.answer(both);
    CHECK(glm::length(sum.moved_m[1] - by_jowl.moved_m[1] - by_cheek.moved_m[1]) < 3e-8);  // three roundings

    // the skin read through the whole body and through the skin's own rows
    sim::ThreadRequest inside = pushed(jowl, up, 1.0, {jowl});
    inside.inside_m = {jowl, jowl - 3.0 * kMm * Vec3(1, 0, 0)};
    const auto read = tissue.answer(inside);
    CHECK(glm::length(read.moved_m[1] - read.moved_m[0]) < 0.02 * glm::length(read.moved_m[0]));
    CHECK(glm::length(read.moved_m[2]) < glm::length(read.moved_m[0]));

    sim::ThreadRequest off = pushed(Vec3(0, 0.5, 0), up, 1.0, {jowl});
    CHECK(tissue.answer(off).trouble == sim::ThreadTrouble::outside_mesh);
}

TEST_CASE("what a counter-hold gives the skin accounts for all that it changes", "[sim][hand][tissue]") {
    sim::fe::FeThreads tissue(slack_body());
    const Vec3 jowl = cheek_m("jowl");
    const std::vector<Vec3> read{cheek_m("middle cheek compartment"), cheek_m("nasolabial compartment"),
                                 cheek_m("lateral cheek compartment")};
    constexpr double kPressN = 0.3;
    const auto free = tissue.answer(pushed(jowl, {0, 0, -1}, kPressN, read));
    sim::ThreadRequest holding = pushed(jowl, {0, 0, -1}, kPressN, read);
    holding.hand.holds = true;
    CHECK(tissue.answer(holding).hand_held_n == 0.0);  // its own press does not load it
    holding.hand.anchor_m = {0.0, 0.4 * kMm, 0.0};     // the skin had been drawn up when it came
    const auto held = tissue.answer(holding);
    REQUIRE(held.trouble == sim::ThreadTrouble::none);
    CHECK(held.hand_held_n > 0.01);
    CHECK(held.hand_held_n < sim::kPulpNPerM * 0.4 * kMm);
    // the force that explains the change at three other places, from what unit forces do there
    Eigen::Matrix<double, 9, 3> of_unit;
    Eigen::Matrix<double, 9, 1> change;
    for (int r = 0; r < 3; ++r) {
        Vec3 axis{};
        axis[r] = 1.0;
        const auto unit = tissue.answer(pushed(jowl, axis, 0.1, read));
        for (int i = 0; i < 9; ++i) of_unit(i, r) = unit.moved_m[static_cast<std::size_t>(i / 3)][i % 3] / 0.1;
    }
    for (int i = 0; i < 9; ++i)
        change[i] =
            held.moved_m[static_cast<std::size_t>(i / 3)][i % 3] - free.moved_m[static_cast<std::size_t>(i / 3)][i % 3];
    const Eigen::Vector3d force = (of_unit.transpose() * of_unit).ldlt().solve(of_unit.transpose() * change);
    CHECK_THAT(force.norm(), WithinRel(held.hand_held_n, 0.01));
    CHECK((of_unit * force - change).norm() < 0.01 * change.norm());
}
