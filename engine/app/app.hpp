#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "engine/app/authoring_desk.hpp"
#include "engine/app/cohort_desk.hpp"
#include "engine/app/controller.hpp"
#include "engine/app/debrief.hpp"
#include "engine/app/debrief_paper.hpp"
#include "engine/app/frame_watch.hpp"
#include "engine/app/instruments.hpp"
#include "engine/app/journal.hpp"
#include "engine/app/library.hpp"
#include "engine/app/observer.hpp"
#include "engine/app/practice.hpp"
#include "engine/app/screens.hpp"
#include "engine/app/ui.hpp"
#include "engine/gl/card_watch.hpp"
#include "engine/gl/renderer.hpp"
#include "engine/gl/window.hpp"
#include "engine/view/quality.hpp"

namespace app {

struct Options {
    std::string learner;                   ///< name of who works; empty: who worked last
    std::string language;                  ///< of the words, instead of the one that is set
    std::string scenario;                  ///< start with this one
    std::optional<std::uint64_t> variant;  ///< of its anatomy; graded work draws its own
    std::filesystem::path session;         ///< take in this bundle of a graded session
    std::filesystem::path rate;            ///< a rater's folder
    std::string author;                    ///< write this draft, begun like `scenario` where there is none
    std::filesystem::path observe;         ///< a trainer's data folder to look on at, or one that holds several
    std::string records;                   ///< show the school's records at this place
    std::filesystem::path replay;          ///< look back at this attempt
    std::filesystem::path picture;         ///< write a still of the practice screen and end
    std::filesystem::path script;          ///< hands for the picture and the bench
    std::optional<double> at_s;            ///< moment of the script; its end if not given
    std::filesystem::path journal;
    std::string screen = "practice";        ///< for the picture: start, practice or score
    std::string view = "work";              ///< for the picture: work or whole
    std::string portrait;                   ///< for the picture: this patient's outside alone
    std::optional<double> azimuth_deg;      ///< of the portrait, 45 when not given; of a practice still, from its view
    double elevation_deg = 0.0;             ///< of a practice still, above its usual view
    bool vessels = false;                   ///< for the picture
    std::string layers;                     ///< for the picture of a debrief: a digit for each
    std::string over;                       ///< for the picture: what lies over the tray: section, probe or settings
    std::optional<sim::PracticeMode> mode;  ///< instead of the one that is set
    bool final_shape = false;               ///< the picture waits for the skin's final shape
    std::optional<session::Position>
        position;  ///< for the picture and the bench: with the tissue there, the patient so
    int width = 1280, height = 720;
    std::optional<int> text_percent;     ///< instead of the one that is set
    int loss = 0, page = 0, beside = 0;  ///< for the picture of a debrief: selection, page, what stands beside
    int frames = 0;                      ///< bench: draw so many and print their times as JSON
    bool busy = false;                   ///< bench: while a worker computes
    bool latency = false;                ///< bench: also from event to swap
    int quality = -1;                    ///< hold this step of view::quality_step; -1: chosen by how long frames take
};

/// The trainer: one window, one screen at a time.
class App {
 public:
    /// @throws gl::NoGraphics, std::runtime_error with a message for people
    explicit App(const Options& options);

    /// Until the window is closed. @return exit status
    int run();
    /// One still. @return exit status
    int picture();
    /// Times of frames in which everything moves, as JSON on the standard output. @return exit status
    int bench();

 private:
    enum class Screen {
        start,
        loading,
        practice,
        score,
        past,
        settings,
        progress,
        learners,
        sessions,
        rating,
        authoring,
        observing,
        cohort
    };

    void go_to(Screen screen, const std::string& detail = "");
    void begin_loading(const std::string& id, session::VariantWish wish);
    /// Says so too: in trouble_.
    [[nodiscard]] bool must_get_used_to_it(sim::PracticeMode how);
    [[nodiscard]] session::VariantAsked asked_for(const std::string& id, session::VariantWish wish) const;
    void work_as(const std::string& learner_id);
    void open_records();  ///< of the learner who works
    void heed_learners(const LearnersChoice& choice);
    [[nodiscard]] StartView start_view() const;
    void draw_progress_screen();
    void go_on_with(const std::filesystem::path& file);  ///< an attempt that stopped
    void read_sessions();
    void draw_sessions_screen();
    void begin_slot(std::size_t station, const std::string& slot);
    void hand_in(std::size_t station);
    void draw_rating_screen();
    void begin_authoring();
    void draw_authoring_screen();
    bool advance_authoring(double elapsed_s);  ///< @return the picture changed
    void begin_cohort();
    void draw_cohort_screen();
    void begin_rating(std::size_t entry);
    void begin_observing();
    bool observe(double elapsed_s);  ///< @return the picture changed
    void end_slot();                 ///< the attempt of the slot has been left
    [[nodiscard]] std::optional<double> slot_left_s() const;
    void begin_practice(Prepared prepared);
    void begin_score();
    void begin_replay(const std::filesystem::path& file);
    /// @throws as session::open_attempt, and for graded work that is not finished
    [[nodiscard]] static files::LoadedAttempt open_to_look(const std::filesystem::path& file);
    void show_past(const std::filesystem::path& file);  ///< from the list of attempts; says so when it cannot be shown
    void go_to_start();
    void apply_settings();
    void heed_settings(AfterSettings after);
    void look_for_devices();
    void give_senses();
    [[nodiscard]] sim::PracticeMode mode() const { return options_.mode.value_or(settings_.now().mode); }
    void draw_start_screen();
    void draw_past_screen();
    void draw_settings_screen();
    void draw_settings_in_practice();
    void keep_kinds(const view::StructureKinds& kinds);
    void begin_debrief(DebriefMaterial material, const std::string& kind = "");  ///< @param kind for the journal
    void save_paper();
    enum class Leaving { finished, given_up, parked };  ///< parked: to go on with later
    void leave_practice(Leaving how);
    void arrange_debrief();
    void load_now(const std::string& id);  ///< without a thread
    int portrait();
    void play_script();
    [[nodiscard]] static bool pulls_threads(const std::filesystem::path& script);
    template <typename Result, typename Then>
    void settle(std::unique_ptr<Job<Result>>& job, Then then);
    bool update(double elapsed_s);  ///< @return the picture changed
    void draw();
    void draw_patient(const Rect& view);
    void lap(FramePart part);
    void show_frame();
    void note_frame();
    void move_everything(const std::vector<files::TimedCommand>& commands, int frame);
    void choose_quality(const std::vector<files::TimedCommand>& commands);
    [[nodiscard]] std::vector<double> event_to_swap_ms();
    void draw_current_screen();
    void note_places();
    [[nodiscard]] std::string status() const;
    [[nodiscard]] std::string machine_words() const;
    [[nodiscard]] std::string title_of(const std::string& id) const;

    Options options_;
    Journal journal_;
    std::filesystem::path data_;
    gl::Window window_;
    std::unique_ptr<Controller> controller_;  ///< only where a person works
    std::unique_ptr<Sound> sound_;
    std::string devices_;  ///< what is not there, in words
    gl::Renderer renderer_;
    view::QualityChooser quality_;
    Ui ui_;
    files::LearnerList learners_;  ///< before what lies in their folders
    LearnerForm learner_form_;
    SettingsKeeper settings_;
    Instruments instruments_;
    Library library_;
    std::unique_ptr<AttemptShelf> shelf_;
    session::VariantWish variant_ = session::VariantWish::as_written;
    std::vector<PastAttempt> past_;  ///< as the shelf had them last
    std::size_t shelf_changes_ = 0;
    Input input_;
    Screen screen_ = Screen::start, before_settings_ = Screen::start, drawn_screen_ = Screen::start;
    /// An attempt of a graded session that is being made.
    struct InSlot {
        std::size_t station = 0;
        std::string slot;
        std::optional<std::chrono::steady_clock::time_point> ends;
    };
    std::vector<graded::Station> stations_;
    std::optional<InSlot> in_slot_;
    std::string handed_in_;
    std::shared_ptr<RatingDesk> rating_;  ///< only where a rater works
    std::unique_ptr<AuthoringDesk> authoring_;
    std::unique_ptr<CohortDesk> cohort_;
    std::unique_ptr<Observer> observer_;  ///< only where somebody looks on
    std::unique_ptr<Job<Prepared>> loading_;
    std::unique_ptr<Practice> practice_;
    std::unique_ptr<Job<DebriefMaterial>> replay_loading_;
    std::unique_ptr<Debrief> debrief_;
    gl::Canvas canvas_;
    bool patient_unsettled_ = false;  ///< the picture drawn last gets better by itself
    gl::CardClock card_clock_;
    double card_ms_ = 0.0;  ///< of the patient's picture that the card finished last
    FrameWatch watch_;
    std::unique_ptr<gl::CardWatch> card_watch_;  ///< bench only: it waits for the card
    std::int64_t frames_ = 0;
    FrameHistogram practice_frames_;  ///< of the attempt that is made
    std::chrono::steady_clock::time_point frames_noted_;
    std::string trouble_, last_id_, learner_name_;
    std::string noted_places_, noted_focus_;
    std::set<std::string> noted_misfits_;  ///< on this screen
    bool over_button_ = false, noted_settings_open_ = false;
};

}  // namespace app
