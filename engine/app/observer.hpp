#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "engine/app/observation.hpp"
#include "engine/app/observed_list.hpp"

namespace app {

/// `planekeeper --observe FOLDER`: the list of who works on what, and one attempt of it that is looked on at.
class Observer {
 public:
    /// @param folder a trainer's data folder, or one that holds several
    Observer(std::filesystem::path folder, std::shared_ptr<const view::InstrumentModels> instruments, Journal& journal);

    /// One frame on. @return the picture changed
    bool update(double elapsed_s, const Input& input, bool over_button, const Settings& settings);
    void draw_screen(Ui& ui);
    [[nodiscard]] Rect patient_rect(const Ui& ui) const { return watched_ ? watched_->patient_rect(ui) : Rect{}; }
    [[nodiscard]] view::DrawList draw_list(double aspect) { return watched_->draw_list(aspect); }

    /// The list was left.
    [[nodiscard]] bool wants_to_leave() const { return leave_; }
    /// Null while the list or the way to an attempt is shown.
    [[nodiscard]] Observation* watched() { return watched_.get(); }
    /// For stills: wait until the folder has been read; and watch the first row there is, if any.
    void read_now();
    void watch_now(const Settings& settings);

 private:
    void watch(std::size_t row);
    void settle(const Settings& settings);
    void note_screen(const std::string& name);

    std::filesystem::path folder_;
    std::shared_ptr<const view::InstrumentModels> instruments_;
    Journal* journal_;
    ObservedList list_;
    std::size_t looks_ = 0;
    ObservedRows rows_;
    std::string noted_rows_, trouble_, title_;
    std::unique_ptr<Job<ObservedMaterial>> loading_;
    std::unique_ptr<Observation> watched_;
    bool leave_ = false, came_back_ = false;  ///< came_back_: from an attempt, in this frame
};

}  // namespace app
