#include <catch2/catch.hpp>

#include <cmath>

#include "engine/files/attempt.hpp"
#include "engine/files/rubric.hpp"
#include "sim/scoring/rubric.hpp"

/// Attempts that earlier programs wrote, kept as they were. They verify, and keep their verdict and their points.

namespace {

struct Earlier {
    const char* file;
    std::int64_t schema;
    int scoring;
    const char* verdict;
    double points, of;  ///< as `pk score` of the program that wrote it printed them, to 0.1
};

}  // namespace

TEST_CASE("attempts made before still verify and keep their verdict", "[files][attempt][earlier]") {
    const auto one = GENERATE(Earlier{"schema_4_ligament_forced.attempt", 4, 1, "fail", 43.0, 80.0},
                              Earlier{"schema_4_one_thread.attempt", 4, 1, "pass", 109.0, 114.0},
                              Earlier{"schema_5_both_jowls.attempt", 5, 2, "fail", 186.4, 207.0});
    INFO(one.file);
    const auto attempt = files::read_attempt(std::string("tests/engine/files/earlier/") + one.file);
    CHECK(attempt.report.verdict() == "intact, finished");
    CHECK(attempt.header.schema_version == one.schema);
    CHECK(attempt.recording.scoring_version == one.scoring);
    const auto rubric = files::parse_rubric(attempt.header.rubric, one.file).rubric;
    const sim::Score score = sim::score(attempt.recording, rubric);
    CHECK(sim::name_of(score.verdict) == one.verdict);
    CHECK(std::abs(score.total_points - one.points) < 0.05);
    CHECK(std::abs(score.total_of - one.of) < 0.05);
}

TEST_CASE("by the definitions of today an earlier attempt could be judged otherwise", "[files][attempt][earlier]") {
    const std::string file = "tests/engine/files/earlier/schema_4_ligament_forced.attempt";
    auto attempt = files::read_attempt(file);
    const auto rubric = files::parse_rubric(attempt.header.rubric, file).rubric;
    const auto plane = [&] {
        return sim::score(attempt.recording, rubric).heading_of[static_cast<std::size_t>(sim::Heading::plane_accuracy)];
    };
    const double then = plane();
    attempt.recording.scoring_version = sim::kScoringVersion;
    CHECK(plane() < then - 10.0);
}

TEST_CASE("a whole visit made before is judged otherwise for the lift that nobody sees alone",
          "[files][attempt][earlier]") {
    const std::string file = "tests/engine/files/earlier/schema_5_both_jowls.attempt";
    auto attempt = files::read_attempt(file);
    const auto rubric = files::parse_rubric(attempt.header.rubric, file).rubric;
    const sim::Score then = sim::score(attempt.recording, rubric);
    attempt.recording.scoring_version = 3;
    const sim::Score now = sim::score(attempt.recording, rubric);
    for (std::size_t i = 0; i < then.heading_of.size(); ++i)
        CHECK(std::abs(now.heading_of[i] - then.heading_of[i]) < 1e-9);
    CHECK(std::abs(now.total_points - then.total_points - 8.0) < 0.05);
}
