#include "sim/barbed_thread/held_thread.hpp"

#include <algorithm>
#include <cmath>

#include "sim/barbed_thread/barbs.hpp"
#include "sim/barbed_thread/left_behind.hpp"
#include "sim/instruments/second_hand.hpp"
#include "sim/instruments/track.hpp"
#include "sim/patient/patient.hpp"

namespace sim {

namespace {

/// Unit direction along a track towards its entry.
Vec3 towards_entry(const Track& track, double along_m) {
    constexpr double kReachM = 0.75 * kMm;
    const Vec3 way = way_at(track, std::max(0.0, along_m - kReachM)) - way_at(track, along_m + kReachM);
    const double length_m = glm::length(way);
    return length_m > 0.0 ? way / length_m : Vec3(0.0, 0.0, 1.0);
}

HeldBarb held(const Track& track, const BarbRecord& record) {
    HeldBarb barb;
    barb.place_m = way_at(track, record.along_m);
    barb.towards_entry = towards_entry(track, record.along_m);
    barb.along_m = record.along_m;
    barb.direction = record.direction;
    barb.layer = record.layer;
    barb.capacity_n = record.layer == Layer::muscle ? 0.0 : record.capacity_n;
    barb.state = record.seated ? BarbState::seated : BarbState::folded;
    return barb;
}

/// As it lies along the open track. Its barbs go to the record too.
HeldThread laid(const StepContext& context, TrackRecord& record) {
    State& s = context.state;
    const Track& track = *s.track;
    const ThreadSpec& spec = context.instrument().thread;
    record.barbs = seat_barbs(spec, record.pieces, s.withdrawal_turn_rad);
    HeldThread thread;
    for (auto barb = record.barbs.rbegin(); barb != record.barbs.rend(); ++barb)
        thread.barbs.push_back(held(track, *barb));
    thread.number = static_cast<int>(s.threads.size()) + 1;
    thread.track = track.index;
    thread.vector = track.vector;
    thread.in_tissue_m = std::min(track.farthest_m, spec.length_m);
    for (int i = 0; i <= kRampSteps; ++i) thread.ramp_m.push_back(way_at(track, i * kRampStepM));
    if (context.model.scenario.visit)
        for (HeldBarb& barb : thread.barbs) {
            const double fluid = fluid_share(s.visit.anaesthetic, barb.place_m, patient_s(s));
            barb.capacity_n *= 1.0 - fluid;
            thread.fluid += fluid / static_cast<double>(thread.barbs.size());
        }
    return thread;
}

double pressed_over_end_n(const StepContext& context) {
    const State& s = context.state;
    return pressed_n(s.hand, context.model.anatomy->nearest_skin(s.track->end_m).position_m);
}

}  // namespace

int HeldThread::count(BarbState state) const {
    return static_cast<int>(
        std::count_if(barbs.begin(), barbs.end(), [&](const HeldBarb& barb) { return barb.state == state; }));
}

std::pair<int, int> HeldThread::half(int which) const {
    std::pair<int, int> range{0, -1};
    for (std::size_t i = 0; i < barbs.size(); ++i) {
        if ((barbs[i].direction < 0) != (which == 1)) continue;
        if (range.second < 0) range.first = static_cast<int>(i);
        range.second = static_cast<int>(i);
    }
    return range;
}

BarbGrip grip_of(const HeldBarb& barb) {
    const double share = barb.state == BarbState::seated ? 1.0 : barb.state == BarbState::slipped ? kSlippedShare : 0.0;
    const double firm_n = share * barb.capacity_n, easy_n = kEasyShare * firm_n;
    // next to the entry a barb holds tissue that moves to the entry, which is the thread sliding to its far end
    const bool near = barb.direction > 0;
    return {barb.place_m, barb.towards_entry, near ? easy_n : firm_n, near ? firm_n : easy_n, barb.slip_m};
}

double hold_n(std::span<const HeldBarb> barbs) {
    double sum_n = 0.0;
    for (const HeldBarb& barb : barbs) sum_n += grip_of(barb).to_entry_n;
    return sum_n;
}

double weaker_set_n(std::span<const HeldBarb> barbs) {
    double near_n = 0.0, far_n = 0.0;
    for (const HeldBarb& barb : barbs) {
        const BarbGrip grip = grip_of(barb);
        (barb.direction > 0 ? near_n : far_n) += std::max(grip.to_entry_n, grip.to_far_n);
    }
    return std::min(near_n, far_n);
}

void leave_thread(const StepContext& context, TrackRecord& record) {
    State& s = context.state;
    const Track& track = *s.track;
    HeldThread thread = laid(context, record);
    const double pressed = pressed_over_end_n(context);
    if (const double held_n = hold_n(thread.barbs) + kPressFriction * pressed; held_n < kCannulaDragN) {
        record.barbs.clear();
        context.note(EventKind::followed_out, track.end_m, track.index, {held_n, kCannulaDragN, 0, 0});
        return;
    }
    s.threads.push_back(std::move(thread));
    context.note(EventKind::thread_left, track.end_m, track.index, {1.0, pressed, 0, 0});
}

bool leave_behind(const StepContext& context, TrackRecord& record) {
    State& s = context.state;
    HeldThread thread = laid(context, record);
    // barbs lie from the far end to the entry: those beyond the tip are bare
    const auto bare = std::find_if(thread.barbs.begin(), thread.barbs.end(),
                                   [&](const HeldBarb& barb) { return barb.along_m < s.inserted_m; });
    const double pressed = pressed_over_end_n(context);
    const double held_n = hold_n({thread.barbs.begin(), bare}) + kPressFriction * pressed;
    if (held_n < kCannulaDragN) return false;
    s.threads.push_back(std::move(thread));
    context.note(EventKind::thread_left, s.track->end_m, s.track->index, {0.0, pressed, 0, 0});
    return true;
}

std::optional<ThreadRefusal> refusal_of(const Model& model, const State& state, int number,
                                        std::optional<int> stroked_half) {
    if (!model.scenario.mechanics.tissue_response) return ThreadRefusal::rigid_tissue;
    if (number < 1 || number > static_cast<int>(state.threads.size())) return ThreadRefusal::no_such_thread;
    const HeldThread& thread = state.threads[static_cast<std::size_t>(number - 1)];
    if (thread.out) return ThreadRefusal::thread_out;
    if (thread.trimmed() && !stroked_half) return ThreadRefusal::trimmed;
    if (!stroked_half) return std::nullopt;
    if (state.stroke) return ThreadRefusal::stroke_under_way;
    if (const auto [first, last] = thread.half(*stroked_half); last < first) return ThreadRefusal::no_barbs_there;
    return std::nullopt;
}

}  // namespace sim
