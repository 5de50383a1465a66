#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scoring/rubric.hpp"

/// What a debrief says, be it on the screen or on paper.

namespace report {

[[nodiscard]] std::string capital(std::string_view words);         ///< the same with a capital
[[nodiscard]] std::string verdict_words(const sim::Score& score);  ///< "Passed", "Not passed: critical fault" ...
/// "The verdict holds in 97 % of 200 draws of the assumed limits"
[[nodiscard]] std::string stability_words(const sim::Score& score);
[[nodiscard]] std::string clock_words(double seconds);  ///< "00:31"

/// "depth RMS error" with a capital; the measure's title, or words made of its name.
[[nodiscard]] std::string measure_title(const std::string& name);

/// One of the four large measures: the one that cost most points speaks for its heading.
struct Headline {
    sim::Heading heading = sim::Heading::plane_accuracy;
    std::string title;    ///< "Plane accuracy"
    std::string value;    ///< "82 %"; empty: not measured here
    std::string measure;  ///< "Track in band"
    std::string wanted;   ///< "wanted at least 90 %; none below 80 % (assumed)"
    double points = 0.0, of = 0.0;
    [[nodiscard]] bool measured() const { return of > 0.0; }
};
[[nodiscard]] std::vector<Headline> headlines(const sim::Score& score, const sim::Rubric& rubric);

/// A critical fault or a deduction with the moment and the place it goes back to.
struct Loss {
    int number = 0;  ///< as listed, from 1
    bool critical = false;
    double points = 0.0;
    std::string what, detail;  ///< detail: "1 %, wanted at least 90 %"
    double time_s = 0.0;
    sim::Vec3 place_m{};
    bool placed = false;                             ///< false: it belongs to the attempt as a whole
    int track = -1;                                  ///< index in recording.tracks, -1: beside every track
    std::optional<double> along_m;                   ///< in that track
    [[nodiscard]] std::string points_words() const;  ///< "–15.2", "fails", "<0.1"
    [[nodiscard]] std::string place_words() const;   ///< "track 1 at 31 mm", "" when it has none
};
/// Critical faults first, then deductions, costliest first.
/// @param rubric that scored it, to mark which limits are assumed; nullptr where details are not shown
[[nodiscard]] std::vector<Loss> losses(const sim::Score& score, const sim::Recording& recording,
                                       const sim::Rubric* rubric = nullptr);

/// The first few that cost something worth naming: critical, or at least a tenth of a point.
[[nodiscard]] std::vector<Loss> costliest(const std::vector<Loss>& losses, std::size_t most);

/// Rows of a table of measures: the same measure in several attempts.
struct MeasureRow {
    std::string name, title;
    std::vector<std::string> values;  ///< one a score; "–" where it was not measured
    std::string points;               ///< of the first score: "8.2 of 18", "shown"
};
[[nodiscard]] std::vector<MeasureRow> measure_rows(const std::vector<const sim::Score*>& scores);

/// One sentence on what to practise next, with the heading that cost most and why.
[[nodiscard]] std::string next_step_words(const sim::Score& score);

}  // namespace report
