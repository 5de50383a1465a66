#include "engine/app/cohort_desk.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <utility>

#include "engine/cohort/cohort_pdf.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "engine/files/station_folders.hpp"
#include "engine/language/words.hpp"
#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

namespace app {

namespace {

namespace fs = std::filesystem;

struct PutIn {
    std::size_t added = 0, already = 0, refused = 0;
    std::string first_refusal;
};

/// Whose key nobody has in the store is added by the name that they have at this machine; a graded attempt, which has
/// no name here, goes to whoever has its key.
void put_one(records::Store& store, const records::Actor& actor, const files::FoundAttempt& one, PutIn& out) {
    try {
        const fs::path ledger = one.file.parent_path().parent_path() / files::ledger_path().filename();
        const std::string bytes = records::sealed_bytes(one.file, ledger), name = one.file.string();
        records::PutResult put;
        try {
            put = store.put_attempt(actor, bytes, name);
        } catch (const records::RecordsError& error) {
            if (error.fault() != records::Fault::not_found || one.learner.empty()) throw;
            put = store.put_attempt(actor, bytes, name, store.add_learner(actor, one.learner));
        }
        ++(put.kept == records::Kept::already ? out.already : out.added);
    } catch (const std::exception& error) {
        if (out.refused++ == 0) out.first_refusal = error.what();
    }
}

std::string words_of(const PutIn& put) {
    std::string out = language::say("{} put in, {} were there already", put.added, put.already);
    if (put.refused > 0) out += ". " + language::say("{} refused, the first: {}", put.refused, put.first_refusal);
    return out;
}

PutIn put_in_all(records::Store& store, const records::Actor& actor) {
    PutIn out;
    std::vector<files::FoundAttempt> found = files::find_attempts(files::all_learners_folder()).attempts;
    // learners' own before graded ones, for they bring the keys
    std::stable_sort(found.begin(), found.end(), [](const files::FoundAttempt& a, const files::FoundAttempt& b) {
        return a.learner.empty() < b.learner.empty();
    });
    for (const files::FoundAttempt& one : found) put_one(store, actor, one, out);
    return out;
}

}  // namespace

CohortDesk::CohortDesk(std::string place, TitleOf title_of, Journal& journal)
    : place_(std::move(place)),
      title_of_(std::move(title_of)),
      journal_(journal),
      store_(std::make_shared<std::optional<records::Store>>()) {
    try {
        const records::Place where = records::place_of(place_);
        shown_place_ = where.shown;
        if (where.kind == records::Place::Kind::sqlite && !fs::exists(where.address))
            stage_ = Stage::absent;
        else
            open();
    } catch (const std::exception& error) {
        trouble_ = error.what();
    }
}

void CohortDesk::ask(const char* what, Work work) {
    if (job_) return;
    changed_ = true;
    trouble_.clear();
    done_.clear();
    journal_.note("records", what);
    job_ = std::make_unique<Job<CohortRead>>(
        [store = store_, actor = actor_, place = place_, work = std::move(work)](const auto&) {
            if (!*store) *store = records::Store::open(place);
            return work(**store, actor);
        });
}

/// A store with accounts asks who one is; without any, whoever may open it may see all.
void CohortDesk::open() {
    if (job_) return;
    stage_ = Stage::opening;
    ask("open", [read = reading()](records::Store& store, const std::optional<records::Actor>&) {
        const records::Actor desk = records::desk_actor();
        if (!store.accounts(desk).empty()) return CohortRead{};
        CohortRead out = read(store, desk);
        out.actor = desk;
        return out;
    });
}

void CohortDesk::begin_store() {
    if (job_ || stage_ != Stage::absent) return;
    changed_ = true;
    try {
        fs::create_directories(fs::path(place_).parent_path());
        *store_ = records::Store::create(place_);
        open();
    } catch (const std::exception& error) {
        trouble_ = error.what();
    }
}

void CohortDesk::log_in() {
    if (job_) return;
    stage_ = Stage::log_in;
    ask("log_in", [read = reading(), name = login, secret = passphrase](records::Store& store,
                                                                        const std::optional<records::Actor>&) mutable {
        const records::Actor actor = store.log_in(name, secret);
        sodium_memzero(secret.data(), secret.size());
        CohortRead out = read(store, actor);
        out.actor = actor;
        return out;
    });
    if (!passphrase.empty()) sodium_memzero(passphrase.data(), passphrase.size());
    passphrase.clear();
}

CohortDesk::Work CohortDesk::reading() const {
    const std::string id = session_ > 0 ? sessions_[session_ - 1].id : "";
    const std::string title = session_ > 0 ? sessions_[session_ - 1].title : std::string(language::tr("All attempts"));
    return [id, title, title_of = title_of_](records::Store& store, const std::optional<records::Actor>& actor) {
        CohortRead out;
        if (actor->role != records::Role::learner) out.sessions = store.sessions(*actor);
        const records::BoardRules rules;
        out.cohort = cohort::cohort_of(records::board(store, *actor, id, rules), title_of, rules);
        out.cohort->title = title;
        out.cohort->made_at = files::time_text();
        return out;
    };
}

void CohortDesk::read() {
    if (stage_ == Stage::open) ask("read", reading());
}

void CohortDesk::choose_session(std::size_t index) {
    if (job_ || index > sessions_.size()) return;
    session_ = index;
    unselect();
    read();
}

void CohortDesk::select(std::size_t person, std::size_t scenario) {
    if (job_) return;
    changed_ = true;
    selection_ = Selection{person, scenario, {}, {}, false};
    const cohort::Person& one = cohort_.people[person];
    if (one.id.empty()) {
        selection_->read = true;  // they made nothing
        return;
    }
    ask("attempts", [learner = one.id, id = cohort_.scenarios[scenario].id](
                        records::Store& store, const std::optional<records::Actor>& actor) {
        CohortRead out;
        out.attempts = store.attempts(*actor, {.learner_id = learner, .scenario = id});
        // marks come by version: the newest holds
        if (actor->role != records::Role::learner)
            for (const records::PassMark& mark : store.pass_marks(*actor))
                if (mark.scenario == id) out.mark = mark.mark;
        return out;
    });
}

void CohortDesk::unselect() {
    selection_.reset();
    changed_ = true;
}

void CohortDesk::show_columns(std::size_t first) {
    first_column_ = first;
    changed_ = true;
}

void CohortDesk::put_in() {
    if (stage_ != Stage::open) return;
    ask("put_in", [read = reading()](records::Store& store, const std::optional<records::Actor>& actor) {
        const std::string done = words_of(put_in_all(store, *actor));
        CohortRead out = read(store, actor);
        out.done = done;
        return out;
    });
}

void CohortDesk::save_paper() {
    if (job_ || stage_ != Stage::open) return;
    changed_ = true;
    try {
        const fs::path folder = files::user_data_folder() / "debriefs";
        fs::create_directories(folder);
        std::string moment = files::time_text();
        std::replace(moment.begin(), moment.end(), ':', '-');
        const fs::path file = folder / fmt::format("cohort-{}.pdf", moment);
        files::write_atomically(file, cohort::cohort_pdf(cohort_), 0600);
        trouble_.clear();
        done_ = language::say("The cohort on paper is {}", file.string());
        journal_.note("paper", file.string());
    } catch (const std::exception& error) {
        trouble_ = error.what();
    }
}

void CohortDesk::take_over(CohortRead made) {
    done_ = made.done;
    if (made.actor) actor_ = made.actor;
    if (!actor_) {
        stage_ = Stage::log_in;
        return;
    }
    stage_ = Stage::open;
    if (!made.cohort) {
        if (!selection_) return;
        selection_->attempts = std::move(made.attempts);
        selection_->mark = made.mark;
        selection_->read = true;
        return;
    }
    sessions_ = std::move(made.sessions);
    session_ = std::min(session_, sessions_.size());
    cohort_ = std::move(*made.cohort);
    first_column_ = cohort_.scenarios.empty() ? 0 : std::min(first_column_, cohort_.scenarios.size() - 1);
    selection_.reset();
    journal_.note("cohort", fmt::format("{} learners {} scenarios", cohort_.people.size(), cohort_.scenarios.size()));
}

bool CohortDesk::advance() {
    const bool changed = std::exchange(changed_, false);
    if (!job_ || !job_->done()) return changed;
    const auto ended = std::move(job_);
    try {
        take_over(ended->take());
    } catch (const std::exception& error) {
        trouble_ = error.what();
        journal_.note("trouble", trouble_);
    }
    return true;
}

}  // namespace app
