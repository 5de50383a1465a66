#pragma once

#include <mutex>
#include <thread>
#include <vector>

namespace session {

/// Threads that were told to end and have not yet: what cannot be cut short (a factor that is being made, a pass that
/// is being played) ends behind the screen that no longer waits for it.
class EndingThreads {
 public:
    ~EndingThreads() { wait(); }
    void add(std::thread thread);
    void wait();
    /// Some were added since the last wait: they may still run.
    [[nodiscard]] bool any() const;

 private:
    mutable std::mutex mutex_;
    std::vector<std::thread> threads_;
};

/// Those of the whole program. To be asked for before a thread is started that may be added, so that they outlive it.
[[nodiscard]] EndingThreads& ending_threads();

}  // namespace session
