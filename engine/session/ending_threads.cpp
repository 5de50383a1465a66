#include "engine/session/ending_threads.hpp"

#include <utility>

namespace session {

void EndingThreads::add(std::thread thread) {
    const std::lock_guard lock(mutex_);
    threads_.push_back(std::move(thread));
}

void EndingThreads::wait() {
    std::vector<std::thread> threads;
    {
        const std::lock_guard lock(mutex_);
        threads.swap(threads_);
    }
    for (std::thread& thread : threads)
        if (thread.get_id() != std::this_thread::get_id())
            thread.join();
        else
            add(std::move(thread));  // told to end before it began: it cannot wait for itself
}

bool EndingThreads::any() const {
    const std::lock_guard lock(mutex_);
    return !threads_.empty();
}

EndingThreads& ending_threads() {
    static EndingThreads threads;
    return threads;
}

}  // namespace session
