#pragma once

#include <condition_variable>
#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

#include "sim/request.hpp"

/// Where answers to the tissue's questions come from. When they come never changes what they say.

namespace session {

class AnswerSource {
 public:
    virtual ~AnswerSource() = default;
    /// A step has asked; the answer may be worked out from now on.
    virtual void ask(const sim::Request& request) = 0;
    /// The answer, if it is there. Each answer is handed out once.
    virtual std::optional<sim::Answer> take(const sim::Request& request) = 0;
};

/// Works the answer out when it is taken: headless runs and replays without a log.
class InlineAnswers final : public AnswerSource {
 public:
    void ask(const sim::Request&) override {}
    std::optional<sim::Answer> take(const sim::Request& request) override { return sim::answer(request); }
};

/// One thread that answers in the background. `disorder_seed` other than 0 delays and shuffles the answers, to prove
/// that neither matters.
class Worker final : public AnswerSource {
 public:
    explicit Worker(std::uint64_t disorder_seed = 0);
    ~Worker() override;
    Worker(const Worker&) = delete;
    Worker& operator=(const Worker&) = delete;

    void ask(const sim::Request& request) override;
    std::optional<sim::Answer> take(const sim::Request& request) override;

 private:
    void run();

    std::uint64_t disorder_seed_;
    std::mutex mutex_;
    std::condition_variable wake_;
    std::vector<sim::Request> asked_;
    std::map<std::uint64_t, sim::Answer> done_;  ///< by key
    bool stop_ = false;
    std::thread thread_;  ///< last: starts when everything above is there
};

}  // namespace session
