#include "engine/session/performers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "engine/session/prepare.hpp"
#include "sim/core/random.hpp"
#include "sim/patient/visit.hpp"
#include "tools/pk/commands.hpp"

/// pk performers: scripted performers of known flaws on scenarios and variants, and what the score charges them for.

namespace pk {

namespace {

/// Points of each heading that both attempts were measured in.
struct Loss {
    double own = 0.0, all = 0.0;
};
Loss loss_of(const sim::Score& good, const sim::Score& flawed, sim::Heading own) {
    Loss loss;
    for (std::size_t i = 0; i < sim::kHeadings; ++i) {
        if (!(good.heading_of[i] > 0.0) || !(flawed.heading_of[i] > 0.0)) continue;
        // a heading can be measured by more items in one attempt than in the other
        const double lost = good.heading_of[i] * std::max(0.0, good.heading_points[i] / good.heading_of[i] -
                                                                   flawed.heading_points[i] / flawed.heading_of[i]);
        loss.all += lost;
        if (static_cast<sim::Heading>(i) == own) loss.own += lost;
    }
    return loss;
}

double share_of(const sim::Score& score) {
    return score.total_of > 0.0 ? 100.0 * score.total_points / score.total_of : 0.0;
}

/// Share lost of what was to be earned, and points, of each measure that both attempts were scored in.
using ItemLosses = std::map<std::string, double>;
void add_losses(const sim::Score& good, const sim::Score& flawed, ItemLosses& out) {
    for (const sim::ScoredMeasure& before : good.measures)
        for (const sim::ScoredMeasure& after : flawed.measures)
            if (before.of > 0.0 && after.of > 0.0 && before.measure.name == after.measure.name)
                out[fmt::format("{} ({})", before.measure.name, sim::key_of(before.measure.heading))] +=
                    before.of * (before.points / before.of - after.points / after.of);
}

struct Row {
    session::Flaw flaw = session::Flaw::tremor;
    std::vector<double> score;  ///< mean over attempts, % of the points, for each size of the flaw from 0 on
    Loss loss;                  ///< of all sizes, over all attempts
    ItemLosses items;           ///< likewise
};

struct Played {
    session::Prepared prepared;
    std::shared_ptr<session::AnswerSource> answers;

    [[nodiscard]] sim::Score score(const session::Performer& performer) const {
        const session::Performance done = session::perform(prepared.model, performer, answers);
        return sim::score(done.recording, prepared.rubric.rubric);
    }
};

std::vector<Played> prepare_all(const std::vector<std::string>& scenarios, int variants) {
    std::vector<Played> all;
    for (const std::string& name : scenarios)
        for (int i = 0; i < variants; ++i) {
            std::optional<std::uint64_t> seed;
            if (i > 0) seed = static_cast<std::uint64_t>(i);
            Played one{session::prepare(name, seed, show_progress), nullptr};
            one.answers = session::inline_answers(one.prepared);
            all.push_back(std::move(one));
        }
    return all;
}

Row play_flaw(const std::vector<Played>& all, const std::vector<sim::Score>& good, session::Flaw flaw, int sizes) {
    Row row{flaw, std::vector<double>(static_cast<std::size_t>(sizes) + 1), {}, {}};
    for (std::size_t i = 0; i < all.size(); ++i) {
        row.score[0] += share_of(good[i]);
        for (int size = 1; size <= sizes; ++size) {
            session::Performer performer;
            performer.flaw[static_cast<std::size_t>(flaw)] = static_cast<double>(size) / sizes;
            performer.seed = i;
            const sim::Score flawed = all[i].score(performer);
            row.score[static_cast<std::size_t>(size)] += share_of(flawed);
            const Loss lost = loss_of(good[i], flawed, session::heading_of(flaw));
            row.loss.own += lost.own;
            row.loss.all += lost.all;
            add_losses(good[i], flawed, row.items);
        }
    }
    for (double& mean : row.score) mean /= static_cast<double>(all.size());
    return row;
}

/// What each flaw costs most, measure by measure.
void print_items(const std::vector<Row>& rows) {
    constexpr std::size_t kMost = 6;
    for (const Row& row : rows) {
        std::vector<std::pair<double, std::string>> items;
        for (const auto& [name, points] : row.items)
            if (points > 0.05) items.emplace_back(points, name);
        std::sort(items.rbegin(), items.rend());
        if (items.size() > kMost) items.resize(kMost);
        fmt::print("\n{}\n", session::name_of(row.flaw));
        for (const auto& [points, name] : items) fmt::print("{:8.1f}  {}\n", points, name);
    }
}

void print_rows(const std::vector<Row>& rows, std::size_t attempts, bool json) {
    nlohmann::json out = nlohmann::json::array();
    if (!json)
        fmt::print("{:16} {:24} {:>6} {:>32} {:>12} {:>10}\n", "flaw", "heading to be charged", "runs",
                   "score by size of the flaw, %", "points lost", "own share");
    for (const Row& row : rows) {
        const double own = row.loss.all > 0.0 ? 100.0 * row.loss.own / row.loss.all : 0.0;
        std::string scores;
        for (const double score : row.score) scores += fmt::format("{:8.1f}", score);
        if (json)
            out.push_back({{"flaw", session::name_of(row.flaw)},
                           {"heading", sim::key_of(session::heading_of(row.flaw))},
                           {"runs", attempts},
                           {"score_percent", row.score},
                           {"points_lost", row.loss.all},
                           {"own_share_percent", own}});
        else
            fmt::print("{:16} {:24} {:6} {:>32} {:12.1f} {:8.0f} %\n", session::name_of(row.flaw),
                       sim::name_of(session::heading_of(row.flaw)), attempts, scores, row.loss.all, own);
    }
    if (json) fmt::print("{}\n", out.dump(2));
}

/// What went wrong in an attempt, in the words of the published tables.
struct Outcome {
    const char* name;
    const char* published;  ///< pooled rates: Niu et al 2021, Aesthetic Plast Surg 45:2148-58; Zhou & Zhuang 2025,
                            ///< doi:10.1101/2025.03.10.25323087; Bertossi et al 2019, Aesthet Surg J (from memory)
    bool (*happened)(const sim::Recording& recording);
};

bool any_event(const sim::Recording& recording, bool (*is)(const sim::Recording&, const sim::Event&)) {
    return std::any_of(recording.events.begin(), recording.events.end(),
                       [&](const sim::Event& event) { return is(recording, event); });
}

bool heard(const sim::Recording& recording, sim::CallFinding finding) {
    const auto called = [&](const sim::Event& event) {
        return event.kind == sim::EventKind::deed_done && event.subject == static_cast<int>(sim::Deed::call_back) &&
               (static_cast<int>(event.value[1]) & (1 << static_cast<int>(finding))) != 0;
    };
    return std::any_of(recording.events.begin(), recording.events.end(), called);
}

bool touches(const sim::Recording& recording, const sim::Event& event, sim::EventKind kind, sim::StructureKind what) {
    return event.kind == kind && event.subject >= 0 &&
           recording.structures[static_cast<std::size_t>(event.subject)].kind == what;
}

const std::vector<Outcome>& outcomes() {
    static const std::vector<Outcome> all{
        {"bruise (a vessel opened)", "ecchymosis 19 to 26 %",
         [](const sim::Recording& r) {
             return any_event(r, [](const sim::Recording& of, const sim::Event& event) {
                 return touches(of, event, sim::EventKind::wall_breached, sim::StructureKind::artery) ||
                        touches(of, event, sim::EventKind::wall_breached, sim::StructureKind::vein);
             });
         }},
        {"numbness (a nerve touched)", "paraesthesia 1 to 10 %",
         [](const sim::Recording& r) {
             return any_event(r, [](const sim::Recording& of, const sim::Event& event) {
                 return touches(of, event, sim::EventKind::wall_touched, sim::StructureKind::nerve);
             });
         }},
        {"dimple that stays", "dimpling 6 to 10 %",
         [](const sim::Recording& r) { return heard(r, sim::CallFinding::dimple); }},
        {"end that looks out", "extrusion 2 to 5 %",
         [](const sim::Recording& r) { return heard(r, sim::CallFinding::extrusion); }},
        {"infection", "infection 2 to 6 %",
         [](const sim::Recording& r) { return heard(r, sim::CallFinding::infection); }},
        {"swelling at meals", "rare, single cases",
         [](const sim::Recording& r) { return heard(r, sim::CallFinding::swelling_at_meals); }},
    };
    return all;
}

/// Performers with a little of every flaw, each drawn on its own.
void play_population(const std::vector<Played>& all, int people, bool json) {
    std::vector<int> happened(outcomes().size());
    sim::Random random(20260101);
    for (int i = 0; i < people; ++i) {
        session::Performer performer;
        performer.seed = static_cast<std::uint64_t>(i);
        for (double& much : performer.flaw) much = std::min(1.0, std::abs(random.normal(0.0, 0.25)));
        const Played& one = all[static_cast<std::size_t>(i) % all.size()];
        const session::Performance done = session::perform(one.prepared.model, performer, one.answers);
        for (std::size_t k = 0; k < outcomes().size(); ++k)
            happened[k] += outcomes()[k].happened(done.recording) ? 1 : 0;
    }
    nlohmann::json out = nlohmann::json::array();
    if (!json) fmt::print("{:28} {:>10}   {}\n", "outcome", "performers", "published, pooled");
    for (std::size_t k = 0; k < outcomes().size(); ++k) {
        const double share = 100.0 * happened[k] / people;
        if (json)
            out.push_back({{"outcome", outcomes()[k].name},
                           {"share_percent", share},
                           {"published", outcomes()[k].published},
                           {"people", people}});
        else
            fmt::print("{:28} {:8.1f} %   {}\n", outcomes()[k].name, share, outcomes()[k].published);
    }
    if (json) fmt::print("{}\n", out.dump(2));
}

}  // namespace

Run add_performers(CLI::App& app) {
    struct Arguments {
        std::vector<std::string> scenarios;
        int sizes = 3, variants = 1, people = 0;
        std::vector<std::string> flaws;
        bool json = false, items = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand(
        "performers", "scripted performers of known flaws: which headings does the score charge them for?");
    command->add_option("scenarios", a->scenarios, "names of scenarios, or files")->required();
    command->add_option("--sizes", a->sizes, "sizes of each flaw beside none, 1 to 10")->check(CLI::Range(1, 10));
    command->add_option("--variants", a->variants, "variants of the anatomy, 1 to 20")->check(CLI::Range(1, 20));
    command
        ->add_option("--population", a->people,
                     "in place of that: so many performers with a little of every flaw, and what went wrong")
        ->check(CLI::Range(1, 100000));
    std::vector<std::string> names;
    for (int i = 0; i < session::kFlaws; ++i) names.emplace_back(session::name_of(static_cast<session::Flaw>(i)));
    command->add_option("--flaw", a->flaws, "only this one; all when not given")->check(CLI::IsMember(names));
    command->add_flag("--items", a->items, "the measures that each flaw costs most in");
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const std::vector<Played> all = prepare_all(a->scenarios, a->variants);
        if (a->people > 0) {
            play_population(all, a->people, a->json);
        } else {
            std::vector<sim::Score> good;
            for (const Played& one : all) good.push_back(one.score({}));
            std::vector<Row> rows;
            for (int i = 0; i < session::kFlaws; ++i) {
                const auto flaw = static_cast<session::Flaw>(i);
                const auto asked = std::find(a->flaws.begin(), a->flaws.end(), session::name_of(flaw));
                if (a->flaws.empty() || asked != a->flaws.end()) rows.push_back(play_flaw(all, good, flaw, a->sizes));
            }
            print_rows(rows, all.size(), a->json);
            if (a->items && !a->json) print_items(rows);
        }
        if (!a->json)
            fmt::print("This tests the scoring. It is no evidence about people, and nothing is claimed from it.\n");
        return 0;
    };
}

}  // namespace pk
