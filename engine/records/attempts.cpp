#include <fmt/format.h>

#include <map>

#include "engine/files/bytes.hpp"
#include "engine/records/attempt_sql.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

/// Whether `earlier`, an unfinished attempt, is what `later` begins with. A torn last line is not counted: going on
/// cuts it off.
bool begins_with(std::string_view later, std::string_view earlier) {
    const files::ChainLines chain = files::split_chain(earlier);
    return later.size() > chain.whole_bytes && later.starts_with(earlier.substr(0, chain.whole_bytes));
}

/// Whose the attempt is: the learner named, who gets its key, or the learner whose key it has.
std::string owner_of(StoreCore& core, const Actor& actor, const AttemptFacts& facts, const std::string& name,
                     const std::string& learner_id) {
    const Rows keys = core.run("SELECT learner_id FROM learner_keys WHERE fingerprint = $1", {facts.learner_key});
    const std::string by_key = keys.empty() ? std::string() : text_of(keys[0][0], "learner_keys.learner_id");
    if (learner_id.empty()) {
        if (by_key.empty() && actor.role == Role::learner) need_own(actor, "", "put in an attempt");
        if (by_key.empty())
            throw RecordsError(Fault::not_found, name, "nobody has the key " + facts.learner_key,
                               "an attempt of a learner's key, or naming the learner");
        return by_key;
    }
    if (by_key == learner_id) return by_key;
    if (!by_key.empty())
        throw RecordsError(Fault::conflict, name, "its key is another learner's", "that learner's attempts");
    need_role(actor, Role::instructor, "give a learner a key");
    if (core.run("SELECT id FROM learners WHERE id = $1", {learner_id}).empty())
        throw RecordsError(Fault::not_found, "learner " + learner_id, "there is none of this id");
    core.run("INSERT INTO learner_keys (fingerprint, learner_id, added_at) VALUES ($1, $2, $3)",
             {facts.learner_key, learner_id, core.now()});
    core.note(actor, "key added", learner_id);
    return learner_id;
}

}  // namespace

AttemptRow attempt_row_of(const Row& row) {
    AttemptRow out;
    AttemptFacts& facts = out.facts;
    std::size_t at = 0;
    const auto text = [&](std::string& to) { to = text_of(row[at++], "attempts"); };
    const auto whole = [&] { return integer_of(row[at++], "attempts"); };
    for (std::string* field : {&facts.id, &facts.content_hash, &out.learner_id, &facts.learner_key, &facts.scenario,
                               &facts.scenario_hash, &facts.rubric_hash, &facts.mode, &facts.seed, &facts.devices})
        text(*field);
    facts.aids_asked = whole();
    text(facts.started_at);
    facts.steps = whole();
    facts.finished = whole() == 1;
    text(facts.verdict);
    facts.points = number_of(row[at++], "attempts.points");
    facts.of = number_of(row[at++], "attempts.points_of");
    facts.scoring_version = whole();
    text(facts.program_version);
    text(out.added_at);
    return out;
}

std::vector<HeadingPoints> headings_of(StoreCore& core, const std::string& attempt_id) {
    std::vector<HeadingPoints> out;
    for (const Row& row :
         core.run("SELECT heading, points, points_of FROM attempt_headings WHERE attempt_id = $1 ORDER BY heading",
                  {attempt_id}))
        out.push_back({text_of(row[0], "heading"), number_of(row[1], "points"), number_of(row[2], "points_of")});
    return out;
}

void insert_attempt(StoreCore& core, const AttemptFacts& facts, const std::string& learner_id, std::string_view bytes,
                    const std::string& added_at) {
    core.run(std::string("INSERT INTO attempts (") + kAttemptColumns +
                 ", content) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, "
                 "$10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21)",
             {facts.id,
              facts.content_hash,
              learner_id,
              facts.learner_key,
              facts.scenario,
              facts.scenario_hash,
              facts.rubric_hash,
              facts.mode,
              facts.seed,
              facts.devices,
              facts.aids_asked,
              facts.started_at,
              facts.steps,
              std::int64_t{facts.finished ? 1 : 0},
              facts.verdict,
              facts.points,
              facts.of,
              facts.scoring_version,
              facts.program_version,
              added_at,
              Blob{std::string(bytes)}});
    for (const HeadingPoints& heading : facts.headings)
        core.run("INSERT INTO attempt_headings (attempt_id, heading, points, points_of) VALUES ($1, $2, $3, $4)",
                 {facts.id, heading.heading, heading.points, heading.of});
}

PutResult put_within(StoreCore& core, const Actor& actor, const AttemptFacts& facts, std::string_view bytes,
                     const std::string& name, const std::string& learner_id) {
    const std::string owner = owner_of(core, actor, facts, name, learner_id);
    need_own(actor, owner, "put in an attempt");
    const Rows there = core.run("SELECT content_hash, learner_id, content FROM attempts WHERE id = $1", {facts.id});
    if (there.empty()) {
        insert_attempt(core, facts, owner, bytes, core.now());
        core.note(actor, kAttemptKept, facts.id, kept_detail(facts.content_hash, owner));
        return {Kept::kept, facts.id, owner};
    }
    if (text_of(there[0][1], "attempts.learner_id") != owner)
        throw RecordsError(Fault::conflict, name, "another learner has an attempt of this id, " + facts.id,
                           "an attempt of one learner");
    if (text_of(there[0][0], "attempts.content_hash") == facts.content_hash) return {Kept::already, facts.id, owner};
    const std::string& kept = bytes_of(there[0][2], "attempts.content");
    if (begins_with(kept, bytes)) return {Kept::already, facts.id, owner};  // more of it is here
    if (!begins_with(bytes, kept))
        throw RecordsError(Fault::conflict, name, "another attempt of this id is kept, " + facts.id,
                           "the same attempt, or one that goes on from it");
    core.run("DELETE FROM attempts WHERE id = $1", {facts.id});
    insert_attempt(core, facts, owner, bytes, core.now());
    core.note(actor, kAttemptWentOn, facts.id, kept_detail(facts.content_hash, owner));
    return {Kept::grew, facts.id, owner};
}

PutResult Store::put_attempt(const Actor& actor, std::string_view bytes, const std::string& name,
                             const std::string& learner_id) {
    if (bytes.size() > files::kAttemptBytes)
        throw RecordsError(Fault::bad_input, name, fmt::format("{} bytes", bytes.size()),
                           fmt::format("up to {} bytes", files::kAttemptBytes));
    const AttemptFacts facts = facts_of(bytes, name);  // before the transaction: nobody waits for it
    PutResult out;
    core_->write([&] { out = put_within(*core_, actor, facts, bytes, name, learner_id); });
    return out;
}

std::vector<AttemptRow> Store::attempts(const Actor& actor, const AttemptFilter& filter) {
    std::string whose = filter.learner_id;
    if (actor.role == Role::learner) {
        need_own(actor, whose.empty() ? actor.learner_id : whose, "list attempts");
        whose = actor.learner_id;
    }
    static constexpr const char* kWhere =
        " FROM attempts a WHERE ($1 = '' OR learner_id = $1) AND ($2 = '' OR scenario = $2) AND ($3 = '' OR mode = $3) "
        "AND "
        "($4 = '' OR started_at >= $4) AND ($5 = '' OR started_at < $5) AND finished >= $6";
    const std::initializer_list<Value> values{whose,       filter.scenario, filter.mode,
                                              filter.from, filter.to,       std::int64_t{filter.finished_only ? 1 : 0}};
    std::vector<AttemptRow> out;
    core_->read([&] {
        out.clear();
        std::map<std::string, std::vector<HeadingPoints>> headings;
        for (const Row& row : core_->run(std::string("SELECT attempt_id, heading, h.points, h.points_of FROM "
                                                     "attempt_headings h WHERE attempt_id IN (SELECT id") +
                                             kWhere + ") ORDER BY heading",
                                         values))
            headings[text_of(row[0], "attempt_id")].push_back(
                {text_of(row[1], "heading"), number_of(row[2], "points"), number_of(row[3], "points_of")});
        for (const Row& row :
             core_->run(std::string("SELECT ") + kAttemptColumns + kWhere + " ORDER BY started_at, id", values)) {
            out.push_back(attempt_row_of(row));
            out.back().facts.headings = std::move(headings[out.back().facts.id]);
        }
    });
    return out;
}

AttemptRow Store::attempt(const Actor& actor, const std::string& id) {
    AttemptRow out;
    core_->read([&] {
        const Rows rows = core_->run(std::string("SELECT ") + kAttemptColumns + " FROM attempts WHERE id = $1", {id});
        // a learner hears the same of others' attempts as of none
        if (rows.empty()) {
            need_own(actor, "", "look at an attempt");
            throw RecordsError(Fault::not_found, "attempt " + id, "there is none of this id");
        }
        out = attempt_row_of(rows[0]);
        need_own(actor, out.learner_id, "look at an attempt");
        out.facts.headings = headings_of(*core_, id);
    });
    return out;
}

std::string Store::attempt_bytes(const Actor& actor, const std::string& id) {
    static_cast<void>(attempt(actor, id));
    std::string out;
    core_->read([&] {
        const Rows rows = core_->run("SELECT content FROM attempts WHERE id = $1", {id});
        if (rows.empty()) throw RecordsError(Fault::not_found, "attempt " + id, "it was removed meanwhile");
        out = bytes_of(rows[0][0], "attempts.content");
    });
    return out;
}

std::int64_t Store::erase_learner(const Actor& actor, const std::string& learner_id) {
    need_role(actor, Role::lead, "erase a learner");
    std::int64_t gone = 0;
    core_->write([&] {
        if (core_->run("SELECT id FROM learners WHERE id = $1", {learner_id}).empty())
            throw RecordsError(Fault::not_found, "learner " + learner_id, "there is none of this id");
        gone =
            integer_of(core_->run("SELECT count(*) FROM attempts WHERE learner_id = $1", {learner_id})[0][0], "count");
        core_->run("DELETE FROM claims WHERE item IN (SELECT id FROM attempts WHERE learner_id = $1)", {learner_id});
        core_->run("DELETE FROM learners WHERE id = $1", {learner_id});  // all that is theirs goes with it
        core_->note(actor, kLearnerErased, learner_id, fmt::format("{} attempts", gone));
    });
    core_->database().forget_deleted();
    return gone;
}

}  // namespace records
