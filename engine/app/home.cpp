#include "engine/app/home.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <ctime>
#include <map>

namespace app {

namespace {

constexpr std::size_t kRecent = 3;  // attempts that tell how it stands

bool counts(const PastAttempt& attempt) { return attempt.trouble.empty() && attempt.finished && !attempt.incomplete; }

/// Finished ones, oldest first.
std::vector<const PastAttempt*> in_order(const std::vector<PastAttempt>& attempts) {
    std::vector<const PastAttempt*> out;
    for (const PastAttempt& attempt : attempts)
        if (counts(attempt)) out.push_back(&attempt);
    std::stable_sort(out.begin(), out.end(),
                     [](const auto* a, const auto* b) { return a->started_at < b->started_at; });
    return out;
}

NextStep step(NextStep::Kind kind, const Entry& entry, std::string why) {
    return {kind, entry.id, entry.title, std::move(why)};
}

/// A drill that was passed and then left alone for weeks: the one left alone longest.
std::optional<NextStep> retention(const std::vector<Entry>& entries, const std::vector<PastAttempt>& attempts,
                                  std::int64_t now_s) {
    const Entry* chosen = nullptr;
    std::int64_t longest_s = 0;
    for (const Entry& entry : entries) {
        const Standing standing = standing_of(attempts, entry.id);
        if (!entry.trouble.empty() || entry.kind != "drill" || !standing.best || !standing.best->passed) continue;
        const auto last_s = seconds_of(standing.last->started_at);
        if (!last_s || now_s - *last_s < kRetentionFromS || now_s - *last_s <= longest_s) continue;
        chosen = &entry;
        longest_s = now_s - *last_s;
    }
    if (chosen == nullptr) return std::nullopt;
    return step(
        NextStep::Kind::retention, *chosen,
        fmt::format("Passed, and not practised for {} weeks. Try it once, without a warm-up: what is kept after "
                    "weeks is what counts.",
                    longest_s / (7 * 86'400)));
}

/// The drill for the weakest heading, unless it was passed after all that made the heading weak.
std::optional<NextStep> training(const std::vector<Entry>& entries, const std::vector<PastAttempt>& attempts) {
    const std::vector<HeadingRecord> records = heading_records(attempts);
    const auto weakest = weakest_heading(records);
    if (!weakest) return std::nullopt;
    const Entry* drill = drill_for(entries, *weakest);
    if (drill == nullptr) return std::nullopt;
    const Standing standing = standing_of(attempts, drill->id);
    const auto record =
        std::find_if(records.begin(), records.end(), [&](const auto& one) { return one.heading == *weakest; });
    if (standing.last && standing.last->passed && standing.last->started_at >= record->points.back().when)
        return std::nullopt;
    return step(NextStep::Kind::train, *drill,
                fmt::format("Your weakest heading is {}: {:.0f} % of its points lately. Here it counts most.",
                            sim::name_of(*weakest), 100.0 * record->now()));
}

}  // namespace

double HeadingRecord::now() const {
    const std::size_t n = std::min(kRecent, points.size());
    double sum = 0.0;
    for (std::size_t i = points.size() - n; i < points.size(); ++i) sum += points[i].share;
    return sum / static_cast<double>(n);
}

std::vector<HeadingRecord> heading_records(const std::vector<PastAttempt>& attempts) {
    std::vector<HeadingRecord> all(sim::kHeadings);
    std::map<std::string, std::int64_t> last_s;
    for (const PastAttempt* attempt : in_order(attempts)) {
        const auto now_s = seconds_of(attempt->started_at);
        const auto before = last_s.find(attempt->scenario);
        const bool after_weeks = now_s && before != last_s.end() && *now_s - before->second >= kRetentionFromS;
        if (now_s) last_s[attempt->scenario] = *now_s;
        for (int h = 0; h < sim::kHeadings; ++h) {
            const auto k = static_cast<std::size_t>(h);
            if (attempt->heading_of[k] <= 0.0) continue;
            all[k].heading = static_cast<sim::Heading>(h);
            all[k].points.push_back({attempt->heading_points[k] / attempt->heading_of[k], attempt->passed,
                                     attempt->title, attempt->started_at, after_weeks});
        }
    }
    std::erase_if(all, [](const HeadingRecord& record) { return record.points.empty(); });
    return all;
}

std::optional<sim::Heading> weakest_heading(const std::vector<HeadingRecord>& records) {
    const HeadingRecord* weakest = nullptr;
    for (const HeadingRecord& record : records)
        if (record.points.size() >= 2 && record.now() < kHeadingAsked &&
            (weakest == nullptr || record.now() < weakest->now()))
            weakest = &record;
    if (weakest == nullptr) return std::nullopt;
    return weakest->heading;
}

const Entry* drill_for(const std::vector<Entry>& entries, sim::Heading heading) {
    const auto share = [&](const Entry& entry) {
        double sum = 0.0;
        for (const double points : entry.heading_points) sum += points;
        return sum > 0.0 ? entry.heading_points[static_cast<std::size_t>(heading)] / sum : 0.0;
    };
    for (const char* kind : {"drill", "case"}) {
        const Entry* best = nullptr;
        for (const Entry& entry : entries)
            if (entry.trouble.empty() && entry.kind == kind && share(entry) > (best == nullptr ? 0.0 : share(*best)))
                best = &entry;
        if (best != nullptr) return best;
    }
    return nullptr;
}

std::optional<NextStep> next_step(const std::vector<Entry>& entries, const std::vector<PastAttempt>& attempts,
                                  std::int64_t now_s, bool new_controller) {
    const Entry* first = nullptr;
    const Entry* lesson = nullptr;
    const Entry* open = nullptr;
    const Entry* least = nullptr;
    double least_share = 2.0;
    for (const Entry& entry : entries) {
        if (!entry.trouble.empty()) continue;
        if (first == nullptr) first = &entry;
        if (lesson == nullptr && entry.lesson) lesson = &entry;
        const Standing standing = standing_of(attempts, entry.id);
        if (open == nullptr && (!standing.best || !standing.best->passed)) open = &entry;
        if (!standing.best || standing.best->of <= 0.0) continue;
        if (const double share = standing.best->points / standing.best->of; share < least_share) {
            least_share = share;
            least = &entry;
        }
    }
    if (first == nullptr) return std::nullopt;
    if (lesson != nullptr && !standing_of(attempts, lesson->id).best)
        return step(NextStep::Kind::lesson, *lesson, "First lesson, under ten minutes. It leads you step by step.");
    if (new_controller && lesson != nullptr)
        return step(NextStep::Kind::device, *lesson,
                    "The controller is new here. Get used to it in the lesson, before an attempt that counts.");
    if (const auto kept = retention(entries, attempts, now_s)) return kept;
    if (const auto train = training(entries, attempts)) return train;
    if (open != nullptr) {
        const bool tried = standing_of(attempts, open->id).last.has_value();
        return step(NextStep::Kind::next, *open, tried ? "Not passed yet." : "The next one that you have not tried.");
    }
    return step(NextStep::Kind::again, least != nullptr ? *least : *first,
                "All passed. This one has the most points left: take it with another anatomy.");
}

bool is_new(sim::Device device, const std::vector<PastAttempt>& attempts) {
    return std::none_of(attempts.begin(), attempts.end(), [&](const PastAttempt& attempt) {
        return attempt.trouble.empty() && attempt.finished && attempt.devices[static_cast<std::size_t>(device)];
    });
}

Coaching coaching_after(int passes) { return {passes < 1, passes < 2, passes < 3}; }

namespace {

std::string names_of(const files::AllowedAids& aids) {
    std::string out;
    for (std::size_t i = 0; i < aids.size(); ++i)
        if (aids.test(i)) out.append(out.empty() ? "" : ", ").append(files::kAidNames[i]);
    return out;
}

}  // namespace

std::string aids_words(const files::AllowedAids& aids) {
    if (aids.all()) return "";
    return aids.none() ? "No aids here." : fmt::format("Aids here: {}.", names_of(aids));
}

std::string coaching_words(int passes, const files::AllowedAids& aids) {
    if (!aids.all()) {
        const Coaching now = coaching_after(passes);
        files::AllowedAids off;
        off.set(files::kAidCutaway, !now.cutaway).set(files::kAidTrace, !now.trace).set(files::kAidWords, !now.words);
        off &= aids;
        return off.none() ? "" : fmt::format("Off until you ask: {}.", names_of(off));
    }
    static constexpr std::array kWords{
        "", "Passed once: the cut-away is off until you ask.",
        "Passed twice: cut-away and depth trace are off until you ask.",
        "Passed three times or more: cut-away, depth trace and advice are off until you ask."};
    return kWords[static_cast<std::size_t>(std::clamp(passes, 0, 3))];
}

int passes_of(const std::vector<PastAttempt>& attempts, const std::string& scenario) {
    return static_cast<int>(std::count_if(attempts.begin(), attempts.end(), [&](const PastAttempt& attempt) {
        return attempt.scenario == scenario && counts(attempt) && attempt.passed;
    }));
}

std::optional<std::int64_t> seconds_of(const std::string& started_at) {
    std::tm utc{};
    const char* end = strptime(started_at.c_str(), "%Y-%m-%dT%H:%M:%SZ", &utc);
    if (end == nullptr || *end != '\0') return std::nullopt;
    return static_cast<std::int64_t>(timegm(&utc));
}

}  // namespace app
