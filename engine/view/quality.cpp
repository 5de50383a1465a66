#include "engine/view/quality.hpp"

#include <algorithm>
#include <array>

#include "sim/core/errors.hpp"

namespace view {

namespace {

constexpr std::array<QualityStep, kQualitySteps> kSteps{{
    {true, 4, 1.0, ""},
    {true, 0, 1.0, "drawing without smooth edges to keep up"},
    {false, 0, 1.0, "drawing for a machine without a graphics card"},
    // three quarters of the size would take as long as the whole: below it the panels wait for the picture
    {false, 0, 0.5, "drawing at half detail to keep up"},
}};

}  // namespace

const QualityStep& quality_step(int step) {
    SIM_ASSERT(step >= 0 && step < kQualitySteps);
    return kSteps[static_cast<std::size_t>(step)];
}

double FrameCost::work_ms(bool waits_for_screen) const {
    return waits_for_screen ? std::max(thread_ms, card_ms) : frame_ms;
}

QualityChooser::QualityChooser(int best, int worst, double limit_ms)
    : best_(best), worst_(worst), step_(best), limit_ms_(limit_ms) {
    SIM_ASSERT(best >= 0 && best <= worst && worst < kQualitySteps && limit_ms > 0.0);
}

void QualityChooser::hold(int step) {
    SIM_ASSERT(step >= 0 && step < kQualitySteps);
    step_ = step;
    held_ = true;
}

bool QualityChooser::go(int step) {
    rose_ = step < step_;
    step_ = step;
    quick_ = 0;
    recent_.clear();
    return true;
}

bool QualityChooser::note_frame(double ms) {
    if (held_) return false;
    recent_.push_back(ms);
    quick_ = ms < kRiseBelowShare * limit_ms_ ? quick_ + 1 : std::max(0, quick_ - kQuickLost);
    if (recent_.size() >= kFramesToJudge) {
        std::sort(recent_.begin(), recent_.end());
        const double middle_ms = recent_[recent_.size() / 2];
        recent_.clear();
        if (middle_ms > limit_ms_ && step_ < worst_) {
            if (rose_) wait_ = std::min(2 * wait_, kLongestWait);
            return go(step_ + 1);
        }
        rose_ = false;  // the step holds
    }
    return quick_ >= kQuickFramesToRise * wait_ && step_ > best_ && go(step_ - 1);
}

}  // namespace view
