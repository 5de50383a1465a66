#include <algorithm>
#include <cmath>

#include "sim/stages.hpp"

/// Threads in the tissue: pulls and strokes become questions, one at a time; answers move barbs on. What a barb has
/// been through is kept in the state, so that an answer hangs on its question alone.

namespace sim {

namespace {

constexpr std::int64_t kNoticeSteps = 16;   // 64 ms: time for a worker to answer before the step that reads it
constexpr std::int64_t kStrokeSteps = 100;  // 0.4 s: how long a stroke pushes before it lets go; assumed

/// Mean way of the tissue over a half's barbs towards the thread's centre.
double to_centre_m(const HeldThread& thread, int half) {
    const auto [first, last] = thread.half(half);
    double sum_m = 0.0;
    for (int i = first; i <= last; ++i) sum_m += thread.barbs[static_cast<std::size_t>(i)].over_m;
    const double mean_m = sum_m / (last - first + 1);
    return half == 1 ? mean_m : -mean_m;
}

HeldThread& thread_numbered(State& s, int number) { return s.threads[static_cast<std::size_t>(number - 1)]; }

/// @return whether the barb has just been torn past what holds it
bool move_on(HeldBarb& barb, const ThreadAnswer::OfBarb& answer) {
    const double slid_m = answer.slip_m - barb.slip_m;  // thread towards the entry
    const double with_grip_m = barb.direction > 0 ? slid_m : -slid_m;
    barb.slip_m = answer.slip_m;
    barb.force_n = answer.force_n;
    barb.over_m = answer.over_m;
    if (barb.state == BarbState::folded) {
        // to and fro does not add up: what is drawn back counts against what was drawn on
        barb.eased_m = std::max(0.0, barb.eased_m + with_grip_m);
        if (barb.capacity_n > 0.0 && barb.eased_m >= kRisesM) barb.state = BarbState::seated;
        return false;
    }
    barb.torn_m += std::max(0.0, -with_grip_m);
    if (barb.state == BarbState::slipped || !(barb.torn_m > kTornM)) return false;
    barb.state = BarbState::slipped;
    return true;
}

bool drawn_out(const HeldThread& thread) {
    return std::all_of(thread.barbs.begin(), thread.barbs.end(),
                       [&](const HeldBarb& barb) { return barb.slip_m > thread.in_tissue_m; });
}

double most_moved_m(const State& s) {
    double most_m = 0.0;
    for (const Vec3& moved_m : s.concerns_moved_m) most_m = std::max(most_m, glm::length(moved_m));
    return most_m;
}

void add_row(const StepContext& context, const HeldThread& thread, double stroke_n) {
    LiftRow row;
    row.step = context.state.step;
    row.thread = thread.number;
    row.pull_n = row_quantised(thread.settled_n, kLiftPerN);
    row.stroke_n = row_quantised(stroke_n, kLiftPerN);
    row.tail_out_m = row_quantised(thread.tail_out_m, kLiftPerM);
    row.dimple_m = row_quantised(thread.dimple_m, kLiftPerM);
    double to_entry_n = 0.0, to_far_n = 0.0;
    for (const HeldBarb& barb : thread.barbs) {
        to_entry_n += std::max(0.0, barb.force_n);
        to_far_n += std::max(0.0, -barb.force_n);
    }
    row.held_n = row_quantised(std::max(to_entry_n, to_far_n), kLiftPerN);
    row.hold_n = row_quantised(thread.out ? 0.0 : weaker_set_n(thread.barbs), kLiftPerN);
    row.seated = thread.count(BarbState::seated);
    row.slipped = thread.count(BarbState::slipped);
    row.folded = thread.count(BarbState::folded);
    row.out = thread.out;
    row.moved_m = context.state.concerns_moved_m;
    context.report.lifts.push_back(std::move(row));
}

/// A thread whose barbs no longer hold its tail's pull comes out whole.
void take_out(const StepContext& context, HeldThread& thread, double pull_n) {
    State& s = context.state;
    thread.out = true;
    thread.pull_n = thread.peak_n = thread.asked_n = 0.0;
    thread.dimple_m = 0.0;
    thread.tail_out_m = thread.in_tissue_m;
    for (HeldBarb& barb : thread.barbs) barb.force_n = barb.over_m = 0.0;
    context.note(EventKind::thread_out, thread.barbs.back().place_m, thread.number, {pull_n, thread.in_tissue_m, 0, 0});
    if (s.stroke && s.stroke->thread == thread.number) s.stroke.reset();
    s.threads_changed = true;  // what it held settles back
}

void take_in(const StepContext& context, const ThreadGrip& asked, const ThreadAnswer::OfThread& answer) {
    State& s = context.state;
    HeldThread& thread = thread_numbered(s, asked.number);
    int torn = 0;
    for (std::size_t i = 0; i < thread.barbs.size(); ++i)
        if (move_on(thread.barbs[i], answer.barbs[i])) ++torn;
    const bool new_pull = asked.pull_n != thread.settled_n;
    thread.settled_n = asked.pull_n;
    thread.tail_out_m = answer.tail_out_m;
    thread.dimple_m = answer.dimple_m;
    const Vec3 tail_m = thread.barbs.back().place_m;
    if (torn > 0) {
        s.threads_changed = true;
        context.note(
            EventKind::thread_slipped, tail_m, thread.number,
            {static_cast<double>(torn), static_cast<double>(thread.count(BarbState::slipped)), asked.pull_n, 0});
    }
    if (drawn_out(thread)) return take_out(context, thread, asked.pull_n);
    if (new_pull && thread.pull_n == asked.pull_n)
        context.note(EventKind::traction, tail_m, thread.number, {asked.pull_n, thread.tail_out_m, most_moved_m(s), 0});
}

/// A stroke goes on: pushed, held, let go, settled.
void follow_stroke(const StepContext& context, bool was_pushing) {
    State& s = context.state;
    if (!s.stroke) return;
    Stroke& stroke = *s.stroke;
    const HeldThread& thread = thread_numbered(s, stroke.thread);
    const double now_m = to_centre_m(thread, stroke.half) - stroke.before_m;
    if (was_pushing) {
        stroke.pushed = true;
        stroke.over_m = now_m;
        return;
    }
    if (!stroke.let_go || s.threads_changed) return;
    context.note(EventKind::stroked, thread.barbs[static_cast<std::size_t>(thread.half(stroke.half).first)].place_m,
                 stroke.thread, {stroke.force_n, static_cast<double>(stroke.half), stroke.over_m, now_m});
    s.stroke.reset();
}

/// All stays as it was, and nobody asks the same again before something has changed.
void note_trouble(const StepContext& context, const ThreadRequest& request, ThreadTrouble trouble) {
    State& s = context.state;
    ++context.report.faults.threads_unanswered;
    int about = 0;
    for (const ThreadGrip& grip : request.threads)
        if (about == 0 || grip.pull_n > 0.0) about = grip.number;
    if (s.stroke) about = s.stroke->thread;
    context.note(EventKind::tissue_trouble, {}, about, {static_cast<double>(trouble), 0, 0, 0});
    s.threads_changed = false;
    s.stroke.reset();
}

void take_answer(const StepContext& context, const ThreadRequest& request, const ThreadAnswer& answer) {
    State& s = context.state;
    s.thread_trouble = answer.trouble;
    if (answer.trouble != ThreadTrouble::none) return note_trouble(context, request, answer.trouble);
    s.threads_changed = false;
    s.concerns_moved_m = answer.moved_m;
    for (std::size_t k = 0; k < request.threads.size(); ++k) take_in(context, request.threads[k], answer.threads[k]);
    const bool pushing = request.stroke.thread >= 0;
    for (std::size_t k = 0; k < request.threads.size(); ++k) {
        const bool stroked = pushing && request.stroke.thread == static_cast<int>(k) && s.stroke;
        add_row(context, thread_numbered(s, request.threads[k].number), stroked ? s.stroke->force_n : 0.0);
    }
    follow_stroke(context, pushing);
}

bool asks_again(const State& s) {
    if (s.threads_changed) return true;
    if (s.stroke && !s.stroke->pushed) return true;
    for (const HeldThread& thread : s.threads)
        if (!thread.out && (thread.pull_n != thread.asked_n || thread.peak_n > std::max(thread.pull_n, thread.asked_n)))
            return true;
    return false;
}

ThreadGrip grip_of(HeldThread& thread) {
    ThreadGrip out;
    out.number = thread.number;
    for (const HeldBarb& barb : thread.barbs) out.barbs.push_back(grip_of(barb));
    // a jerk that rose and fell while another answer was awaited comes first
    out.pull_n = thread.peak_n > std::max(thread.pull_n, thread.asked_n) ? thread.peak_n : thread.pull_n;
    thread.asked_n = out.pull_n;
    thread.peak_n = thread.pull_n;
    return out;
}

StrokeGrip stroke_of(const Stroke& stroke, const HeldThread& thread, int index) {
    const auto [first, last] = thread.half(stroke.half);
    // towards the centre is towards the entry in the half far from it
    return {index, first, last, stroke.half == 1 ? stroke.force_n : -stroke.force_n};
}

void ask(const StepContext& context) {
    State& s = context.state;
    ThreadRequest request;
    for (HeldThread& thread : s.threads) {
        if (thread.out) continue;
        if (s.stroke && !s.stroke->let_go && s.stroke->thread == thread.number)
            request.stroke = stroke_of(*s.stroke, thread, static_cast<int>(request.threads.size()));
        request.threads.push_back(grip_of(thread));
    }
    if (request.threads.empty()) {  // the last one is out: the tissue lies at rest, told in a step of its own
        if (!context.report.lifts.empty()) return;
        s.threads_changed = false;
        s.concerns_moved_m.assign(s.concerns_moved_m.size(), Vec3{});
        for (HeldThread& thread : s.threads) {
            thread.settled_n = 0.0;
            add_row(context, thread, 0.0);
        }
        return;
    }
    s.threads_changed = false;
    request.key = s.next_key++;
    request.due_step = s.step + kNoticeSteps;
    for (const Concern& concern : context.model.concerns) request.read_m.push_back(concern.place_m);
    context.report.thread_request = request;
    s.thread_pending = std::move(request);
}

}  // namespace

void begin_stroke(const StepContext& context, int number, int half, double force_n) {
    State& s = context.state;
    s.stroke = Stroke{
        number, half, force_n, false, false, s.step + kStrokeSteps, 0.0, to_centre_m(thread_numbered(s, number), half)};
}

void thread(const StepContext& context, const ThreadAnswer* answer) {
    State& s = context.state;
    if (const ThreadRequest* due = thread_due(s)) {
        const ThreadRequest request = *due;
        s.thread_pending.reset();
        if (answer == nullptr || answer->key != request.key)
            ++context.report.faults.answers_missing;
        else
            take_answer(context, request, *answer);
    }
    const bool waits = s.thread_pending || s.threads_changed;
    if (s.stroke && s.stroke->pushed && !s.stroke->let_go && s.step >= s.stroke->let_go_step && !waits) {
        s.stroke->let_go = true;
        s.threads_changed = true;
    }
    if (!s.thread_pending && asks_again(s)) ask(context);
}

}  // namespace sim
