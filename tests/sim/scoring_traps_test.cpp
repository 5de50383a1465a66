#include <catch2/catch.hpp>

#include "sim/core/random.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"

/// Ways of winning without skill, each played against the rubric that ships.

using Catch::Matchers::WithinAbs;
using sim::EventKind;
using sim::kMm;
using sim::Verdict;
using support::event_of;
using support::plain_pass;
using support::run_track;
using support::track_of;

namespace {

const sim::Rubric& rubric() {
    static const sim::Rubric shipped = support::shipped_rubric();
    return shipped;
}

double share(const sim::Recording& recording) {
    const sim::Score score = sim::score(recording, rubric());
    return score.total_points / score.total_of;
}

constexpr double kRounding = 1e-9;

}  // namespace

TEST_CASE("a pass in the middle of the band earns every point", "[sim][scoring]") {
    const sim::Score score = sim::score(plain_pass(), rubric());
    CHECK(score.verdict == Verdict::pass);
    CHECK_THAT(score.total_points, WithinAbs(score.total_of, 1e-9));
    CHECK(score.deductions.empty());
    CHECK(score.verdict_stability > 0.99);
    CHECK(score.heading_of[static_cast<std::size_t>(sim::Heading::ligament_resistance)] == 0.0);
}

TEST_CASE("going to and fro in good tissue does not raise a score", "[sim][scoring]") {
    auto once = plain_pass();
    for (std::size_t i = 40; i < 55; ++i) once.tracks[0].pieces[i].deepest_m = 5.6 * kMm;
    auto to_and_fro = once;
    // the same track, its good part travelled five more times: more rows, the same pieces
    for (int i = 0; i < 5; ++i) support::add_rows(to_and_fro, track_of(30));
    CHECK(share(to_and_fro) <= share(once) + kRounding);
    // a shaft that swung out of band and back keeps its worst depth
    auto swung = plain_pass();
    swung.tracks[0].pieces[30].shallowest_m = 2.0 * kMm;
    CHECK(share(swung) < share(plain_pass()));
}

TEST_CASE("a long entry ramp does not hide shallow track", "[sim][scoring]") {
    auto slow = plain_pass();
    // twenty millimetres to come down instead of eight
    for (std::size_t i = 0; i < 20; ++i)
        slow.tracks[0].pieces[i].shallowest_m = slow.tracks[0].pieces[i].deepest_m =
            4.0 * kMm * (static_cast<double>(i) + 0.5) / 20.0;
    CHECK(share(slow) < share(plain_pass()));
}

TEST_CASE("stopping short of the difficult stretch does not pay", "[sim][scoring]") {
    const int bad_from = GENERATE(35, 45, 50, 55);
    auto whole = plain_pass();
    for (std::size_t i = static_cast<std::size_t>(bad_from); i < 60; ++i)
        whole.tracks[0].pieces[i].deepest_m = 5.3 * kMm;
    auto stopped = plain_pass(4.0 * kMm, bad_from);
    // the whole pass pays in depth, the short one in length; the short one must not come out ahead
    const sim::Score of_whole = sim::score(whole, rubric()), of_stopped = sim::score(stopped, rubric());
    CHECK(of_stopped.total_points <= of_whole.total_points + kRounding);
    CHECK(sim::measure(stopped).measures.front().value <= sim::measure(whole).measures.front().value + kRounding);
    CHECK_FALSE((of_stopped.verdict == Verdict::pass && of_whole.verdict != Verdict::pass));
}

TEST_CASE("clearance is not won by a short or shallow pass", "[sim][scoring]") {
    auto near = plain_pass();
    near.tracks[0].pieces[50].clearance = {{0, 2.0 * kMm}};
    CHECK(share(plain_pass(4.0 * kMm, 40)) < share(near));
    CHECK(share(plain_pass(2.4 * kMm)) < share(near));
    // clearance beyond full marks earns nothing more
    auto far = plain_pass(), farther = plain_pass();
    far.tracks[0].pieces[50].clearance = {{0, 3.0 * kMm}};
    farther.tracks[0].pieces[50].clearance = {{0, 12.0 * kMm}};
    CHECK_THAT(share(far), WithinAbs(share(farther), 1e-9));
}

TEST_CASE("a near miss is not erased by starting anew", "[sim][scoring]") {
    auto again = support::empty_recording();
    auto bad = track_of(30);
    bad.final = false;
    bad.pieces[20].clearance = {{0, 0.5 * kMm}};
    run_track(again, bad);
    run_track(again, track_of(60));
    auto clean = plain_pass();
    CHECK(share(again) < share(clean));
    CHECK(sim::score(again, rubric()).verdict == Verdict::fail);
}

TEST_CASE("starting anew until it goes well costs each time", "[sim][scoring]") {
    double before = 2.0;
    for (int starts = 0; starts < 4; ++starts) {
        auto recording = support::empty_recording();
        for (int i = 0; i < starts; ++i) {
            auto abandoned = track_of(20);
            abandoned.final = false;
            run_track(recording, abandoned);
        }
        run_track(recording, track_of(60));
        CHECK(share(recording) < before);
        before = share(recording);
    }
}

TEST_CASE("needless re-angling does not win, and a ligament not met earns nothing", "[sim][scoring]") {
    auto angled = plain_pass();
    angled.tracks[0].re_angles = 4;
    CHECK(share(angled) < share(plain_pass()));
    CHECK(sim::score(angled, rubric()).verdict == Verdict::fail);

    const sim::Event met = event_of(0, EventKind::ligament_met, 0, {1.5, 0, 0, 0});
    const sim::Event stopped = event_of(0, EventKind::ligament_stopped, 0, {2.5, 0, 0, 0});
    const sim::Event parted = event_of(0, EventKind::ligament_parted, 0, {6.0, 0.01, 0.5 * kMm, 0});
    // a bad response is not diluted by meeting another ligament well
    const double forced = share(plain_pass(4 * kMm, 60, {met, parted}));
    const double diluted = share(plain_pass(4 * kMm, 60, {met, parted, met, stopped}));
    CHECK(diluted <= forced + kRounding);
    CHECK(forced < share(plain_pass(4 * kMm, 60, {met, stopped, parted})));
    CHECK(share(plain_pass(4 * kMm, 60, {met, stopped})) <= share(plain_pass()) + kRounding);
}

TEST_CASE("more threads, more hold and a thread left out win nothing", "[sim][scoring]") {
    const auto with_threads = [](int threads, double capacity_n, std::size_t unseated) {
        auto recording = support::empty_recording();
        recording.tray.push_back({"Loaded cannula", sim::TipShape::blunt, 19, 0.09, true, {}});
        for (int i = 0; i < threads; ++i) {
            auto track = track_of(60);
            support::add_barbs(track);
            for (auto& barb : track.barbs) barb.capacity_n = capacity_n;
            for (std::size_t b = 0; b < unseated; ++b) track.barbs[b].seated = i > 0;
            run_track(recording, track, {event_of(0, EventKind::thread_left, i, {1, 0, 0, 0})});
        }
        return recording;
    };
    const double one = share(with_threads(1, 0.1, 0));
    CHECK_THAT(one, WithinAbs(1.0, 1e-9));
    CHECK(share(with_threads(1, 0.5, 0)) < one);  // 10 N each way: beyond the band
    CHECK(share(with_threads(0, 0.1, 0)) < one);
    // a badly seated thread is not mended by a good one beside it
    CHECK(share(with_threads(2, 0.1, 15)) < share(with_threads(1, 0.1, 15)));
    // unseating the barbs that lie wrong does not raise the share in plane
    auto wrong = with_threads(1, 0.1, 0);
    for (std::size_t b = 0; b < 10; ++b) wrong.tracks[0].barbs[b].layer = sim::Layer::smas;
    auto unseated = wrong;
    for (std::size_t b = 0; b < 10; ++b) unseated.tracks[0].barbs[b].seated = false;
    CHECK(share(unseated) < share(wrong));
}

TEST_CASE("an attempt that is broken off or leaves a vector out is incomplete", "[sim][scoring]") {
    auto recording = plain_pass();
    recording.finished = false;
    CHECK(sim::score(recording, rubric()).verdict == Verdict::incomplete);
    CHECK(sim::score(plain_pass(4 * kMm, 29), rubric()).verdict == Verdict::incomplete);
    CHECK(sim::score(support::empty_recording(), rubric()).verdict == Verdict::incomplete);
    auto two = plain_pass();
    two.plan.push_back(two.plan[0]);
    CHECK(sim::score(two, rubric()).verdict == Verdict::incomplete);
}

TEST_CASE("critical faults fail whatever the points", "[sim][scoring]") {
    const auto faults = [](const sim::Recording& recording) {
        const sim::Score score = sim::score(recording, rubric());
        std::vector<std::string> keys;
        for (const auto& fault : score.critical_faults) keys.push_back(fault.measure);
        if (!keys.empty()) CHECK(score.verdict == Verdict::fail);
        return keys;
    };
    using Keys = std::vector<std::string>;
    CHECK(faults(plain_pass()).empty());

    SECTION("a plunge") {
        const auto plunge = [](double mm) { return event_of(0, EventKind::plunge, -1, {mm * kMm, 5.0, 0, 0}); };
        CHECK(faults(plain_pass(4 * kMm, 60, {plunge(3.0)})).empty());
        CHECK(faults(plain_pass(4 * kMm, 60, {plunge(3.1)})) == Keys{"forced_plunge"});
        // the pilot needle's give through the skin is no plunge in a track
        auto pilot = plain_pass();
        pilot.events.insert(pilot.events.begin(), event_of(40, EventKind::plunge, -1, {4.0 * kMm, 2.0, 0, 0}));
        CHECK(faults(pilot).empty());
    }
    SECTION("track below the SMAS, unless it was taken out") {
        const auto below = [](std::size_t pieces, bool final) {
            auto recording = support::empty_recording();
            auto track = track_of(60);
            for (std::size_t i = 20; i < 20 + pieces; ++i) track.pieces[i].deepest_m = 7.2 * kMm;
            track.final = final;
            run_track(recording, track);
            if (!final) run_track(recording, track_of(60));
            return recording;
        };
        CHECK(faults(below(10, true)).empty());
        CHECK(faults(below(11, true)) == Keys{"below_smas_uncorrected"});
        CHECK(faults(below(11, false)).empty());
    }
    SECTION("going on after a sign") {
        const auto sign = event_of(0, EventKind::wall_breached, 0, {1.2, 0, 0, 0}, {30 * kMm, 0, -4 * kMm});
        CHECK(faults(plain_pass(4 * kMm, 60, {sign})) == Keys{"advance_after_sign"});
        // stopped at the end of the push, taken out
        auto stopped = plain_pass();
        auto at_end = sign;
        at_end.step = stopped.rows.back().step;
        at_end.place_m = stopped.tracks[0].end_m;
        stopped.events.insert(stopped.events.end() - 3, at_end);
        CHECK(faults(stopped).empty());
        // ... but the thread was left
        auto thread = stopped;
        thread.events.insert(thread.events.end() - 2, event_of(stopped.steps, EventKind::thread_left, 0, {1, 0, 0, 0}));
        CHECK(faults(thread) == Keys{"advance_after_sign"});
        // ... but the same way was taken again
        auto again = stopped;
        run_track(again, track_of(60));
        CHECK(faults(again) == Keys{"advance_after_sign"});
        // a nerve gives its sign at contact, a vein is no such sign, the lining is one
        CHECK(faults(plain_pass(4 * kMm, 60, {event_of(0, EventKind::wall_touched, 1, {0.3, 0, 0, 0})})) ==
              Keys{"advance_after_sign"});
        auto vein = plain_pass(4 * kMm, 60, {sign});
        vein.structures[0].kind = sim::StructureKind::vein;
        CHECK(faults(vein).empty());
        CHECK(faults(plain_pass(4 * kMm, 60, {event_of(0, EventKind::lining_breached)})) == Keys{"advance_after_sign"});
    }
    SECTION("skin broken through") {
        const auto broken = event_of(0, EventKind::skin_broken_through);
        CHECK(faults(plain_pass(4 * kMm, 60, {broken})).empty());
        CHECK(faults(plain_pass(4 * kMm, 60, {broken, event_of(0, EventKind::thread_left, 0, {1, 0, 0, 0})})) ==
              Keys{"broken_skin_thread_used"});
    }
    SECTION("breaking off does not undo it") {
        auto left = plain_pass(4 * kMm, 60, {event_of(0, EventKind::plunge, -1, {6.0 * kMm, 5.0, 0, 0})});
        left.finished = false;
        CHECK(sim::score(left, rubric()).verdict == Verdict::fail);
    }
}

namespace {

/// A pass with something of everything, all of it random.
sim::Recording random_pass(sim::Random& random) {
    auto recording = support::empty_recording();
    recording.tray.push_back({"Loaded cannula", sim::TipShape::blunt, 19, 0.09, true, {}});
    auto track = track_of(40 + static_cast<int>(25 * random.uniform()));
    support::add_barbs(track);
    for (auto& barb : track.barbs) barb.seated = random.uniform() < 0.8;
    for (auto& piece : track.pieces) {
        piece.shallowest_m = piece.deepest_m += random.uniform(-1.2, 1.2) * kMm * (random.uniform() < 0.3 ? 2.0 : 0.5);
        if (random.uniform() < 0.2) piece.clearance.push_back({0, random.uniform(0.5, 8.0) * kMm});
        if (random.uniform() < 0.2) piece.clearance.push_back({1, random.uniform(0.1, 5.0) * kMm});
    }
    std::vector<sim::Event> during;
    if (random.uniform() < 0.6) {
        during.push_back(event_of(0, EventKind::ligament_met, 0, {1.5, 0, 0, 0}));
        if (random.uniform() < 0.5) during.push_back(event_of(0, EventKind::ligament_stopped, 0, {2, 0, 0, 0}));
        if (random.uniform() < 0.5)
            during.push_back(event_of(0, EventKind::ligament_parted, 0, {5, 0.01, random.uniform(0, 4) * kMm, 0}));
    }
    during.push_back(event_of(0, EventKind::thread_left, 0, {1, 0, 0, 0}));
    run_track(recording, track, during);
    return recording;
}

/// Make one thing worse. @return what, for the message
std::string worsen(sim::Recording& recording, sim::Random& random) {
    auto& track = recording.tracks[0];
    auto& piece = track.pieces[static_cast<std::size_t>(random.uniform() * static_cast<double>(track.pieces.size()))];
    const double by_m = random.uniform(0.0, 3.0) * kMm;
    switch (static_cast<int>(random.uniform() * 9)) {
        case 0:
            piece.deepest_m = std::max(piece.deepest_m, 5.0 * kMm) + by_m;
            return "deeper";
        case 1:
            piece.shallowest_m = std::min(piece.shallowest_m, 3.0 * kMm) - by_m;
            return "shallower";
        case 2:
            if (piece.clearance.empty()) piece.clearance.push_back({0, 8.0 * kMm});
            for (auto& clearance : piece.clearance) clearance.distance_m -= by_m;
            return "nearer";
        case 3:
            for (auto& event : recording.events)
                if (event.kind == EventKind::ligament_parted) event.value[2] += by_m;
            return "longer plunge";
        case 4:
            for (auto& event : recording.events)
                if (event.kind == EventKind::ligament_parted || event.kind == EventKind::ligament_met)
                    event.value[0] += 5.0 * random.uniform();
            return "higher peak";
        case 5:
            track.barbs[static_cast<std::size_t>(random.uniform() * 40)].seated = false;
            return "barb lost";
        case 6:
            track.barbs[static_cast<std::size_t>(random.uniform() * 40)].layer = sim::Layer::smas;
            return "barb deep";
        case 7:
            track.re_angles += 1;
            return "re-angled";
        default:
            track.entry_m.y += track.entry_m.y >= 0.0 ? by_m : -by_m;
            return "entry off";
    }
}

}  // namespace

TEST_CASE("a worse path never scores higher with all else equal", "[sim][scoring]") {
    sim::Random random(20260101);
    for (int trial = 0; trial < 60; ++trial) {
        sim::Recording recording = random_pass(random);
        sim::Score before = sim::score(recording, rubric());
        for (int change = 0; change < 8; ++change) {
            const std::string what = worsen(recording, random);
            const sim::Score after = sim::score(recording, rubric());
            INFO("trial " << trial << ", change " << change << ": " << what);
            REQUIRE_THAT(after.total_of, WithinAbs(before.total_of, 1e-9));
            REQUIRE(after.total_points <= before.total_points + kRounding);
            REQUIRE_FALSE((after.verdict == Verdict::pass && before.verdict != Verdict::pass));
            before = after;
        }
    }
}

TEST_CASE("deductions add up to what was lost", "[sim][scoring]") {
    sim::Random random(7);
    for (int trial = 0; trial < 20; ++trial) {
        const sim::Score score = sim::score(random_pass(random), rubric());
        double lost = 0.0;
        for (const auto& deduction : score.deductions) {
            CHECK(deduction.points > 0.0);
            CHECK_FALSE(deduction.what.empty());
            CHECK_FALSE(deduction.accepted.empty());
            lost += deduction.points;
        }
        CHECK_THAT(lost, WithinAbs(score.total_of - score.total_points, 1e-9));
        double headings = 0.0;
        for (const double points : score.heading_points) headings += points;
        CHECK_THAT(headings, WithinAbs(score.total_points, 1e-9));
    }
}
