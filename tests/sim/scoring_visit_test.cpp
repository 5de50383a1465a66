#include <catch2/catch.hpp>

#include "sim/patient/signs.hpp"
#include "sim/procedure/deeds.hpp"
#include "sim/scoring/rubric.hpp"
#include "tests/support/recordings.hpp"
#include "tests/support/shipped_rubric.hpp"
#include "tests/support/visits.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using sim::Decision;
using sim::Deed;
using sim::Event;
using sim::EventKind;
using sim::HistoryItem;
using sim::kMm;
using sim::Recording;
using sim::Sign;
using support::event_of;
using support::has;
using support::shown;

namespace {

Event done(Deed deed, int subject = 0, double result = 0.0, double second = 0.0) {
    return event_of(0, EventKind::deed_done, static_cast<int>(deed),
                    {static_cast<double>(subject), result, second, 0.0});
}

Event passed(double seconds) { return event_of(0, EventKind::time_passed, -1, {seconds, 0, 0, 0}); }
Event sign(Sign which) { return event_of(0, EventKind::sign_shown, static_cast<int>(which)); }

/// A visit as a record: what is added comes one step after the other.
struct Record {
    Recording recording = support::empty_recording();

    explicit Record(sim::VisitSpec visit = support::healthy_visit()) {
        recording.visit = std::move(visit);
        recording.events.clear();
    }
    Record& add(Event event) {
        event.step = recording.steps += 10;
        recording.events.push_back(event);
        return *this;
    }
    Record& whole_consult() {
        for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) add(done(Deed::ask, i));
        add(event_of(0, EventKind::decided, static_cast<int>(Decision::treat)));
        add(done(Deed::explain)).add(done(Deed::take_consent, 0, 1.0));
        for (int i = 0; i < sim::kViews; ++i) add(done(Deed::photograph, i));
        return add(done(Deed::test_movement)).add(done(Deed::test_sensation));
    }
    Record& puncture() { return add(event_of(0, EventKind::skin_punctured, 0)); }
    Record& pass() {
        puncture();
        support::run_track(recording, support::track_of(support::kPlannedMm));
        return *this;
    }
    Record& whole_finish() {
        add(done(Deed::count_sharps));
        for (int i = 0; i < sim::kViews; ++i) add(done(Deed::photograph, i));
        return add(done(Deed::write_record))
            .add(done(Deed::advise))
            .add(done(Deed::give_contact))
            .add(done(Deed::discharge));
    }
    [[nodiscard]] double value(const std::string& name) const { return shown(sim::measure(recording), name); }
    [[nodiscard]] sim::Score score() const { return sim::score(recording, support::shipped_rubric("one_thread")); }
    [[nodiscard]] bool critical(std::string_view rule) const {
        const sim::Score all = score();
        return std::any_of(all.critical_faults.begin(), all.critical_faults.end(),
                           [&](const sim::Finding& one) { return one.measure == rule; });
    }
};

sim::VisitSpec to_defer() {
    sim::VisitSpec visit = support::healthy_visit();
    visit.history[static_cast<std::size_t>(HistoryItem::infection)] = {"A tooth has throbbed since Monday.",
                                                                       Decision::defer};
    return visit;
}

Event decided(Decision decision, HistoryItem reason) {
    return event_of(0, EventKind::decided, static_cast<int>(decision), {static_cast<double>(reason), 0, 0, 0});
}

}  // namespace

TEST_CASE("without a visit in the scenario nothing of it is measured or critical", "[sim][scoring][visit]") {
    Record record;
    record.recording.visit.reset();
    record.pass();
    const auto measured = sim::measure(record.recording);
    CHECK_FALSE(has(measured, "history_taken"));
    CHECK_FALSE(has(measured, "entries_clean"));
    CHECK(record.score().critical_faults.empty());
}

TEST_CASE("the consult counts what was asked and done before it mattered", "[sim][scoring][visit]") {
    Record whole;
    whole.whole_consult().pass();
    CHECK(whole.value("history_taken") == 100.0);
    CHECK(whole.value("decision_right") == 100.0);
    CHECK(whole.value("consent_given") == 100.0);
    CHECK(whole.value("baseline_taken") == 100.0);
    CHECK(whole.value("views_before") == 100.0);
    CHECK_FALSE(whole.critical("no_consent"));

    Record late;
    late.add(done(Deed::ask, 0)).add(decided(Decision::treat, HistoryItem::expectations)).pass().whole_consult();
    CHECK(late.value("history_taken") == 100.0);  // decided anew, after all of it
    CHECK(late.value("consent_given") == 0.0);
    CHECK(late.value("views_before") == 0.0);
    CHECK(late.critical("no_consent"));

    Record twice;
    for (int i = 0; i < 5; ++i) twice.add(done(Deed::ask, 3));
    CHECK(twice.value("history_taken") == 10.0);  // the same question again earns nothing
}

TEST_CASE("deferring rightly is a whole attempt, and always deferring is not", "[sim][scoring][visit][trap]") {
    Record right(to_defer());
    for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) right.add(done(Deed::ask, i));
    right.add(decided(Decision::defer, HistoryItem::infection));
    CHECK(right.score().verdict == sim::Verdict::pass);
    CHECK_THAT(right.score().total_points, WithinAbs(right.score().total_of, 1e-9));

    Record guessed(to_defer());
    guessed.add(decided(Decision::defer, HistoryItem::infection));
    CHECK(guessed.score().verdict == sim::Verdict::fail);  // nothing was asked

    Record wrong_reason(to_defer());
    for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) wrong_reason.add(done(Deed::ask, i));
    wrong_reason.add(decided(Decision::defer, HistoryItem::herpes));
    CHECK(wrong_reason.value("decision_right") == 0.0);
    CHECK(wrong_reason.score().verdict == sim::Verdict::fail);

    Record healthy;
    for (int i = 0; i < static_cast<int>(sim::kHistoryItems); ++i) healthy.add(done(Deed::ask, i));
    healthy.add(decided(Decision::defer, HistoryItem::infection));
    CHECK(healthy.score().verdict == sim::Verdict::incomplete);

    Record treated(to_defer());
    treated.whole_consult().pass().whole_finish();
    CHECK(treated.critical("against_reason"));
    CHECK(treated.score().verdict == sim::Verdict::fail);
}

TEST_CASE("marking everything earns nothing", "[sim][scoring][visit][trap]") {
    const auto mark = [](int point, double off_m) {
        Event event = done(Deed::mark_point, point, off_m);
        event.place_m = {0.05, 0.0, 0.0};
        return event;
    };
    Record good;
    for (int i = 0; i < sim::kLandmarks; ++i) good.add(mark(i, 4.0 * kMm));
    good.pass();
    CHECK(good.value("marks_placed") == 100.0);

    Record everything;
    for (int i = 0; i < sim::kLandmarks; ++i)
        for (int k = 0; k < 10; ++k) everything.add(mark(i, k == 0 ? 4.0 * kMm : 30.0 * kMm));
    everything.pass();
    CHECK(everything.value("marks_placed") == 10.0);

    Record other_side;
    Event right_side = mark(0, 2.0 * kMm);
    right_side.place_m.x = -0.05;
    other_side.add(right_side).pass();
    CHECK(other_side.value("marks_placed") == 0.0);

    Record afterwards;
    afterwards.pass();
    for (int i = 0; i < sim::kLandmarks; ++i) afterwards.add(mark(i, 4.0 * kMm));
    CHECK(afterwards.value("marks_placed") == 0.0);
}

TEST_CASE("each unclean entry counts, and bare skin is critical", "[sim][scoring][visit]") {
    Record record;
    record.whole_consult().puncture();
    record.add(event_of(0, EventKind::unclean_entry, 0, {2.0, 0, 0, 0}));
    support::run_track(record.recording, support::track_of(support::kPlannedMm));
    CHECK(record.value("entries_clean") == 50.0);
    CHECK_FALSE(record.critical("unprepared_entry"));
    record.add(event_of(0, EventKind::unclean_entry, 0, {5.0, 0, 0, 0}));
    CHECK(record.value("entries_clean") == 0.0);
    CHECK(record.critical("unprepared_entry"));
}

TEST_CASE("a thread from a cannula that was not sterile is critical, from a fresh one it is not",
          "[sim][scoring][visit]") {
    Record record;
    record.whole_consult().puncture();
    record.add(event_of(0, EventKind::instrument_taken, 0)).add(event_of(0, EventKind::contaminated, 0));
    Record fresh = record;
    record.add(event_of(0, EventKind::thread_left, 0, {1.0, 0, 0, 0}));
    CHECK(record.critical("contaminated_thread"));
    fresh.add(event_of(0, EventKind::instrument_discarded, 0)).add(done(Deed::open_another, 0));
    fresh.add(event_of(0, EventKind::instrument_taken, 0)).add(event_of(0, EventKind::thread_left, 0, {1.0, 0, 0, 0}));
    CHECK_FALSE(fresh.critical("contaminated_thread"));
}

TEST_CASE("comfort does not reward flooding", "[sim][scoring][visit][trap]") {
    const auto with_ml = [](double ml) {
        Record record;
        record.whole_consult().puncture();
        double given_mg = 0.0;
        for (double left = ml; left > 0.0; left -= 1.0) {
            const double part = std::min(1.0, left);
            given_mg += 10.0 * part;
            record.add(event_of(0, EventKind::injected, 0, {part, given_mg, 2.0, 0.0}));
        }
        support::run_track(record.recording, support::track_of(support::kPlannedMm));
        return record;
    };
    CHECK(with_ml(1.0).value("volume_per_track") == 1.0);
    CHECK_THAT(with_ml(27.0).value("dose_of_limit"), WithinAbs(100.0, 1e-9));  // 60 kg plain: 27 ml of 1 %
    CHECK_FALSE(with_ml(27.0).critical("dose_over_limit"));
    CHECK(with_ml(28.0).critical("dose_over_limit"));
    const auto comfort = [](const Record& record) {
        return record.score().heading_points[static_cast<std::size_t>(sim::Heading::comfort_and_dose)];
    };
    CHECK(comfort(with_ml(25.0)) < comfort(with_ml(1.0)) - 2.0);
}

TEST_CASE("an injection counts as drawn back for when that was done here and just before", "[sim][scoring][visit]") {
    const auto aspirated = [](bool first, double wait_s) {
        Record record;
        record.puncture();
        if (first) record.add(done(Deed::aspirate));
        record.add(passed(wait_s)).add(event_of(0, EventKind::injected, -1, {0.1, 1.0, 2.0, 0.0}));
        return record.value("injections_aspirated");
    };
    CHECK(aspirated(true, 1.0) == 100.0);
    CHECK(aspirated(false, 1.0) == 0.0);
    CHECK(aspirated(true, 60.0) == 0.0);
}

TEST_CASE("signs are answered by the right deed in time", "[sim][scoring][visit]") {
    const auto answered = [](Sign shown_sign, Event answer, double wait_s) {
        Record record;
        record.puncture().add(sign(shown_sign)).add(passed(wait_s)).add(answer);
        return record.value("signs_answered");
    };
    const Event flat = done(Deed::set_chair, static_cast<int>(sim::Chair::flat));
    CHECK(answered(Sign::pallor, flat, 30.0) == 100.0);
    CHECK(answered(Sign::pallor, flat, 90.0) == 0.0);
    CHECK(answered(Sign::pallor, done(Deed::set_chair, 0), 5.0) == 0.0);
    const Event protocol = done(Deed::give_care, static_cast<int>(sim::Protocol::toxicity));
    CHECK(answered(Sign::tingling, protocol, 60.0) == 100.0);
    CHECK(answered(Sign::tingling, done(Deed::give_care, 1), 60.0) == 0.0);
    CHECK(answered(Sign::bruise_spreading, event_of(0, EventKind::bleeding_stopped, 0), 400.0) == 100.0);

    Record ignored;
    ignored.whole_consult().puncture().add(sign(Sign::tingling)).add(passed(300.0));
    CHECK(ignored.critical("toxicity_ignored"));
    Record went_on;
    went_on.whole_consult().puncture().add(sign(Sign::tingling)).add(protocol);
    CHECK_FALSE(went_on.critical("toxicity_ignored"));
    went_on.add(event_of(0, EventKind::injected, -1, {0.1, 1.0, 2.0, 0.0}));
    CHECK(went_on.critical("toxicity_ignored"));
}

TEST_CASE("an artery that was breached must have stopped bleeding", "[sim][scoring][visit]") {
    Record record;
    record.whole_consult().puncture().add(event_of(0, EventKind::wall_breached, 0, {1.2, 0, 0, 0}));
    CHECK(record.critical("bleeding_ignored"));
    record.add(event_of(0, EventKind::bleeding_stopped, 0, {0.6, 300.0, 0, 0}));
    CHECK_FALSE(record.critical("bleeding_ignored"));
}

TEST_CASE("nobody goes home with a sharp uncounted or a sign open", "[sim][scoring][visit]") {
    Record whole;
    whole.whole_consult().pass().whole_finish();
    CHECK_FALSE(whole.critical("sharp_missing"));
    CHECK_FALSE(whole.critical("open_red_flag"));
    CHECK(whole.value("sharps_counted") == 100.0);
    CHECK(whole.value("aftercare_given") == 100.0);
    CHECK(whole.value("views_after") == 100.0);

    Record counted_early;
    counted_early.whole_consult().add(done(Deed::count_sharps)).pass().add(done(Deed::discharge));
    CHECK(counted_early.critical("sharp_missing"));
    CHECK(counted_early.value("sharps_counted") == 0.0);

    Record missing;
    missing.whole_consult().pass().add(done(Deed::count_sharps, 0, 1.0)).add(done(Deed::discharge));
    CHECK(missing.critical("sharp_missing"));

    Record open_sign;
    open_sign.whole_consult().pass().add(sign(Sign::clear_fluid)).whole_finish();
    CHECK(open_sign.critical("open_red_flag"));
}

TEST_CASE("the worst tail is judged where it came to lie last", "[sim][scoring][visit]") {
    Record record;
    record.puncture();
    sim::TrackRecord track = support::track_of(support::kPlannedMm);
    support::add_barbs(track);
    support::run_track(record.recording, track);
    CHECK(record.value("tails_trimmed") == 0.0);
    CHECK_FALSE(has(sim::measure(record.recording), "tail_depth"));
    record.add(event_of(0, EventKind::trimmed, 1, {2.0 * kMm, 0, 0, 0}));
    CHECK(record.value("tails_trimmed") == 100.0);
    CHECK(record.value("tail_depth") == 0.0);  // flush is not buried
    record.add(event_of(0, EventKind::tail_settled, 1, {1.0 * kMm, 0, 0, 0}));
    record.add(event_of(0, EventKind::tail_settled, 1, {2.6 * kMm, 0, 0, 0}));
    CHECK_THAT(record.value("tail_depth"), WithinAbs(2.6, 1e-9));
    record.add(event_of(0, EventKind::thread_out, 1));
    CHECK_FALSE(has(sim::measure(record.recording), "tails_trimmed"));  // nothing is left to trim
}

TEST_CASE("a pause changes nothing", "[sim][scoring][visit][trap]") {
    Record quick, slow;
    for (Record* record : {&quick, &slow}) {
        record->whole_consult();
        if (record == &slow) record->add(passed(3600.0));
        record->pass().whole_finish();
    }
    CHECK(quick.score().total_points == slow.score().total_points);
    CHECK(quick.score().verdict == slow.score().verdict);
}
