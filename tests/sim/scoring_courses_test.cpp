#include <catch2/catch.hpp>

#include "sim/procedure/deeds.hpp"
#include "sim/scoring/rubric.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"
#include "tests/support/visits.hpp"

/// Vectors as they are marked and as threads come to lie; calls, blood and the neck's skin.

using sim::Deed;
using sim::Event;
using sim::EventKind;
using sim::Grip;
using sim::kMm;
using sim::MarkPoint;
using sim::Recording;
using sim::Vec3;
using support::event_of;
using support::has;
using support::shown;

namespace {

struct Visited {
    Recording recording = support::empty_recording();

    explicit Visited(sim::VisitSpec visit = support::healthy_visit()) {
        recording.visit = std::move(visit);
        recording.events.clear();
    }
    Visited& add(EventKind kind, int subject, std::array<double, 4> value = {}, const Vec3& place_m = {}) {
        recording.events.push_back(event_of(recording.steps += 10, kind, subject, value, place_m));
        return *this;
    }
    Visited& deed(Deed which, int subject, double first = 0.0, const Vec3& place_m = {}, double third = 0.0) {
        return add(EventKind::deed_done, static_cast<int>(which), {static_cast<double>(subject), first, 0.0, third},
                   place_m);
    }
    Visited& vector(const Vec3& entry_m, const Vec3& end_m) {
        deed(Deed::mark_point, static_cast<int>(MarkPoint::vector_entry), -1.0, entry_m);
        return deed(Deed::mark_point, static_cast<int>(MarkPoint::vector_end), -1.0, end_m);
    }
    Visited& pass() {
        add(EventKind::skin_punctured, 0);
        support::run_track(recording, support::track_of(support::kPlannedMm));
        return *this;
    }
    [[nodiscard]] double value(const std::string& name) const { return shown(sim::measure(recording), name); }
};

const Vec3 kEnd{60.0 * kMm, 0.0, 0.0};

Visited& thread_along(Visited& visited, double beside_mm, double from_mm = 0.0) {
    sim::TrackRecord track = support::track_of(support::kPlannedMm);
    support::add_barbs(track);
    for (sim::TrackPiece& piece : track.pieces) piece.middle_m += Vec3(from_mm * kMm, beside_mm * kMm, 0.0);
    track.entry_m = {from_mm * kMm, beside_mm * kMm, 0.0};
    track.end_m += track.entry_m;
    support::run_track(visited.recording, track);
    return visited;
}

}  // namespace

TEST_CASE("a vector is marked by its two ends before the first needle", "[sim][scoring][visit]") {
    CHECK(Visited().vector({}, kEnd).pass().value("vectors_marked") == 100.0);
    CHECK(Visited().pass().vector({}, kEnd).value("vectors_marked") == 0.0);
    CHECK(Visited().vector({}, kEnd * 0.5).pass().value("vectors_marked") == 0.0);
    // an end without an entry is no vector
    CHECK(Visited()
              .deed(Deed::mark_point, static_cast<int>(MarkPoint::vector_end), -1.0, kEnd)
              .pass()
              .value("vectors_marked") == 0.0);
}

TEST_CASE("marking vectors everywhere earns nothing", "[sim][scoring][visit][trap]") {
    Visited everywhere;
    for (int i = 0; i < 10; ++i) everywhere.vector({}, {60.0 * kMm, (i - 3) * 20.0 * kMm, 0.0});
    CHECK(everywhere.pass().value("vectors_marked") == Approx(10.0));
    // nor do they count as landmarks
    CHECK(everywhere.value("marks_placed") == 0.0);
}

TEST_CASE("the pulse is to be felt again in the patient who lies back", "[sim][scoring][visit]") {
    const auto felt = [](sim::Chair chair) {
        Visited visited;
        visited.recording.events.push_back(event_of(10, EventKind::deed_done, static_cast<int>(Deed::feel_pulse),
                                                    {0.0, 1.0, 0.0, static_cast<double>(chair)}, {0.05, 0.0, 0.0}));
        return visited.pass().value("pulses_felt_again");
    };
    CHECK(felt(sim::Chair::upright) == 0.0);
    CHECK(felt(sim::Chair::reclined) == 100.0);
}

TEST_CASE("each call is answered with what was heard in it", "[sim][scoring][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.opening = sim::Opening{{}, true, {}};
    const auto bit = [](sim::CallFinding finding) { return static_cast<double>(1 << static_cast<int>(finding)); };
    const double heard[] = {bit(sim::CallFinding::infection), bit(sim::CallFinding::swelling_at_meals), 0.0, 0.0, 0.0};

    const auto played = [&](auto answer) {
        Visited visited(visit);
        for (int i = 0; i < sim::kCalls; ++i) {
            visited.deed(Deed::call_back, i, heard[i]);
            visited.deed(Deed::answer_call, static_cast<int>(answer(heard[i])));
        }
        return visited;
    };
    const Visited right = played([](double bits) { return sim::answer_to(static_cast<int>(bits)); });
    CHECK(right.value("calls_made") == 100.0);
    CHECK(right.value("calls_answered") == 100.0);
    CHECK_FALSE(has(sim::measure(right.recording), "track_in_band"));
    CHECK(sim::score(right.recording, support::shipped_rubric("level_1")).verdict == sim::Verdict::pass);

    // always calming, and always sending away, are right only where they are right
    CHECK(played([](double) { return sim::CallAnswer::reassure; }).value("calls_answered") == 60.0);
    CHECK(played([](double) { return sim::CallAnswer::refer; }).value("calls_answered") == 20.0);

    Visited one(visit);
    one.deed(Deed::call_back, 0, heard[0]);
    CHECK(one.value("calls_made") == 20.0);
    CHECK(one.value("calls_answered") == 0.0);
}

TEST_CASE("of several findings the gravest decides what a call asks for", "[sim][visit]") {
    const auto bits = [](std::initializer_list<sim::CallFinding> findings) {
        int all = 0;
        for (const sim::CallFinding one : findings) all |= 1 << static_cast<int>(one);
        return all;
    };
    CHECK(sim::answer_to(0) == sim::CallAnswer::reassure);
    CHECK(sim::answer_to(bits({sim::CallFinding::dimple})) == sim::CallAnswer::see_soon);
    CHECK(sim::answer_to(bits({sim::CallFinding::dimple, sim::CallFinding::infection})) == sim::CallAnswer::see_today);
    CHECK(sim::answer_to(bits({sim::CallFinding::infection, sim::CallFinding::weakness})) == sim::CallAnswer::refer);
}

TEST_CASE("threads of a side are kept apart over their barbs", "[sim][scoring]") {
    Visited apart;
    thread_along(thread_along(apart, 0.0), 7.0);
    CHECK(apart.value("track_spacing") == Approx(7.0));

    Visited crossing;
    thread_along(thread_along(crossing, 0.0), 0.0, 20.0);
    CHECK(crossing.value("track_spacing") == Approx(0.0).margin(1e-9));

    Visited alone;
    thread_along(alone, 0.0);
    CHECK_FALSE(has(sim::measure(alone.recording), "track_spacing"));
}

TEST_CASE("a far end stops short of the corner of the mouth", "[sim][scoring]") {
    Visited visited;
    visited.recording.concerns = {{"mouth corner", sim::Side::left, {72.0 * kMm, 0.0, -support::kMidBandM}},
                                  {"jowl", sim::Side::left, {60.0 * kMm, 0.0, -support::kMidBandM}}};
    CHECK(thread_along(visited, 0.0).value("far_end_to_mouth") == Approx(12.0));
}

TEST_CASE("a thread that is too long for its vector leaves barbs outside", "[sim][scoring]") {
    Visited visited;
    visited.recording.tray[0].thread = {"2-0", 160.0 * kMm, 8.0 * kMm, 80.0 * kMm, 1.5 * kMm};
    // 40 barbs of 1.5 mm found room
    CHECK(thread_along(visited, 0.0).value("barbs_laid") == Approx(75.0));
}

TEST_CASE("in the neck the skin is drawn tight for the pilot and lifted in a fold for the pass", "[sim][scoring]") {
    const auto played = [](bool tight, bool fold) {
        Visited visited;
        visited.recording.plan[0].neck = true;
        const auto grip = [&](Grip which) { visited.add(EventKind::hand_settled, static_cast<int>(which), {1.0}); };
        if (tight) grip(Grip::draw_tight);
        visited.add(EventKind::skin_punctured, 0).add(EventKind::entry_opened, 0);
        sim::TrackRecord track = support::track_of(support::kPlannedMm);
        support::add_barbs(track);
        std::vector<Event> during;
        if (fold) during.push_back(event_of(0, EventKind::hand_settled, static_cast<int>(Grip::fold), {1.0}));
        support::run_track(visited.recording, track, during);
        for (Event& event : visited.recording.events)
            if (event.kind == EventKind::track_opened) event.value[0] = 1.0;
        return visited.value("neck_skin_held");
    };
    CHECK(played(true, true) == 100.0);
    CHECK(played(true, false) == 50.0);
    CHECK(played(false, true) == 50.0);
    CHECK(played(false, false) == 0.0);
    Visited face;
    CHECK_FALSE(has(sim::measure(thread_along(face, 0.0).recording), "neck_skin_held"));
}

TEST_CASE("a thread that is to come out comes out whole, loosened first", "[sim][scoring]") {
    const auto played = [](bool loosened, bool out) {
        Visited visited;
        visited.recording.plan[0].take_out = true;
        thread_along(visited, 0.0);
        if (loosened) visited.add(EventKind::stroked, 1, {-6.0});
        if (out) visited.add(EventKind::thread_out, 1, {2.0});
        return visited;
    };
    CHECK(played(true, true).value("threads_taken_out") == 100.0);
    CHECK(played(true, true).value("loosened_first") == 100.0);
    CHECK(played(false, true).value("loosened_first") == 0.0);
    CHECK(played(true, false).value("threads_taken_out") == 0.0);
    CHECK(played(true, false).value("loosened_first") == 0.0);
}

TEST_CASE("near eye and ear the mild antiseptic is taken", "[sim][scoring][visit]") {
    const auto prepared = [](Deed with, sim::SkinArea area) {
        return Visited().deed(with, static_cast<int>(area)).pass();
    };
    CHECK(prepared(Deed::prepare_skin_mild, sim::SkinArea::left_face).value("antiseptic_right") == 100.0);
    CHECK(prepared(Deed::prepare_skin, sim::SkinArea::left_face).value("antiseptic_right") == 0.0);
    CHECK_FALSE(has(sim::measure(prepared(Deed::prepare_skin, sim::SkinArea::neck).recording), "antiseptic_right"));
}

TEST_CASE("the result is seen sitting up, at rest and in movement", "[sim][scoring][visit]") {
    const auto seen = [](sim::Chair chair, bool movement) {
        Visited visited;
        visited.pass();
        visited.deed(Deed::photograph, 0, static_cast<double>(chair));
        if (movement) visited.deed(Deed::test_movement, 0, 0.0, {}, static_cast<double>(chair));
        return visited.value("reviewed_upright");
    };
    CHECK(seen(sim::Chair::upright, true) == 100.0);
    CHECK(seen(sim::Chair::upright, false) == 50.0);
    CHECK(seen(sim::Chair::reclined, true) == 0.0);
}

TEST_CASE("an attempt that begins with blood is about stopping it", "[sim][scoring][visit]") {
    sim::VisitSpec visit = support::healthy_visit();
    visit.opening = sim::Opening{Vec3{}, false, {}};
    Visited stopped(visit);
    stopped.add(EventKind::wall_breached, 0).add(EventKind::bleeding_stopped, 0, {0.4, 300.0});
    CHECK(stopped.value("blood_lost") == Approx(0.4));
    const auto rubric = support::shipped_rubric("level_1");
    CHECK(sim::score(stopped.recording, rubric).critical_faults.empty());

    Visited left(visit);
    left.add(EventKind::wall_breached, 0);
    const sim::Score score = sim::score(left.recording, rubric);
    REQUIRE(score.critical_faults.size() == 1);
    CHECK(score.critical_faults[0].measure == "bleeding_ignored");
    CHECK(score.verdict == sim::Verdict::fail);
}

TEST_CASE("a thread's pack is read before its cannula is taken, and is in date", "[sim][scoring][visit]") {
    const auto laid = [](bool read, bool in_date, bool fresh_since) {
        Visited visited;
        visited.add(EventKind::skin_punctured, 0);
        if (read) visited.deed(Deed::read_pack, 1, in_date ? 1.0 : 0.0);
        if (fresh_since) visited.deed(Deed::open_another, 1);
        visited.add(EventKind::instrument_taken, 1);
        support::run_track(visited.recording, support::track_of(support::kPlannedMm));
        visited.add(EventKind::thread_left, 0, {1.0, 0, 0, 0});
        return visited.value("packs_read");
    };
    CHECK(laid(true, true, false) == 100.0);
    CHECK(laid(false, true, false) == 0.0);
    CHECK(laid(true, false, false) == 0.0);
    CHECK(laid(true, true, true) == 0.0);  // what was read was another pack
}

TEST_CASE("reinforcing comes beside the first thread, and after a look at the result", "[sim][scoring][visit]") {
    const auto reinforced = [](double beside_mm, bool looked) {
        Visited visited;
        visited.recording.plan.push_back(visited.recording.plan[0]);
        visited.recording.plan[1].reinforces = true;
        visited.add(EventKind::skin_punctured, 0);
        thread_along(visited, 0.0);
        if (looked) visited.deed(Deed::test_movement, 0, 0.0, {}, static_cast<double>(sim::Chair::upright));
        thread_along(visited, beside_mm);
        visited.recording.tracks.back().vector = 1;
        return visited.value("reinforced_beside");
    };
    CHECK(reinforced(7.0, true) == 100.0);
    CHECK(reinforced(7.0, false) == 50.0);
    CHECK(reinforced(0.5, true) == 50.0);
    CHECK(reinforced(0.5, false) == 0.0);
    Visited alone;
    alone.recording.plan.push_back(alone.recording.plan[0]);
    alone.recording.plan[1].reinforces = true;
    alone.add(EventKind::skin_punctured, 0);
    thread_along(alone, 0.0);
    CHECK(alone.value("reinforced_beside") == 0.0);  // not laid
}
