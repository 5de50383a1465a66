#include "engine/report/score_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace report {

namespace {

using nlohmann::json;

json place_json(const sim::Vec3& place_m) {
    const auto mm = [](double m) { return std::round(m * 1e6) / 1e3; };
    return json::array({mm(place_m.x), mm(place_m.y), mm(place_m.z)});
}

std::string place_text(const sim::Vec3& place_m) {
    return fmt::format("{:.1f}, {:.1f}, {:.1f} mm", place_m.x * 1e3, place_m.y * 1e3, place_m.z * 1e3);
}

std::string headings_text(const sim::Score& score) {
    std::string out;
    for (int i = 0; i < sim::kHeadings; ++i) {
        const auto k = static_cast<std::size_t>(i);
        if (!(score.heading_of[k] > 0.0)) continue;
        out += fmt::format("  {:<24}{:>6.1f} of {:<5.1f}{:>5.0f} %\n", sim::name_of(static_cast<sim::Heading>(i)),
                           score.heading_points[k], score.heading_of[k],
                           100.0 * score.heading_points[k] / score.heading_of[k]);
    }
    return out;
}

}  // namespace

std::string figure(double value, const std::string& unit) {
    if (!std::isfinite(value)) return "not measured";
    const double size = std::abs(value);
    // depth and force to a tenth, shares and counts as whole as they come: more would claim more than is known
    const bool tenths = unit == "mm" || unit == "N" || unit == "mJ" || (unit == "%" && size < 10.0);
    const int digits = size >= 100.0 || unit == "%" || unit == "degree" ? (tenths && size < 100.0 ? 1 : 0)
                       : tenths                                         ? 1
                                                                        : 2;
    std::string number = fmt::format("{:.{}f}", value, digits);
    if (number.find('.') != std::string::npos) {
        number.erase(number.find_last_not_of('0') + 1);
        if (number.back() == '.') number.pop_back();
    }
    if (number == "-0") number = "0";
    if (unit == "count" || unit.empty()) return number;
    return number + " " + (unit == "degree" && number != "1" ? "degrees" : unit);
}

std::string figure(const sim::Measure& measure) {
    return figure(measure.shown, measure.unit) + (measure.capped ? " or more" : "");
}

std::string measure_words(const std::string& name) {
    std::string words = name;
    std::replace(words.begin(), words.end(), '_', ' ');
    // terms that are written in capitals wherever they stand
    for (const std::string term : {"smas"}) {
        const auto at = words.find(term);
        if (at != std::string::npos) words.replace(at, term.size(), "SMAS");
    }
    return words;
}

std::string caution_text() {
    return "Training aid: not a medical device and not a plan for a real patient. A good score is not permission to "
           "treat.\n"
           "Local law, licensed practice, the product's instructions and hands-on supervision come first.";
}

std::string score_json(const sim::Score& score) {
    json measures = json::object();
    for (const sim::ScoredMeasure& m : score.measures)
        measures[m.measure.name] = {{"value", m.measure.shown},
                                    {"unit", m.measure.unit},
                                    {"points", m.points},
                                    {"of", m.of},
                                    {"heading", sim::key_of(m.measure.heading)}};
    json deductions = json::array();
    for (const sim::Deduction& d : score.deductions)
        deductions.push_back({{"stage", d.stage},
                              {"time_s", d.time_s},
                              {"place_mm", place_json(d.place_m)},
                              {"measure", d.measure},
                              {"what", d.what},
                              {"value", d.value},
                              {"unit", d.unit},
                              {"accepted", d.accepted},
                              {"points", d.points},
                              {"heading", sim::key_of(d.heading)}});
    json faults = json::array();
    for (const sim::Finding& f : score.critical_faults)
        faults.push_back({{"fault", f.measure},
                          {"what", f.what},
                          {"stage", f.stage},
                          {"time_s", f.time_s},
                          {"place_mm", place_json(f.place_m)},
                          {"value", f.shown},
                          {"unit", f.unit}});
    json hangs_on = json::array();
    for (const auto& [what, share] : score.hangs_on) hangs_on.push_back({{"what", what}, {"share", share}});
    return json{{"verdict", sim::name_of(score.verdict)},
                {"total_points", score.total_points},
                {"total_of", score.total_of},
                {"measures", measures},
                {"deductions", deductions},
                {"critical_faults", faults},
                {"verdict_stability", score.verdict_stability},
                {"hangs_on", hangs_on},
                {"next_step", score.next_step}}
        .dump(2, ' ', false, json::error_handler_t::replace);
}

std::string score_table(const sim::Recording& recording, const sim::Score& score) {
    std::string out = fmt::format(
        "{}\n{}: {:.1f} of {:.1f} points. The verdict holds in {:.0f} % of the draws of the assumed thresholds.\n",
        recording.scenario_title, sim::name_of(score.verdict), score.total_points, score.total_of,
        100.0 * score.verdict_stability);
    for (const auto& [what, share] : score.hangs_on)
        out += fmt::format("  it hangs on {} in {:.0f} %\n", what, 100.0 * share);
    if (recording.scoring_version < sim::kScoringVersion)
        out += fmt::format("Scored by version {} of the measures, in force when it was made; now it is {}.\n",
                           recording.scoring_version, sim::kScoringVersion);
    out += '\n';
    out += headings_text(score);
    out += "\nMeasures\n";
    for (const sim::ScoredMeasure& m : score.measures)
        out += fmt::format("  {:<34}{:>14}   {}\n", measure_words(m.measure.name), figure(m.measure),
                           m.of > 0.0 ? fmt::format("{:.1f} of {:.1f} points", m.points, m.of) : "shown, not scored");
    if (!score.critical_faults.empty()) out += "\nCritical faults: each fails the attempt\n";
    for (const sim::Finding& f : score.critical_faults)
        out += fmt::format("  {:>7.2f} s  {} ({})\n             at {}\n", f.time_s, f.what, figure(f.shown, f.unit),
                           place_text(f.place_m));
    if (!score.deductions.empty()) out += "\nPoints lost\n";
    for (const sim::Deduction& d : score.deductions)
        out += fmt::format("  {:>5.2f}  {}: {}; accepted: {}\n         {} at {:.2f} s, {}\n", d.points, d.what,
                           figure(d.value, d.unit), d.accepted, d.stage, d.time_s, place_text(d.place_m));
    if (!score.next_step.empty()) out += fmt::format("\nNext: {}\n", score.next_step);
    return out + "\n" + caution_text();
}

}  // namespace report
