#include "engine/app/cohort_desk.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <utility>

#include "engine/cohort/cohort_pdf.hpp"
#include "engine/cohort/put_in.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "engine/language/words.hpp"
#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

namespace app {

namespace {

namespace fs = std::filesystem;

/// Gone from memory when it goes out of sight.
struct Secret {
    std::string words;
    explicit Secret(std::string said) : words(std::move(said)) {}
    Secret(const Secret&) = default;  // never moved: a short text would stay behind where it was
    Secret& operator=(const Secret&) = delete;
    ~Secret() { wipe(words); }
    static void wipe(std::string& words) {
        if (!words.empty()) sodium_memzero(words.data(), words.size());
        words.clear();
    }
};

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
        if (const fs::path folder = fs::path(place_).parent_path(); !folder.empty()) fs::create_directories(folder);
        *store_ = records::Store::create(place_);
        open();
    } catch (const std::exception& error) {
        trouble_ = error.what();
    }
}

void CohortDesk::log_in() {
    if (job_) return;
    stage_ = Stage::log_in;
    ask("log_in", [read = reading(), name = login, secret = Secret(passphrase)](records::Store& store,
                                                                                const std::optional<records::Actor>&) {
        const records::Actor actor = store.log_in(name, secret.words);
        CohortRead out = read(store, actor);
        out.actor = actor;
        return out;
    });
    Secret::wipe(passphrase);
}

CohortDesk::~CohortDesk() { Secret::wipe(passphrase); }

CohortDesk::Work CohortDesk::reading() const {
    return
        [id = asked_session_, title_of = title_of_](records::Store& store, const std::optional<records::Actor>& actor) {
            CohortRead out;
            out.session_id = id;
            if (actor->role != records::Role::learner) out.sessions = store.sessions(*actor);
            const records::BoardRules rules;
            out.cohort = cohort::cohort_of(records::board(store, *actor, id, rules), title_of, rules);
            out.cohort->title = language::tr("All attempts");
            for (const records::GradedSession& one : out.sessions)
                if (one.id == id) out.cohort->title = one.title;
            out.cohort->made_at = files::time_text();
            return out;
        };
}

void CohortDesk::read() {
    if (stage_ == Stage::open) ask("read", reading());
}

void CohortDesk::choose_session(std::size_t index) {
    if (job_ || index > sessions_.size()) return;
    asked_session_ = index > 0 ? sessions_[index - 1].id : "";
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
    if (job_ || stage_ != Stage::open) return;
    ask("put_in", [read = reading()](records::Store& store, const std::optional<records::Actor>& actor) {
        const std::string done = cohort::words_of(cohort::put_in_own(store, *actor, files::all_learners_folder()));
        CohortRead out = read(store, actor);
        out.done = done;
        return out;
    });
    done_ = language::tr("Putting in ...");
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
    session_ = 0;
    for (std::size_t i = 0; i < sessions_.size(); ++i)
        if (sessions_[i].id == made.session_id) session_ = i + 1;
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
        done_.clear();
        journal_.note("trouble", trouble_);
        // what is shown stays as it was
        if (selection_ && !selection_->read) selection_.reset();
        asked_session_ = session_ > 0 ? sessions_[session_ - 1].id : "";
    }
    return true;
}

}  // namespace app
