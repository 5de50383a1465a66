#define SDL_MAIN_HANDLED
#include <SDL.h>
#include <fmt/format.h>
#include <glad/gl.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <fstream>
#include <memory>
#include <mutex>
#include <span>
#include <sstream>
#include <string>
#include <thread>
#include <utility>

#include "engine/app/app.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/gl/check.hpp"
#include "engine/session/machine.hpp"

/// How long a frame takes while a cannula and the camera move, and how long an event waits until its picture is shown.
/// Every frame advances the script, turns the camera and draws everything anew; the quality step is the one that is
/// asked for, or that the program has chosen in the frames before, and is held. For each part
/// of a frame its time on this thread and on the card is told as [median, 99th percentile, longest], and for the
/// slowest frames the parts themselves.

namespace app {

namespace {

using Clock = std::chrono::steady_clock;

constexpr int kSettle = 5;              // first frames fill caches and are not counted
constexpr int kSettleCard = 90;         // a card that idled raises its clock during its first second
constexpr double kFrameS = 1.0 / 30.0;  // of the script between two frames
constexpr float kDragPx = 3.0f;         // of the camera's drag between two frames
constexpr int kSwing = 30;              // frames before the drag turns round
constexpr double kSixtyMs = 1000.0 / 60.0, kThirtyMs = 1000.0 / 30.0;

double ms_between(Clock::time_point from, Clock::time_point to) {
    return std::chrono::duration<double, std::milli>(to - from).count();
}

/// Since the kernel started this process, to a hundredth of a second.
double age_of_process_s() {
    std::ifstream stat("/proc/self/stat"), uptime("/proc/uptime");
    std::string text;
    std::getline(stat, text);
    double up_s = 0.0;
    uptime >> up_s;
    // the 22nd field; counting starts after the name, which may hold spaces
    std::istringstream fields(text.substr(text.rfind(')') + 2));
    std::string field;
    for (int i = 3; i < 22; ++i) fields >> field;
    double started_ticks = 0.0;
    fields >> started_ticks;
    return up_s - started_ticks / static_cast<double>(sysconf(_SC_CLK_TCK));
}

/// Processor time of all threads of this process.
double processor_ms() {
    timespec now{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

double at_share(const std::vector<double>& sorted, double share) {
    if (sorted.empty()) return 0.0;
    return sorted[static_cast<std::size_t>(std::lround(share * static_cast<double>(sorted.size() - 1)))];
}

/// One frame as it was measured, ms.
struct TimedFrame {
    int number = 0;
    double whole_ms = 0.0;
    FrameWatch::Ms parts{};    ///< of this thread
    std::vector<double> card;  ///< what the card did for each part; empty where it keeps no time
};

std::string parts_words(std::span<const double> ms) {
    std::string out;
    for (std::size_t part = 0; part < std::min(ms.size(), kFrameParts); ++part)
        out += fmt::format(R"({}"{}": {:.2f})", part == 0 ? "" : ", ", name_of(static_cast<FramePart>(part)), ms[part]);
    return "{" + out + "}";
}

/// Median, 99th percentile and longest of each part. @param ms_of the parts of a frame
template <typename MsOf>
std::string parts_table(const std::vector<TimedFrame>& frames, MsOf ms_of) {
    std::string out;
    for (std::size_t part = 0; part < kFrameParts; ++part) {
        std::vector<double> sorted;
        for (const TimedFrame& frame : frames)
            if (part < ms_of(frame).size()) sorted.push_back(ms_of(frame)[part]);
        std::sort(sorted.begin(), sorted.end());
        out += fmt::format(R"({}"{}": [{:.2f}, {:.2f}, {:.2f}])", part == 0 ? "" : ", ",
                           name_of(static_cast<FramePart>(part)), at_share(sorted, 0.5), at_share(sorted, 0.99),
                           at_share(sorted, 1.0));
    }
    return "{" + out + "}";
}

/// The slowest frames and where their time went.
std::string slowest_words(std::vector<TimedFrame> frames) {
    constexpr std::size_t kTold = 8;
    std::sort(frames.begin(), frames.end(),
              [](const TimedFrame& a, const TimedFrame& b) { return a.whole_ms > b.whole_ms; });
    std::string out;
    for (std::size_t i = 0; i < std::min(kTold, frames.size()); ++i)
        out += fmt::format(R"({}{{"frame": {}, "ms": {:.2f}, "parts": {}, "card": {}}})", i == 0 ? "" : ", ",
                           frames[i].number, frames[i].whole_ms, parts_words(frames[i].parts),
                           parts_words(frames[i].card));
    return "[" + out + "]";
}

/// Stands in for background work: asks the anatomy about one patch of tissue without an end. Heavier on the processor
/// than the closed-form tissue, lighter on memory than a solver would be.
class BusyWorker {
 public:
    explicit BusyWorker(std::shared_ptr<const sim::Model> model)
        : thread_([this, model = std::move(model)] {
              double kept = 0.0;
              for (int i = 0; !stop_; i = (i + 1) % 4096) {
                  const sim::Vec3 p{0.02 + 1e-5 * (i % 64), -0.04 + 1e-5 * (i / 64), 0.04};
                  kept += model->anatomy->layers_at(p).depth_m;
              }
              kept_ = kept;
          }) {}
    ~BusyWorker() {
        stop_ = true;
        thread_.join();
    }
    BusyWorker(const BusyWorker&) = delete;
    BusyWorker& operator=(const BusyWorker&) = delete;

 private:
    std::atomic<bool> stop_ = false;
    std::atomic<double> kept_ = 0.0;
    std::thread thread_;
};

/// A mouse that moves at times that have nothing to do with the frames.
class SyntheticMouse {
 public:
    SyntheticMouse() : thread_([this] { push_events(); }) {}
    ~SyntheticMouse() {
        stop_ = true;
        thread_.join();
    }
    SyntheticMouse(const SyntheticMouse&) = delete;
    SyntheticMouse& operator=(const SyntheticMouse&) = delete;

    /// When the events were pushed that a poll from now on will find.
    [[nodiscard]] std::vector<Clock::time_point> take() {
        const std::lock_guard lock(mutex_);
        return std::exchange(pushed_, {});
    }

 private:
    void push_events() {
        for (int i = 0; !stop_; ++i) {
            SDL_Event event{};
            event.type = SDL_MOUSEMOTION;
            event.motion.x = 300 + i % 40;
            event.motion.y = 300;
            event.motion.xrel = 1;
            {
                const std::lock_guard lock(mutex_);
                pushed_.push_back(Clock::now());
                SDL_PushEvent(&event);
            }
            std::this_thread::sleep_for(std::chrono::microseconds(11'300 + 1'700 * (i % 7)));
        }
    }

    std::mutex mutex_;
    std::vector<Clock::time_point> pushed_;
    std::atomic<bool> stop_ = false;
    std::thread thread_;
};

}  // namespace

/// The script goes on by a frame's time, the camera is dragged to and fro.
void App::move_everything(const std::vector<files::TimedCommand>& commands, int frame) {
    const std::int64_t step = practice_->session().state().step;
    const auto first = std::find_if(commands.begin(), commands.end(),
                                    [step](const files::TimedCommand& command) { return command.step >= step; });
    practice_->play({first, commands.end()}, step + std::llround(kFrameS / sim::kStepS));
    practice_->let_patient_move(kFrameS);
    Input drag;
    drag.right_held = true;
    drag.mouse = {0.4f * ui_.width(), 0.3f * ui_.height()};
    drag.drag = {(frame / kSwing) % 2 == 0 ? kDragPx : -kDragPx, 0.0f};
    practice_->handle(drag, false, false);
}

/// Frames in which the program finds its step as it does for a user, until it has stayed with one.
void App::choose_quality(const std::vector<files::TimedCommand>& commands) {
    constexpr int kStay = 3 * view::QualityChooser::kFramesToJudge, kMost = 5 * kStay;
    int stayed = 0;
    for (int i = 0; i < kMost && stayed < kStay; ++i) {
        const auto start = Clock::now();
        const double start_ms = processor_ms();
        move_everything(commands, i);
        draw();
        window_.swap();
        PK_GL(glFinish());
        view::FrameCost cost;
        cost.frame_ms = ms_between(start, Clock::now());
        cost.thread_ms = processor_ms() - start_ms;
        // the first frames fill caches
        if (i >= kSettle) stayed = quality_.note_frame(cost.work_ms(!window_.software())) ? 0 : stayed + 1;
    }
}

int App::bench() {
    go_to(Screen::start);
    draw();
    window_.swap();
    PK_GL(glFinish());
    const double first_frame_s = age_of_process_s();

    load_now(options_.scenario);
    play_script();
    const files::Script script = files::load_script(files::find_script(options_.script.string()));
    std::unique_ptr<BusyWorker> worker;
    if (options_.busy) worker = std::make_unique<BusyWorker>(practice_->prepared().model);
    if (options_.quality < 0) {
        choose_quality(script.commands);
        load_now(options_.scenario);  // the frames that count begin where the script was asked to begin
        play_script();
    }
    quality_.hold(options_.quality >= 0 ? options_.quality : quality_.step());

    card_watch_ = std::make_unique<gl::CardWatch>();
    std::vector<double> frame_ms, busy_ms, refining_ms;
    std::vector<TimedFrame> frames;
    const int settle = window_.software() ? kSettle : kSettleCard;
    for (int i = 0; i < options_.frames + settle; ++i) {
        const auto start = Clock::now();
        const double start_ms = processor_ms();
        watch_.begin();
        card_watch_->begin();
        move_everything(script.commands, i);
        lap(FramePart::hands);
        draw();
        window_.swap();
        PK_GL(glFinish());
        lap(FramePart::swap);
        const double whole_ms = ms_between(start, Clock::now()), whole_busy_ms = processor_ms() - start_ms;
        const std::vector<double> card = card_watch_->ms();
        if (i < settle) continue;
        frame_ms.push_back(whole_ms);
        if (practice_->shape() == session::TissueStatus::Shape::refining) refining_ms.push_back(whole_ms);
        busy_ms.push_back(whole_busy_ms);
        frames.push_back({i - settle, whole_ms, watch_.ms(), card});
    }
    card_watch_.reset();
    std::sort(frame_ms.begin(), frame_ms.end());
    std::sort(busy_ms.begin(), busy_ms.end());
    std::sort(refining_ms.begin(), refining_ms.end());
    const std::vector<double> waits_ms = options_.latency ? event_to_swap_ms() : std::vector<double>{};

    const auto over = [&frame_ms](double limit_ms) {
        return frame_ms.end() - std::upper_bound(frame_ms.begin(), frame_ms.end(), limit_ms);
    };
    FrameHistogram spread;
    for (const double ms : frame_ms) spread.add(ms);
    std::string line = fmt::format(
        R"({{"name": "frame_ms", "width": {}, "height": {}, "renderer": "{}", "quality": {}, "busy": {}, )"
        R"("frames": {}, "median": {:.2f}, "p95": {:.2f}, "p99": {:.2f}, "max": {:.2f}, "over_16_7": {}, )"
        R"("over_33": {}, "histogram_ms": {}, "processor_ms": {:.2f}, "first_frame_s": {:.2f}, "load": {:.2f}, )"
        R"("resident_mb": {:.1f})",
        window_.width(), window_.height(), window_.renderer(), quality_.step(), options_.busy, frame_ms.size(),
        at_share(frame_ms, 0.5), at_share(frame_ms, 0.95), at_share(frame_ms, 0.99), frame_ms.back(), over(kSixtyMs),
        over(kThirtyMs), spread.words(), at_share(busy_ms, 0.5), first_frame_s, session::load_average(),
        session::resident_mb());
    if (!refining_ms.empty())  // while the tissue's thread looked for the final shape
        line += fmt::format(R"(, "refining_ms": {{"frames": {}, "median": {:.2f}, "p99": {:.2f}, "max": {:.2f}}})",
                            refining_ms.size(), at_share(refining_ms, 0.5), at_share(refining_ms, 0.99),
                            refining_ms.back());
    if (options_.latency)
        line +=
            fmt::format(R"(, "event_to_swap_ms": {{"events": {}, "median": {:.2f}, "p99": {:.2f}, "max": {:.2f}}})",
                        waits_ms.size(), at_share(waits_ms, 0.5), at_share(waits_ms, 0.99), at_share(waits_ms, 1.0));
    line += fmt::format(R"(, "parts_ms": {}, "card_ms": {}, "slowest": {})",
                        parts_table(
                            frames, [](const TimedFrame& frame) -> const auto& { return frame.parts; }),
                        parts_table(
                            frames, [](const TimedFrame& frame) -> const auto& { return frame.card; }),
                        slowest_words(frames));
    std::printf("%s}\n", line.c_str());
    return 0;
}

/// From the push of an event to the end of the swap that shows it, the loop paced at 60 frames a second as a screen
/// would do it. Sorted.
std::vector<double> App::event_to_swap_ms() {
    constexpr int kFrames = 300;
    constexpr auto kPace = std::chrono::microseconds(16'667);
    std::vector<double> waits_ms;
    SyntheticMouse mouse;
    auto due = Clock::now();
    auto last = due;
    for (int i = 0; i < kFrames; ++i) {
        due += kPace;
        const std::vector<Clock::time_point> pushed = mouse.take();
        poll(input_, 0);
        input_.right_held = true;
        const auto now = Clock::now();
        static_cast<void>(update(std::chrono::duration<double>(now - last).count()));
        last = now;
        draw();
        std::this_thread::sleep_until(due);
        window_.swap();
        PK_GL(glFinish());
        for (const Clock::time_point& when : pushed) waits_ms.push_back(ms_between(when, Clock::now()));
        due = std::max(due, Clock::now() - kPace);
    }
    std::sort(waits_ms.begin(), waits_ms.end());
    return waits_ms;
}

}  // namespace app
