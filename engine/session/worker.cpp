#include "engine/session/worker.hpp"

#include <algorithm>
#include <chrono>
#include <utility>

#include "engine/session/live_tissue.hpp"
#include "sim/core/random.hpp"

namespace session {

const sim::ThreadAnswer* RecordedThreads::recorded(const sim::ThreadRequest& request) const {
    const auto at = std::lower_bound(answers_.begin(), answers_.end(), request.key,
                                     [](const sim::ThreadAnswer& a, std::uint64_t key) { return a.key < key; });
    return at != answers_.end() && at->key == request.key ? &*at : nullptr;
}

Worker::Worker(std::uint64_t disorder_seed, ThreadTissueMaker maker)
    : disorder_seed_(disorder_seed), threads_(std::move(maker)), thread_([this] { run(); }) {}

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

void Worker::ask(const sim::ThreadRequest& request) {
    {
        const std::lock_guard lock(mutex_);
        thread_asked_ = request;
        thread_busy_ = true;
    }
    wake_.notify_all();
}

std::optional<sim::ThreadAnswer> Worker::take(const sim::ThreadRequest& request) {
    const std::lock_guard lock(mutex_);
    if (!thread_done_ || thread_done_->key != request.key) return std::nullopt;
    return std::exchange(thread_done_, std::nullopt);
}

std::string Worker::about_threads() const {
    const std::lock_guard lock(mutex_);
    return thread_busy_ ? "the tissue is working it out" : thread_trouble_;
}

void Worker::run() {
    sim::Random disorder(disorder_seed_);
    for (;;) {
        std::vector<sim::Request> batch;
        std::optional<sim::ThreadRequest> about_threads;
        {
            std::unique_lock lock(mutex_);
            wake_.wait(lock, [this] { return stop_ || !asked_.empty() || thread_asked_; });
            if (stop_) return;
            batch.swap(asked_);
            about_threads = std::exchange(thread_asked_, std::nullopt);
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
        if (!about_threads) continue;
        sim::ThreadAnswer answer = threads_.answer(*about_threads);
        const std::lock_guard lock(mutex_);
        thread_done_ = std::move(answer);
        thread_trouble_ = threads_.trouble();
        thread_busy_ = thread_asked_.has_value();
    }
}

void LiveAnswers::ask(const sim::ThreadRequest& request) {
    if (tissue_)
        tissue_->ask(request);
    else
        worker_.ask(request);
}

std::optional<sim::ThreadAnswer> LiveAnswers::take(const sim::ThreadRequest& request) {
    return tissue_ ? tissue_->take(request) : worker_.take(request);
}

std::string LiveAnswers::about_threads() const { return tissue_ ? tissue_->about_threads() : worker_.about_threads(); }

}  // namespace session
