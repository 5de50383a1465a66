#include <catch2/catch.hpp>
#include <cmath>

#include "sim/procedure/mark_rules.hpp"
#include "tests/support/visits.hpp"

using sim::Deed;
using sim::EventKind;
using sim::kMm;
using sim::Vec3;
using sim::Verb;
using support::deed;
using support::Play;
using support::with_vessel;

TEST_CASE("a pulse is felt over an artery near the skin and nowhere else", "[sim][visit][marks]") {
    const Play artery(support::visit_model(support::healthy_visit(), with_vessel(sim::StructureKind::artery)));
    CHECK(sim::pulse_under(*artery.model.anatomy, {4.0 * kMm, 0, 0}) == 0);
    CHECK(sim::pulse_under(*artery.model.anatomy, {24.0 * kMm, 0, 0}) == -1);
    const Play vein(support::visit_model(support::healthy_visit(), with_vessel(sim::StructureKind::vein)));
    CHECK(sim::pulse_under(*vein.model.anatomy, {4.0 * kMm, 0, 0}) == -1);
}

namespace {

/// All of the skin slides by so much over what lies beneath when the patient lies back.
class SlidingSkin final : public sim::ThreadTissue {
 public:
    explicit SlidingSkin(const Vec3& slid_m) : slid_m_(slid_m) {}
    sim::ThreadAnswer answer(const sim::ThreadRequest& request) override {
        sim::ThreadAnswer out;
        out.key = request.key;
        out.moved_m.assign(request.read_m.size(), slid_m_ + Vec3(0, 0, 1.0 * kMm));
        out.moved_m.resize(request.read_m.size() + request.inside_m.size(), Vec3(0, 0, 1.0 * kMm));
        if (request.gravity_change_m_per_s2 != Vec3{}) asked = request;
        return out;
    }
    sim::ThreadRequest asked;

 private:
    Vec3 slid_m_;
};

const sim::Event* feel_at(Play& play, double x_mm) {
    play.command({Verb::touch, {static_cast<std::int64_t>(1000.0 * x_mm), 0, 0}});
    play.command(deed(Deed::feel_pulse));
    play.wait(40);  // the hand asks for itself first
    return play.last(EventKind::deed_done);
}

}  // namespace

TEST_CASE("lying back a pulse is felt where the skin lies over the artery then", "[sim][visit][marks]") {
    Play play(support::visit_model(support::healthy_visit(), with_vessel(sim::StructureKind::artery)));
    // 15 mm beside the vessel: nothing there upright; lying back the skin has slid 11 mm towards it
    const auto tissue = std::make_shared<SlidingSkin>(Vec3(-11.0 * kMm, 0, 0));
    play.tissue = tissue;
    CHECK(feel_at(play, 19.0)->value[1] == 0.0);
    CHECK(feel_at(play, 4.0)->value[1] == 1.0);
    CHECK(tissue->asked.read_m.empty());  // upright nobody asks what lies beneath

    play.command(deed(Deed::set_chair, static_cast<int>(sim::Chair::reclined)));
    const sim::Event felt = *feel_at(play, 19.0);
    CHECK(felt.value[1] == 1.0);
    CHECK(felt.value[0] == Approx(11.0 * kMm));
    CHECK(felt.value[3] == static_cast<double>(sim::Chair::reclined));
    CHECK(felt.place_m.x == Approx(19.0 * kMm));
    CHECK(feel_at(play, 15.0)->value[1] == 1.0);
    CHECK(feel_at(play, 4.0)->value[1] == 0.0);  // upright there is one
    // an artery's own place is asked for, under gravity of 1 g that has turned by 40 degrees
    REQUIRE(tissue->asked.inside_m.size() == 1);
    CHECK(glm::length(tissue->asked.gravity_change_m_per_s2) ==
          Approx(2.0 * 9.81 * std::sin(0.5 * 40.0 * sim::kPi / 180.0)));
    CHECK(play.faults.answers_missing == 0);
}

TEST_CASE("feels wait their turn, and without a tissue they are told as upright", "[sim][visit][marks]") {
    Play play(support::visit_model(support::healthy_visit(), with_vessel(sim::StructureKind::artery)));
    play.tissue = nullptr;
    play.command(deed(Deed::set_chair, static_cast<int>(sim::Chair::flat)));
    for (const int x_um : {4'000, 30'000, 5'000}) {
        play.command({Verb::touch, {x_um, 0, 0}});
        play.command(deed(Deed::feel_pulse));
    }
    play.command({Verb::finish, {}});
    play.wait(80);
    std::vector<sim::Event> felt;
    for (const sim::Event& event : play.events)
        if (event.kind == EventKind::deed_done && event.subject == static_cast<int>(Deed::feel_pulse))
            felt.push_back(event);
    REQUIRE(felt.size() == 3);
    CHECK((felt[0].value[1] == 1.0 && felt[1].value[1] == 0.0 && felt[2].value[1] == 1.0));
    CHECK(felt[1].place_m.x == Approx(30.0 * kMm));
    CHECK(felt[2].value[0] == -1.0);
    CHECK(play.state.finished);
}
