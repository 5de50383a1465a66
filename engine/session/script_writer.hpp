#pragma once

#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <string>
#include <string_view>

#include "engine/files/script.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/session/session.hpp"

/// What scripted performers write with. Internal to engine/session.

namespace session {

/// Writes a script line by line and plays each line at once, so that the next can answer what happened.
class ScriptWriter {
 public:
    ScriptWriter(std::shared_ptr<const sim::Model> model, std::shared_ptr<AnswerSource> answers)
        : session_(std::move(model), {sim::PracticeMode::solo, nullptr, std::move(answers)}) {}

    void line(const std::string& text) {
        text_ += text + "\n";
        const files::Script script = files::compile_script(text_, "composed script");
        play_commands(session_, {script.commands.data() + played_, script.commands.size() - played_}, script.steps);
        // what takes no time waits for the movement that follows it
        while (played_ < script.commands.size() && script.commands[played_].step < script.steps) ++played_;
        for (const sim::Event& event : session_.take_events())
            if (event.kind == sim::EventKind::deed_done && event.subject == static_cast<int>(sim::Deed::call_back))
                heard_ = static_cast<int>(event.value[1]);
    }
    /// The attempt's end, and the time that the tissue takes to come to rest.
    void finish() {
        constexpr std::int64_t kRestSteps = 250;
        line("finish");
        play_commands(session_, {}, session_.state().step + kRestSteps);
    }
    void comment(const std::string& text) { text_ += "# " + text + "\n"; }

    void aim(double yaw_deg, double pitch_deg) {
        yaw_deg_ = yaw_deg;
        pitch_deg_ = pitch_deg;
        line(fmt::format("aim yaw {:.1f} pitch {:.1f}", yaw_deg, pitch_deg));
    }
    /// Push while turning to a new aim.
    void push(double mm, double mm_per_s, double yaw_deg, double pitch_deg) {
        yaw_deg_ = std::round(yaw_deg * 10.0) / 10.0;
        pitch_deg_ = std::round(pitch_deg * 10.0) / 10.0;
        line(fmt::format("push {:.1f} mm at {:.0f} mm/s turning yaw {:.1f} pitch {:.1f}", mm, mm_per_s, yaw_deg_,
                         pitch_deg_));
    }

    [[nodiscard]] const sim::State& state() const { return session_.state(); }
    [[nodiscard]] const sim::Model& model() const { return session_.model(); }
    [[nodiscard]] sim::LayerPoint at_tip() const { return model().anatomy->layers_at(state().tip_m); }
    /// What the last call heard, a bit each; 0 before the first.
    [[nodiscard]] int heard() const { return heard_; }
    /// What playing has left so far; finished once the tissue has come to rest after the last line.
    [[nodiscard]] const sim::Recording& recording() const { return session_.recording(); }
    [[nodiscard]] const std::string& text() const { return text_; }
    [[nodiscard]] double yaw_deg() const { return yaw_deg_; }
    [[nodiscard]] double pitch_deg() const { return pitch_deg_; }

 private:
    Session session_;
    std::string text_;
    std::size_t played_ = 0;
    double yaw_deg_ = 0.0, pitch_deg_ = 0.0;
    int heard_ = 0;
};

/// "touch 48.91 -56.06 54.58"
[[nodiscard]] inline std::string place_line(std::string_view verb, const sim::Vec3& place_m) {
    return fmt::format("{} {:.2f} {:.2f} {:.2f}", verb, place_m.x / sim::kMm, place_m.y / sim::kMm,
                       place_m.z / sim::kMm);
}

}  // namespace session
