#include <fmt/format.h>

#include <filesystem>

#include "engine/files/bytes.hpp"
#include "engine/records/archive.hpp"
#include "engine/records/csv_tables.hpp"
#include "engine/records/lrs.hpp"
#include "engine/records/records_error.hpp"
#include "engine/records/xapi.hpp"
#include "tools/pk/records.hpp"

/// pk records: what goes out of a store and comes into it.

namespace pk {

namespace {

using nlohmann::ordered_json;

void print_archive(const RecordsArguments& a, const std::string& file, const records::ArchiveReport& report) {
    if (a.json)
        fmt::print("{}\n", ordered_json{{"file", file},
                                        {"schema", report.schema},
                                        {"rows", report.rows},
                                        {"attempts", report.attempts},
                                        {"sha256", report.sha256}}
                               .dump());
    else
        fmt::print("{}: {} rows, {} attempts, sha256 {}\n", file, report.rows, report.attempts, report.sha256);
}

int back_up(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    records::back_up(desk.store, desk.actor, place_or_default(a), a.out);
    fmt::print("{} is backed up in {}\n", desk.store.name(), a.out);
    return 0;
}

/// Opens the store, or makes it where there is none: what is restored needs an empty one.
int restore(const RecordsArguments& a) {
    try {
        static_cast<void>(records::Store::create(place_or_default(a)));
    } catch (const records::RecordsError& error) {
        if (error.fault() != records::Fault::conflict) throw;  // one is there
    }
    Desk desk = open_desk(a);
    print_archive(a, desk.store.name(), records::restore(desk.store, desk.actor, a.files.at(0)));
    return 0;
}

int import(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    print_archive(a, desk.store.name(), records::import_archive(desk.store, desk.actor, a.files.at(0)));
    return 0;
}

int export_tables(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    const auto tables = records::csv_tables(desk.store, desk.actor, filter_of(desk, a));
    std::filesystem::create_directories(a.out);
    for (const auto& [name, text] : tables) {
        const std::string file = (std::filesystem::path(a.out) / name).string();
        files::write_atomically(file, text, 0600);
        fmt::print("{}\n", file);
    }
    return 0;
}

int export_statements(const RecordsArguments& a) {
    Desk desk = open_desk(a);
    ordered_json list = ordered_json::array();
    for (const auto& row : desk.store.attempts(desk.actor, filter_of(desk, a)))
        list.push_back(records::statement_of(row, {a.home_page}));
    files::write_atomically(a.out, list.dump(1) + "\n", 0600);
    fmt::print("{}: {} statements\n", a.out, list.size());
    return 0;
}

int export_records(const RecordsArguments& a) {
    if (a.format == "csv") return export_tables(a);
    if (a.format == "xapi") return export_statements(a);
    Desk desk = open_desk(a);
    const auto report =
        a.learner.empty() && desk.actor.role != records::Role::learner
            ? records::write_archive(desk.store, desk.actor, a.out)
            : records::write_learner_archive(
                  desk.store, desk.actor,
                  a.learner.empty() ? desk.actor.learner_id : desk.store.learner(desk.actor, a.learner).id, a.out);
    print_archive(a, a.out, report);
    return 0;
}

int send(const RecordsArguments& a) {
    records::LrsSettings settings;
    settings.endpoint = a.lrs;
    settings.user = a.lrs_user;
    if (!settings.user.empty())
        settings.password = read_passphrase(a.lrs_password_file, "pass word of " + a.lrs_user + ": ");
    Desk desk = open_desk(a);
    const records::SendReport report =
        records::send_statements(desk.store, desk.actor, filter_of(desk, a), {a.home_page}, settings);
    if (a.json)
        fmt::print("{}\n", ordered_json{{"sent", report.sent},
                                        {"already", report.already},
                                        {"requests", report.requests},
                                        {"refused", report.refused}}
                               .dump());
    else
        fmt::print("{}: {} sent, {} were there already, {} refused\n", a.lrs, report.sent, report.already,
                   report.refused.size());
    for (const std::string& why : report.refused) fmt::print(stderr, "pk: not taken: {}\n", why);
    return report.refused.empty() ? 0 : 1;
}

void add_filter(CLI::App* part, const std::shared_ptr<RecordsArguments>& a) {
    part->add_option("--learner", a->learner, "only this learner, by id or name");
    part->add_option("--scenario", a->scenario, "only attempts at this scenario");
    part->add_option("--from", a->from, "only attempts begun then or later, 2026-03-01T00:00:00Z");
    part->add_option("--to", a->to, "only attempts begun before");
}

}  // namespace

void add_records_transfer(const AddPart& add, const std::shared_ptr<RecordsArguments>& a) {
    add("backup", "copy the store while others write to it", back_up)
        ->add_option("--out", a->out, "a new file")
        ->required();
    add("restore", "bring a back-up into a new or empty store", restore)
        ->add_option("backup", a->files, "the back-up, or a full archive")
        ->required()
        ->expected(1);
    CLI::App* exported =
        add("export", "an archive of everything or of one learner, tables, or statements", export_records);
    exported->add_option("--format", a->format, "archive, csv or xapi")
        ->check(CLI::IsMember({"archive", "csv", "xapi"}));
    exported->add_option("--out", a->out, "a new file; for csv a folder")->required();
    exported->add_option("--home-page", a->home_page, "for xapi: address of the system that the learners' ids are of");
    add_filter(exported, a);
    add("import", "bring in an archive: a full one into an empty store, a learner's beside what is there", import)
        ->add_option("archive", a->files, "the archive")
        ->required()
        ->expected(1);
    CLI::App* sent = add("send", "send attempts as xAPI statements to a learning record store", send);
    sent->add_option("--lrs", a->lrs, "its address, before /statements")->required();
    sent->add_option("--lrs-user", a->lrs_user, "log-in there");
    sent->add_option("--lrs-password-file", a->lrs_password_file, "its pass word is the first line; -: standard input");
    sent->add_option("--home-page", a->home_page, "address of the system that the learners' ids are of");
    add_filter(sent, a);
}

}  // namespace pk
