#pragma once

#include <array>
#include <cmath>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/job.hpp"
#include "engine/app/journal.hpp"
#include "engine/app/patient_posture.hpp"
#include "engine/app/rating_desk.hpp"
#include "engine/app/section_panel.hpp"
#include "engine/app/settings.hpp"
#include "engine/app/skin_under_tip.hpp"
#include "engine/app/ui.hpp"
#include "engine/language/words.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/report/visit_sheet.hpp"
#include "engine/session/reference.hpp"
#include "engine/view/depth_plot.hpp"
#include "engine/view/scene.hpp"

namespace app {

/// An attempt with all that its debrief shows.
struct DebriefMaterial {
    std::shared_ptr<session::Replay> replay;  ///< brings model and recording
    sim::Rubric rubric;
    view::HeadLook look;
    std::filesystem::path file;                   ///< empty when the attempt was not kept
    std::string patient_hash;                     ///< by which the patient's tissue is kept; empty for flat tissue
    std::shared_ptr<session::LiveTissue> tissue;  ///< of the attempt that has just ended; may be null
    session::TissueBuilder build_tissue;          ///< where there is none: empty when nothing would be seen of it
    std::shared_ptr<RatingDesk> rating;           ///< a rater looks: nothing is shown of score, signs and whose it is
};

/// From a kept attempt: seconds for a head. @param attempt of open_attempt()
[[nodiscard]] DebriefMaterial load_debrief(const files::LoadedAttempt& attempt, const std::filesystem::path& file,
                                           const Job<DebriefMaterial>::Progress& progress);

/// Another pass beside the one that is looked at.
struct Beside {
    std::string name;  ///< "1 mm deeper"
    sim::Recording recording;
    sim::Score score;
    view::BesideTrace::Look look = view::BesideTrace::Look::dashes;
    bool moved = false;  ///< the same path moved: some measures stay as recorded
};

/// What the picture of a replay's moment shows of lift, or why it shows none; empty where no thread or finger moves the
/// skin.
[[nodiscard]] std::string lift_words(const PatientPosture& lift, const session::Replay& shown);

enum class DebriefWish { stay, again, another, library, paper };  ///< another: the same case, its anatomy drawn anew

/// Looking back at an attempt: what cost points, the depth trace as the way through time, the replay beside it.
class Debrief {
 public:
    /// @param earlier kept attempts at the same scenario that can be shown, the newest first
    Debrief(DebriefMaterial material, std::shared_ptr<const view::InstrumentModels> instruments,
            std::vector<std::filesystem::path> earlier, const Settings& settings, Journal& journal);

    /// "anatomy variant 41207"; empty for flat tissue, which has one only.
    [[nodiscard]] std::string variant_words() const;
    [[nodiscard]] std::uint64_t variant_seed() const { return material_.replay->recording().variant_seed; }

    /// Camera, time and lists. @param over_button the pointer is over something drawn, not over the patient
    /// @param typing keys go into a field
    DebriefWish handle(const Input& input, bool over_button, bool typing = false);
    /// Play on, and take in what background work has finished. @return the picture changed
    bool advance(double elapsed_s);
    void draw_screen(Ui& ui);

    /// Where the patient is shown; empty when another page is.
    [[nodiscard]] Rect patient_rect(const Ui& ui) const;
    [[nodiscard]] view::DrawList draw_list(double aspect);

    [[nodiscard]] const DebriefMaterial& material() const { return material_; }
    [[nodiscard]] const sim::Score& score() const { return score_; }
    [[nodiscard]] view::Scene& scene() { return scene_; }
    /// For paper: the skin as a moment of the attempt has it, where the tissue is there.
    void settle_skin(const sim::State& state);
    /// For stills: the same for the moment that is looked at; waits for the tissue where threads hold the skin.
    void settle_skin();
    [[nodiscard]] bool lift_shown() const { return lift_.ready(); }
    [[nodiscard]] bool tissue_comes() const { return lift_.any() && !lift_.ready(); }
    void say(const std::string& words) { notice_ = language::tr(words); }

    /// For stills: a loss by its number, what stands beside (0 to 3), a page, a moment.
    void select(int number);
    void set_beside(std::size_t choice);
    void set_page(std::size_t page) { page_ = page; }
    void set_time(double s) { seek(std::llround(s / sim::kStepS)); }
    /// For stills: layers from the skin down, 0 full, 1 half, 2 off.
    void set_layers(const std::string& digits);
    [[nodiscard]] bool busy() const { return reference_job_ || tops_job_ || earlier_job_; }
    [[nodiscard]] const Settings& settings() const { return settings_; }  ///< with the kinds that were chosen here

 private:
    enum Page : std::size_t { kLosses, kMeasures, kBeside, kResult, kReplay, kTrace, kInside, kSigns, kRating };
    enum class Watched { attempt, reference, earlier };

    // -- what is looked at: the attempt, or the reference pass
    [[nodiscard]] session::Replay& shown() const {
        return watched_ == Watched::reference ? *reference_->replay
               : watched_ == Watched::earlier ? *earlier_replay_
                                              : *material_.replay;
    }
    [[nodiscard]] const sim::Score& shown_score() const {
        return watched_ == Watched::reference ? reference_->score
               : watched_ == Watched::earlier ? earlier_score_
                                              : score_;
    }
    void look_at(Watched watched);
    [[nodiscard]] bool blind() const { return material_.rating != nullptr; }
    [[nodiscard]] bool watching() const { return watched_ != Watched::attempt; }
    [[nodiscard]] const char* watched_words() const;
    void watch_other();  ///< what stands beside, in place of the attempt; or back
    void seek(std::int64_t step);
    bool move_skin(double elapsed_s);
    void stride(int direction);  ///< a tenth of a second, or one step when fine
    void follow_track();
    [[nodiscard]] std::optional<double> cursor_m() const;
    [[nodiscard]] std::string moment() const;
    [[nodiscard]] double time_s() const;

    // -- input
    void handle_camera(const Input& input);
    void handle_keys(const Input& input);
    void handle_key(Key key);
    bool handle_rating_key(Key key);  ///< @return it was one
    void handle_trace(const Input& input);
    void choose(int number);
    void move_selection(int by);

    // -- beside
    void fill_beside();
    void next_earlier();
    void take_in_jobs();

    // -- layers
    enum Opacity : std::uint8_t { kFull, kHalf, kOff };
    [[nodiscard]] bool faded() const;
    void set_layer(std::size_t layer, Opacity opacity);
    [[nodiscard]] std::size_t first_whole() const;  ///< the layer that is looked at, the uppermost that is whole
    void look_from(std::size_t layer);              ///< what lies above it is taken away, or left faint
    void next_skin();                               ///< cut open, seen through, whole
    [[nodiscard]] std::string skin_words() const;

    // -- drawing
    struct Layout {
        Rect view, result, next, lists, words, time, plot;
    };
    [[nodiscard]] Layout layout_of(const Ui& ui) const;
    [[nodiscard]] Layout rating_layout(const Ui& ui, const Rect& all, float gap) const;
    [[nodiscard]] static bool stacked(const Ui& ui);  ///< little room, but enough for a page over the trace
    void draw_ground(Ui& ui, const Layout& at) const;
    void draw_band(Ui& ui);
    void draw_rating_band(Ui& ui);
    void draw_rating(Ui& ui, const Rect& rect);
    [[nodiscard]] std::size_t page_for(const Ui& ui) const;  ///< the page, or what stands for it in this layout
    void draw_result(Ui& ui, const Rect& rect) const;
    void draw_next(Ui& ui, const Rect& rect) const;
    [[nodiscard]] float next_height(const Ui& ui, float w) const;
    [[nodiscard]] std::string not_measured_words() const;
    void draw_lists(Ui& ui, const Layout& at);
    void draw_losses(Ui& ui, const Rect& rect);
    void draw_measures(Ui& ui, const Rect& rect);
    void draw_beside(Ui& ui, const Rect& rect);
    void draw_table(Ui& ui, const Rect& rect, const std::vector<const sim::Score*>& scores,
                    const std::vector<std::string>& heads, bool points) const;
    void draw_inside(Ui& ui, const Rect& rect);
    void draw_signs(Ui& ui, const Rect& rect);
    [[nodiscard]] bool has_visit() const { return material_.replay->recording().visit.has_value(); }
    float draw_depths(Ui& ui, float x, float y, float w);
    struct TimeButton {
        const char* name;
        std::string label;
        const char* key;
        void (Debrief::*press)();
    };
    [[nodiscard]] std::vector<TimeButton> time_buttons(const Ui& ui) const;  ///< from the right
    void turn_slow() { slow_ = !slow_; }
    void stride_on() { stride(+1); }
    void stride_back() { stride(-1); }
    void turn_play();
    [[nodiscard]] std::string told() const;  ///< a notice, or the moment in words
    [[nodiscard]] std::string name_of_watched() const;
    [[nodiscard]] float words_room(const Ui& ui, float w) const;
    [[nodiscard]] float words_height(const Ui& ui, float w) const;
    void draw_words(Ui& ui, const Rect& rect);
    void draw_time(Ui& ui, const Rect& rect);
    void draw_plot(Ui& ui, const Rect& rect);
    void draw_view_labels(Ui& ui, const Rect& rect);
    [[nodiscard]] std::string lift_words() const { return app::lift_words(lift_, shown()); }

    DebriefMaterial material_;
    Settings settings_;
    Journal* journal_;
    sim::Score score_;
    std::vector<report::Loss> losses_;
    std::vector<report::SignLine> signs_;  ///< of a visit
    view::Scene scene_;
    PatientPosture lift_;
    SkinUnderTip under_tip_;
    view::Camera camera_;

    int track_ = -1;           ///< index of the track that the plot shows
    view::DepthTrace trace_;   ///< of it
    double moment_steps_ = 0;  ///< where time stands, with the fraction that playing needs
    bool playing_ = false, slow_ = false;
    int selected_ = -1;  ///< index in losses_
    bool selection_moved_ = false;
    double held_s_ = 0.0;  ///< how long an arrow key has been held
    int stepping_ = 0;     ///< its direction
    bool fine_ = false;

    std::vector<Beside> beside_;
    std::size_t beside_choice_ = 0;  ///< nothing, deeper and shallower, reference, an earlier attempt
    std::unique_ptr<Job<session::ReferencePass>> reference_job_;
    std::optional<session::ReferencePass> reference_;
    std::vector<std::filesystem::path> earlier_;
    std::size_t earlier_shown_ = 0;
    std::string beside_trouble_;
    Watched watched_ = Watched::attempt;  ///< what is replayed
    std::unique_ptr<Job<std::shared_ptr<session::Replay>>> earlier_job_;
    std::shared_ptr<session::Replay> earlier_replay_;  ///< of the earlier attempt that is shown, once it was asked for
    sim::Score earlier_score_;

    std::size_t page_;
    bool cut_open_ = true;  ///< along the shaft, while all layers are whole
    std::array<Opacity, view::kShownLayers> layers_{};
    bool faint_ = false;  ///< layers above the one that is looked at stay faintly
    std::unique_ptr<Job<view::LayerTops>> tops_job_;
    bool tops_made_ = false;
    SectionPanel section_panel_;
    bool dragging_trace_ = false, dragging_time_ = false, placed_ = false, compact_ = false;
    Rect view_, time_;
    view::DepthPlotPlaces places_;
    DebriefWish wish_ = DebriefWish::stay;
    std::string notice_;
};

}  // namespace app
