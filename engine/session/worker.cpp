#include "engine/session/worker.hpp"

#include <chrono>

#include "sim/core/random.hpp"

namespace session {

Worker::Worker(std::uint64_t disorder_seed) : disorder_seed_(disorder_seed), thread_([this] { run(); }) {}

Worker::~Worker() {
    {
        const std::lock_guard lock(mutex_);
        stop_ = true;
    }
    wake_.notify_all();
    thread_.join();
}

void Worker::ask(const sim::Request& request) {
    {
        const std::lock_guard lock(mutex_);
        asked_.push_back(request);
    }
    wake_.notify_all();
}

std::optional<sim::Answer> Worker::take(const sim::Request& request) {
    const std::lock_guard lock(mutex_);
    const auto found = done_.find(request.key);
    if (found == done_.end()) return std::nullopt;
    const sim::Answer answer = found->second;
    done_.erase(found);
    return answer;
}

void Worker::run() {
    sim::Random disorder(disorder_seed_);
    for (;;) {
        std::vector<sim::Request> batch;
        {
            std::unique_lock lock(mutex_);
            wake_.wait(lock, [this] { return stop_ || !asked_.empty(); });
            if (stop_) return;
            batch.swap(asked_);
        }
        if (disorder_seed_ != 0) {
            std::this_thread::sleep_for(std::chrono::microseconds(disorder.next() % 3000));
            for (std::size_t i = batch.size(); i > 1; --i) std::swap(batch[i - 1], batch[disorder.next() % i]);
        }
        for (const sim::Request& request : batch) {
            const sim::Answer answer = sim::answer(request);
            const std::lock_guard lock(mutex_);
            done_.emplace(request.key, answer);
        }
    }
}

}  // namespace session
