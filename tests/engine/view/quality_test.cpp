#include "engine/view/quality.hpp"

#include <catch2/catch.hpp>

using view::QualityChooser;

namespace {

constexpr double kSlowMs = 45.0, kOrdinaryMs = 25.0, kQuickMs = 8.0;  // against a limit of 33.3 ms

/// @return how often the step changed
int frames(QualityChooser& chooser, int count, double ms) {
    int changes = 0;
    for (int i = 0; i < count; ++i) changes += chooser.note_frame(ms) ? 1 : 0;
    return changes;
}

}  // namespace

TEST_CASE("slow frames lower the quality step by step, and not below the last", "[view]") {
    QualityChooser chooser(1, 3);
    frames(chooser, QualityChooser::kFramesToJudge, kSlowMs);
    CHECK(chooser.step() == 2);
    frames(chooser, 20 * QualityChooser::kFramesToJudge, kSlowMs);
    CHECK(chooser.step() == 3);
}

TEST_CASE("single slow frames among ordinary ones change nothing", "[view]") {
    QualityChooser chooser(0, 3);
    for (int i = 0; i < 100; ++i) {
        CHECK(frames(chooser, 5, kOrdinaryMs) == 0);
        CHECK(frames(chooser, 1, 10.0 * kSlowMs) == 0);
    }
    CHECK(chooser.step() == 0);
}

TEST_CASE("quick frames raise the quality again, ordinary ones do not", "[view]") {
    QualityChooser chooser(1, 3);
    frames(chooser, QualityChooser::kFramesToJudge, kSlowMs);
    REQUIRE(chooser.step() == 2);
    CHECK(frames(chooser, 10 * QualityChooser::kQuickFramesToRise, kOrdinaryMs) == 0);
    frames(chooser, QualityChooser::kQuickFramesToRise, kQuickMs);
    CHECK(chooser.step() == 1);
    CHECK(frames(chooser, 10 * QualityChooser::kQuickFramesToRise, kQuickMs) == 0);
}

TEST_CASE("a step up that has to be taken back is tried again later each time", "[view]") {
    QualityChooser chooser(2, 3);
    frames(chooser, QualityChooser::kFramesToJudge, kSlowMs);
    int last_wait = 0;
    for (int attempt = 0; attempt < 4; ++attempt) {
        int wait = 0;
        while (chooser.step() == 3) {
            frames(chooser, 1, kQuickMs);
            ++wait;
        }
        // the wait doubles: 150, 300, 600, 1200 frames
        if (attempt > 0) CHECK(wait == 2 * last_wait);
        last_wait = wait;
        frames(chooser, QualityChooser::kFramesToJudge, kSlowMs);
        REQUIRE(chooser.step() == 3);
    }
}

TEST_CASE("a held step stays whatever frames take", "[view]") {
    QualityChooser chooser(0, 3);
    chooser.hold(2);
    CHECK(frames(chooser, 1000, kSlowMs) == 0);
    CHECK(chooser.step() == 2);
}

TEST_CASE("behind a screen of 60 frames a second a card comes back to the best step", "[view]") {
    QualityChooser chooser(0, 3);
    const auto shown = [&chooser](int count, const view::FrameCost& cost) {
        for (int i = 0; i < count; ++i) static_cast<void>(chooser.note_frame(cost.work_ms(true)));
    };
    // a card that is too slow for a while, as its own clock says
    shown(QualityChooser::kFramesToJudge, {50.0, 4.0, 45.0});
    REQUIRE(chooser.step() == 1);
    // no frame is ever shorter than the screen's pace: what counts is that there was next to nothing to do
    shown(QualityChooser::kQuickFramesToRise, {16.7, 3.0, 2.0});
    CHECK(chooser.step() == 0);
    // the same pace with a card that has hardly time to spare is no reason to ask for more
    shown(QualityChooser::kFramesToJudge, {50.0, 4.0, 45.0});
    REQUIRE(chooser.step() == 1);
    shown(20 * QualityChooser::kQuickFramesToRise, {16.7, 3.0, 15.0});
    CHECK(chooser.step() == 1);
    shown(20 * QualityChooser::kQuickFramesToRise, {16.7, 15.0, 2.0});
    CHECK(chooser.step() == 1);
}

TEST_CASE("a hitch now and then does not keep the picture coarse for ever", "[view]") {
    QualityChooser chooser(1, 3);
    frames(chooser, QualityChooser::kFramesToJudge, kSlowMs);
    REQUIRE(chooser.step() == 2);
    for (int i = 0; i < 10 && chooser.step() == 2; ++i) {
        frames(chooser, 60, kQuickMs);
        frames(chooser, 1, kSlowMs);
    }
    CHECK(chooser.step() == 1);
}
