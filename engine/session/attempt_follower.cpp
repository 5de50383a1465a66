#include "engine/session/attempt_follower.hpp"

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <utility>

#include "engine/session/ending_threads.hpp"

namespace session {

Standing standing_of(const files::AttemptTail& tail) {
    if (tail.ended()) return Standing::ended;
    return tail.trouble().empty() && tail.quiet_s() < kQuietS ? Standing::live : Standing::stopped;
}

struct AttemptFollower::Shared {
    Shared(files::AttemptTail of, GrownTo until) : tail(std::move(of)), from(until) {}

    mutable std::mutex mutex;
    std::condition_variable wake;
    bool stop = false;
    // of the thread alone
    files::AttemptTail tail;
    // under the mutex
    GrownTo from;
    std::int64_t told_steps = -1;
    std::vector<Growth> waiting;
    Now now;

    void tell() {
        const std::lock_guard lock(mutex);
        const sim::Recording& recording = tail.attempt().recording;
        if (recording.steps != told_steps || recording.finished != now.finished)
            waiting.push_back(growth_of(tail.attempt(), from));
        told_steps = recording.steps;
        now = {standing_of(tail), tail.quiet_s(), recording.finished, tail.trouble()};
    }

    void work() {
        while (true) {
            static_cast<void>(tail.read_on());  // a disk that does not answer is waited for here
            tell();
            std::unique_lock lock(mutex);
            const auto rest =
                tail.behind() ? std::chrono::duration<double>(0.0) : std::chrono::duration<double>(kFollowEachS);
            if (wake.wait_for(lock, rest, [this] { return stop; })) return;
        }
    }
};

AttemptFollower::AttemptFollower(files::AttemptTail tail, GrownTo from)
    : shared_(std::make_shared<Shared>(std::move(tail), from)) {
    shared_->tell();
    static_cast<void>(ending_threads());  // there before the thread, gone after it
    thread_ = std::thread([shared = shared_] { shared->work(); });
}

AttemptFollower::~AttemptFollower() {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->stop = true;
    }
    shared_->wake.notify_all();
    ending_threads().add(std::move(thread_));
}

AttemptFollower::Now AttemptFollower::now() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->now;
}

std::vector<Growth> AttemptFollower::take() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->waiting, {});
}

}  // namespace session
