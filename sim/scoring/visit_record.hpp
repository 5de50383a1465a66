#pragma once

#include <set>
#include <string_view>
#include <vector>

#include "sim/patient/signs.hpp"
#include "sim/procedure/deeds.hpp"
#include "sim/scoring/recording.hpp"

/// A record read as a visit: what was done when, in the patient's time, and which signs were answered. For
/// scoring and reports.

namespace sim::figures {

/// A sign that wants an answer.
struct AnsweredSign {
    Sign sign = Sign::pain;
    const Event* event = nullptr;
    bool answered = false;          ///< in time
    double within_s = 0.0;          ///< of the patient's time
    double answered_after_s = 0.0;  ///< where anything did, in time or late
    const Event* by = nullptr;      ///< what did, where anything did
};

/// Refers to the recording, which must outlive it.
class VisitRecord {
 public:
    explicit VisitRecord(const Recording& recording);

    [[nodiscard]] std::vector<const Event*> all(EventKind kind) const;
    [[nodiscard]] const Event* last(EventKind kind) const;  ///< nullptr: never
    [[nodiscard]] std::vector<const Event*> deeds(Deed deed) const;
    [[nodiscard]] bool done_by(Deed deed, std::int64_t step) const;
    /// Different standard views taken from one step to another, both included.
    [[nodiscard]] int views(std::int64_t from, std::int64_t to) const;

    /// Whether any needle went through the skin, and at which step first.
    [[nodiscard]] bool entered() const { return entered_ != nullptr; }
    [[nodiscard]] std::int64_t entered_step() const { return entered_->step; }
    [[nodiscard]] std::int64_t last_use_step() const { return last_use_; }  ///< of an instrument on the patient
    [[nodiscard]] bool sharps_counted() const;                              ///< after that, and none was missing
    [[nodiscard]] std::set<Side> planned_sides() const;

    /// Patient's time of an event of this recording, s.
    [[nodiscard]] double patient_s(const Event& event) const;
    [[nodiscard]] double patient_s(std::int64_t step) const;

    /// Signs that want an answer, in order: what is wanted, and within which time;
    /// common practice, no source; the times are assumed.
    [[nodiscard]] std::vector<AnsweredSign> signs() const;

 private:
    const Recording& recording_;
    const Event* entered_ = nullptr;
    std::int64_t last_use_ = 0;
    std::vector<std::pair<std::int64_t, double>> passed_s_;  ///< step, and all that was waited for until then
};

/// The history calls for no treatment, that was decided last, and nobody was touched by a needle: the work is done, and
/// nothing else of it is measured than the visit.
[[nodiscard]] bool rightly_not_treated(const Recording& recording);
/// That, or the attempt began in the middle and asked for no pass.
[[nodiscard]] bool visit_alone(const Recording& recording);

}  // namespace sim::figures
