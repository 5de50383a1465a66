#pragma once

#include <string_view>
#include <vector>

/// How well the patient is drawn, chosen from how long frames take.

namespace view {

/// From the best down. Every step draws the whole patient; what is told in words is what a viewer gives up.
struct QualityStep {
    bool fine_shading = true;  ///< every pixel lit for itself
    int samples = 4;           ///< a pixel, for smooth edges
    double scale = 1.0;        ///< of the picture's sides before it is stretched to its place
    std::string_view words;    ///< for the screen; empty: nothing is given up
};

inline constexpr int kQualitySteps = 4;
[[nodiscard]] const QualityStep& quality_step(int step);

/// What one frame took.
struct FrameCost {
    double frame_ms = 0.0;   ///< on the clock, the wait for the screen included
    double thread_ms = 0.0;  ///< processor time of the thread that draws, until the picture was handed over
    double card_ms = 0.0;    ///< of the card on what was drawn; 0 where it is not known

    /// What counts for the choice. Where frames wait for the screen the clock tells its pace and not the work: what the
    /// slower of processor and card did is the time that a frame would take without the wait.
    [[nodiscard]] double work_ms(bool waits_for_screen) const;
};

/// Goes a step down when frames are too slow, and up again when there is much time to spare. Each step up that has to
/// be taken back makes the next attempt wait twice as long, so that the picture does not swing to and fro.
class QualityChooser {
 public:
    /// @param best,worst steps between which to choose  @param limit_ms longest time of an ordinary frame
    QualityChooser(int best, int worst, double limit_ms = kLimitMs);

    /// Told for every frame in which the patient was drawn. @param ms FrameCost::work_ms()
    /// @return true when the step changed
    bool note_frame(double ms);
    [[nodiscard]] int step() const { return step_; }
    /// Does not choose any more.
    void hold(int step);

    static constexpr double kLimitMs = 1000.0 / 30.0;
    static constexpr int kFramesToJudge = 15;       ///< their median counts: one slow frame changes nothing
    static constexpr int kQuickFramesToRise = 150;  ///< at first; one that is not quick undoes kQuickLost of them
    static constexpr int kQuickLost = 15;
    static constexpr double kRiseBelowShare = 0.35;  ///< of the limit: the next step costs up to three times as much
    static constexpr int kLongestWait = 64;          ///< times kQuickFramesToRise

 private:
    bool go(int step);

    int best_, worst_, step_;
    double limit_ms_;
    bool held_ = false, rose_ = false;
    int quick_ = 0, wait_ = 1;
    std::vector<double> recent_;
};

}  // namespace view
