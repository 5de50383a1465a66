#include "engine/graded/graded_return.hpp"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "engine/files/aids.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/graded/sealing.hpp"
#include "engine/graded/temporary_folder.hpp"
#include "sim/command.hpp"
#include "sim/scoring/rubric.hpp"

namespace graded {

namespace {

using nlohmann::json;

constexpr std::size_t kMostReturnBytes = 512U << 20U;
constexpr double kPointsAlike = 1e-6;

constexpr std::array<std::string_view, kFindings> kFindingNames{
    "unreadable",      "changed",        "unfinished",     "no such slot",   "renamed",
    "handed in twice", "same hands",     "other key",      "other scenario", "other anatomy",
    "not graded",      "aids used",      "score edited",   "outside hours",  "over time",
    "clock set",       "not in journal", "journal broken", "unknown station"};

json json_of(const Return& content) {
    json attempts = json::array();
    for (const HandedIn& one : content.attempts)
        attempts.push_back({{"name", one.name},
                            {"attempt", base64(one.bytes)},
                            {"verdict", one.told_verdict},
                            {"points", one.told_points}});
    return {{"schema_version", kGradedSchema},
            {"session_id", content.session},
            {"station", files::hex(content.station)},
            {"journal", content.journal},
            {"attempts", attempts}};
}

Return return_in(const std::string& text, const std::string& file) {
    const auto document = files::JsonDocument::parse(file, text);
    files::JsonObject object = document.root_object(kGradedSchema);
    Return out;
    out.session = object.text("session_id");
    const files::JsonValue station = object.at("station");
    if (const auto key = files::from_hex<32>(station.text()))
        out.station = *key;
    else
        station.refuse("64 lower-case hexadecimal digits");
    out.journal = object.at("journal").text(kMostReturnBytes);
    for (const files::JsonValue& item : object.at("attempts").array(0, kMostPeople * kMostScenarios)) {
        files::JsonObject one = item.object();
        HandedIn in;
        in.name = one.text("name");
        const files::JsonValue bytes = one.at("attempt");
        if (auto plain = from_base64(bytes.text(kMostReturnBytes)))
            in.bytes = std::move(*plain);
        else
            bytes.refuse("base64 (RFC 4648)");
        in.told_verdict = one.text("verdict");
        in.told_points = one.number("points", {-1e6, 1e6});
        one.refuse_unknown();
        out.attempts.push_back(std::move(in));
    }
    object.refuse_unknown();
    return out;
}

/// What the hands did, without who and when.
std::string hash_of_hands(const files::LoadedAttempt& attempt) {
    std::string text;
    for (const files::TimedCommand& one : attempt.commands) {
        text += fmt::format("{} {}", one.step, static_cast<int>(one.command.verb));
        for (const std::int64_t a : one.command.value) text += fmt::format(" {}", a);
        text += '\n';
    }
    return files::hex(files::sha256(text));
}

const JournalEntry* entry_of(const Journal& journal, StationDeed deed, const std::string& slot) {
    for (const JournalEntry& entry : journal.entries)
        if (entry.deed == deed && entry.slot == slot) return &entry;
    return nullptr;
}

/// One attempt, looked at from all sides.
class Examination {
 public:
    Examination(const Session& session, const Journal* journal, Collected& collected, const HandedIn& in)
        : session_(session), journal_(journal), collected_(collected), in_(in) {
        out_.file = in.name;
    }

    Judged run(const std::filesystem::path& folder) {
        const std::filesystem::path path = folder / "handed_in.attempt";
        try {
            files::write_atomically(path, in_.bytes, 0600);
            const files::LoadedAttempt attempt = files::read_attempt(path);
            look_at_record(attempt);
            look_at_slot(attempt);
            look_at_time(attempt);
            score(attempt);
        } catch (const std::exception& error) {
            fault(Finding::unreadable, error.what());
        }
        return std::move(out_);
    }

 private:
    void fault(Finding what, std::string detail) { out_.faults.push_back({what, std::move(detail)}); }

    void look_at_record(const files::LoadedAttempt& attempt) {
        for (const files::Problem& problem : attempt.report.problems)
            fault(Finding::changed, fmt::format("line {}: {}", problem.line, problem.what));
        if (!attempt.report.finished) fault(Finding::unfinished, "the record has no signed end");
        if (attempt.header.mode != sim::PracticeMode::graded)
            fault(Finding::not_graded, fmt::format("practised as {}", sim::name_of(attempt.header.mode)));
        for (const files::TimedCommand& one : attempt.commands)
            if (one.command.verb == sim::Verb::aid && one.command.value[1] != 0 &&
                one.command.value[0] != files::kProbe) {
                fault(Finding::aids_used, fmt::format("aid {} was on", one.command.value[0]));
                break;
            }
    }

    void look_at_slot(const files::LoadedAttempt& attempt) {
        const std::string& id = attempt.header.attempt_id;
        out_.slot = session_.slot(id);
        if (out_.slot == nullptr) return fault(Finding::no_such_slot, "attempt " + id + " was not issued");
        if (in_.name != id)
            fault(Finding::renamed, fmt::format("the file is named {}, the attempt is {}", in_.name, id));
        if (!collected_.slots.insert(id).second) fault(Finding::handed_in_twice, "this slot has been handed in before");
        const auto [at, fresh] = collected_.slot_of_hands.emplace(hash_of_hands(attempt), id);
        if (!fresh && at->second != id && !attempt.commands.empty())
            fault(Finding::same_hands, "command for command the attempt of slot " + at->second);
        const Party& learner = session_.learner_of(*out_.slot);
        if (std::find(learner.keys.begin(), learner.keys.end(), attempt.header.public_key) == learner.keys.end())
            fault(Finding::other_key, fmt::format("signed by {}, which is no key of {}",
                                                  files::hex(attempt.header.public_key), learner.name));
        const Form& form = session_.form_of(*out_.slot);
        const auto same = [&](const files::SourceText& is, const files::SourceText& issued, std::string_view what) {
            if (is.hash != issued.hash)
                fault(Finding::other_scenario,
                      fmt::format("its {} has hash {}, issued was {}", what, is.hash, issued.hash));
        };
        same(attempt.header.scenario, form.scenario, "scenario");
        same(attempt.header.rubric, form.rubric, "rubric");
        same(attempt.header.patient.value_or(files::SourceText{}), form.patient.value_or(files::SourceText{}),
             "patient");
        if (attempt.header.variant_seed != out_.slot->variant_seed)
            fault(Finding::other_anatomy,
                  fmt::format("anatomy {}, issued was {}", attempt.header.variant_seed, out_.slot->variant_seed));
    }

    void look_at_time(const files::LoadedAttempt& attempt) {
        const std::optional<std::int64_t> began = seconds_of(attempt.header.started_at);
        if (!began || *began < *seconds_of(session_.plan.opens_at) || *began > *seconds_of(session_.plan.closes_at))
            fault(Finding::outside_hours,
                  fmt::format("began at {}, the session is open from {} to {}", attempt.header.started_at,
                              session_.plan.opens_at, session_.plan.closes_at));
        const double took_s = static_cast<double>(attempt.recording.steps) * sim::kStepS;
        if (session_.plan.minutes > 0.0 && took_s > 60.0 * session_.plan.minutes + kGraceS)
            fault(Finding::over_time,
                  fmt::format("{:.0f} s of work, allowed are {:.0f} s", took_s, 60.0 * session_.plan.minutes));
        if (journal_ == nullptr || out_.slot == nullptr) return;
        const JournalEntry* started = entry_of(*journal_, StationDeed::started, out_.slot->id);
        const JournalEntry* ended = entry_of(*journal_, StationDeed::ended, out_.slot->id);
        if (started == nullptr || ended == nullptr)
            return fault(Finding::not_in_journal, "the station's journal does not tell that it began and ended there");
        const double wall_s = static_cast<double>(ended->at.wall_s - started->at.wall_s);
        if (session_.plan.minutes > 0.0 && wall_s > 60.0 * session_.plan.minutes + kGraceS)
            fault(Finding::over_time, fmt::format("{:.0f} s at the station from beginning to end, allowed are {:.0f} s",
                                                  wall_s, 60.0 * session_.plan.minutes));
        if (ended->attempt_hash != files::hex(attempt.report.last_hash))
            fault(Finding::not_in_journal, "the station saw another end than the one in this file");
        if (began && std::abs(static_cast<double>(started->at.wall_s - *began)) > kGraceS)
            fault(Finding::clock, fmt::format("the record began at {}, the station started it at {}",
                                              attempt.header.started_at, utc_of(started->at.wall_s)));
    }

    void score(const files::LoadedAttempt& attempt) {
        if (!attempt.report.intact()) return;
        // by the rubric that was issued, not by the one that the record brings along
        const files::SourceText& text =
            out_.slot != nullptr ? session_.form_of(*out_.slot).rubric : attempt.header.rubric;
        const sim::Score score = sim::score(attempt.recording, files::parse_rubric(text, "rubric").rubric);
        out_.verdict = sim::name_of(score.verdict);
        out_.points = score.total_points;
        out_.possible = score.total_of;
        if (in_.told_verdict != out_.verdict || std::abs(in_.told_points - out_.points) > kPointsAlike)
            fault(Finding::score_edited, fmt::format("told were {} and {:.2f} points, the record has {} and {:.2f}",
                                                     in_.told_verdict, in_.told_points, out_.verdict, out_.points));
    }

    static constexpr double kGraceS = 60.0;  // between a click and a file; assumed

    const Session& session_;
    const Journal* journal_;
    Collected& collected_;
    const HandedIn& in_;
    Judged out_;
};

/// What holds for all that a station hands in.
std::vector<Fault> faults_of_station(const Session& session, const Return& content, const Journal* journal,
                                     const std::string& journal_trouble) {
    std::vector<Fault> out;
    bool known = false;
    for (const Party& station : session.plan.stations)
        known = known || std::find(station.keys.begin(), station.keys.end(), content.station) != station.keys.end();
    if (!known) out.push_back({Finding::unknown_station, files::hex(content.station)});
    if (journal == nullptr) {
        out.push_back({Finding::journal_broken, journal_trouble});
        return out;
    }
    if (journal->station != content.station || journal->session != session.id)
        out.push_back({Finding::journal_broken, "it is that of another station or session"});
    for (const std::string& problem : journal->problems) out.push_back({Finding::journal_broken, problem});
    for (const std::string& problem : clock_problems(*journal)) out.push_back({Finding::clock, problem});
    return out;
}

}  // namespace

std::string return_text(const Return& content, const files::PublicKey& issuer, const files::KeyPair& station) {
    const std::string body = json_of(content).dump();
    return json{{"schema_version", kGradedSchema},
                {"signature", files::hex(files::sign(station, body))},
                {"sealed", base64(sealed_for(issuer, body))}}
               .dump() +
           "\n";
}

Return open_return(const std::string& text, const std::string& file, const files::KeyPair& issuer) {
    const auto document = files::JsonDocument::parse(file, text);
    files::JsonObject object = document.root_object(kGradedSchema);
    const auto signature = files::from_hex<64>(object.text("signature"));
    const auto box = from_base64(object.at("sealed").text(2 * kMostReturnBytes));
    object.refuse_unknown();
    const auto inside = box ? opened(issuer, *box) : std::nullopt;
    if (!inside)
        throw files::FileError(file, "sealed", "a box for another key, or one that was touched",
                               "what a station handed in for the issuer with key " + files::hex(issuer.public_key));
    Return out = return_in(*inside, file + ": sealed");
    if (!signature || !files::signature_holds(out.station, *inside, *signature))
        throw files::FileError(file, "signature", "not that of the station", "what the station signed");
    return out;
}

std::string_view name_of(Finding finding) { return kFindingNames[static_cast<std::size_t>(finding)]; }

std::vector<Judged> judge(const Session& session, const Return& content, Collected& collected) {
    std::optional<Journal> journal;
    std::string trouble;
    try {
        journal = read_journal(content.journal, "journal");
    } catch (const files::FileError& error) {
        trouble = error.what();
    }
    if (content.session != session.id) trouble = "handed in for session " + content.session;
    const Journal* read = journal ? &*journal : nullptr;
    const std::vector<Fault> of_all = faults_of_station(session, content, read, trouble);
    const TemporaryFolder folder;
    std::vector<Judged> out;
    for (const HandedIn& in : content.attempts) {
        Judged one = Examination(session, read, collected, in).run(folder.path());
        one.faults.insert(one.faults.end(), of_all.begin(), of_all.end());
        out.push_back(std::move(one));
    }
    return out;
}

}  // namespace graded
