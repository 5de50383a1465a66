#pragma once

#include <span>
#include <vector>

#include "engine/files/scenario.hpp"
#include "sim/state.hpp"
#include "sim/trace.hpp"

namespace app {

/// Where a learner stands in a lesson: one step after the other, each done when the simulation says so.
class Lesson {
 public:
    explicit Lesson(std::vector<files::LessonStep> steps) : steps_(std::move(steps)) {}

    /// @param fresh events since the last call, in order
    void advance(std::span<const sim::Event> fresh, const sim::State& state);

    [[nodiscard]] bool any() const { return !steps_.empty(); }
    [[nodiscard]] bool done() const { return at_ >= steps_.size(); }
    [[nodiscard]] std::size_t at() const { return at_; }  ///< of the step that is to be done, from 0
    [[nodiscard]] std::size_t count() const { return steps_.size(); }
    /// @pre any() and not done()
    [[nodiscard]] const files::LessonStep& step() const { return steps_[at_]; }

 private:
    [[nodiscard]] bool stands(const files::LessonStep& step, const sim::State& state) const;

    std::vector<files::LessonStep> steps_;
    std::size_t at_ = 0;
};

}  // namespace app
