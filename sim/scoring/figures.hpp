#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/scoring/rubric.hpp"

/// What the measures of one heading share: which tracks count, where a millimetre lies in time, how words are made.
/// Internal to sim/scoring.

namespace sim::figures {

inline constexpr double kPieceM = 1.0 * kMm;  ///< length of a TrackPiece
inline constexpr double kSlackM = 1e-9;       ///< ten quanta of the trace: what lies exactly on a limit is within it

class VisitRecord;

/// Collects measures and findings.
class Sheet {
 public:
    explicit Sheet(const Recording& recording) : recording_(recording) {}

    /// @param name of measure_table(); @param value SI or a share
    void add(std::string_view name, double value);
    /// What was added last is as high as it is told.
    void cap_last() { out_.measures.back().capped = true; }
    /// What a measure already added would be without what a plunge made. @param value SI or a share
    void set_steered(std::string_view name, double value);
    /// A measure that is not in the table: the same figure for one structure.
    void add_extra(const MeasureSpec& like, std::string name, double value);
    /// A finding of a measure already added, at a step and place.
    void find(std::string_view name, std::string what, std::int64_t step, const Vec3& place_m, double weight = 1.0,
              std::string_view stage = "pass");

    [[nodiscard]] const Recording& recording() const { return recording_; }
    [[nodiscard]] MeasuredAttempt take() && { return std::move(out_); }

 private:
    const Recording& recording_;
    MeasuredAttempt out_;
};

/// Tracks that count as final for a planned vector: those that left a thread, or the last bare one where none did.
[[nodiscard]] std::vector<const TrackRecord*> final_tracks(const Recording& recording, int vector);
/// The same over all vectors, planned or not, in order of vector.
[[nodiscard]] std::vector<const TrackRecord*> final_tracks(const Recording& recording);
/// Planned vectors, and those that tracks serve without a plan.
[[nodiscard]] int vector_count(const Recording& recording);

/// Length that the plan asks of a vector; the track's own where nothing is planned.
[[nodiscard]] double planned_length_m(const Recording& recording, const TrackRecord& track);

/// Share of its planned way that a track made, in [0, 1]: by length, and by progress along the planned chord.
[[nodiscard]] double reached_share(const Recording& recording, const TrackRecord& track, const Bands& bands);
/// The best of a vector's final tracks; 0 where there is none.
[[nodiscard]] double reached_share(const Recording& recording, int vector, const Bands& bands);

/// Step at which the tip first came as far as `along_m` in a track.
[[nodiscard]] std::int64_t step_at(const Recording& recording, const TrackRecord& track, double along_m);

/// Track that the tip made by itself, after what held it had given way: nobody steered there.
struct PlungeStretch {
    int track = -1;
    double from_m = 0.0, to_m = 0.0;  ///< inserted length
};
/// Those of more than kPlungeM.
[[nodiscard]] std::vector<PlungeStretch> plunge_stretches(const Recording& recording);
inline constexpr double kPlungeM = 1.0 * kMm;  ///< travel after release beyond which it was a plunge; assumed

/// The track that was open at an event, -1 for none.
[[nodiscard]] int open_track_at(const Recording& recording, std::size_t event_index);

[[nodiscard]] inline double share_of(int part, int whole) { return static_cast<double>(part) / whole; }
[[nodiscard]] std::string mm_text(double value_m);  ///< "0.8 mm"
[[nodiscard]] std::string n_text(double value_n);   ///< "3.1 N"
[[nodiscard]] std::string count_text(int count, std::string_view singular, std::string_view plural);
[[nodiscard]] std::string structure_text(const StructureFacts& structure);  ///< "left facial artery"
[[nodiscard]] std::string ligament_text(const Recording& recording, int ligament);
[[nodiscard]] std::string structure_text(const Recording& recording, int structure);

void measure_plane(Sheet& sheet, const Bands& bands);
void measure_clearance(Sheet& sheet, const Bands& bands);
void measure_ligaments(Sheet& sheet);
void measure_barbs(Sheet& sheet);
void measure_lift(Sheet& sheet);
void measure_other_hand(Sheet& sheet);
void measure_courses(Sheet& sheet);
void measure_visit(Sheet& sheet);
void measure_marks(Sheet& sheet, const VisitRecord& record);
void measure_calls(Sheet& sheet, const VisitRecord& record);
void measure_tails(Sheet& sheet);
/// A share, and a finding where it is not whole.
void tell(Sheet& sheet, std::string_view name, double share, std::int64_t step, std::string_view stage,
          const std::string& what, const Vec3& place_m = {});
void measure_economy(Sheet& sheet);

}  // namespace sim::figures
