#include "engine/report/visit_sheet.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "sim/patient/patient.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/visits.hpp"

using Catch::Matchers::Contains;
using sim::EventKind;
using sim::kMm;
using support::event_of;

namespace {

sim::Recording visit_recording() {
    sim::Recording recording = support::empty_recording();
    recording.visit = support::healthy_visit();
    recording.events.clear();
    recording.steps = 100'000;
    return recording;
}

sim::Event shown(std::int64_t step, sim::Sign sign, sim::Vec3 place_m = {}) {
    return event_of(step, EventKind::sign_shown, static_cast<int>(sign), {}, place_m);
}

sim::Event done(std::int64_t step, sim::Deed deed, std::array<double, 4> value = {}, sim::Vec3 place_m = {}) {
    return event_of(step, EventKind::deed_done, static_cast<int>(deed), value, place_m);
}

sim::Event waited(std::int64_t step, double s) { return event_of(step, EventKind::time_passed, -1, {s, 0, 0, 0}); }

const report::SheetPart& part_of(const std::vector<report::SheetPart>& sheet, const std::string& title) {
    const auto at = std::find_if(sheet.begin(), sheet.end(),
                                 [&](const report::SheetPart& part) { return part.title.rfind(title, 0) == 0; });
    REQUIRE(at != sheet.end());
    return *at;
}

}  // namespace

TEST_CASE("a sign tells when it showed, what it asks for and what answered it", "[report][visit]") {
    sim::Recording recording = visit_recording();
    // 250 steps are a second; two minutes are waited for before the faint comes
    recording.events = {waited(100, 120.0),
                        shown(500, sim::Sign::pallor),
                        done(1500, sim::Deed::set_chair, {static_cast<double>(sim::Chair::flat), 0, 0, 0}),
                        shown(2000, sim::Sign::tingling),
                        waited(2100, 300.0),
                        shown(3000, sim::Sign::pain)};
    const std::vector<report::SignLine> lines = report::sign_lines(recording);
    REQUIRE(lines.size() == 3);
    CHECK(report::patient_clock_words(lines[0].patient_s) == "2:02");
    CHECK(lines[0].answered);
    CHECK(lines[0].done == "Set the chair: flat, legs up, after 0:04.");
    CHECK(lines[0].asked == sim::response_words(sim::Sign::pallor));
    CHECK(lines[0].before_step == 250);
    CHECK(lines[1].judged);
    CHECK_FALSE(lines[1].answered);
    CHECK(lines[1].done == "Not answered within 2:00.");
    CHECK_THAT(lines[1].shown, Contains("\"My lips tingle"));
    CHECK_FALSE(lines[2].judged);
    CHECK(report::sign_lines(visit_recording()).empty());

    // what came after its time is told as late, and is no answer
    recording.events.push_back(
        done(3500, sim::Deed::give_care, {static_cast<double>(sim::Protocol::toxicity), 0, 0, 0}));
    const std::vector<report::SignLine> late = report::sign_lines(recording);
    CHECK_FALSE(late[1].answered);
    CHECK(late[1].done == "Local protocol: anaesthetic toxicity, late: after 5:06; wanted within 2:00.");
}

TEST_CASE("a call tells what strength is left by published loss, and when none is", "[report][visit]") {
    const auto heard = [](int week) {
        return report::call_words(done(0, sim::Deed::call_back, {static_cast<double>(week), 0.0, 0.0, 0.0}));
    };
    CHECK_THAT(heard(0), Contains("% of a thread's strength is left"));
    CHECK_THAT(heard(4), Contains("A thread has no strength left"));
}

TEST_CASE("a bruise leads back to before the wall gave way", "[report][visit]") {
    sim::Recording recording = visit_recording();
    const sim::Vec3 here{0.01, 0.02, -0.005}, there{-0.03, 0.0, -0.004};
    recording.events = {event_of(1000, EventKind::wall_breached, 0, {}, here),
                        event_of(1200, EventKind::wall_breached, 0, {}, there),
                        shown(4000, sim::Sign::bruise_spreading, here),
                        event_of(9000, EventKind::bleeding_stopped, 0, {0.62, 300.0, 0, 0}, here)};
    const std::vector<report::SignLine> lines = report::sign_lines(recording);
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].before_step == 750);
    CHECK(lines[0].done == "Pressed for 5:00, 0.6 ml lost, after 0:20.");
}

TEST_CASE("the case sheet holds what was asked, decided, marked, given, left and heard", "[report][visit]") {
    sim::Recording recording = visit_recording();
    recording.visit->history[0].says = "Something against clots.";
    recording.tray.push_back({"Loaded cannula", sim::TipShape::blunt, 21, 0.09, true, {}});
    recording.events = {done(10, sim::Deed::ask, {0, 0, 0, 0}),
                        event_of(20, EventKind::decided, static_cast<int>(sim::Decision::treat),
                                 {static_cast<double>(sim::HistoryItem::expectations), 0, 0, 0}),
                        done(30, sim::Deed::take_consent, {0, 0.0, 0, 0}),
                        done(40, sim::Deed::mark_point, {0, 4.2 * kMm, 1, 0}, {-0.04, -0.08, 0.04}),
                        event_of(100, EventKind::injected, 0, {0.1, 1.0, 2.0, 0.0}, {0.06, 0, 0}),
                        event_of(110, EventKind::injected, 0, {0.1, 2.0, 2.0, 0.0}, {0.06, 0, 0}),
                        event_of(9000, EventKind::injected, 0, {0.5, 7.0, 2.0, 1.0}, {0.03, 0, 0}),
                        event_of(9500, EventKind::unclean_entry, 0, {5, 0, 0, 0}),
                        done(20'000, sim::Deed::call_back, {1, 1.0, 0, 0})};
    sim::TrackRecord track = support::track_of(58);
    track.loaded = true;
    track.instrument = 1;
    recording.tracks.push_back(track);
    std::vector<sim::HeldThread> threads(1);
    threads[0].in_tissue_m = 57.0 * kMm;
    threads[0].cut_m = 2.0 * kMm;
    threads[0].tail_depth_m = 1.6 * kMm;
    sim::HeldBarb barb;
    barb.state = sim::BarbState::seated;
    threads[0].barbs.assign(4, barb);

    const std::vector<report::SheetPart> sheet = report::case_sheet(recording, threads);
    for (const report::SheetPart& part : sheet) {
        double all = 0.0;
        for (const double share : part.shares) all += share;
        CHECK(all == Approx(1.0));
        CHECK(part.shares.size() == part.heads.size());
        for (const auto& row : part.rows) CHECK(row.size() == part.heads.size());
    }
    const report::SheetPart& history = part_of(sheet, "History");
    REQUIRE(history.rows.size() == sim::kHistoryItems);
    CHECK(history.rows[0][1] == "Something against clots.");
    CHECK(history.rows[1][1] == "not asked");  // the sheet does not tell what nobody asked
    const report::SheetPart& decision = part_of(sheet, "Decision");
    CHECK(decision.rows[0][1] == "treat, because of: expectations");
    CHECK(decision.rows[2][1] == "signed, but nothing was explained");
    const report::SheetPart& marks = part_of(sheet, "Marks");
    REQUIRE(marks.rows.size() == 1);
    CHECK_THAT(marks.rows[0][1], Contains("right"));
    CHECK(marks.rows[0][3] == "4.2");
    const report::SheetPart& ledger = part_of(sheet, "Anaesthetic");
    REQUIRE(ledger.rows.size() == 2);  // two portions at one place are one line
    CHECK(ledger.rows[0][2] == "0.20");
    CHECK(ledger.rows[1][1] == "into a vessel");
    // 60 kg, plain: 4.5 mg/kg is 270 mg by the US prescribing label
    CHECK_THAT(ledger.note, Contains("7.0 mg of at most 270 mg"));
    const report::SheetPart& laid = part_of(sheet, "Threads");
    REQUIRE(laid.rows.size() == 1);
    CHECK(laid.rows[0][1] == "Loaded cannula, 21\u00a0G, lot not told");
    CHECK(laid.rows[0][4] == "57");
    CHECK(laid.rows[0][5] == "4 of 4");
    CHECK(laid.rows[0][7] == "1.6 mm deep");
    CHECK(part_of(sheet, "What was no longer clean").rows[0][1] == "Skin not prepared, hands");
    CHECK_THAT(part_of(sheet, "Calls").rows[0][1], Contains("Redness and pus"));
    CHECK(part_of(sheet, "Signs").rows.empty());
}
