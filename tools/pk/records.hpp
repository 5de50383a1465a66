#pragma once

#include <functional>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "engine/records/board.hpp"
#include "engine/records/regrade.hpp"
#include "engine/records/store.hpp"
#include "tools/pk/commands.hpp"

/// What the parts of pk records share.

namespace pk {

/// Of every part; each reads those that it offers.
struct RecordsArguments {
    std::string place;            ///< --records; empty: records.db in the data folder
    std::string as;               ///< --as: a login; empty: whoever may open the database, as a lead
    std::string passphrase_file;  ///< of --as; "-": standard input; empty: asked for at the terminal
    bool json = false;

    std::vector<std::string> files;
    std::string learner, new_learner, what, id, out, login, role, new_passphrase_file, audit_head;
    std::string scenario, mode, from, to;
    std::string lrs, lrs_user, lrs_password_file, home_page = "https://planekeeper.example/learners";
    std::string format = "archive";
    bool yes = false;
    std::string job, session, csv, pdf, reason;
    double share = 0.0;  ///< a pass mark, of the points
    std::int64_t passes = records::BoardRules{}.passes;
    int jobs = 1;
    std::int64_t lease_s = records::RegradeSettings{}.lease_s;
};

/// The store that was asked for, and who acts.
struct Desk {
    records::Store store;
    records::Actor actor;
};
[[nodiscard]] std::string place_or_default(const RecordsArguments& arguments);
[[nodiscard]] Desk open_desk(const RecordsArguments& arguments);

/// A pass phrase from the first line of a file, standard input ("-"), or the terminal ("").
/// @throws RecordsError where there is none
[[nodiscard]] std::string read_passphrase(const std::string& file, const std::string& prompt);

[[nodiscard]] nlohmann::ordered_json json_of(const records::AttemptRow& row);

using RecordsRun = int (*)(const RecordsArguments&);
/// Adds one part under `records`, with the options that all of them have.
using AddPart = std::function<CLI::App*(const char* name, const char* meaning, RecordsRun run)>;

/// Back-ups, archives, tables, statements.
void add_records_transfer(const AddPart& add, const std::shared_ptr<RecordsArguments>& arguments);

/// Scoring what is kept anew.
void add_records_regrade(const AddPart& add, const std::shared_ptr<RecordsArguments>& arguments);

/// How a cohort stands.
void add_records_board(const AddPart& add, const std::shared_ptr<RecordsArguments>& arguments);

[[nodiscard]] records::AttemptFilter filter_of(Desk& desk, const RecordsArguments& arguments);

}  // namespace pk
