#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <random>
#include <set>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/csv.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/verify.hpp"
#include "engine/graded/rating.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "tools/pk/records.hpp"

/// Ratings by people: folders for raters, blind to name and score, and what comes back.

namespace pk {

namespace {

namespace fs = std::filesystem;

struct RatingsArguments {
    std::vector<std::string> places, raters;
    std::string out, session, csv, marks, item;
    std::size_t each = 2;
    std::uint64_t seed = 0;
    bool use_records = false;
    RecordsArguments records;
};

/// Attempts by the hash of their bytes, so that none is handed out twice and none by its name.
using Attempts = std::map<std::string, std::string>;

void add_attempt(Attempts& attempts, std::string bytes, const std::string& name) {
    const files::VerifyReport report = files::verify_bytes(bytes, name);
    if (!report.intact() || !report.finished)
        throw files::FileError(name, "", std::string(report.verdict()), "an attempt that is intact and finished");
    std::string hash = files::hex(files::sha256(bytes));
    attempts.emplace(std::move(hash), std::move(bytes));
}

Attempts attempts_of(const RatingsArguments& a) {
    Attempts out;
    for (const fs::path& file : attempts_in(a.places))
        add_attempt(out, files::read_bytes(file, files::kAttemptBytes), file.string());
    if (!a.use_records) return out;
    Desk desk = open_desk(a.records);
    for (const records::AttemptRow& row : desk.store.attempts(desk.actor, filter_of(desk, a.records)))
        if (row.facts.finished) add_attempt(out, desk.store.attempt_bytes(desk.actor, row.facts.id), row.facts.id);
    return out;
}

int hand_out(const RatingsArguments& a) {
    const Attempts attempts = attempts_of(a);
    if (attempts.empty()) throw sim::InputError("attempts", "none", "one or more");
    std::set<std::string> names(a.raters.begin(), a.raters.end());
    if (names.size() != a.raters.size()) throw sim::InputError("--raters", "a name twice", "each once");
    std::random_device device;
    const std::uint64_t seed = a.seed != 0 ? a.seed : (std::uint64_t{device()} << 32U) | device();
    const auto shares = graded::share_out(attempts.size(), a.raters.size(), a.each, seed);
    std::vector<Attempts::const_iterator> by_place;
    for (auto at = attempts.begin(); at != attempts.end(); ++at) by_place.push_back(at);
    // all that may be refused is, before anything is written
    std::vector<graded::RatingTask> tasks;
    for (std::size_t rater = 0; rater < shares.size(); ++rater) {
        graded::RatingTask task{a.raters[rater], {}};
        // a code of this rater's own: two who talk do not know that they speak of the same attempt
        for (std::size_t i = 0; i < shares[rater].size(); ++i)
            task.entries.push_back(
                {fmt::format("{}-{:03}", a.raters[rater], i + 1), by_place[shares[rater][i]]->first});
        tasks.push_back(graded::parse_rating_task(graded::text_of(task), "--raters " + a.raters[rater]));
        const fs::path folder = fs::path(a.out) / a.raters[rater];
        if (fs::exists(folder)) throw files::FileError(folder.string(), "", "there already", "a new folder");
    }
    for (const graded::RatingTask& task : tasks) {
        const fs::path folder = fs::path(a.out) / task.rater;
        fs::create_directories(folder);
        for (const graded::RatingTask::Entry& entry : task.entries)
            files::write_atomically(folder / graded::RatingTask::attempt_file(entry.code),
                                    attempts.at(entry.attempt_sha256));
        files::write_atomically(folder / "rating_task.json", graded::text_of(task));
        fmt::print("{}: {} attempts; planekeeper --rate {}\n", folder.string(), task.entries.size(), folder.string());
    }
    return 0;
}

void write_csv(const std::string& file, const std::vector<std::string>& header,
               const std::vector<std::vector<std::string>>& rows) {
    files::write_atomically(file, files::csv_text(header, rows));
    fmt::print("{}: {} rows\n", file, rows.size());
}

/// One line for each point that was given and each remark.
std::vector<std::vector<std::string>> long_rows(const std::vector<graded::RatingFolder>& folders) {
    std::vector<std::vector<std::string>> out;
    for (const graded::RatingFolder& folder : folders)
        for (std::size_t i = 0; i < folder.task().entries.size(); ++i) {
            const graded::RatingSheet& sheet = folder.sheet(i);
            for (const auto& [item, point] : sheet.points)
                out.push_back({sheet.attempt_sha256, sheet.rater, item, fmt::format("{}", point), "", ""});
            for (const graded::RatingComment& comment : sheet.comments)
                out.push_back({sheet.attempt_sha256, sheet.rater, "", "", fmt::format("{:.3f}", comment.at_s),
                               files::unlike_a_formula(comment.words)});
        }
    return out;
}

/// A mark of one sheet: of one item, or the mean of all.
double mark_of(const graded::RatingSheet& sheet, const std::string& item) {
    if (!item.empty()) return sheet.points.at(item);
    double sum = 0.0;
    for (const auto& [key, point] : sheet.points) sum += point;
    return sum / static_cast<double>(sheet.points.size());
}

/// Attempts that as many raters as any have rated whole, one a row: what pk statistics icc and kappa take. Who is first
/// hangs on the raters' names, so that the columns are no rater each.
void write_marks(const RatingsArguments& a, const std::vector<graded::RatingFolder>& folders) {
    std::map<std::string, std::vector<double>> marks;
    std::size_t most = 0;
    for (const graded::RatingFolder& folder : folders)
        for (std::size_t i = 0; i < folder.task().entries.size(); ++i)
            if (folder.sheet(i).complete()) {
                auto& of = marks[folder.sheet(i).attempt_sha256];
                of.push_back(mark_of(folder.sheet(i), a.item));
                most = std::max(most, of.size());
            }
    static constexpr const char* kColumns[] = {"first", "second", "third", "fourth", "fifth", "sixth", "seventh"};
    if (most == 0 || most > std::size(kColumns)) throw sim::InputError("raters", fmt::format("{}", most), "1 to 7");
    std::vector<std::string> header{"attempt"};
    header.insert(header.end(), kColumns, kColumns + most);
    std::vector<std::vector<std::string>> rows;
    std::size_t left_out = 0;
    for (const auto& [attempt, given] : marks) {
        if (given.size() < most) {
            ++left_out;
            continue;
        }
        std::vector<std::string> row{attempt};
        for (const double mark : given) row.push_back(fmt::format("{:.6g}", mark));
        rows.push_back(std::move(row));
    }
    write_csv(a.marks, header, rows);
    if (left_out > 0) fmt::print("{} attempts have fewer than {} whole sheets and are left out\n", left_out, most);
}

/// A sheet whose ratings are in the store already is left alone: taken in twice, nothing doubles.
void put_into_store(const RatingsArguments& a, const std::vector<graded::RatingFolder>& folders) {
    Desk desk = open_desk(a.records);
    std::map<std::string, std::string> id_of;
    for (const records::AttemptRow& row : desk.store.attempts(desk.actor, {}))
        id_of.emplace(row.facts.content_hash, row.facts.id);
    std::size_t kept = 0, known = 0, unknown = 0;
    for (const graded::RatingFolder& folder : folders)
        for (std::size_t i = 0; i < folder.task().entries.size(); ++i) {
            const graded::RatingSheet& sheet = folder.sheet(i);
            const auto attempt = id_of.find(sheet.attempt_sha256);
            if (attempt == id_of.end()) {
                ++unknown;
                continue;
            }
            std::vector<records::Rating> all;
            for (const auto& [item, point] : sheet.points)
                all.push_back({"", attempt->second, "", item, point, std::nullopt, "", ""});
            for (const graded::RatingComment& comment : sheet.comments)
                all.push_back({"", attempt->second, "", "remark", std::nullopt, comment.at_s, comment.words, ""});
            const auto there = desk.store.ratings(desk.actor, attempt->second);
            for (const records::Rating& one : all) {
                const bool again = std::any_of(there.begin(), there.end(), [&](const records::Rating& old) {
                    return old.rater_id == desk.actor.account_id && old.item == one.item && old.point == one.point &&
                           old.moment_s == one.moment_s && old.comment == one.comment;
                });
                ++(again ? known : kept);
                if (!again) static_cast<void>(desk.store.add_rating(desk.actor, one));
            }
        }
    fmt::print("{}: {} points and remarks kept, {} there already, {} sheets of attempts that it does not have\n",
               desk.store.name(), kept, known, unknown);
}

int take_in(const RatingsArguments& a) {
    std::vector<graded::RatingFolder> folders;
    std::set<std::string> raters;
    for (const std::string& place : a.places) {
        folders.emplace_back(place);
        const graded::RatingTask& task = folders.back().task();
        if (!raters.insert(task.rater).second) throw files::FileError(place, "rater", task.rater, "each rater once");
        fmt::print("{}: {} of {} rated\n", task.rater, folders.back().complete(), task.entries.size());
    }
    std::sort(folders.begin(), folders.end(),
              [](const auto& x, const auto& y) { return x.task().rater < y.task().rater; });
    if (!a.csv.empty()) write_csv(a.csv, {"attempt", "rater", "item", "point", "at_s", "remark"}, long_rows(folders));
    if (!a.marks.empty()) write_marks(a, folders);
    if (a.use_records) {
        if (folders.size() != 1)
            throw sim::InputError("--into-records", fmt::format("{} folders", folders.size()),
                                  "one, of the rater who logs in with --as");
        put_into_store(a, folders);
    }
    return 0;
}

}  // namespace

Run add_ratings(CLI::App& app) {
    const auto a = std::make_shared<RatingsArguments>();
    CLI::App* command = app.add_subcommand("ratings", "ratings by people who see neither name nor score");
    command->require_subcommand(1);
    const auto with_store = [a](CLI::App* part) {
        part->add_option("--records", a->records.place, "a file or postgresql:// URL; else that of this user");
        part->add_option("--as", a->records.as, "log in as");
        part->add_option("--passphrase-file", a->records.passphrase_file, "of --as; - is standard input");
    };
    CLI::App* out = command->add_subcommand("hand-out", "a folder for each rater, with codes for names");
    out->add_option("attempts", a->places, "attempts, or folders of them");
    out->add_option("--raters", a->raters, "letters or logins, with commas")->delimiter(',')->required();
    out->add_option("--each", a->each, "raters for each attempt")->check(CLI::Range(1, 7));
    out->add_option("--seed", a->seed, "of the lot; else drawn");
    out->add_option("--out", a->out, "a folder in which each rater's is made")->required();
    out->add_flag("--from-records", a->use_records, "finished attempts of a store, too");
    out->add_option("--scenario", a->records.scenario, "of a store: this scenario alone");
    with_store(out);
    CLI::App* in = command->add_subcommand("take-in", "what raters gave");
    in->add_option("folders", a->places, "raters' folders")->required();
    in->add_option("--csv", a->csv, "every point and remark");
    in->add_option("--marks", a->marks, "attempts by raters, for pk statistics");
    std::vector<std::string> keys;
    for (const graded::RatingItem& item : graded::rating_items()) keys.emplace_back(item.key);
    in->add_option("--item", a->item, "marks of this item alone; else the mean of all")->check(CLI::IsMember(keys));
    in->add_flag("--into-records", a->use_records, "keep them in a store, as the one who logs in");
    with_store(in);
    return [a, out] { return out->parsed() ? hand_out(*a) : take_in(*a); };
}

}  // namespace pk
