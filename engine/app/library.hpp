#pragma once

#include <array>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/job.hpp"
#include "engine/files/attempt.hpp"
#include "engine/files/scenario.hpp"
#include "engine/graded/station.hpp"
#include "engine/session/live_tissue.hpp"
#include "engine/session/session.hpp"
#include "engine/session/variant_choice.hpp"
#include "engine/view/scene.hpp"
#include "sim/scoring/rubric.hpp"

/// What can be practised, and getting it ready without holding up the picture.

namespace app {

/// One line of the start screen.
struct Entry {
    std::string id, title, goal, kind;
    int level = 1, order = 500;
    std::string patient;  ///< in words: "woman of 61"
    bool lesson = false;  ///< leads through its steps
    files::AllowedAids aids = files::kAllAids;
    std::uint64_t variant_seed = 0;                       ///< of its anatomy; other than 0 where it is about one course
    std::array<double, sim::kHeadings> heading_points{};  ///< of its rubric
    std::string trouble;                                  ///< not empty: the file cannot be used, and why
};

/// A scenario that is ready to be practised.
struct Prepared {
    std::shared_ptr<const sim::Model> model;
    sim::Rubric rubric;
    std::vector<files::LessonStep> lesson;
    view::HeadLook look;
    session::TissueBuilder tissue;  ///< of a head; null for the slab, or where none is wanted
    std::shared_ptr<session::Recorder> recorder;
    std::function<std::string(bool finished)> close_attempt;  ///< empty when nothing is kept; returns what went wrong
    std::function<std::string()> park_attempt;  ///< likewise: what there is goes to the disk, and it stays open
    /// What was done already, where an attempt is gone on with.
    std::optional<files::LoadedAttempt> before;
    /// Fills in recorder and what follows it once the steps of `before` came out as they were. @throws files::FileError
    ///         when the file is finished, in use or another's by then
    std::function<void(Prepared&)> open_record;
    std::function<std::string()> record_trouble;  ///< what keeps it from being written now, empty when all is well
    std::filesystem::path attempt_file;
    bool ultrasound = false;  ///< a probe lies on the tray
    files::AllowedAids aids = files::kAllAids;
    std::string patient_hash;  ///< by which the patient's tissue is kept; empty for flat tissue
    std::string not_kept;      ///< why the attempt is not kept, empty when all is well
};

class Library {
 public:
    Library();

    [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }

    /// Seconds for a head. @throws whatever the files or the patient refuse
    [[nodiscard]] Prepared prepare(const std::string& id, bool keep_attempt, sim::PracticeMode mode,
                                   const session::VariantAsked& variant, const Job<Prepared>::Progress& progress) const;
    /// The attempt of a slot of a graded session, begun anew. @throws as prepare()
    [[nodiscard]] Prepared prepare_slot(const graded::Station& station, const graded::Slot& slot,
                                        const Job<Prepared>::Progress& progress) const;
    /// An attempt that stopped, ready to be gone on with. @throws files::FileError when it is finished, changed, in use
    ///         or another's, and whatever the files or the patient refuse
    [[nodiscard]] Prepared take_up(const std::filesystem::path& file, const Job<Prepared>::Progress& progress) const;

 private:
    std::vector<Entry> entries_;
};

}  // namespace app
