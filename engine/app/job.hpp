#pragma once

#include <atomic>
#include <exception>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <thread>

/// Work on a thread of its own, with how far it is.

namespace app {

template <typename Result>
class Job {
 public:
    using Progress = std::function<void(double fraction, std::string_view what)>;

    explicit Job(std::function<Result(const Progress&)> work)
        : thread_([this, work = std::move(work)] {
              try {
                  result_ = work([this](double fraction, std::string_view what) {
                      fraction_ = fraction;
                      const std::lock_guard lock(mutex_);
                      what_ = what;
                  });
              } catch (...) {
                  error_ = std::current_exception();
              }
              done_ = true;
          }) {}
    ~Job() {
        if (thread_.joinable()) thread_.join();
    }
    Job(const Job&) = delete;
    Job& operator=(const Job&) = delete;

    [[nodiscard]] bool done() const { return done_; }
    [[nodiscard]] double fraction() const { return fraction_; }
    [[nodiscard]] std::string what() const {
        const std::lock_guard lock(mutex_);
        return what_;
    }
    /// Waits for the end. @throws what the work threw
    [[nodiscard]] Result take() {
        if (thread_.joinable()) thread_.join();
        if (error_) std::rethrow_exception(error_);
        return std::move(*result_);
    }

 private:
    std::atomic<double> fraction_ = 0.0;
    std::atomic<bool> done_ = false;
    mutable std::mutex mutex_;
    std::string what_;
    std::optional<Result> result_;
    std::exception_ptr error_;
    std::thread thread_;  ///< last: starts when everything above is there
};

}  // namespace app
