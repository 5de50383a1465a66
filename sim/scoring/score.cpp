#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "sim/core/random.hpp"
#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

namespace sim {

namespace {

constexpr double kLeastReached = 0.5;  ///< of every planned vector, below which an attempt is incomplete; assumed
constexpr double kLossEps = 1e-12;     ///< points below which nothing was lost

/// Piecewise linear, flat beyond its ends.
double share_of(const std::vector<CurvePoint>& curve, double shown) {
    if (!(shown > curve.front().at)) return curve.front().share;
    for (std::size_t i = 1; i < curve.size(); ++i) {
        const CurvePoint &a = curve[i - 1], &b = curve[i];
        if (shown >= b.at) continue;
        return a.share + (b.share - a.share) * (shown - a.at) / (b.at - a.at);
    }
    return curve.back().share;
}

const Measure* find(const std::vector<Measure>& measures, std::string_view name) {
    const auto found =
        std::find_if(measures.begin(), measures.end(), [&](const Measure& measure) { return measure.name == name; });
    return found == measures.end() ? nullptr : &*found;
}

bool heading_in_use(const Recording& recording, Heading heading) {
    return recording.headings.empty() ||
           std::find(recording.headings.begin(), recording.headings.end(), key_of(heading)) != recording.headings.end();
}

/// One item of the rubric applied to its measure.
struct Rated {
    const RubricItem* item = nullptr;
    const Measure* measure = nullptr;
    double curve_share = 0.0;
    double proportion = 1.0;
    double proportion_shown = 100.0;  ///< of the measure that the item is in proportion to, %
    double plunged = 0.0;  ///< points lost to a plunge: under ligament resistance, whatever the item's heading
    [[nodiscard]] double points() const { return item->points * curve_share * proportion; }
};

std::vector<Rated> rate(const Recording& recording, const Rubric& rubric, const std::vector<Measure>& measures) {
    std::vector<Rated> rated;
    for (const RubricItem& item : rubric.items) {
        const Measure* measure = find(measures, item.measure);
        if (measure == nullptr || !heading_in_use(recording, item.heading)) continue;
        Rated one{&item, measure, share_of(item.curve, measure->shown)};
        if (const Measure* other = find(measures, item.in_proportion_to)) {
            one.proportion = std::clamp(other->value, 0.0, 1.0);
            one.proportion_shown = other->shown;
        }
        if (measure->steered && heading_in_use(recording, Heading::ligament_resistance))
            one.plunged =
                item.points * one.proportion * std::max(0.0, share_of(item.curve, *measure->steered) - one.curve_share);
        rated.push_back(one);
    }
    return rated;
}

struct Totals {
    double points = 0.0, of = 0.0;
    std::array<double, kHeadings> heading_points{}, heading_of{};
};

Totals add_up(const std::vector<Rated>& rated) {
    Totals totals;
    for (const Rated& one : rated) {
        const auto heading = static_cast<std::size_t>(one.item->heading);
        totals.points += one.points();
        totals.of += one.item->points;
        totals.heading_points[heading] += one.points();
        totals.heading_of[heading] += one.item->points - one.plunged;
        totals.heading_of[static_cast<std::size_t>(Heading::ligament_resistance)] += one.plunged;
    }
    return totals;
}

bool complete(const Recording& recording, const Bands& bands) {
    if (figures::visit_alone(recording)) return recording.finished;
    if (!recording.finished || figures::final_tracks(recording).empty()) return false;
    for (int vector = 0; vector < static_cast<int>(recording.plan.size()); ++vector)
        if (!(figures::reached_share(recording, vector, bands) >= kLeastReached)) return false;
    return true;
}

/// A critical fault fails also an attempt that was broken off: leaving must not undo it.
Verdict verdict_of(const Recording& recording, const Rubric& rubric, const Totals& totals, bool critical) {
    if (critical) return Verdict::fail;
    if (!(totals.of > 0.0) || !complete(recording, rubric.bands)) return Verdict::incomplete;
    constexpr double kRounding = 1e-9;  // points: a sum of shares that lands on the limit is on it
    if (totals.points < rubric.pass_share * totals.of - kRounding) return Verdict::fail;
    for (std::size_t i = 0; i < kHeadings; ++i)
        if (totals.heading_points[i] < rubric.heading_share * totals.heading_of[i] - kRounding) return Verdict::fail;
    return Verdict::pass;
}

/// A stream that hangs on scenario and variant alone, so that re-scoring repeats it.
Random stability_stream(const Recording& recording) {
    std::uint64_t hash = 0xcbf29ce484222325ULL;  // FNV-1a, 64 bits
    for (const char c : recording.scenario_id)
        hash = (hash ^ static_cast<std::uint64_t>(static_cast<unsigned char>(c))) * 0x100000001b3ULL;
    return Random(hash).fork(recording.variant_seed);
}

/// The rubric with every assumed threshold moved within its range.
Rubric drawn(const Rubric& rubric, Random random) {
    Rubric out = rubric;
    const auto move = [&random](double value, double spread) { return value + spread * random.uniform(-1.0, 1.0); };
    for (const BandField& field : band_fields()) {
        Threshold& band = out.bands.*field.field;
        band.value = std::clamp(move(band.value, band.spread), field.low * field.unit, field.high * field.unit);
    }
    for (RubricItem& item : out.items)
        for (std::size_t i = 0; i < item.curve.size(); ++i) {
            item.curve[i].at = move(item.curve[i].at, item.curve[i].spread);
            if (i > 0) item.curve[i].at = std::max(item.curve[i].at, item.curve[i - 1].at);
        }
    for (CriticalFault& fault : out.critical) fault.threshold = std::max(0.0, move(fault.threshold, fault.spread));
    return out;
}

/// All that stands in the way of a pass, in words.
std::set<std::string> failings(const Recording& recording, const Rubric& rubric, const Totals& totals,
                               const std::vector<Finding>& faults) {
    std::set<std::string> out;
    for (const Finding& fault : faults)
        for (const CriticalFault& rule : rubric.critical)
            if (rule.event == fault.measure) out.insert(rule.words);
    if (!complete(recording, rubric.bands)) out.insert("the planned way made");
    if (totals.points < rubric.pass_share * totals.of) out.insert("points in all");
    for (std::size_t i = 0; i < kHeadings; ++i)
        if (totals.heading_points[i] < rubric.heading_share * totals.heading_of[i])
            out.insert("points for " + std::string(name_of(static_cast<Heading>(i))));
    return out;
}

/// How often the verdict holds where the assumed thresholds are drawn anew, and what it hangs on where it does not.
void try_verdict(const Recording& recording, const Rubric& rubric, const Totals& as_is, Score& score) {
    const std::set<std::string> here = failings(recording, rubric, as_is, score.critical_faults);
    const Random stream = stability_stream(recording);
    std::map<std::string, int> differs;
    int same = 0;
    for (int draw = 0; draw < kStabilityDraws; ++draw) {
        const Rubric moved = drawn(rubric, stream.fork(static_cast<std::uint64_t>(draw) + 1));
        const MeasuredAttempt measured = measure(recording, moved.bands);
        const Totals totals = add_up(rate(recording, moved, measured.measures));
        const std::vector<Finding> faults = critical_faults(recording, moved);
        if (verdict_of(recording, moved, totals, !faults.empty()) == score.verdict) {
            ++same;
            continue;
        }
        const std::set<std::string> there = failings(recording, moved, totals, faults);
        std::vector<std::string> either;
        std::set_symmetric_difference(here.begin(), here.end(), there.begin(), there.end(), std::back_inserter(either));
        for (const std::string& one : either) ++differs[one];
    }
    score.verdict_stability = static_cast<double>(same) / kStabilityDraws;
    for (const auto& [what, draws] : differs)
        score.hangs_on.emplace_back(what, static_cast<double>(draws) / kStabilityDraws);
    std::stable_sort(score.hangs_on.begin(), score.hangs_on.end(),
                     [](const auto& a, const auto& b) { return a.second > b.second; });
}

Deduction deduction(const Rated& rated, const Finding& where, std::string what, double points) {
    return {where.stage,     where.time_s,         where.place_m,       rated.item->measure,
            std::move(what), rated.measure->shown, rated.measure->unit, rated.item->accepted,
            points,          rated.item->heading};
}

/// What one item lost, shared out over the places where it was lost.
void append_deductions(const Rated& rated, const MeasuredAttempt& measured, const Recording& recording,
                       std::vector<Deduction>& out) {
    std::vector<const Finding*> findings;
    double weight = 0.0;
    for (const Finding& finding : measured.findings)
        if (finding.measure == rated.item->measure) {
            findings.push_back(&finding);
            weight += finding.weight;
        }
    const Vec3 end_m = recording.tracks.empty() ? Vec3{} : recording.tracks.back().end_m;
    const Finding at_the_end{rated.item->measure,
                             std::string(measure_named(rated.item->measure)->title),
                             "pass",
                             static_cast<double>(recording.steps) * kStepS,
                             end_m,
                             rated.measure->shown,
                             rated.measure->unit};
    if (findings.empty() || !(weight > 0.0)) {
        findings.assign(1, &at_the_end);
        weight = at_the_end.weight;
    }
    if (rated.plunged > kLossEps) {
        const auto plunge = std::find_if(measured.findings.begin(), measured.findings.end(),
                                         [](const Finding& one) { return one.measure == "plunge_travel"; });
        const Finding& where = plunge == measured.findings.end() ? at_the_end : *plunge;
        out.push_back(deduction(rated, where,
                                std::string(measure_named(rated.item->measure)->title) + ": lost to the plunge",
                                rated.plunged));
        out.back().heading = Heading::ligament_resistance;
    }
    const double lost_by_curve = rated.item->points * (1.0 - rated.curve_share) - rated.plunged;
    if (lost_by_curve > kLossEps)
        for (const Finding* finding : findings)
            out.push_back(deduction(rated, *finding, finding->what, lost_by_curve * finding->weight / weight));

    const double lost_by_proportion = rated.item->points * rated.curve_share * (1.0 - rated.proportion);
    if (!(lost_by_proportion > kLossEps)) return;
    char what[120];
    // a whole way that lacks a hair is not called 100 %
    std::snprintf(what, sizeof what, "%s counts for %.3g %%: the rest of the track was not made",
                  std::string(name_of(rated.item->heading)).c_str(), std::min(rated.proportion_shown, 99.9));
    out.push_back(deduction(rated, at_the_end, what, lost_by_proportion));
}

std::string sentence_for(std::string_view measure, Heading heading) {
    struct Advice {
        std::string_view measure, sentence;
    };
    static constexpr Advice kAdvice[] = {
        {"planned_length_reached", "Practise finishing the way: measure thread and cannula against the vector first."},
        {"entry_distance", "Practise the entry: go back to the mark before the pilot needle touches the skin."},
        {"pilot_angle", "Practise the pilot needle at 30 to 45 degrees to the skin."},
        {"pilot_past_fat", "Practise the pilot needle: stop as soon as it lies in the superficial fat."},
        {"threads_misplaced",
         "Practise taking everything out and starting a new track instead of re-angling a loaded cannula."},
        {"history_taken", "Practise the consult: ask the whole history before you decide."},
        {"decision_right", "Practise the decision: name the answer in the history that settles it."},
        {"signs_answered", "Practise responses: say for each sign what you would do first, then do it."},
        {"tail_depth", "Practise trimming: draw the tail lightly, press the skin down, cut once."},
        {"plunge_travel", "Practise stopping when resistance doubles, before it gives way."},
    };
    for (const Advice& advice : kAdvice)
        if (advice.measure == measure) return std::string(advice.sentence);
    switch (heading) {
        case Heading::plane_accuracy:
            return "Practise holding the superficial fat: lift the tip and read the tent every few millimetres.";
        case Heading::clearance:
            return "Practise keeping away from vessels and nerves: mark their ways, feel the pulse, plan round them "
                   "before the entry.";
        case Heading::ligament_resistance:
            return "Practise ligaments: stop when resistance doubles, draw back, re-angle and pass beside them.";
        case Heading::barb_engagement:
            return "Practise the withdrawal: press over the far end and draw back on the axis without pulling the "
                   "tail.";
        case Heading::economy:
            return "Practise one track per thread: aim before the push, so that the first pass serves.";
        default:
            return "Practise " + std::string(name_of(heading)) + ".";
    }
}

std::string next_step_for(const Score& score) {
    if (!score.critical_faults.empty()) {
        const std::string& rule = score.critical_faults.front().measure;
        if (rule == "forced_plunge") return sentence_for("plunge_travel", Heading::ligament_resistance);
        if (rule == "below_smas_uncorrected")
            return "Practise noticing a deep track: a broad low tent or none means stop, take out, new track.";
        if (rule == "advance_after_sign")
            return "Practise the response to a sign: stop, take out, press or refer, and only then think on.";
        return "Practise the far end: a tip under thin skin means withdraw and discard the thread.";
    }
    if (score.verdict == Verdict::incomplete) return "Make the whole pass once from entry to far end and finish it.";
    std::array<double, kHeadings> lost{};
    for (const Deduction& one : score.deductions) lost[static_cast<std::size_t>(one.heading)] += one.points;
    const auto costliest = std::max_element(lost.begin(), lost.end());
    if (!(*costliest > kLossEps)) return "Repeat on a variant that you have not seen.";
    const auto heading = static_cast<Heading>(costliest - lost.begin());
    const auto first = std::find_if(score.deductions.begin(), score.deductions.end(),
                                    [&](const Deduction& one) { return one.heading == heading; });
    return sentence_for(first->measure, heading);
}

}  // namespace

Score score(const Recording& recording, const Rubric& rubric) {
    const MeasuredAttempt measured = measure(recording, rubric.bands);
    const std::vector<Rated> rated = rate(recording, rubric, measured.measures);
    const Totals totals = add_up(rated);

    Score score;
    score.total_points = totals.points;
    score.total_of = totals.of;
    score.heading_points = totals.heading_points;
    score.heading_of = totals.heading_of;
    for (const Measure& one : measured.measures) {
        const auto at = std::find_if(rated.begin(), rated.end(), [&](const Rated& r) { return r.measure == &one; });
        score.measures.push_back(
            {one, at == rated.end() ? 0.0 : at->points(), at == rated.end() ? 0.0 : at->item->points});
    }
    for (const Rated& one : rated) append_deductions(one, measured, recording, score.deductions);
    std::stable_sort(score.deductions.begin(), score.deductions.end(),
                     [](const Deduction& a, const Deduction& b) { return a.points > b.points; });
    score.critical_faults = critical_faults(recording, rubric);
    score.verdict = verdict_of(recording, rubric, totals, !score.critical_faults.empty());
    try_verdict(recording, rubric, totals, score);
    score.next_step = next_step_for(score);
    return score;
}

}  // namespace sim
