#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/debrief.hpp"
#include "engine/app/event_words.hpp"
#include "engine/session/attempt_follower.hpp"

/// Looking on while an attempt is made: its patient, its instruments and its events, from its file alone.

namespace app {

/// An attempt that may still grow, with all that is shown of it.
struct ObservedMaterial {
    DebriefMaterial shown;
    std::unique_ptr<session::AttemptFollower> follower;
    std::string learner;  ///< whose it is, for the band
};

/// Read what there is, and step through it once: seconds for a head. The file is only read.
/// @throws std::runtime_error naming the file where it has no header; files::FileError
[[nodiscard]] ObservedMaterial load_observed(const std::filesystem::path& file, const std::string& learner,
                                             const Job<ObservedMaterial>::Progress& progress);

class Observation {
 public:
    Observation(ObservedMaterial material, std::shared_ptr<const view::InstrumentModels> instruments,
                const Settings& settings, Journal& journal);

    /// Camera, freeze and what is shown. @param over_button the pointer is over something drawn
    void handle(const Input& input, bool over_button);
    /// Take in what has come, and go on to it. @return the picture changed
    bool advance(double elapsed_s);
    void draw_screen(Ui& ui);

    /// Where the patient is shown; empty when another page is.
    [[nodiscard]] Rect patient_rect(const Ui& ui) const;
    [[nodiscard]] view::DrawList draw_list(double aspect);

    /// Asked for since the last call.
    [[nodiscard]] bool take_leave() { return std::exchange(leave_, false); }
    [[nodiscard]] const Settings& settings() const { return settings_; }  ///< with the kinds that were chosen here

    /// The picture stands still at this moment; the attempt does not.
    void freeze();
    void to_present();
    [[nodiscard]] bool frozen() const { return frozen_; }
    [[nodiscard]] std::int64_t step() const { return replay().step(); }
    /// Stand at this moment, not beyond what has been gone through.
    void freeze_at(std::int64_t step);
    [[nodiscard]] std::int64_t gone_on_to() const { return replay().steps(); }  ///< by whoever makes it
    [[nodiscard]] std::size_t since_frozen() const;  ///< what happened after the moment that is shown

 private:
    enum Page : std::size_t { kPicture, kEvents, kInside };
    enum class Skin { cut, clear, whole };  ///< cut open along the shaft, seen through, as the learner sees it

    [[nodiscard]] session::Replay& replay() const { return *material_.shown.replay; }
    void take_in();
    bool move_on(double elapsed_s);
    void note_changes();
    void next_skin();
    [[nodiscard]] const char* skin_words() const;  ///< what pressing it does next
    [[nodiscard]] bool looks_different();          ///< from when it was asked last
    [[nodiscard]] const sim::TraceRow* row_now() const;

    // -- words
    [[nodiscard]] std::string told() const;
    [[nodiscard]] std::string place_words() const;
    [[nodiscard]] std::string feel_words() const;

    // -- drawing
    struct Layout {
        Rect words, tabs, view, now, section, events;
    };
    [[nodiscard]] Layout layout_of(const Ui& ui) const;
    void draw_ground(Ui& ui, const Layout& at) const;
    void draw_band(Ui& ui);
    void draw_told(Ui& ui, const Rect& rect) const;
    [[nodiscard]] float now_height(const Ui& ui, float w) const;
    void draw_now(Ui& ui, const Rect& rect) const;
    void draw_section(Ui& ui, const Rect& rect);
    void draw_events(Ui& ui, const Rect& rect);
    /// @return pressed
    bool draw_event(Ui& ui, const Rect& row, std::size_t index) const;
    [[nodiscard]] float event_height(const Ui& ui, float w, const Happening& one) const;
    void draw_view_labels(Ui& ui, const Rect& rect);

    ObservedMaterial material_;
    Settings settings_;
    Journal* journal_;
    view::Scene scene_;
    PatientPosture lift_;
    std::optional<SkinUnderTip> under_tip_;  ///< always there; made anew when tissue comes
    view::Camera camera_;
    SectionPanel section_panel_;
    Happenings happenings_;
    session::AttemptFollower::Now now_;
    double moment_steps_ = 0.0;  ///< where the picture stands, with the fraction that going on needs
    bool frozen_ = false, leave_ = false, placed_ = false;
    bool catching_up_ = false;  ///< more is there than a frame has time for
    Skin skin_ = Skin::cut;
    std::vector<double> looked_;  ///< what the picture hangs on, as looks_different() saw it last
    struct RowHeights {
        float w = 0.0f, scale = 0.0f;
        std::vector<float> h;  ///< of each happening
    } row_heights_;
    std::size_t page_ = kPicture;
    Rect view_;
    std::size_t noted_happenings_ = 0;
    std::int64_t noted_second_ = -1;
    std::optional<session::Standing> noted_standing_;
    std::string noted_trouble_;
    std::string told_;  ///< in the last frame
};

}  // namespace app
