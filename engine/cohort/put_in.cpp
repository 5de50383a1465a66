#include "engine/cohort/put_in.hpp"

#include <map>

#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "engine/files/station_folders.hpp"
#include "engine/language/words.hpp"
#include "engine/records/attempt_facts.hpp"
#include "engine/records/records_error.hpp"

namespace cohort {

namespace {

namespace fs = std::filesystem;
using records::Fault;

/// It speaks against one attempt; anything else speaks against all.
bool of_one(Fault fault) { return fault == Fault::bad_input || fault == Fault::not_found || fault == Fault::conflict; }

class PuttingIn {
 public:
    PuttingIn(records::Store& store, const records::Actor& actor) : store_(store), actor_(actor) {}

    void one(const files::FoundAttempt& attempt) {
        try {
            const fs::path ledger = attempt.file.parent_path().parent_path() / files::ledger_path().filename();
            const std::string bytes = records::sealed_bytes(attempt.file, ledger), name = attempt.file.string();
            ++(put(bytes, name, attempt.learner).kept == records::Kept::already ? out.already : out.added);
        } catch (const records::RecordsError& error) {
            if (!of_one(error.fault())) throw;
            refuse(error.what());
        } catch (const files::FileError& error) {
            refuse(error.what());
        }
    }

    PutIn out;

 private:
    records::PutResult put(const std::string& bytes, const std::string& name, const std::string& learner) {
        try {
            return store_.put_attempt(actor_, bytes, name);
        } catch (const records::RecordsError& error) {
            if (error.fault() != Fault::not_found) throw;
        }
        auto& id = id_of_[learner];
        if (id.empty()) id = known(learner);
        if (id.empty()) id = store_.add_learner(actor_, learner);
        return store_.put_attempt(actor_, bytes, name, id);
    }

    /// The one learner of that name whose key is not known yet, as somebody entered them beforehand; else "".
    std::string known(const std::string& name) {
        std::string id;
        for (const records::Learner& learner : store_.learners(actor_)) {
            if (learner.name != name || !learner.keys.empty()) continue;
            if (!id.empty()) return "";
            id = learner.id;
        }
        return id;
    }

    void refuse(const std::string& why) {
        if (out.refused++ == 0 && out.first_trouble.empty()) out.first_trouble = why;
    }

    records::Store& store_;
    const records::Actor& actor_;
    std::map<std::string, std::string> id_of_;  // by name at this machine
};

}  // namespace

PutIn put_in_own(records::Store& store, const records::Actor& actor, const fs::path& folder) {
    const files::FoundAttempts found = files::find_attempts(folder);
    PuttingIn putting(store, actor);
    if (!found.trouble.empty()) putting.out.first_trouble = found.trouble.front();
    for (const files::FoundAttempt& attempt : found.attempts)
        if (!attempt.learner.empty()) putting.one(attempt);
    return putting.out;
}

std::string words_of(const PutIn& put) {
    std::string out = language::say("{} put in, {} were there already", put.added, put.already);
    if (put.refused > 0) out += ", " + language::say("{} refused", put.refused);
    if (!put.first_trouble.empty()) out += ". " + put.first_trouble;
    return out;
}

}  // namespace cohort
