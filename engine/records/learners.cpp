#include <fmt/format.h>

#include <array>

#include "engine/files/crypto.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::size_t kMostNameBytes = 200;

Learner learner_of(StoreCore& core, const Row& row) {
    Learner out{
        text_of(row[0], "learners.id"), text_of(row[1], "learners.name"), text_of(row[2], "learners.added_at"), {}};
    for (const Row& key :
         core.run("SELECT fingerprint FROM learner_keys WHERE learner_id = $1 ORDER BY fingerprint", {out.id}))
        out.keys.push_back(text_of(key[0], "learner_keys.fingerprint"));
    return out;
}

}  // namespace

std::string Store::add_learner(const Actor& actor, const std::string& name) {
    need_role(actor, Role::instructor, "add a learner");
    need_text(name, kMostNameBytes, "name");
    const std::string id = new_id();
    core_->write([&] {
        core_->run("INSERT INTO learners (id, name, added_at) VALUES ($1, $2, $3)", {id, name, core_->now()});
        core_->note(actor, "learner added", id);
    });
    return id;
}

void Store::add_key(const Actor& actor, const std::string& learner_id, const std::string& fingerprint) {
    need_role(actor, Role::instructor, "add a key");
    if (!files::from_hex<32>(fingerprint))
        throw RecordsError(Fault::bad_input, "fingerprint", fingerprint, "64 lower-case hexadecimal digits");
    core_->write([&] {
        if (core_->run("SELECT id FROM learners WHERE id = $1", {learner_id}).empty())
            throw RecordsError(Fault::not_found, "learner " + learner_id, "there is none of this id");
        const Rows owner = core_->run("SELECT learner_id FROM learner_keys WHERE fingerprint = $1", {fingerprint});
        if (!owner.empty()) {
            if (text_of(owner[0][0], "learner_keys.learner_id") == learner_id) return;
            throw RecordsError(Fault::conflict, "key " + fingerprint, "it is another learner's",
                               "a key of one learner");
        }
        core_->run("INSERT INTO learner_keys (fingerprint, learner_id, added_at) VALUES ($1, $2, $3)",
                   {fingerprint, learner_id, core_->now()});
        core_->note(actor, "key added", learner_id);
    });
}

std::vector<Learner> Store::learners(const Actor& actor) {
    std::vector<Learner> out;
    core_->read([&] {
        out.clear();
        for (const Row& row : core_->run("SELECT id, name, added_at FROM learners ORDER BY name, id"))
            if (actor.role != Role::learner || text_of(row[0], "learners.id") == actor.learner_id)
                out.push_back(learner_of(*core_, row));
    });
    return out;
}

Learner Store::learner(const Actor& actor, const std::string& id_or_name) {
    Learner out;
    core_->read([&] {
        Rows found = core_->run("SELECT id, name, added_at FROM learners WHERE id = $1", {id_or_name});
        if (found.empty()) found = core_->run("SELECT id, name, added_at FROM learners WHERE name = $1", {id_or_name});
        // a learner hears the same of others as of nobody
        if (actor.role == Role::learner &&
            (found.size() != 1 || text_of(found[0][0], "learners.id") != actor.learner_id))
            need_own(actor, "", "look up a learner");
        if (found.empty())
            throw RecordsError(Fault::not_found, "learner " + id_or_name, "there is none of this id or name");
        if (found.size() > 1)
            throw RecordsError(Fault::conflict, "learner " + id_or_name, fmt::format("{} have this name", found.size()),
                               "an id");
        out = learner_of(*core_, found[0]);
    });
    return out;
}

}  // namespace records
