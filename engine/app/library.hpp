#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "engine/files/scenario.hpp"
#include "engine/session/session.hpp"
#include "engine/view/scene.hpp"
#include "sim/scoring/rubric.hpp"

/// What can be practised, and getting it ready without holding up the picture.

namespace app {

/// One line of the start screen.
struct Entry {
    std::string id, title, goal, kind;
    int level = 1;
    std::string patient;  ///< in words: "woman of 61"
    bool lesson = false;  ///< leads through its steps
    std::string trouble;  ///< not empty: the file cannot be used, and why
};

/// A scenario that is ready to be practised.
struct Prepared {
    std::shared_ptr<const sim::Model> model;
    sim::Rubric rubric;
    std::vector<files::LessonStep> lesson;
    view::HeadLook look;
    std::shared_ptr<session::Recorder> recorder;
    std::function<std::string(bool finished)> close_attempt;  ///< empty when nothing is kept; returns what went wrong
    std::function<std::string()> record_trouble;  ///< what keeps it from being written now, empty when all is well
    std::filesystem::path attempt_file;
    std::string not_kept;  ///< why the attempt is not kept, empty when all is well
};

/// Told from the working thread how far it is.
using Progress = std::function<void(double fraction, std::string_view what)>;

class Library {
 public:
    Library();

    [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }

    /// Seconds for a head. @throws whatever the files or the patient refuse
    [[nodiscard]] Prepared prepare(const std::string& id, bool keep_attempt, sim::PracticeMode mode,
                                   const Progress& progress) const;

 private:
    std::vector<Entry> entries_;
};

/// A preparation that runs on its own thread.
class Loading {
 public:
    Loading(const Library& library, std::string id, bool keep_attempt, sim::PracticeMode mode);
    ~Loading();
    Loading(const Loading&) = delete;
    Loading& operator=(const Loading&) = delete;

    [[nodiscard]] bool done() const { return done_; }
    [[nodiscard]] double fraction() const { return fraction_; }
    [[nodiscard]] std::string what() const;
    [[nodiscard]] const std::string& id() const { return id_; }
    /// After done(). @throws what the preparation threw
    [[nodiscard]] Prepared take();

 private:
    std::string id_;
    std::atomic<double> fraction_ = 0.0;
    std::atomic<bool> done_ = false;
    mutable std::mutex mutex_;
    std::string what_;
    std::optional<Prepared> prepared_;
    std::exception_ptr error_;
    std::thread thread_;  ///< last: starts when everything above is there
};

}  // namespace app
