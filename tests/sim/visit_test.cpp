#include <catch2/catch.hpp>

#include "sim/barbed_thread/strength.hpp"
#include "sim/core/errors.hpp"
#include "sim/patient/comfort.hpp"
#include "sim/procedure/mark_rules.hpp"
#include "tests/support/visits.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::Deed;
using sim::EventKind;
using sim::kMm;
using sim::Sign;
using sim::Vec3;
using sim::Verb;
using support::deed;
using support::let_pass;
using support::Play;

namespace {

int signs(const Play& play, Sign sign) {
    int n = 0;
    for (const sim::Event& event : play.events)
        n += event.kind == EventKind::sign_shown && event.subject == static_cast<int>(sign) ? 1 : 0;
    return n;
}

}  // namespace

TEST_CASE("without a visit in the scenario its verbs are refused", "[sim][visit]") {
    Play play(support::slab_model());
    play.command(deed(Deed::wash_hands));
    CHECK(play.count(EventKind::deed_refused) == 1);
    CHECK(play.count(EventKind::deed_done) == 0);
    play.command(let_pass(60));
    CHECK(play.count(EventKind::time_passed) == 0);
    CHECK(sim::patient_s(play.state) == Approx(2 * sim::kStepS));
}

TEST_CASE("deeds take the patient's time, and waiting is not waited for", "[sim][visit]") {
    Play play(support::visit_model());
    play.command(deed(Deed::wash_hands));
    CHECK(sim::patient_s(play.state) == Approx(sim::spec_of(Deed::wash_hands).takes_s + sim::kStepS));
    play.command(let_pass(180));
    CHECK(sim::patient_s(play.state) == Approx(sim::spec_of(Deed::wash_hands).takes_s + 180.0 + 2 * sim::kStepS));
    CHECK(play.state.step == 2);
}

TEST_CASE("a deed's subject outside its table is refused with words", "[sim][visit]") {
    CHECK_NOTHROW(sim::validate(deed(Deed::photograph, sim::kViews - 1)));
    CHECK_THROWS_WITH(sim::validate(deed(Deed::photograph, sim::kViews)),
                      "deed.subject: 6 is not accepted; accepted: 0 to 5");
    CHECK_THROWS_AS(sim::validate(sim::Command{Verb::deed, {sim::kDeeds, 0, 0}}), sim::InputError);
    CHECK_THROWS_AS(sim::validate(sim::Command{Verb::inject, {0, 0, 0}}), sim::InputError);
}

TEST_CASE("keys of deeds and of their subjects name them and nothing else", "[sim][visit]") {
    for (const sim::DeedSpec& spec : sim::deed_table()) {
        CHECK(sim::deed_named(spec.key) == spec.deed);
        for (int i = 0; i < spec.subjects; ++i)
            CHECK(sim::subject_named(spec.deed, sim::subject_key(spec.deed, i)) == i);
    }
}

TEST_CASE("an entry is clean only with hands, skin and contact time", "[sim][visit][asepsis]") {
    Play play(support::visit_model());
    const auto why = [&] {
        const sim::Event* unclean = play.last(EventKind::unclean_entry);
        return unclean == nullptr ? 0 : static_cast<int>(unclean->value[0]);
    };
    SECTION("all done") {
        support::prepare(play);
        support::needle_in(play, 0, 6.0);
        REQUIRE(play.count(EventKind::skin_punctured) == 1);
        CHECK(play.count(EventKind::unclean_entry) == 0);
        CHECK(play.count(EventKind::contaminated) == 0);
    }
    SECTION("nothing done") {
        support::needle_in(play, 0, 6.0);
        CHECK(why() == (1 | 4 | 8 | 16));  // an instrument in bare hands is not sterile either
    }
    SECTION("no contact time") {
        play.command(deed(Deed::wash_hands));
        play.command(deed(Deed::put_on_gloves));
        play.command(deed(Deed::prepare_skin_mild, 0));
        support::needle_in(play, 0, 6.0);
        CHECK(why() == (2 | 16));
    }
    SECTION("gloves over unwashed hands") {
        play.command(deed(Deed::put_on_gloves));
        play.command(deed(Deed::prepare_skin_mild, 0));
        play.command(let_pass(120));
        support::needle_in(play, 0, 6.0);
        CHECK(why() == (4 | 8 | 16));
    }
    SECTION("sat up after it was prepared") {
        play.command(deed(Deed::set_chair, static_cast<int>(sim::Chair::reclined)));
        support::prepare(play);
        play.command(deed(Deed::set_chair, static_cast<int>(sim::Chair::upright)));
        support::needle_in(play, 0, 6.0);
        CHECK((why() & 1) == 1);
    }
    SECTION("a gloved finger on skin that is not prepared") {
        play.command(deed(Deed::wash_hands));
        play.command(deed(Deed::put_on_gloves));
        play.command({Verb::touch, {20'000, 0, 0}});
        CHECK(play.state.visit.hands == sim::HandsClean::contaminated);
        CHECK(play.count(EventKind::contaminated) == 1);
    }
}

TEST_CASE("a local protocol may ask for a longer contact time, never for a shorter one", "[sim][visit][asepsis]") {
    const auto unclean_after = [](double local_s, int waited_s) {
        sim::VisitSpec visit = support::healthy_visit();
        visit.local.contact_time_s = local_s;
        Play play(support::visit_model(visit));
        play.command(deed(Deed::wash_hands));
        play.command(deed(Deed::put_on_gloves));
        play.command(deed(Deed::prepare_skin_mild, 0));
        play.command(deed(Deed::lay_field));
        play.command(let_pass(waited_s));
        support::needle_in(play, 0, 6.0);
        return play.count(EventKind::unclean_entry);
    };
    CHECK(unclean_after(0.0, 125) == 0);
    CHECK(unclean_after(300.0, 125) == 1);
    CHECK(unclean_after(300.0, 305) == 0);
    CHECK(unclean_after(30.0, 5) == 1);  // laying the field takes a minute; povidone-iodine asks for two
}

TEST_CASE("a local formulary limits the dose where it is stricter than the label", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.weight_kg = 60.0;
    CHECK(visit.limit_mg() == Approx(270.0));
    CHECK_FALSE(visit.local_limit_holds());
    visit.local.most_mg_per_kg = 3.0;
    CHECK(visit.limit_mg() == Approx(180.0));
    CHECK(visit.label_limit_mg() == Approx(270.0));
    CHECK(visit.local_limit_holds());
    visit.local.most_mg = 150.0;
    CHECK(visit.limit_mg() == Approx(150.0));
    visit.local = {7.0, 500.0, 0.0};  // laxer than the label: the label holds
    CHECK(visit.limit_mg() == Approx(270.0));
    CHECK_FALSE(visit.local_limit_holds());
    visit.local = {0.1, 0.0, 0.0};
    CHECK_THROWS_AS(sim::validate(visit), sim::InputError);
    visit.local = {0.0, 0.0, 700.0};
    CHECK_THROWS_AS(sim::validate(visit), sim::InputError);
}

TEST_CASE("what was discarded comes back only as a fresh one", "[sim][visit][asepsis]") {
    Play play(support::visit_model());
    play.command(deed(Deed::open_another, 0));
    CHECK(play.last(EventKind::deed_refused) != nullptr);
    play.command({Verb::take, {0}});  // in bare hands: contaminated
    CHECK(play.state.visit.contaminated[0] == 1);
    play.command({Verb::discard, {}});
    support::prepare(play);
    Play unclean = play;
    unclean.state.visit.hands = sim::HandsClean::washed;
    const int told = unclean.count(EventKind::contaminated);
    unclean.command(deed(Deed::open_another, 0));
    CHECK(unclean.count(EventKind::contaminated) == told + 1);  // opened by hands that are not clean
    play.command(deed(Deed::open_another, 0));
    CHECK(play.state.in_use[0]);
    CHECK(play.state.visit.contaminated[0] == 0);
}

TEST_CASE("a pack tells whether it is in date, and a fresh one is", "[sim][visit][asepsis]") {
    sim::Model model = support::visit_model();
    model.scenario.tray[0].thread.use_by_months = -1;
    Play play(model);
    const auto read = [&](int tray) {
        play.command(deed(Deed::read_pack, tray));
        return play.last(EventKind::deed_done)->value[1];
    };
    CHECK(read(0) == 0.0);
    CHECK(read(1) == 1.0);
    support::prepare(play);
    play.command({Verb::take, {0}});
    play.command({Verb::discard, {}});
    play.command(deed(Deed::open_another, 0));
    CHECK(read(0) == 1.0);
    play.command(deed(Deed::read_pack, 12));
    REQUIRE(play.last(EventKind::deed_refused) != nullptr);
    CHECK(static_cast<sim::DeedRefusal>(play.last(EventKind::deed_refused)->value[0]) == sim::DeedRefusal::not_on_tray);
}

TEST_CASE("sharps are counted by the piece that left its pack", "[sim][visit]") {
    Play play(support::visit_model());
    const auto counted = [&] {
        play.command(deed(Deed::count_sharps));
        return play.last(EventKind::deed_done)->value[2];
    };
    support::prepare(play);
    CHECK(counted() == 0.0);
    play.command({Verb::take, {0}});
    play.command({Verb::take, {1}});
    play.command({Verb::take, {0}});  // the same piece again
    CHECK(counted() == 2.0);
    play.command({Verb::discard, {}});
    play.command(deed(Deed::open_another, 0));
    CHECK(counted() == 2.0);
    play.command({Verb::take, {0}});
    CHECK(counted() == 3.0);
}

TEST_CASE("a numb entry is not felt, another is", "[sim][visit][comfort]") {
    const auto moves = [](bool numbed, std::int64_t wait_s) {
        sim::VisitSpec visit = support::healthy_visit();
        visit.bears_pain = 4.0;
        Play play(support::visit_model(visit));
        support::prepare(play);
        if (numbed) {
            support::needle_in(play, support::kFineNeedle, 5.0);
            play.command({Verb::inject, {300, 0, 0}});
            support::needle_out(play, 6.0);
            play.command(let_pass(wait_s));
        }
        const int before = play.count(EventKind::patient_moved);
        support::needle_in(play, 0, 7.0);
        return play.count(EventKind::patient_moved) - before;
    };
    CHECK(moves(false, 0) > 0);
    CHECK(moves(true, 180) == 0);
    CHECK(moves(true, 15) > 0);  // it has not set in
}

TEST_CASE("a patient who moves turns the aim, the same way each time", "[sim][visit][comfort]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.bears_pain = 1.0;
    const auto turned = [&] {
        Play play(support::visit_model(visit));
        support::needle_in(play, 0, 7.0);
        return std::pair{play.state.hands.yaw_rad, play.last(EventKind::patient_moved) != nullptr};
    };
    const auto first = turned(), second = turned();
    REQUIRE(first.second);
    CHECK(first.first == second.first);
    CHECK(first.first != 0.0);
}

TEST_CASE("fluid goes in through a needle or a bare cannula only", "[sim][visit]") {
    Play play(support::visit_model());
    play.command({Verb::inject, {100, 0, 0}});
    CHECK(play.count(EventKind::injected) == 0);
    support::open_entry(play);
    play.command({Verb::take, {2}});
    play.command({Verb::aim, {0, 30'000}});
    play.push_mm(10.0);
    play.command({Verb::inject, {100, 0, 0}});
    CHECK(play.last(EventKind::deed_refused)->value[0] == static_cast<double>(sim::DeedRefusal::loaded));
    CHECK(play.count(EventKind::injected) == 0);
}

TEST_CASE("a breached artery bleeds, shows, and stops under firm pressure that lasts", "[sim][visit][signs]") {
    Play play(support::visit_model(support::healthy_visit(), support::with_vessel(sim::StructureKind::artery)));
    support::needle_in(play, 0, 8.0);
    REQUIRE(play.count(EventKind::wall_breached) == 1);
    support::needle_out(play, 9.0);
    play.command(let_pass(30));
    CHECK(signs(play, Sign::bruise_spreading) == 1);
    CHECK(signs(play, Sign::swelling_expanding) == 0);
    SECTION("nobody presses") {
        play.command(let_pass(300));
        CHECK(signs(play, Sign::swelling_expanding) == 1);
        CHECK(play.count(EventKind::bleeding_stopped) == 0);
    }
    SECTION("pressed, but not long enough") {
        play.command({Verb::touch, {4'000, 0, 0}});
        play.command({Verb::grip, {0, 0, 3'000}});
        play.wait(40);
        play.command(let_pass(200));
        play.command({Verb::grip, {0, 0, 0}});
        play.wait(40);
        play.command(let_pass(200));
        CHECK(play.count(EventKind::bleeding_stopped) == 0);
    }
    SECTION("pressed for five minutes") {
        play.command({Verb::touch, {4'000, 0, 0}});
        play.command({Verb::grip, {0, 0, 3'000}});
        play.wait(40);
        play.command(let_pass(310));
        REQUIRE(play.count(EventKind::bleeding_stopped) == 1);
        CHECK(play.last(EventKind::bleeding_stopped)->value[1] >= 300.0);
    }
}

TEST_CASE("drawing back tells of a vessel, and injecting into an artery blanches", "[sim][visit][signs]") {
    Play play(support::visit_model(support::healthy_visit(), support::with_vessel(sim::StructureKind::artery)));
    support::needle_in(play, 0, 4.0);
    play.command(deed(Deed::aspirate));
    CHECK(play.last(EventKind::deed_done)->value[1] == 0.0);
    // on until the tip lies in the lumen
    for (int i = 0; i < 40 && play.last(EventKind::deed_done)->value[1] == 0.0; ++i) {
        play.push_mm(0.2);
        play.command(deed(Deed::aspirate));
    }
    REQUIRE(play.last(EventKind::deed_done)->value[1] == 1.0);
    play.command({Verb::inject, {100, 0, 0}});
    CHECK(play.last(EventKind::injected)->value[3] == 1.0);
    CHECK(signs(play, Sign::blanching) == 1);
    CHECK(play.state.visit.anaesthetic.depots.empty());  // it is carried away
}

TEST_CASE("a nerve that is touched tells so, numb or not", "[sim][visit][signs]") {
    Play play(support::visit_model(support::healthy_visit(), support::with_vessel(sim::StructureKind::nerve)));
    support::needle_in(play, 0, 8.0);
    CHECK(signs(play, Sign::electric_pain) == 1);
    CHECK(play.state.visit.nerve_hurt);
}

TEST_CASE("past the limit the signs of toxicity come one after the other", "[sim][visit][signs]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.anaesthetic.mg_per_ml = 20.0;
    Play play(support::visit_model(visit));
    support::needle_in(play, 0, 6.0);
    // 60 kg plain: 270 mg are 13.5 ml
    for (int i = 0; i < 14; ++i) play.command({Verb::inject, {1000, 0, 0}});
    CHECK(signs(play, Sign::tingling) == 0);
    play.command(let_pass(130));
    CHECK(signs(play, Sign::tingling) == 1);
    play.command(let_pass(600));
    CHECK(signs(play, Sign::agitation) == 0);  // 280 mg are not a quarter over
    for (int i = 0; i < 8; ++i) play.command({Verb::inject, {1000, 0, 0}});
    play.command(let_pass(10));
    CHECK(signs(play, Sign::agitation) == 1);
    CHECK(signs(play, Sign::seizure) == 1);
}

TEST_CASE("who tends to faint does at the first needle, and lying flat ends it", "[sim][visit][signs]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.faints = true;
    visit.bears_pain = 3.0;
    Play play(support::visit_model(visit));
    support::needle_in(play, 0, 7.0);
    REQUIRE(signs(play, Sign::pallor) == 1);
    SECTION("laid flat") {
        play.command(deed(Deed::set_chair, static_cast<int>(sim::Chair::flat)));
        play.command(let_pass(120));
        CHECK(signs(play, Sign::collapse) == 0);
    }
    SECTION("not noticed") {
        play.command(let_pass(120));
        CHECK(signs(play, Sign::collapse) == 1);
    }
}

TEST_CASE("who has gone home is called, and that is all", "[sim][visit]") {
    Play play(support::visit_model());
    play.command(deed(Deed::discharge));
    play.command(deed(Deed::wash_hands));
    CHECK(play.last(EventKind::deed_refused)->value[0] == static_cast<double>(sim::DeedRefusal::gone));
    play.command({Verb::take, {0}});
    CHECK(play.state.hands.instrument == -1);
    play.command(deed(Deed::call_back, 1));
    CHECK(play.last(EventKind::deed_done)->value[1] == 0.0);  // all is well
}

TEST_CASE("a cut end lies as deep as tail and skin give back", "[sim][visit][trim]") {
    sim::Model model = support::visit_model();
    model.concerns = {{"jowl", sim::Side::left, {50.0 * kMm, 0, 0}}};
    Play play(model);
    support::open_entry(play);
    play.command({Verb::take, {2}});
    play.command({Verb::aim, {0, 30'000}});
    play.push_mm(9.0);
    play.command({Verb::aim, {0, 0}});
    play.push_mm(45.0);
    play.push_mm(-56.0);
    play.wait(4);
    REQUIRE(play.state.threads.size() == 1);
    const auto cut_under = [&](std::int64_t pull_mn, std::int64_t press_mn) {
        Play one = play;
        one.command({Verb::traction, {1, pull_mn, 0}});
        one.command({Verb::touch, {0, 0, 0}});
        one.wait(40);
        one.command({Verb::grip, {0, 0, press_mn}});
        one.wait(40);
        one.command({Verb::trim, {1, 0, 0}});
        one.command({Verb::grip, {0, 0, 0}});
        one.wait(60);
        return one;
    };
    const Play flush = cut_under(0, 0), pulled = cut_under(800, 0), pressed = cut_under(800, 2000);
    CHECK_THAT(flush.state.threads[0].tail_depth_m, WithinAbs(0.0, 0.1 * kMm));
    CHECK(pulled.state.threads[0].tail_depth_m > 0.1 * kMm);
    CHECK(pressed.state.threads[0].tail_depth_m > pulled.state.threads[0].tail_depth_m);
    // what was drawn out under the pull and has slipped back is the length that lies under the skin
    const sim::HeldThread& thread = pulled.state.threads[0];
    CHECK_THAT(pulled.last(EventKind::tail_settled)->value[1],
               WithinAbs(*thread.cut_m - thread.tail_out_m, 0.06 * kMm));
    Play again = pulled;
    again.command({Verb::traction, {1, 500, 0}});
    CHECK(again.last(EventKind::thread_refused)->value[0] == static_cast<double>(sim::ThreadRefusal::trimmed));
}

TEST_CASE("a copy of a state in mid-visit goes on with the same bits", "[sim][visit]") {
    Play play(support::visit_model());
    support::prepare(play);
    support::needle_in(play, support::kFineNeedle, 5.0);
    play.command({Verb::inject, {200, 0, 0}});
    Play other = play;
    for (Play* one : {&play, &other}) {
        support::needle_out(*one, 6.0);
        one->command(let_pass(200));
        support::needle_in(*one, 0, 7.0);
    }
    CHECK(play.state.visit.pain == other.state.visit.pain);
    CHECK(play.state.hands.yaw_rad == other.state.hands.yaw_rad);
    CHECK(sim::patient_s(play.state) == sim::patient_s(other.state));
}

TEST_CASE("marks are judged by rules of the surface; the slab has none", "[sim][visit][marks]") {
    const Play play(support::visit_model());
    CHECK_FALSE(sim::off_rule_m(*play.model.anatomy, sim::MarkPoint::jaw_artery, {}).has_value());
    CHECK_FALSE(sim::rule_place(*play.model.anatomy, sim::MarkPoint::jaw_artery, sim::Side::left).has_value());
}

TEST_CASE("who has to swallow says so, and only a tip that is pushed on meanwhile is led astray", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.swallows_every_s = 5.0;
    visit.bears_pain = 10.0;
    Play play(support::visit_model(visit));
    support::needle_in(play, 0, 4.0);
    while (signs(play, Sign::swallow) == 0) play.wait(1);
    const double yaw_rad = play.state.hands.yaw_rad;
    play.wait(400);  // told, not yet under way
    SECTION("still") {
        play.wait(400);
        CHECK(play.count(EventKind::patient_moved) == 0);
        CHECK(play.state.hands.yaw_rad == yaw_rad);
    }
    SECTION("pushed on") {
        play.push_mm(1.0);
        CHECK(play.count(EventKind::patient_moved) == 1);
        CHECK(play.last(EventKind::patient_moved)->value[3] == 1.0);
        CHECK(play.state.hands.yaw_rad != yaw_rad);
        play.push_mm(0.5);
        CHECK(play.count(EventKind::patient_moved) == 1);  // once each
    }
}

TEST_CASE("nothing in the skin, and a swallow is nobody's business", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.swallows_every_s = 5.0;
    Play play(support::visit_model(visit));
    play.wait(2000);
    CHECK(signs(play, Sign::swallow) == 0);
}

TEST_CASE("an attempt can begin with a vessel that bleeds, and pressure stops it", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.opening = sim::Opening{Vec3{4.0 * kMm, 0.0, -3.4 * kMm}, false, {}};
    Play play(support::visit_model(visit, support::with_vessel(sim::StructureKind::artery)));
    play.wait(1);
    REQUIRE(play.count(EventKind::wall_breached) == 1);
    play.command({Verb::touch, {4000, 0, 0}});
    play.command({Verb::grip, {static_cast<std::int64_t>(sim::Grip::press), 0, 4000}});
    play.wait(200);
    CHECK(play.count(EventKind::contaminated) == 0);  // the field is laid already
    play.command(let_pass(360));
    CHECK(play.count(EventKind::bleeding_stopped) == 1);
}

TEST_CASE("where nothing can bleed an attempt does not begin with blood", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.opening = sim::Opening{Vec3{}, false, {}};
    CHECK_THROWS_AS(sim::initial_state(support::visit_model(visit)), sim::InputError);
    visit.opening->gone_home = true;
    CHECK_THROWS_AS(sim::validate(visit), sim::InputError);
}

TEST_CASE("an attempt can begin with the calls, and they hear what the case says", "[sim][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.opening = sim::Opening{{}, true, {0, 1 << static_cast<int>(sim::CallFinding::weakness), 0, 0, 0}};
    Play play(support::visit_model(visit));
    play.command(deed(Deed::wash_hands));
    CHECK(play.count(EventKind::deed_refused) == 1);
    play.command(deed(Deed::call_back, 1));
    CHECK(sim::answer_to(static_cast<int>(play.last(EventKind::deed_done)->value[1])) == sim::CallAnswer::refer);
    play.command(deed(Deed::answer_call, static_cast<int>(sim::CallAnswer::refer)));
    CHECK(play.last(EventKind::deed_done)->subject == static_cast<int>(Deed::answer_call));
}
