#pragma once

#include <atomic>
#include <exception>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <thread>

#include "engine/session/ending_threads.hpp"

/// Work on a thread of its own, with how far it is.

namespace app {

/// Nobody waits for a job that is destroyed: its next word of progress ends it, and what it makes is dropped. The work
/// holds what it needs by value or by shared_ptr, for it may outlive whoever asked for it.
template <typename Result>
class Job {
 public:
    using Progress = std::function<void(double fraction, std::string_view what)>;

    explicit Job(std::function<Result(const Progress&)> work) : state_(std::make_shared<State>()) {
        static_cast<void>(session::ending_threads());  // there before the thread, gone after it
        thread_ = std::thread([state = state_, work = std::move(work)] {
            try {
                Result made = work([&state](double fraction, std::string_view what) { state->tell(fraction, what); });
                if (!state->given_up) state->result = std::move(made);
            } catch (...) {
                state->error = std::current_exception();
            }
            state->done = true;
        });
    }
    ~Job() {
        state_->given_up = true;
        if (!thread_.joinable()) return;
        if (state_->done)
            thread_.join();
        else
            session::ending_threads().add(std::move(thread_));
    }
    Job(const Job&) = delete;
    Job& operator=(const Job&) = delete;

    [[nodiscard]] bool done() const { return state_->done; }
    [[nodiscard]] double fraction() const { return state_->fraction; }
    [[nodiscard]] std::string what() const {
        const std::lock_guard lock(state_->mutex);
        return state_->what;
    }
    /// Waits for the end. @throws what the work threw
    [[nodiscard]] Result take() {
        if (thread_.joinable()) thread_.join();
        if (state_->error) std::rethrow_exception(state_->error);
        return std::move(*state_->result);
    }

 private:
    struct GivenUp {};
    struct State {
        std::atomic<double> fraction = 0.0;
        std::atomic<bool> done = false, given_up = false;
        std::mutex mutex;
        std::string what;
        std::optional<Result> result;
        std::exception_ptr error;

        void tell(double now, std::string_view words) {
            if (given_up) throw GivenUp{};
            fraction = now;
            const std::lock_guard lock(mutex);
            what = words;
        }
    };
    std::shared_ptr<State> state_;
    std::thread thread_;
};

}  // namespace app
