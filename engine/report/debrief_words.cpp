#include "engine/report/debrief_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "engine/report/score_text.hpp"

namespace report {

namespace {

constexpr double kPieceM = 1.0 * sim::kMm;
constexpr double kNamed = 0.05;               // points: less rounds to nothing
constexpr double kOnTrackM = 6.0 * sim::kMm;  // farther from every track it is not in one

/// Track and distance of a place; the track that was open at the time wins over one that passes nearer.
void find_place(const sim::Recording& recording, Loss& loss) {
    loss.placed = loss.place_m != sim::Vec3{};
    if (!loss.placed) return;
    int open = -1;
    for (const sim::Event& event : recording.events)
        if (event.kind == sim::EventKind::track_opened && static_cast<double>(event.step) * sim::kStepS <= loss.time_s)
            open = event.subject;
    double least_m = kOnTrackM;
    for (std::size_t t = 0; t < recording.tracks.size(); ++t) {
        const sim::TrackRecord& track = recording.tracks[t];
        if (open >= 0 && track.track != open) continue;
        const auto take = [&](const sim::Vec3& p, double along_m) {
            const double away_m = glm::length(p - loss.place_m);
            if (!(away_m < least_m)) return;
            least_m = away_m;
            loss.track = static_cast<int>(t);
            loss.along_m = along_m;
        };
        take(track.entry_m, 0.0);
        for (std::size_t i = 0; i < track.pieces.size(); ++i)
            take(track.pieces[i].middle_m, (static_cast<double>(i) + 0.5) * kPieceM);
        take(track.end_m, track.length_m);
    }
}

const sim::ScoredMeasure* measure_in(const sim::Score& score, const std::string& name) {
    for (const sim::ScoredMeasure& one : score.measures)
        if (one.measure.name == name) return &one;
    return nullptr;
}

/// "at least 90 % (assumed)": a limit with a spread has no published source.
std::string accepted_words(const sim::RubricItem& item) {
    const bool assumed = std::any_of(item.curve.begin(), item.curve.end(),
                                     [](const sim::CurvePoint& point) { return point.spread > 0.0; });
    return assumed ? item.accepted + " (assumed)" : item.accepted;
}

std::string wanted_words(const sim::Deduction& lost, const sim::Rubric* rubric) {
    if (rubric != nullptr)
        for (const sim::RubricItem& item : rubric->items)
            if (item.measure == lost.measure && item.accepted == lost.accepted) return accepted_words(item);
    return lost.accepted;
}

/// For a card, where the full title has no room.
std::string short_title(const std::string& measure) {
    struct Title {
        std::string_view measure, words;
    };
    static constexpr Title kShort[] = {{"planned_length_reached", "Way reached"},
                                       {"worst_deep", "Too deep by"},
                                       {"worst_shallow", "Too shallow by"},
                                       {"smas_contact", "On the SMAS"},
                                       {"below_smas", "Below the SMAS"},
                                       {"dermis_length", "In the dermis"},
                                       {"depth_bias", "Depth bias"},
                                       {"excursions_deep", "Times too deep"},
                                       {"excursions_shallow", "Times too shallow"},
                                       {"layers_breached", "Other layers met"},
                                       {"entry_distance", "Entry off its mark"},
                                       {"pilot_angle", "Pilot's angle"},
                                       {"pilot_past_fat", "Pilot past the fat"},
                                       {"length_in_margins", "Inside margins"},
                                       {"deep_margin_intrusion", "Deep margin used"},
                                       {"ligament_response", "Response to them"},
                                       {"ligament_peak_force", "Peak force"},
                                       {"barbs_in_plane", "Barbs in the fat"},
                                       {"seated_in_worst_quarter", "Worst quarter"},
                                       {"hold", "Weaker set holds"},
                                       {"threads_misplaced", "Threads misplaced"},
                                       {"anchored_seated", "Still seated"},
                                       {"anchored_hold", "Holds, anchored"},
                                       {"slipped_barbs", "Barbs slipped"},
                                       {"peak_traction", "Hardest pull"},
                                       {"threads_lost", "Threads lost"},
                                       {"threads_lost_in_fluid", "Threads lost in fluid"},
                                       {"lift_of_target", "Of the reach"},
                                       {"dimple", "Deepest dimple"}};
    for (const Title& title : kShort)
        if (title.measure == measure) return std::string(title.words);
    return measure_title(measure);
}

/// What cost most points speaks for its heading; where nothing did, what weighs most.
bool speaks_before(const sim::ScoredMeasure& a, const sim::ScoredMeasure& b) {
    const double lost_a = a.of - a.points, lost_b = b.of - b.points;
    return std::abs(lost_a - lost_b) > kNamed ? lost_a > lost_b : a.of > b.of;
}

}  // namespace

std::string capital(std::string_view words) {
    std::string out(words);
    if (!out.empty()) out[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(out[0])));
    return out;
}

std::string verdict_words(const sim::Score& score) {
    switch (score.verdict) {
        case sim::Verdict::pass:
            return "Passed";
        case sim::Verdict::incomplete:
            return "Not finished";
        case sim::Verdict::fail:
            break;
    }
    return score.critical_faults.empty() ? "Not passed" : "Not passed: critical fault";
}

std::string stability_words(const sim::Score& score) {
    return fmt::format("The verdict holds in {:.0f} % of {} draws of the assumed limits{}",
                       100.0 * score.verdict_stability, sim::kStabilityDraws,
                       score.hangs_on.empty() ? "" : "; it hangs on " + score.hangs_on.front().first);
}

std::string clock_words(double seconds) {
    const int whole = static_cast<int>(seconds);
    return fmt::format("{:02}:{:02}", whole / 60, whole % 60);
}

std::string measure_title(const std::string& name) {
    const sim::MeasureSpec* spec = sim::measure_named(name);
    return capital(spec != nullptr ? std::string(spec->title) : measure_words(name));
}

std::vector<Headline> headlines(const sim::Score& score, const sim::Rubric& rubric) {
    std::array headings{sim::Heading::plane_accuracy, sim::Heading::clearance, sim::Heading::ligament_resistance,
                        sim::Heading::barb_engagement};
    // where no ligament was met but a thread was anchored, its lift is what there is to tell
    const auto measured = [&score](sim::Heading heading) {
        return score.heading_of[static_cast<std::size_t>(heading)] > 0.0;
    };
    if (!measured(headings[2]) && measured(sim::Heading::lift_and_sides)) {
        headings[2] = headings[3];
        headings[3] = sim::Heading::lift_and_sides;
    }
    std::vector<Headline> out;
    for (const sim::Heading heading : headings) {
        const auto index = static_cast<std::size_t>(heading);
        Headline one{
            heading, capital(sim::name_of(heading)), "", "", "", score.heading_points[index], score.heading_of[index]};
        const sim::ScoredMeasure* first = nullptr;
        for (const sim::ScoredMeasure& scored : score.measures)
            if (scored.measure.heading == heading && scored.of > 0.0 &&
                (first == nullptr || speaks_before(scored, *first)))
                first = &scored;
        if (first != nullptr) {
            one.value = figure(first->measure.shown, first->measure.unit);
            one.measure = first->measure.capped ? "or more, all along" : short_title(first->measure.name);
            for (const sim::RubricItem& item : rubric.items)
                if (item.measure == first->measure.name) one.wanted = "wanted " + accepted_words(item);
        }
        out.push_back(std::move(one));
    }
    return out;
}

std::string Loss::points_words() const {
    if (critical) return "fails";
    return points < kNamed ? "<0.1" : fmt::format("–{:.1f}", points);
}

std::vector<Loss> costliest(const std::vector<Loss>& losses, std::size_t most) {
    std::vector<Loss> out;
    for (const Loss& loss : losses)
        if (out.size() < most && (loss.critical || loss.points >= kNamed)) out.push_back(loss);
    return out;
}

std::string Loss::place_words() const {
    if (!along_m) return "";
    return fmt::format("track {} at {:.0f} mm", track + 1, *along_m / sim::kMm);
}

std::vector<Loss> losses(const sim::Score& score, const sim::Recording& recording, const sim::Rubric* rubric) {
    std::vector<Loss> out;
    for (const sim::Finding& fault : score.critical_faults) {
        Loss loss;
        loss.critical = true;
        loss.what = capital(fault.what);
        loss.detail = fault.unit.empty() ? "a critical fault fails the attempt"
                                         : figure(fault.shown, fault.unit) + "; a critical fault fails the attempt";
        loss.time_s = fault.time_s;
        loss.place_m = fault.place_m;
        out.push_back(std::move(loss));
    }
    for (const sim::Deduction& lost : score.deductions) {
        Loss loss;
        loss.points = lost.points;
        loss.what = capital(lost.what);
        loss.detail = measure_title(lost.measure) + ": " + figure(lost.value, lost.unit);
        if (!lost.accepted.empty()) loss.detail += ", wanted " + wanted_words(lost, rubric);
        loss.time_s = lost.time_s;
        loss.place_m = lost.place_m;
        out.push_back(std::move(loss));
    }
    for (std::size_t i = 0; i < out.size(); ++i) {
        out[i].number = static_cast<int>(i) + 1;
        find_place(recording, out[i]);
    }
    return out;
}

std::vector<MeasureRow> measure_rows(const std::vector<const sim::Score*>& scores) {
    std::vector<MeasureRow> rows;
    std::vector<std::string> names;
    for (const sim::Score* score : scores)
        for (const sim::ScoredMeasure& one : score->measures)
            if (std::find(names.begin(), names.end(), one.measure.name) == names.end())
                names.push_back(one.measure.name);
    for (const std::string& name : names) {
        MeasureRow row{name, measure_title(name), {}, ""};
        for (const sim::Score* score : scores) {
            const sim::ScoredMeasure* one = measure_in(*score, name);
            row.values.push_back(one != nullptr ? figure(one->measure) : "–");
        }
        const sim::ScoredMeasure* first = scores.empty() ? nullptr : measure_in(*scores.front(), name);
        if (first != nullptr)
            row.points = first->of > 0.0 ? fmt::format("{:.1f} of {:g}", first->points, first->of) : "shown";
        rows.push_back(std::move(row));
    }
    return rows;
}

std::string next_step_words(const sim::Score& score) {
    std::array<double, sim::kHeadings> lost{};
    for (const sim::Deduction& one : score.deductions) lost[static_cast<std::size_t>(one.heading)] += one.points;
    const auto costliest = std::max_element(lost.begin(), lost.end());
    if (!score.critical_faults.empty() || !(*costliest > 0.05)) return score.next_step;
    const auto heading = static_cast<sim::Heading>(costliest - lost.begin());
    const auto cause = std::find_if(score.deductions.begin(), score.deductions.end(),
                                    [&](const sim::Deduction& one) { return one.heading == heading; });
    return fmt::format("{} cost most, {:.1f} points; first of all: {}. {}", capital(sim::name_of(heading)), *costliest,
                       cause->what, score.next_step);
}

}  // namespace report
