#pragma once

#include <cstdint>
#include <functional>
#include <glm/vec2.hpp>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "engine/app/aids.hpp"
#include "engine/app/controller.hpp"
#include "engine/app/guide.hpp"
#include "engine/app/home.hpp"
#include "engine/app/journal.hpp"
#include "engine/app/lesson.hpp"
#include "engine/app/library.hpp"
#include "engine/app/other_hand.hpp"
#include "engine/app/patient_posture.hpp"
#include "engine/app/section_panel.hpp"
#include "engine/app/settings.hpp"
#include "engine/app/skin_under_tip.hpp"
#include "engine/app/sound.hpp"
#include "engine/app/steering.hpp"
#include "engine/app/thread_hands.hpp"
#include "engine/app/ui.hpp"
#include "engine/app/ultrasound_panel.hpp"
#include "engine/app/visit_panel.hpp"
#include "engine/files/timed_command.hpp"
#include "engine/session/replay.hpp"
#include "engine/view/camera.hpp"
#include "engine/view/depth_plot.hpp"

namespace app {

/// One attempt in the window: hands, camera, aids, and the screen around the patient.
class Practice {
 public:
    /// @param coaching what coached practice begins with
    Practice(Prepared prepared, std::shared_ptr<const view::InstrumentModels> instruments, sim::PracticeMode mode,
             const Coaching& coaching, const Settings& settings, Journal& journal);

    /// What mouse and keys ask for outside the steps: camera, entry, tray, aids.
    /// @param over_button     the pointer is over something drawn, not over the patient
    /// @param control_focused Enter and Space belong to a control on the screen
    void handle(const Input& input, bool over_button, bool control_focused);

    /// Run what the clock owes, in whole steps, within a budget of real time. @return true if the picture changed
    bool advance(double elapsed_s, const Input& input);

    /// Play commands up to a step, without a clock.
    void play(const std::vector<files::TimedCommand>& commands, std::int64_t until_step);

    /// Bands, tray, trace and words around the patient.
    void draw_screen(Ui& ui);

    /// Where the patient is shown in a window of this size.
    [[nodiscard]] Rect patient_rect(const Ui& ui) const;
    [[nodiscard]] view::DrawList draw_list(double aspect);

    /// Settings lie over the tray and simulated time stands still, but in graded work, where it goes on.
    [[nodiscard]] bool settings_open() const { return settings_open_; }
    void close_settings() { settings_open_ = false; }
    [[nodiscard]] const Settings& settings() const { return settings_; }  ///< with what was changed on this screen
    [[nodiscard]] sim::PracticeMode mode() const { return session_->recording().mode; }
    void change_settings(const Settings& to);
    /// Where they go. Longer than the tray: they may cover the depth trace.
    [[nodiscard]] Rect over_tray(const Ui& ui) const;

    [[nodiscard]] bool finished() const { return session_->finished(); }
    [[nodiscard]] bool wants_to_leave() const { return leave_; }
    [[nodiscard]] const session::Session& session() const { return *session_; }
    [[nodiscard]] const session::Tape& tape() const { return tape_->tape(); }  ///< for looking back
    [[nodiscard]] const Prepared& prepared() const { return prepared_; }
    [[nodiscard]] std::shared_ptr<session::LiveTissue> tissue() const { return posture_.tissue(); }
    /// Without a command that would tell of it; does nothing where the case does not allow this aid.
    void show_aid(int aid, bool on);
    /// Taken from the tray or put away; does nothing where the case has none.
    void take_probe(bool taken);
    void open_settings();
    /// For stills: waits for the tissue.
    void place_patient(const session::Position& position) { posture_.wait(position, scene_); }
    /// The patient goes on moving and settling, apart from the hands: for the bench.
    void let_patient_move(double elapsed_s) { posture_.advance(elapsed_s, false, scene_); }
    [[nodiscard]] session::TissueStatus::Shape shape() const { return posture_.status().shape; }
    /// Wait until the skin lies in its final shape: for stills.
    void settle_shape() { posture_.wait_for_final_shape(scene_); }
    /// For stills: waits for what the hands do to the skin, where there is tissue.
    void settle_skin() { under_tip_.wait(session_->state(), scene_); }
    /// @param turn_rad the camera goes so far round the patient and up
    void set_view(bool whole, glm::dvec2 turn_rad) {
        whole_view_ = whole;
        view_turn_rad_ = turn_rad;
        placed_ = false;
    }
    /// What is heard now, and the events since the last call that may click.
    [[nodiscard]] const Sounding& sounding() const { return sounding_; }
    [[nodiscard]] std::vector<sim::Event> take_heard() { return std::exchange(heard_, {}); }
    /// What a controller's motors do now.
    [[nodiscard]] Rumble rumble() const;
    /// Layers, depth and warnings are told: the depth trace is on, which graded work does not have.
    [[nodiscard]] bool depth_told() const { return trace_ && session_->recording().mode != sim::PracticeMode::graded; }

    /// Real time that the simulation keeps up with, 1 when it does.
    [[nodiscard]] double real_time_factor() const { return real_time_factor_; }

 private:
    void take_up(const files::LoadedAttempt& before);
    void handle_camera(const Input& input);
    void handle_keys(const Input& input, bool control_focused);
    void leave();
    void choose_place(const Input& input);
    void take(int tray_number);
    void discard();
    void finish();
    [[nodiscard]] bool pass_made() const;  ///< some track has come to the end of its plan
    void toggle(int aid);
    void next_posture();
    void turn_head(int degrees);
    [[nodiscard]] bool may_move_patient();
    void look(bool whole);
    [[nodiscard]] view::CameraPose first_pose(bool whole, double aspect) const;
    void send_hands(const Input& input);
    void note_device(const Input& input);
    void note_probe(double elapsed_s);
    void begin_aids(const Coaching& coaching);
    void note_tissue();
    void note_events();
    void listen(double elapsed_s);
    void hear(const sim::Event& event);
    [[nodiscard]] double trace_depth_m() const;
    void handle_pad(const Input& input, double elapsed_s);
    float draw_caption(Ui& ui, const Rect& view, float below) const;  ///< @return where it ends
    void draw_patient_words(Ui& ui, const Rect& view, float below) const;
    [[nodiscard]] std::optional<Point> mouth_in_window() const;

    struct PlacedLabel {
        std::string name;
        Point at;
        bool leftwards = false;  ///< the words stand to its left
    };
    [[nodiscard]] std::optional<Point> in_window(const glm::vec3& place_mm) const;
    [[nodiscard]] std::vector<PlacedLabel> placed_labels() const;
    void draw_labels(Ui& ui) const;
    void draw_mark_names(Ui& ui) const;

    /// A number under its name.
    struct ReadOut {
        std::string name, number;
        const char* unit = "mm";
    };

    void draw_band(Ui& ui);
    [[nodiscard]] std::string place_words() const;
    /// The stages of a pass, or of a visit, and which of them is now.
    struct Stages {
        std::vector<std::string> names;
        std::size_t now = 0;
    };
    [[nodiscard]] Stages stages() const;
    /// How they are shown: all by name, the others as strokes, or only the one that is now.
    enum class StageRoom { names, strokes, one };
    void draw_stages(Ui& ui, float x, float band_h, const Stages& all, StageRoom room) const;
    [[nodiscard]] static float stages_width(const Ui& ui, const Stages& all, StageRoom room);
    float draw_clock(Ui& ui, float right, float band_h) const;
    [[nodiscard]] Sentence words_now() const;
    [[nodiscard]] std::vector<ReadOut> read_outs() const;
    void draw_small_trace(Ui& ui, const Rect& rect) const;
    [[nodiscard]] view::DepthTrace live_trace() const;
    // parts of the tray. @return where they end
    float draw_in_hand(Ui& ui, float x, float y, float w, float px_per_mm) const;
    float draw_at_hand(Ui& ui, float x, float y, float w, float px_per_mm);
    void draw_force(Ui& ui, float x, float y, float w) const;
    [[nodiscard]] static float force_height(const Ui& ui);
    [[nodiscard]] float read_outs_height(const Ui& ui) const;
    void draw_read_outs(Ui& ui, float x, float y, float w) const;
    [[nodiscard]] float first_hints_width(const Ui& ui) const;
    [[nodiscard]] const std::vector<KeyHint>& hints() const;
    [[nodiscard]] float hints_height(const Ui& ui, float w) const;
    void draw_hints(Ui& ui, float x, float y, float w) const;
    // with a thread in the tissue
    [[nodiscard]] bool at_thread() const;
    [[nodiscard]] const sim::HeldThread& worked_thread() const;
    float draw_thread_controls(Ui& ui, float x, float y, float w);
    float draw_thread_tray(Ui& ui, float x, float y, float w, float px_per_mm);
    void draw_thread_plots(Ui& ui, const Rect& rect) const;
    [[nodiscard]] std::vector<double> lifts_m() const;
    void draw_lifts(Ui& ui, const Rect& rect) const;
    void draw_small_lifts(Ui& ui, const Rect& rect) const;
    void draw_sentence(Ui& ui, const Rect& view) const;
    void draw_sentence_bar(Ui& ui, const Rect& bar) const;
    [[nodiscard]] static float sentence_bar_height(const Ui& ui);
    void draw_tray(Ui& ui, const Rect& tray);
    void draw_trace(Ui& ui, const Rect& rect) const;
    [[nodiscard]] bool section_shown() const;
    [[nodiscard]] Rect section_rect(const Ui& ui, const Rect& tray) const;
    void draw_section(Ui& ui, const Rect& rect);
    void draw_probe(Ui& ui, const Rect& rect);
    float draw_probe_at_hand(Ui& ui, float x, float y, float w);
    [[nodiscard]] Rect probe_rect(const Ui& ui, const Rect& tray) const;
    /// What lies over the upper part of the tray: the section, or the probe's picture.
    [[nodiscard]] bool part_shown() const { return section_shown() || probe_panel_.taken(); }
    [[nodiscard]] Rect part_rect(const Ui& ui, const Rect& tray) const {
        return probe_panel_.taken() ? probe_rect(ui, tray) : section_rect(ui, tray);
    }
    /// The scenario has a visit, and its panel lies over the tray.
    [[nodiscard]] bool has_visit() const { return prepared_.model->scenario.visit.has_value(); }
    [[nodiscard]] bool visit_shown() const { return has_visit() && visit_open_ && !settings_open_; }
    void draw_visit(Ui& ui);
    [[nodiscard]] bool* shown_of(int aid);  ///< null for what the case does not allow
    [[nodiscard]] std::string record_trouble() const;
    /// @return where the chips end
    float draw_aids(Ui& ui, const Rect& view);
    float draw_camera_buttons(Ui& ui, const Rect& view);
    float draw_turn_chips(Ui& ui, float x, float y, bool drawn);
    void draw_patient_chips(Ui& ui, float x, float y);
    float draw_hand_chips(Ui& ui, const Rect& view, float y);
    void draw_record_trouble(Ui& ui, const Rect& view, float y) const;
    void draw_plots(Ui& ui, const Rect& rect) const;
    void name_places(Ui& ui, const Rect& view) const;
    [[nodiscard]] bool trace_shown() const;
    [[nodiscard]] float trace_height(const Ui& ui) const;

    Prepared prepared_;
    Settings settings_;
    Journal* journal_;
    std::shared_ptr<session::TapeRecorder> tape_;
    std::shared_ptr<session::LiveAnswers> answers_;
    std::unique_ptr<session::Session> session_;
    view::Scene scene_;
    PatientPosture posture_;
    SkinUnderTip under_tip_;
    bool posture_refused_ = false;  ///< something was in the skin
    view::Camera camera_;
    Steering steering_;
    ThreadHands thread_hands_;
    OtherHand other_hand_;
    SectionPanel section_panel_;
    UltrasoundPanel probe_panel_;
    VisitPanel visit_panel_;
    bool visit_open_ = true;                            ///< a visit begins with the consult
    std::vector<view::SidePicture> in_tray_, in_hand_;  ///< by tray number
    glm::dvec2 view_turn_rad_{};                        ///< of the first view
    Rect view_;                                         ///< patient's place in the last frame
    bool placed_ = false, whole_view_ = false, leave_ = false, finish_asked_ = false, leave_asked_ = false;
    bool cutaway_ = false, vessels_ = false, trace_ = false, force_ = false, words_ = false, section_ = false;
    bool settings_open_ = false;
    // where there is little room they fold away
    bool aids_open_ = false, keys_open_ = false, hand_open_ = false, patient_open_ = false;
    double peak_n_ = 0.0;  ///< of the force on the hand so far: what its bar must hold
    Lesson lesson_;
    std::string noted_trouble_;
    std::optional<sim::Device> device_;  ///< that moved the hands last
    std::optional<sim::Command> probe_told_;
    sim::Vec3 probe_at_m_{};
    double probe_since_s_ = 0.0;  ///< it was told last
    double backlog_s_ = 0.0, real_time_factor_ = 1.0;
    std::vector<view::Label> labels_, mark_names_;  ///< of the picture drawn last
    glm::mat4 labels_seen_{1.0f};                   ///< millimetres to its clip space
    Sounding sounding_;
    std::vector<sim::Event> heard_;
    double heard_inserted_m_ = 0.0;  ///< when sounding_ was made
    bool moving_ = false;            ///< the shaft slides through the entry
    std::string caption_;
    double caption_left_s_ = 0.0;
    std::int64_t drawn_second_ = -1, noted_step_ = 0;
};

}  // namespace app
