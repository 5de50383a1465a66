#include "tools/pk/records.hpp"

#include <fmt/format.h>
#include <termios.h>
#include <unistd.h>

#include <iostream>

#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "engine/files/scenario.hpp"
#include "engine/files/verify.hpp"
#include "engine/records/records_error.hpp"
#include "engine/report/score_text.hpp"

/// pk records: learners, accounts and attempts of a school, at the desk.

namespace pk {

namespace {

using nlohmann::ordered_json;
using records::RecordsError;

void print(const ordered_json& json) { fmt::print("{}\n", json.dump()); }

int make_store(const RecordsArguments& a) {
    const records::Store store = records::Store::create(place_or_default(a));
    fmt::print("records are kept in {}\n", store.name());
    return 0;
}

/// Whose attempts are put in: a learner named, a new one, or whoever has the key.
std::string whose(Desk& desk, const RecordsArguments& a) {
    if (!a.new_learner.empty()) return desk.store.add_learner(desk.actor, a.new_learner);
    if (a.learner.empty()) return "";
    return desk.store.learner(desk.actor, a.learner).id;
}

int add_attempts(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    std::string learner = whose(desk, a);
    ordered_json list = ordered_json::array();
    int refused = 0;
    static constexpr std::array kWords{"kept", "already kept", "kept in place of its unfinished part"};
    for (const std::string& file : a.files) {
        try {
            const auto put =
                desk.store.put_attempt(desk.actor, records::sealed_bytes(file, files::ledger_path()), file, learner);
            const char* words = kWords[static_cast<std::size_t>(put.kept)];
            if (a.json)
                list.push_back(
                    {{"file", file}, {"attempt", put.attempt_id}, {"learner", put.learner_id}, {"state", words}});
            else
                fmt::print("{}: {}: attempt {} of learner {}\n", file, words, put.attempt_id, put.learner_id);
        } catch (const std::exception& error) {
            ++refused;  // the others are put in all the same
            if (a.json) list.push_back({{"file", file}, {"state", "refused"}, {"why", error.what()}});
            fmt::print(stderr, "pk: {}\n", error.what());
        }
    }
    if (a.json) print(list);
    return refused == 0 ? 0 : 1;
}

void list_attempts(Desk& desk, const RecordsArguments& a) {
    const auto rows = desk.store.attempts(desk.actor, filter_of(desk, a));
    ordered_json list = ordered_json::array();
    for (const auto& row : rows) {
        const auto& f = row.facts;
        if (a.json)
            list.push_back(json_of(row));
        else
            fmt::print("{}  {}  {:<22} {:<8} {:<10} {:6.1f} of {:6.1f}  {}\n", f.id, f.started_at, f.scenario, f.mode,
                       f.finished ? f.verdict : "unfinished", f.points, f.of, row.learner_id);
    }
    if (a.json)
        print(list);
    else
        fmt::print("{} attempts\n{}\n", rows.size(), report::caution_text());
}

void list_learners(Desk& desk, const RecordsArguments& a) {
    ordered_json list = ordered_json::array();
    for (const auto& learner : desk.store.learners(desk.actor)) {
        if (a.json)
            list.push_back(
                {{"id", learner.id}, {"name", learner.name}, {"added_at", learner.added_at}, {"keys", learner.keys}});
        else
            fmt::print("{}  {}  {} keys  {}\n", learner.id, learner.added_at, learner.keys.size(), learner.name);
    }
    if (a.json) print(list);
}

void list_audit(Desk& desk, const RecordsArguments& a) {
    ordered_json list = ordered_json::array();
    for (std::int64_t from = 1;;) {
        const auto rows = desk.store.audit(desk.actor, from, 1000);
        if (rows.empty()) break;
        for (const auto& row : rows) {
            if (a.json)
                list.push_back({{"seq", row.seq},
                                {"at", row.at},
                                {"actor", row.actor},
                                {"role", row.role},
                                {"deed", row.deed},
                                {"subject", row.subject},
                                {"detail", row.detail},
                                {"hash", row.hash}});
            else
                fmt::print("{:6}  {}  {} ({}): {} {} {}\n", row.seq, row.at, row.actor, row.role, row.deed, row.subject,
                           row.detail);
        }
        from = rows.back().seq + 1;
    }
    if (a.json) print(list);
}

void list_sessions(Desk& desk, const RecordsArguments& a) {
    ordered_json list = ordered_json::array();
    for (const auto& session : desk.store.sessions(desk.actor)) {
        ordered_json scenarios = ordered_json::array();
        for (const auto& one : session.scenarios) scenarios.push_back({{"scenario", one.scenario}, {"seed", one.seed}});
        if (a.json)
            list.push_back({{"id", session.id},
                            {"title", session.title},
                            {"opened_at", session.opened_at},
                            {"scenarios", scenarios}});
        else
            fmt::print("{}  {}  {} scenarios  {}\n", session.id, session.opened_at, session.scenarios.size(),
                       session.title);
    }
    if (a.json) print(list);
}

void list_pass_marks(Desk& desk, const RecordsArguments& a) {
    ordered_json list = ordered_json::array();
    for (const auto& mark : desk.store.pass_marks(desk.actor)) {
        if (a.json)
            list.push_back({{"scenario", mark.scenario},
                            {"version", mark.version},
                            {"mark", mark.mark},
                            {"reason", mark.reason},
                            {"decided_at", mark.decided_at}});
        else
            fmt::print("{} version {}  {}  {:.1f} %  {}\n", mark.scenario, mark.version, mark.decided_at,
                       100.0 * mark.mark, mark.reason);
    }
    if (a.json) print(list);
}

/// A pass mark is a decision: dated, with its reason, and by version, so that what was decided before stays known.
int decide_mark(const RecordsArguments& a) {
    const std::filesystem::path file = files::find_scenario(a.scenario);
    const files::LoadedScenario loaded = files::load_scenario(file);
    Desk desk = open_desk(a);
    const records::PassMark mark = desk.store.add_pass_mark(
        desk.actor,
        {.scenario = loaded.source.id, .scenario_hash = loaded.source.hash, .mark = a.share, .reason = a.reason});
    if (a.json)
        print({{"scenario", mark.scenario},
               {"version", mark.version},
               {"mark", mark.mark},
               {"decided_at", mark.decided_at}});
    else
        fmt::print("{} version {}: {:.1f} % of the points, decided {}\n", mark.scenario, mark.version,
                   100.0 * mark.mark, mark.decided_at);
    return 0;
}

int list(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    if (a.what == "learners")
        list_learners(desk, a);
    else if (a.what == "audit")
        list_audit(desk, a);
    else if (a.what == "sessions")
        list_sessions(desk, a);
    else if (a.what == "marks")
        list_pass_marks(desk, a);
    else
        list_attempts(desk, a);
    return 0;
}

int show(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    if (!a.out.empty()) {
        files::write_atomically(a.out, desk.store.attempt_bytes(desk.actor, a.id));
        fmt::print("{}\n", a.out);
        return 0;
    }
    const auto row = desk.store.attempt(desk.actor, a.id);
    const auto ratings = desk.store.ratings(desk.actor, a.id);
    ordered_json json = json_of(row);
    ordered_json rated = ordered_json::array();
    for (const auto& rating : ratings)
        rated.push_back({{"item", rating.item},
                         {"point", rating.point ? ordered_json(*rating.point) : ordered_json()},
                         {"moment_s", rating.moment_s ? ordered_json(*rating.moment_s) : ordered_json()},
                         {"comment", rating.comment},
                         {"rater", rating.rater_id},
                         {"rated_at", rating.rated_at}});
    json["ratings"] = rated;
    if (a.json) {
        print(json);
        return 0;
    }
    for (const auto& [key, value] : json.items())
        if (!value.is_structured())
            fmt::print("{:<16} {}\n", key, value.is_string() ? value.get<std::string>() : value.dump());
    for (const auto& heading : row.facts.headings)
        fmt::print("  {:<24} {:6.1f} of {:6.1f}\n", heading.heading, heading.points, heading.of);
    for (const auto& rating : ratings)
        fmt::print("  rated: {}: {}{}\n", rating.item, rating.point ? std::to_string(*rating.point) + " " : "",
                   rating.comment);
    fmt::print("{}\n", report::caution_text());
    return 0;
}

int check(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    const auto result = desk.store.check(desk.actor, a.audit_head);
    if (a.json) {
        ordered_json faults = ordered_json::array();
        for (const auto& fault : result.faults) faults.push_back({{"where", fault.where}, {"what", fault.what}});
        print({{"records", desk.store.name()},
               {"schema", result.schema},
               {"learners", result.learners},
               {"attempts", result.attempts},
               {"audit_rows", result.audit_rows},
               {"audit_head", result.audit_head},
               {"faults", faults}});
    } else {
        fmt::print("{}: schema {}, {} learners, {} attempts, {} rows of the audit trail: {}\n", desk.store.name(),
                   result.schema, result.learners, result.attempts, result.audit_rows,
                   result.faults.empty() ? "in order" : fmt::format("{} faults", result.faults.size()));
        for (const auto& fault : result.faults) fmt::print("  {}: {}\n", fault.where, fault.what);
        fmt::print("  audit head {}\n", result.audit_head);
    }
    return result.faults.empty() ? 0 : 1;
}

int add_learner(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    const std::string id = desk.store.add_learner(desk.actor, a.new_learner);
    if (a.json)
        print({{"id", id}, {"name", a.new_learner}});
    else
        fmt::print("{}\n", id);
    return 0;
}

int erase(const RecordsArguments& a) {
    if (!a.yes)
        throw RecordsError(records::Fault::bad_input, "erase", "it cannot be undone",
                           "--yes; pk records export --learner keeps a copy");
    Desk desk = open_desk(a);
    const auto learner = desk.store.learner(desk.actor, a.learner);
    const std::int64_t gone = desk.store.erase_learner(desk.actor, learner.id);
    fmt::print("learner {} and {} attempts are erased; back-ups and archives made before still hold them\n", learner.id,
               gone);
    return 0;
}

int add_account(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    const std::string learner = a.learner.empty() ? "" : desk.store.learner(desk.actor, a.learner).id;
    const std::string id =
        desk.store.add_account(desk.actor, a.login, records::role_named(a.role), learner,
                               read_passphrase(a.new_passphrase_file, "new pass phrase of " + a.login + ": "));
    fmt::print("{}\n", id);
    return 0;
}

int list_accounts(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    ordered_json out = ordered_json::array();
    for (const auto& account : desk.store.accounts(desk.actor)) {
        if (a.json)
            out.push_back({{"id", account.id},
                           {"login", account.login},
                           {"role", records::name_of(account.role)},
                           {"learner", account.learner_id},
                           {"wrong_tries", account.wrong_tries},
                           {"locked_until_s", account.locked_until_s},
                           {"added_at", account.added_at}});
        else
            fmt::print("{}  {:<10} {:<24} {} wrong tries {}\n", account.id, records::name_of(account.role),
                       account.login, account.wrong_tries, account.learner_id);
    }
    if (a.json) print(out);
    return 0;
}

int set_passphrase(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    desk.store.set_passphrase(desk.actor, a.login,
                              read_passphrase(a.new_passphrase_file, "new pass phrase of " + a.login + ": "));
    return 0;
}

int unlock(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    desk.store.unlock(desk.actor, a.login);
    return 0;
}

int set_role(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    desk.store.set_role(desk.actor, a.login, records::role_named(a.role));
    return 0;
}

int remove_account(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    desk.store.remove_account(desk.actor, a.login);
    return 0;
}

}  // namespace

records::AttemptFilter filter_of(Desk& desk, const RecordsArguments& a) {
    records::AttemptFilter filter{.scenario = a.scenario, .mode = a.mode, .from = a.from, .to = a.to};
    if (!a.learner.empty()) filter.learner_id = desk.store.learner(desk.actor, a.learner).id;
    return filter;
}

std::string place_or_default(const RecordsArguments& arguments) {
    return arguments.place.empty() ? (files::all_learners_folder() / "records.db").string() : arguments.place;
}

std::string read_passphrase(const std::string& file, const std::string& prompt) {
    std::string line;
    if (!file.empty() && file != "-") {
        line = files::read_bytes(file, 4096);
        line.erase(std::min(line.find('\n'), line.size()));
    } else if (file == "-" || isatty(STDIN_FILENO) == 0) {
        std::getline(std::cin, line);
    } else {
        fmt::print(stderr, "{}", prompt);
        termios shown{};
        tcgetattr(STDIN_FILENO, &shown);
        termios hidden = shown;
        hidden.c_lflag &= ~static_cast<tcflag_t>(ECHO);
        tcsetattr(STDIN_FILENO, TCSAFLUSH, &hidden);
        std::getline(std::cin, line);
        tcsetattr(STDIN_FILENO, TCSAFLUSH, &shown);
        fmt::print(stderr, "\n");
    }
    if (line.empty()) throw RecordsError(records::Fault::bad_input, "pass phrase", "nothing was given", "one line");
    return line;
}

Desk open_desk(const RecordsArguments& arguments) {
    records::Store store = records::Store::open(place_or_default(arguments));
    if (arguments.as.empty()) return {std::move(store), records::desk_actor()};
    const std::string passphrase = read_passphrase(arguments.passphrase_file, "pass phrase of " + arguments.as + ": ");
    records::Actor actor = store.log_in(arguments.as, passphrase);
    return {std::move(store), std::move(actor)};
}

ordered_json json_of(const records::AttemptRow& row) {
    const auto& f = row.facts;
    ordered_json headings = ordered_json::object();
    for (const auto& heading : f.headings) headings[heading.heading] = {{"points", heading.points}, {"of", heading.of}};
    return {{"attempt", f.id},
            {"learner", row.learner_id},
            {"learner_key", f.learner_key},
            {"scenario", f.scenario},
            {"scenario_hash", f.scenario_hash},
            {"mode", f.mode},
            {"seed", f.seed},
            {"devices", f.devices},
            {"aids_asked", f.aids_asked},
            {"started_at", f.started_at},
            {"steps", f.steps},
            {"finished", f.finished},
            {"verdict", f.verdict},
            {"points", f.points},
            {"of", f.of},
            {"scoring_version", f.scoring_version},
            {"program_version", f.program_version},
            {"content_hash", f.content_hash},
            {"added_at", row.added_at},
            {"headings", headings}};
}

Run add_records(CLI::App& app) {
    const auto a = std::make_shared<RecordsArguments>();
    const auto run = std::make_shared<RecordsRun>();
    CLI::App* command = app.add_subcommand("records", "learners, accounts and attempts that a school keeps");
    command->require_subcommand(1);
    const auto add = [a, run](CLI::App& under, const char* name, const char* meaning, RecordsRun what) {
        CLI::App* part = under.add_subcommand(name, meaning);
        part->add_option("--records", a->place,
                         "a file, or postgresql://...; by default records.db in the data folder");
        part->callback([run, what] { *run = what; });
        return part;
    };
    const auto actor = [a](CLI::App* part) {
        part->add_option("--as", a->as, "act as this login; otherwise as a lead, like whoever may open the database");
        part->add_option("--passphrase-file", a->passphrase_file,
                         "its pass phrase is the first line; -: standard input");
        part->add_flag("--json", a->json, "print figures for programs");
        return part;
    };
    const auto part = [&](const char* name, const char* meaning, RecordsRun what) {
        return actor(add(*command, name, meaning, what));
    };

    add(*command, "init", "make a new store", make_store);
    CLI::App* put = part("add", "put attempts in; the same one twice is one", add_attempts);
    put->add_option("files", a->files, "the attempts")->required();
    put->add_option("--learner", a->learner, "whose they are, by id or name; otherwise whose key signed them");
    put->add_option("--new-learner", a->new_learner, "whose they are: somebody new, of this name")
        ->excludes("--learner");
    CLI::App* listed = part("list", "attempts, learners, audit, sessions or marks", list);
    listed->add_option("what", a->what, "attempts, learners, audit, sessions or marks")
        ->check(CLI::IsMember({"attempts", "learners", "audit", "sessions", "marks"}));
    listed->add_option("--learner", a->learner, "attempts of this learner, by id or name");
    listed->add_option("--scenario", a->scenario, "attempts at this scenario");
    listed->add_option("--mode", a->mode, "coached, solo or graded")
        ->check(CLI::IsMember({"coached", "solo", "graded"}));
    listed->add_option("--from", a->from, "attempts begun then or later, 2026-03-01T00:00:00Z");
    listed->add_option("--to", a->to, "attempts begun before");
    CLI::App* shown = part("show", "one attempt, or its file with --out", show);
    shown->add_option("attempt", a->id, "its id")->required();
    shown->add_option("--out", a->out, "write the attempt's file there, byte for byte");
    CLI::App* checked = part("check", "database, attempts and audit trail; every fault is named", check);
    checked->add_option("--audit-head", a->audit_head, "as an earlier check printed it: the trail must still hold it");
    part("learner", "add a learner", add_learner)->add_option("name", a->new_learner, "their name")->required();
    CLI::App* marked = part("mark", "decide a scenario's pass mark: the newest holds, earlier ones stay", decide_mark);
    marked->add_option("scenario", a->scenario, "name of a scenario, or a file")->required();
    marked->add_option("--share", a->share, "of the points, 0 to 1")->required()->check(CLI::Range(0.0, 1.0));
    marked->add_option("--reason", a->reason, "who decided, by what method, on how many attempts")->required();
    CLI::App* erased = part("erase", "remove a learner and all that is theirs", erase);
    erased->add_option("learner", a->learner, "by id or name")->required();
    erased->add_flag("--yes", a->yes, "really: it cannot be undone");

    add_records_transfer(part, a);
    add_records_regrade(part, a);
    add_records_board(part, a);

    CLI::App* account = command->add_subcommand("account", "log-ins and roles");
    account->require_subcommand(1);
    const auto account_part = [&](const char* name, const char* meaning, RecordsRun what, bool login) {
        CLI::App* made = actor(add(*account, name, meaning, what));
        if (login) made->add_option("login", a->login, "the log-in")->required();
        return made;
    };
    CLI::App* added = account_part("add", "a new account", add_account, true);
    added->add_option("--role", a->role, "learner, instructor or lead")->required();
    added->add_option("--learner", a->learner, "whose results a learner's account may see, by id or name");
    added->add_option("--new-passphrase-file", a->new_passphrase_file,
                      "its pass phrase is the first line; -: standard input");
    account_part("list", "all accounts", list_accounts, false);
    account_part("passphrase", "set a pass phrase", set_passphrase, true)
        ->add_option("--new-passphrase-file", a->new_passphrase_file,
                     "the new pass phrase is the first line; -: standard input");
    account_part("unlock", "forget the wrong tries", unlock, true);
    account_part("role", "between instructor and lead", set_role, true)
        ->add_option("role", a->role, "instructor or lead")
        ->required();
    account_part("remove", "remove an account; the learner's results stay", remove_account, true);
    return [a, run] { return (*run)(*a); };
}

}  // namespace pk
