#include "engine/records/archive.hpp"

#include <fmt/format.h>

#include <array>
#include <filesystem>

#include "engine/files/crypto.hpp"
#include "engine/records/archive_lines.hpp"
#include "engine/records/attempt_sql.hpp"
#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kRowsAtOnce = 500, kAttemptsAtOnce = 8;
constexpr std::string_view kSqliteMagic("SQLite format 3\0", 16);

std::string column_list(const Table& table) {
    std::string out;
    for (const Column& column : table.columns) out += (out.empty() ? "" : ", ") + std::string(column.name);
    return out;
}

std::string key_list(const Table& table) {
    std::string out(table.columns[0].name);
    if (table.keys == 2) out += ", " + std::string(table.columns[1].name);
    return out;
}

/// Rows of a table by key, a page at a time. @param condition with $1 as `learner_id`; empty: all
void each_row(StoreCore& core, const Table& table, const std::string& condition, const std::string& learner_id,
              const std::function<void(const Row&)>& each) {
    const bool heavy = table.name == "attempts";
    Row last;
    while (true) {
        std::vector<Value> values;
        std::string where = condition;
        if (!condition.empty()) values.emplace_back(learner_id);
        if (!last.empty()) {
            std::string after;
            for (std::size_t i = 0; i < table.keys; ++i) {
                values.push_back(last[i]);
                after += fmt::format("{}${}", i == 0 ? "" : ", ", values.size());
            }
            where += fmt::format("{}({}) > ({})", where.empty() ? "" : " AND ", key_list(table), after);
        }
        values.emplace_back(heavy ? kAttemptsAtOnce : kRowsAtOnce);
        const std::string sql =
            fmt::format("SELECT {} FROM {}{}{} ORDER BY {} LIMIT ${}", column_list(table), table.name,
                        where.empty() ? "" : " WHERE ", where, key_list(table), values.size());
        const Rows rows = core.database().run(sql, values);
        for (const Row& row : rows) each(row);
        if (rows.empty()) return;
        last = rows.back();
    }
}

ArchiveReport write(Store& store, ArchiveKind kind, const std::string& learner_id, const std::string& out) {
    StoreCore& core = store.core();
    ArchiveReport report;
    core.read([&] {
        const auto condition = [&](const Table& table) {
            return kind == ArchiveKind::full ? std::string() : std::string(table.learner_rows);
        };
        std::map<std::string, std::int64_t> counts;
        for (const Table& table : tables()) {
            const std::string where = condition(table);
            if (kind == ArchiveKind::learner && where.empty()) continue;
            std::vector<Value> values;
            if (!where.empty()) values.emplace_back(learner_id);
            const Rows count = core.database().run(
                fmt::format("SELECT count(*) FROM {}{}{}", table.name, where.empty() ? "" : " WHERE ", where), values);
            counts[std::string(table.name)] = integer_of(count[0][0], "count");
        }
        ArchiveWriter writer(out, kind, counts);
        for (const Table& table : tables())
            if (counts.contains(std::string(table.name)))
                each_row(core, table, condition(table), learner_id, [&](const Row& row) { writer.row(table, row); });
        report = writer.finish();
    });
    return report;
}

void insert(StoreCore& core, const Table& table, const Row& row, bool unless_there) {
    std::string places;
    for (std::size_t i = 1; i <= row.size(); ++i) places += fmt::format("{}${}", i == 1 ? "" : ", ", i);
    core.database().run(fmt::format("INSERT INTO {} ({}) VALUES ({}){}", table.name, column_list(table), places,
                                    unless_there ? " ON CONFLICT DO NOTHING" : ""),
                        row);
}

/// Column of a row by name.
const Value& at(const Table& table, const Row& row, std::string_view column) {
    for (std::size_t i = 0; i < row.size(); ++i)
        if (table.columns[i].name == column) return row[i];
    throw RecordsError(Fault::bad_archive, std::string(table.name), "no column " + std::string(column));
}

void need_same_hash(const Table& table, const Row& row) {
    const std::string hash = files::hex(files::sha256(bytes_of(at(table, row, "content"), "attempts.content")));
    if (text_of(at(table, row, "content_hash"), "attempts.content_hash") != hash)
        throw RecordsError(Fault::bad_archive, "attempt " + text_of(row[0], "attempts.id"),
                           "its file does not have the hash that is kept of it", hash);
}

void need_empty(StoreCore& core, const std::string& name) {
    for (const Table& table : tables()) {
        if (table.name == "audit_head") continue;
        const std::string made =
            table.name == "audit" ? " WHERE deed <> 'store made' AND deed <> 'schema changed'" : "";
        if (integer_of(core.run(fmt::format("SELECT count(*) FROM {}{}", table.name, made))[0][0], "count") > 0)
            throw RecordsError(Fault::conflict, name, fmt::format("{} is not empty", table.name),
                               "a store in which nothing was kept yet");
    }
}

void import_full(StoreCore& core, const std::string& file) {
    need_empty(core, core.database().name());
    core.run("DELETE FROM audit");
    core.run("DELETE FROM audit_head");
    static_cast<void>(read_archive(file, [&](const Table& table, const Row& row) {
        if (table.name == "attempts") need_same_hash(table, row);
        insert(core, table, row, false);
    }));
    if (core.run("SELECT one FROM audit_head").size() != 1)
        throw RecordsError(Fault::bad_archive, file, "no head of the audit trail", "a full archive");
}

void import_learner(StoreCore& core, const Actor& actor, const std::string& file) {
    std::string learner_id;
    std::int64_t attempts = 0;
    static_cast<void>(read_archive(file, [&](const Table& table, const Row& row) {
        if (table.learner_rows.empty())
            throw RecordsError(Fault::bad_archive, file, "rows of " + std::string(table.name), "what is one learner's");
        if (table.name == "learners") {
            if (!learner_id.empty()) throw RecordsError(Fault::bad_archive, file, "more than one learner", "one");
            learner_id = text_of(row[0], "learners.id");
        }
        if (table.name == "learner_keys") {
            const Rows owner = core.run("SELECT learner_id FROM learner_keys WHERE fingerprint = $1", {row[0]});
            if (text_of(row[1], "learner_keys.learner_id") != learner_id ||
                (!owner.empty() && text_of(owner[0][0], "learner_id") != learner_id))
                throw RecordsError(Fault::conflict, file,
                                   "the key " + text_of(row[0], "fingerprint") + " is another learner's here",
                                   "a key of one learner");
        }
        if (table.name == "attempts") {
            // as if it came from its file: what the columns say is worked out anew
            const std::string& bytes = bytes_of(at(table, row, "content"), "attempts.content");
            const std::string name = file + ", attempt " + text_of(row[0], "attempts.id");
            const PutResult put = put_within(core, actor, facts_of(bytes, name), bytes, name, learner_id);
            if (put.kept != Kept::already) ++attempts;
        } else if (table.name != "attempt_headings") {
            insert(core, table, row, true);
        }
    }));
    if (learner_id.empty()) throw RecordsError(Fault::bad_archive, file, "no learner", "one");
    core.note(actor, "learner brought in", learner_id, fmt::format("{} attempts", attempts));
}

}  // namespace

ArchiveReport write_archive(Store& store, const Actor& actor, const std::string& out) {
    need_role(actor, Role::lead, "write an archive");
    ArchiveReport report = write(store, ArchiveKind::full, "", out);
    store.core().write([&] { store.core().note(actor, "archive written", "", report.sha256); });
    return report;
}

ArchiveReport write_learner_archive(Store& store, const Actor& actor, const std::string& learner_id,
                                    const std::string& out) {
    need_own(actor, learner_id, "write a learner's archive");
    static_cast<void>(store.learner(actor, learner_id));
    ArchiveReport report = write(store, ArchiveKind::learner, learner_id, out);
    store.core().write([&] { store.core().note(actor, "learner's archive written", learner_id, report.sha256); });
    return report;
}

ArchiveReport check_archive(const std::string& file) {
    return read_archive(file, [](const Table& table, const Row& row) {
        if (table.name == "attempts") need_same_hash(table, row);
    });
}

ArchiveReport import_archive(Store& store, const Actor& actor, const std::string& file) {
    need_role(actor, Role::lead, "import an archive");
    ArchiveReport report = check_archive(file);
    StoreCore& core = store.core();
    core.write([&] {
        if (report.kind == ArchiveKind::full)
            import_full(core, file);
        else
            import_learner(core, actor, file);
    });
    return report;
}

void back_up(Store& store, const Actor& actor, const std::string& place, const std::string& out) {
    need_role(actor, Role::lead, "back up");
    if (store.kind() == Place::Kind::postgres) {
        static_cast<void>(write_archive(store, actor, out));
        return;
    }
    copy_sqlite(place_of(place), out);
    store.core().write([&] { store.core().note(actor, "backed up", ""); });
}

ArchiveReport restore(Store& store, const Actor& actor, const std::string& backup) {
    need_role(actor, Role::lead, "restore");
    std::string magic;
    {
        std::ifstream stream(backup, std::ios::binary);
        magic.resize(kSqliteMagic.size());
        stream.read(magic.data(), static_cast<std::streamsize>(magic.size()));
    }
    if (magic != kSqliteMagic) {
        const ArchiveReport report = check_archive(backup);
        if (report.kind != ArchiveKind::full)
            throw RecordsError(Fault::bad_archive, backup, "one learner's archive", "a back-up, or a full archive");
        return import_archive(store, actor, backup);
    }
    // a copy of it is opened, so that the back-up itself stays as it is
    struct Folder {
        fs::path path = fs::temp_directory_path() / ("planekeeper_restore_" + files::random_id());
        Folder() {
            fs::create_directory(path);
            fs::permissions(path, fs::perms::owner_all);
        }
        ~Folder() {
            std::error_code ignored;
            fs::remove_all(path, ignored);
        }
    } const folder;
    const std::string copy = (folder.path / "copy.db").string(), archive = (folder.path / "archive").string();
    copy_sqlite(place_of(backup), copy);
    Store source = Store::open(copy, store.core().options());
    static_cast<void>(write(source, ArchiveKind::full, "", archive));
    return import_archive(store, actor, archive);
}

}  // namespace records
