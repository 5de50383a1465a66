#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <functional>
#include <map>
#include <set>

#include "engine/files/crypto.hpp"
#include "engine/records/attempt_sql.hpp"
#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::int64_t kRowsAtOnce = 1000;

constexpr const char* kAuditColumns = "SELECT seq, at, actor, role, deed, subject, detail, deed_id, hash FROM audit";

/// "SEQ:HASH", taken apart.
struct Head {
    std::int64_t seq = 0;
    std::string hash;
};

Head head_of(const std::string& text) {
    Head head;
    const std::size_t colon = text.find(':');
    const char* end = text.data() + std::min(colon, text.size());
    const auto [at, error] = std::from_chars(text.data(), end, head.seq);
    if (colon != std::string::npos) head.hash = text.substr(colon + 1);
    if (error != std::errc() || at != end || head.seq < 0 || head.hash.size() != 64)
        throw RecordsError(Fault::bad_input, "audit head", text, "NUMBER:HASH as an earlier check printed it");
    return head;
}

class Checker {
 public:
    Checker(StoreCore& core, CheckReport& report) : core_(core), report_(report) {}

    /// What cannot be read is a fault, and the other parts are looked at all the same.
    void part(const std::string& where, const std::function<void()>& look) {
        try {
            look();
        } catch (const RecordsError& error) {
            if (error.fault() != Fault::damaged && error.fault() != Fault::database) throw;
            add(where, error.what());
        }
    }

    void tables_and_counts() {
        report_.schema = schema_of(core_.database());
        for (const Table& table : tables()) {
            std::vector<std::string> expected;
            for (const Column& column : table.columns) expected.emplace_back(column.name);
            if (core_.database().columns(table.name) != expected)
                add(fmt::format("table {}", table.name), "its columns are not those of this schema");
        }
        for (const std::string& fault : core_.database().integrity_faults()) add("database", fault);
        report_.learners = count("learners");
        report_.attempts = count("attempts");
        report_.audit_rows = count("audit");
    }

    void trail(const std::string& audit_head) {
        const Head known = audit_head.empty() ? Head{} : head_of(audit_head);
        AuditRow before{0, {}, {}, {}, {}, {}, {}, {}, std::string(64, '0')};
        bool seen = known.seq == 0;
        while (true) {
            const Rows rows = core_.run(std::string(kAuditColumns) + " WHERE seq > $1 ORDER BY seq LIMIT $2",
                                        {before.seq, kRowsAtOnce});
            if (rows.empty()) break;
            for (const Row& raw : rows) {
                AuditRow row = audit_row_of(raw);
                link(before, row);
                note_attempts(row);
                if (row.seq == known.seq) {
                    seen = true;
                    if (row.hash != known.hash)
                        add(fmt::format("audit row {}", row.seq), "not the one that the given head names");
                }
                before = std::move(row);
            }
        }
        if (!seen) add(fmt::format("audit row {}", known.seq), "removed: the given head names it");
        head(before);
    }

    void attempts() {
        const Rows ids = core_.run("SELECT id FROM attempts ORDER BY id");
        for (const Row& row : ids) attempt(text_of(row[0], "attempts.id"));
        // what is left are attempts that the trail tells of and the table does not hold
        for (const auto& [id, detail] : kept_)
            if (!erased_.contains(detail.substr(detail.find(' ') + 1)))
                add("attempt " + id, "removed: the trail says that it was kept, and not that its learner was erased");
    }

    void handed_in() {
        for (const Row& row : core_.run("SELECT content_hash FROM handed_in ORDER BY content_hash")) {
            const std::string& hash = text_of(row[0], "handed_in.content_hash");
            const Rows one = core_.run("SELECT content FROM handed_in WHERE content_hash = $1", {hash});
            if (!one.empty() && files::hex(files::sha256(bytes_of(one[0][0], "handed_in.content"))) != hash)
                add("handed in " + hash, "its bytes do not have the hash that is kept of them");
        }
    }

 private:
    void add(std::string where, std::string what) { report_.faults.push_back({std::move(where), std::move(what)}); }

    [[nodiscard]] std::int64_t count(std::string_view table) {
        return integer_of(core_.run(fmt::format("SELECT count(*) FROM {}", table))[0][0], "count");
    }

    void link(const AuditRow& before, const AuditRow& row) {
        if (row.seq != before.seq + 1) {
            const bool one = row.seq == before.seq + 2;
            add(one ? fmt::format("audit row {}", before.seq + 1)
                    : fmt::format("audit rows {} to {}", before.seq + 1, row.seq - 1),
                "removed");
            return;  // its link cannot be told without them
        }
        if (audit_hash(before.hash, row) != row.hash)
            add(fmt::format("audit row {}", row.seq),
                fmt::format("edited, or row {} before it was edited with its hash", before.seq));
    }

    void note_attempts(const AuditRow& row) {
        if (row.deed == kAttemptKept || row.deed == kAttemptWentOn) kept_[row.subject] = row.detail;
        if (row.deed == kLearnerErased) erased_.insert(row.subject);
    }

    void head(const AuditRow& last) {
        const Rows rows = core_.run("SELECT seq, hash FROM audit_head WHERE one = 1");
        if (rows.empty()) return add("audit head", "removed");
        const std::int64_t seq = integer_of(rows[0][0], "audit_head.seq");
        const std::string& hash = text_of(rows[0][1], "audit_head.hash");
        report_.audit_head = fmt::format("{}:{}", seq, hash);
        if (seq > last.seq)
            add(seq == last.seq + 1 ? fmt::format("audit row {}", seq)
                                    : fmt::format("audit rows {} to {}", last.seq + 1, seq),
                "removed");
        else if (seq < last.seq || hash != last.hash)
            add("audit head",
                fmt::format("it names row {} and another hash than the last row, {}, has", seq, last.seq));
    }

    void attempt(const std::string& id) {
        const std::string where = "attempt " + id;
        try {
            look_at(where, id);
        } catch (const RecordsError& error) {
            if (error.passing()) throw;
            add(where, error.what());
        }
        kept_.erase(id);
    }

    void look_at(const std::string& where, const std::string& id) {
        const Rows rows =
            core_.run(std::string("SELECT ") + kAttemptColumns + ", content FROM attempts WHERE id = $1", {id});
        if (rows.empty()) return;
        AttemptRow kept = attempt_row_of(rows[0]);
        kept.facts.headings = headings_of(core_, id);
        const AttemptFacts is = facts_of(bytes_of(rows[0].back(), "attempts.content"), where);
        for (std::string& what : differences(kept.facts, is)) add(where, std::move(what));
        const auto told = kept_.find(id);
        if (told == kept_.end())
            add(where, "the trail does not say that it was kept");
        else if (told->second != kept_detail(is.content_hash, kept.learner_id))
            add(where, "not the file, or not the learner, that the trail says were kept");
        const Rows owner = core_.run("SELECT learner_id FROM learner_keys WHERE fingerprint = $1", {is.learner_key});
        if (owner.empty() || text_of(owner[0][0], "learner_keys.learner_id") != kept.learner_id)
            add(where, "its learner does not have the key that signed it");
    }

    StoreCore& core_;
    CheckReport& report_;
    std::map<std::string, std::string> kept_;  // by attempt, what the trail says of it last
    std::set<std::string> erased_;             // learners
};

}  // namespace

std::vector<AuditRow> Store::audit(const Actor& actor, std::int64_t from_seq, std::int64_t most) {
    need_role(actor, Role::lead, "read the audit trail");
    std::vector<AuditRow> out;
    core_->read([&] {
        out.clear();
        for (const Row& row :
             core_->run(std::string(kAuditColumns) + " WHERE seq >= $1 ORDER BY seq LIMIT $2", {from_seq, most}))
            out.push_back(audit_row_of(row));
    });
    return out;
}

CheckReport Store::check(const Actor& actor, const std::string& audit_head) {
    need_role(actor, Role::lead, "check the store");
    CheckReport report;
    core_->read([&] {
        report = {};
        Checker checker(*core_, report);
        checker.part("database", [&] { checker.tables_and_counts(); });
        checker.part("audit trail", [&] { checker.trail(audit_head); });
        checker.part("attempts", [&] { checker.attempts(); });
        checker.part("handed in", [&] { checker.handed_in(); });
    });
    return report;
}

}  // namespace records
