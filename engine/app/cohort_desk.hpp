#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/job.hpp"
#include "engine/app/journal.hpp"
#include "engine/app/ui.hpp"
#include "engine/cohort/cohort.hpp"
#include "engine/records/store.hpp"

/// Where a school's records are looked at in the window: who is ready, what each scenario tells, what one learner made.
/// Everything that asks the store runs on a thread of its own; the store's own rules say who may see what.

namespace app {

/// What a job on the store brings back.
struct CohortRead {
    std::optional<records::Actor> actor;
    std::vector<records::GradedSession> sessions;
    std::optional<cohort::Cohort> cohort;
    std::vector<records::AttemptRow> attempts;  ///< of the learner and scenario that were asked for
    std::optional<double> mark;                 ///< the scenario's pass mark, a share of the points
    std::string session_id;                     ///< of the cohort; "" for all
    std::string done;                           ///< what was done, in words; empty where something was only read
};

class CohortDesk {
 public:
    enum class Stage : std::uint8_t { absent, opening, log_in, open };
    using TitleOf = std::function<std::string(const std::string& scenario)>;

    /// @param place a file, which need not exist, or a postgresql:// URL
    CohortDesk(std::string place, TitleOf title_of, Journal& journal);
    ~CohortDesk();
    CohortDesk(const CohortDesk&) = delete;
    CohortDesk& operator=(const CohortDesk&) = delete;

    /// What a job has made is taken over. @return something changed
    bool advance();
    [[nodiscard]] bool busy() const { return job_ != nullptr; }

    // what can be asked for; each is left alone while another runs
    void begin_store();
    void open();                             ///< once more, where it could not be
    void log_in();                           ///< with what is typed; the pass phrase is forgotten
    void read();                             ///< anew
    void choose_session(std::size_t index);  ///< 0: all, else a session
    void select(std::size_t person, std::size_t scenario);
    void unselect();
    void put_in();      ///< what learners made by themselves at this machine
    void save_paper();  ///< beside the user's other debriefs

    [[nodiscard]] Stage stage() const { return stage_; }
    /// For people: without a pass word.
    [[nodiscard]] const std::string& place() const { return shown_place_; }
    [[nodiscard]] const records::Actor& actor() const { return *actor_; }
    [[nodiscard]] bool own_lines_only() const { return actor_ && actor_->role == records::Role::learner; }
    [[nodiscard]] const std::vector<records::GradedSession>& sessions() const { return sessions_; }
    [[nodiscard]] std::size_t session() const { return session_; }
    [[nodiscard]] const cohort::Cohort& cohort() const { return cohort_; }
    struct Selection {
        std::size_t person = 0, scenario = 0;
        std::vector<records::AttemptRow> attempts;  ///< oldest first
        std::optional<double> mark;
        bool read = false;
    };
    [[nodiscard]] const std::optional<Selection>& selection() const { return selection_; }
    [[nodiscard]] const std::string& trouble() const { return trouble_; }
    [[nodiscard]] const std::string& done() const { return done_; }

    /// The first of the scenarios that is shown, where not all have room.
    [[nodiscard]] std::size_t first_column() const { return first_column_; }
    void show_columns(std::size_t first);

    std::string login, passphrase;  ///< as they are typed

 private:
    using Work = std::function<CohortRead(records::Store&, const std::optional<records::Actor>&)>;
    void ask(const char* what, Work work);
    void take_over(CohortRead made);
    [[nodiscard]] Work reading() const;  ///< sessions and board, as they are chosen now

    std::string place_, shown_place_;
    TitleOf title_of_;
    Journal& journal_;
    Stage stage_ = Stage::opening;
    std::shared_ptr<std::optional<records::Store>> store_;  ///< used by one job at a time
    std::optional<records::Actor> actor_;
    std::vector<records::GradedSession> sessions_;
    std::size_t session_ = 0;    ///< as it is shown
    std::string asked_session_;  ///< its id, also while it is read; "" for all
    cohort::Cohort cohort_;
    std::optional<Selection> selection_;
    std::string trouble_, done_;
    std::size_t first_column_ = 0;
    bool changed_ = false;  ///< while a frame was drawn: the next one shows it
    std::unique_ptr<Job<CohortRead>> job_;
};

struct CohortChoice {
    bool back = false;
};
[[nodiscard]] CohortChoice draw_cohort(Ui& ui, CohortDesk& desk);

}  // namespace app
