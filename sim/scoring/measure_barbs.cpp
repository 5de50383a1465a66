#include <algorithm>
#include <array>
#include <limits>

#include "sim/scoring/figures.hpp"

/// Heading 4: what holds the thread that the withdrawal left. Heading 11: how many tries it took.

namespace sim::figures {

namespace {

struct ThreadHold {
    double seated = 0.0, in_plane = 0.0, worst_quarter = 0.0, hold_n = 0.0;
};

ThreadHold hold_of(const TrackRecord& track) {
    ThreadHold hold;
    if (track.barbs.empty()) return hold;
    double first_m = std::numeric_limits<double>::infinity(), last_m = -first_m;
    for (const BarbRecord& barb : track.barbs) {
        first_m = std::min(first_m, barb.along_m);
        last_m = std::max(last_m, barb.along_m);
    }
    std::array<int, 4> seated_in{}, all_in{};
    double toward_entry_n = 0.0, toward_end_n = 0.0;
    int seated = 0, in_plane = 0;
    for (const BarbRecord& barb : track.barbs) {
        const double fraction = last_m > first_m ? (barb.along_m - first_m) / (last_m - first_m) : 0.0;
        const auto quarter = static_cast<std::size_t>(std::min(3.0, std::max(0.0, 4.0 * fraction)));
        ++all_in[quarter];
        if (!barb.seated) continue;
        ++seated;
        ++seated_in[quarter];
        if (barb.layer == Layer::superficial_fat) ++in_plane;
        (barb.direction > 0 ? toward_entry_n : toward_end_n) += barb.capacity_n;
    }
    const double count = static_cast<double>(track.barbs.size());
    hold.seated = seated / count;
    hold.in_plane = in_plane / count;
    hold.hold_n = std::min(toward_entry_n, toward_end_n);
    hold.worst_quarter = 1.0;
    for (std::size_t q = 0; q < 4; ++q)
        if (all_in[q] > 0)
            hold.worst_quarter = std::min(hold.worst_quarter, static_cast<double>(seated_in[q]) / all_in[q]);
    return hold;
}

int loaded_instruments(const Recording& recording) {
    return static_cast<int>(std::count_if(recording.tray.begin(), recording.tray.end(),
                                          [](const InstrumentSpec& instrument) { return instrument.loaded; }));
}

}  // namespace

void measure_barbs(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    const bool threads_wanted = loaded_instruments(recording) > 0;
    ThreadHold worst{1.0, 1.0, 1.0, std::numeric_limits<double>::infinity()};
    std::array<const TrackRecord*, 4> at{};
    bool any = false;
    const auto take = [&](const ThreadHold& hold, const TrackRecord* track) {
        any = true;
        const std::array<double, 4> value{hold.seated, hold.in_plane, hold.worst_quarter, hold.hold_n};
        const std::array<double*, 4> least{&worst.seated, &worst.in_plane, &worst.worst_quarter, &worst.hold_n};
        for (std::size_t i = 0; i < 4; ++i)
            if (value[i] < *least[i]) {
                *least[i] = value[i];
                at[i] = track;
            }
    };
    for (int vector = 0; vector < vector_count(recording); ++vector) {
        bool threaded = false;
        for (const TrackRecord* track : final_tracks(recording, vector)) {
            if (!track->loaded) continue;
            threaded = true;
            take(hold_of(*track), track);
        }
        // a planned vector without its thread holds nothing: leaving the thread out must not hide the heading
        if (!threaded && threads_wanted && vector < static_cast<int>(recording.plan.size())) take({}, nullptr);
    }
    if (!any) return;

    const auto add = [&](std::string_view name, double value, std::size_t index, std::string what) {
        sheet.add(name, value);
        const TrackRecord* track = at[index];
        sheet.find(name, track == nullptr ? "no thread was left" : std::move(what),
                   track == nullptr ? recording.steps : step_at(recording, *track, track->length_m),
                   track == nullptr ? Vec3{} : track->end_m, 1.0, "anchor");
    };
    const auto percent = [](double share) { return std::to_string(static_cast<int>(100.0 * share + 0.5)) + " %"; };
    add("barbs_seated", worst.seated, 0, percent(worst.seated) + " of the barbs seated");
    add("barbs_in_plane", worst.in_plane, 1, percent(worst.in_plane) + " of the barbs seated in the superficial fat");
    add("seated_in_worst_quarter", worst.worst_quarter, 2,
        percent(worst.worst_quarter) + " seated in the worst quarter of the thread");
    add("hold", worst.hold_n, 3, "the weaker barb set holds " + n_text(worst.hold_n));

    std::vector<const Event*> misplaced;
    for (const Event& event : recording.events)
        if (event.kind == EventKind::thread_left && !(event.value[0] > 0.5)) misplaced.push_back(&event);
    sheet.add("threads_misplaced", static_cast<double>(misplaced.size()));
    for (const Event* event : misplaced)
        sheet.find("threads_misplaced", "thread left behind by re-angling", event->step, event->place_m, 1.0, "anchor");
}

namespace {

/// What an emptied cannula makes after it has left its thread behind goes on along a track that counts already.
bool starts_anew(const TrackRecord& track) { return track.final || track.loaded || track.re_angles == 0; }

}  // namespace

void measure_economy(Sheet& sheet) {
    const Recording& recording = sheet.recording();
    if (recording.tracks.empty()) return;
    const TrackRecord* most = &recording.tracks.front();
    int extra_tracks = 0;
    for (const TrackRecord& track : recording.tracks)
        if (track.re_angles > most->re_angles) most = &track;
    const TrackRecord* extra = nullptr;
    for (int vector = 0; vector < vector_count(recording); ++vector)
        for (const bool loaded : {false, true}) {
            int count = 0;
            for (const TrackRecord& track : recording.tracks)
                if (track.vector == vector && track.loaded == loaded && starts_anew(track) && ++count > 1) {
                    ++extra_tracks;
                    extra = &track;
                }
        }
    sheet.add("redirections", most->re_angles);
    if (most->re_angles > 0)
        sheet.find("redirections", count_text(most->re_angles, "redirection", "redirections") + " in one track",
                   step_at(recording, *most, most->length_m), most->end_m);
    sheet.add("extra_tracks", extra_tracks);
    if (extra != nullptr)
        sheet.find("extra_tracks", count_text(extra_tracks, "track", "tracks") + " started anew",
                   step_at(recording, *extra, 0.0), extra->entry_m);

    std::vector<const Event*> threads;
    for (const Event& event : recording.events)
        if (event.kind == EventKind::thread_left) threads.push_back(&event);
    const int planned = std::max(1, static_cast<int>(recording.plan.size()));
    const int extra_threads = std::max(0, static_cast<int>(threads.size()) - planned);
    sheet.add("extra_threads", extra_threads);
    if (extra_threads > 0)
        sheet.find("extra_threads", count_text(extra_threads, "thread", "threads") + " beyond the plan",
                   threads.back()->step, threads.back()->place_m, 1.0, "anchor");
}

}  // namespace sim::figures
