#include <algorithm>
#include <cmath>

#include "sim/patient/pulse.hpp"
#include "sim/stages.hpp"

/// Threads in the tissue and the other hand on the skin: pulls, strokes and grips become questions, one at a time;
/// answers move barbs on. A pulse that is felt lying back asks in the same queue. What a barb has been through is kept
/// in the state, so that an answer hangs on its question alone.

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

void add_row(const StepContext& context, const HeldThread& thread, double stroke_n,
             LiftShape shape = LiftShape::linear) {
    LiftRow row;
    row.step = context.state.step;
    row.thread = thread.number;
    row.pull_n = row_quantised(thread.settled_n, kLiftPerN);
    row.stroke_n = row_quantised(stroke_n, kLiftPerN);
    row.hand_n = row_quantised(context.state.hand.settled_n, kLiftPerN);
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
    row.shape = shape;
    context.report.lifts.push_back(std::move(row));
}

/// No thread lies in the tissue: what the other hand alone does to the concerns, and that those drawn out do nothing.
void tell_without_threads(const StepContext& context) {
    State& s = context.state;
    for (HeldThread& thread : s.threads) {
        thread.settled_n = 0.0;
        add_row(context, thread, 0.0);
    }
    if (!s.threads.empty()) return;
    LiftRow row;
    row.step = s.step;
    row.hand_n = row_quantised(s.hand.settled_n, kLiftPerN);
    row.moved_m = s.concerns_moved_m;
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
    context.note(EventKind::thread_out, thread.barbs.back().place_m, thread.number,
                 {pull_n, thread.in_tissue_m, thread.fluid, 0});
    if (s.stroke && s.stroke->thread == thread.number) s.stroke.reset();
    s.threads_changed = true;  // what it held settles back
}

double asked_hold_n(const State& s) { return s.hand.grip == Grip::counter_hold ? s.hand.settled_n : 0.0; }

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
    settle_tail(context, thread);
    const Vec3 tail_m = thread.barbs.back().place_m;
    if (torn > 0) {
        s.threads_changed = true;
        context.note(
            EventKind::thread_slipped, tail_m, thread.number,
            {static_cast<double>(torn), static_cast<double>(thread.count(BarbState::slipped)), asked.pull_n, 0});
    }
    if (drawn_out(thread)) return take_out(context, thread, asked.pull_n);
    if (new_pull && thread.pull_n == asked.pull_n)
        context.note(EventKind::traction, tail_m, thread.number,
                     {asked.pull_n, thread.tail_out_m, most_moved_m(s), asked_hold_n(s)});
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
    if (trouble == ThreadTrouble::moved_too_far) about = 0;
    context.note(EventKind::tissue_trouble, {}, about, {static_cast<double>(trouble), 0, 0, 0});
    s.threads_changed = false;
    s.stroke.reset();
    // a hand that asks for what cannot be answered does it no longer
    if (!request.hand.pads.empty()) let_go(s.hand);
}

/// Skin that moves under a finger further than small strains carry.
ThreadTrouble trouble_of(const ThreadRequest& request, const ThreadAnswer& answer, std::size_t concerns) {
    if (answer.trouble != ThreadTrouble::none || request.hand.pads.empty()) return answer.trouble;
    return glm::length(answer.moved_m[concerns]) > kMostMovedByHandM ? ThreadTrouble::moved_too_far
                                                                     : ThreadTrouble::none;
}

/// How all is left. Barbs stay where the linear answer has them: it is that which the search started from.
void take_final_shape(const StepContext& context, const ThreadRequest& request, const ThreadAnswer& answer) {
    State& s = context.state;
    s.thread_trouble = answer.trouble;
    if (answer.trouble != ThreadTrouble::none) return note_trouble(context, request, answer.trouble);
    s.concerns_moved_m.assign(answer.moved_m.begin(), answer.moved_m.end());
    for (std::size_t k = 0; k < request.threads.size(); ++k) {
        HeldThread& thread = thread_numbered(s, request.threads[k].number);
        thread.dimple_m = answer.threads[k].dimple_m;
        add_row(context, thread, 0.0, answer.shape);
    }
}

void take_answer(const StepContext& context, const ThreadRequest& request, const ThreadAnswer& answer) {
    if (asks_pulse(request)) return take_pulse(context, answer);
    if (request.final_shape) return take_final_shape(context, request, answer);
    State& s = context.state;
    const std::size_t concerns = context.model.concerns.size();
    s.thread_trouble = trouble_of(request, answer, concerns);
    if (s.thread_trouble != ThreadTrouble::none) return note_trouble(context, request, s.thread_trouble);
    s.threads_changed = false;
    s.concerns_moved_m.assign(answer.moved_m.begin(), answer.moved_m.begin() + static_cast<std::ptrdiff_t>(concerns));
    take_hand(context, request, answer, concerns);
    for (std::size_t k = 0; k < request.threads.size(); ++k) take_in(context, request.threads[k], answer.threads[k]);
    const bool pushing = request.stroke.thread >= 0;
    for (std::size_t k = 0; k < request.threads.size(); ++k) {
        const bool stroked = pushing && request.stroke.thread == static_cast<int>(k) && s.stroke;
        add_row(context, thread_numbered(s, request.threads[k].number), stroked ? s.stroke->force_n : 0.0);
    }
    if (request.threads.empty()) tell_without_threads(context);
    follow_stroke(context, pushing);
}

bool threads_ask_again(const State& s) {
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

void send(const StepContext& context, ThreadRequest request) {
    State& s = context.state;
    request.key = s.next_key++;
    request.due_step = s.step + kNoticeSteps;
    context.report.thread_request = request;
    s.thread_pending = std::move(request);
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
    for (const Concern& concern : context.model.concerns) request.read_m.push_back(concern.place_m);
    ask_about_hand(context, request);
    s.threads_changed = false;
    send(context, std::move(request));
}

/// No hand is on a thread or on the skin, and some thread holds tissue that would lie elsewhere without it.
bool left_in_tissue(const State& s) {
    bool holds = false;
    for (const HeldThread& thread : s.threads) {
        if (thread.out) continue;
        if (thread.pull_n > 0.0 || thread.settled_n > 0.0) return false;
        for (const HeldBarb& barb : thread.barbs) holds = holds || barb.force_n != 0.0;
    }
    return holds && !(s.hand.force_n > 0.0) && !s.stroke && s.thread_trouble == ThreadTrouble::none;
}

void ask_final_shape(const StepContext& context) {
    State& s = context.state;
    ThreadRequest request;
    request.final_shape = true;
    for (HeldThread& thread : s.threads)
        if (!thread.out) request.threads.push_back(grip_of(thread));
    for (const Concern& concern : context.model.concerns) request.read_m.push_back(concern.place_m);
    s.asked_final_shape = true;
    send(context, std::move(request));
}

/// Hands that still hold something end the attempt as it is; else it ends when the tissue has come to rest and, where
/// threads lie in it, when its final shape has been told.
void finish(const StepContext& context, bool asks_again) {
    State& s = context.state;
    const bool held = s.hand.force_n > 0.0 || std::any_of(s.threads.begin(), s.threads.end(), [](const auto& thread) {
                          return !thread.out && thread.pull_n > 0.0;
                      });
    if (!held && asks_again) return ask(context);
    if (!held && s.stroke) return;                                            // until it has let go
    const bool told = s.asked_final_shape || context.model.concerns.empty();  // whom nothing is read from
    if (!held && !told && left_in_tissue(s)) return ask_final_shape(context);
    s.finished = true;
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
    if (s.thread_pending) return;
    if (!s.visit.feels.empty()) return send(context, pulse_request(context));
    const bool asks_again = threads_ask_again(s) || hand_asks_again(s);
    if (s.finishing)
        finish(context, asks_again);
    else if (asks_again)
        ask(context);
}

}  // namespace sim
