#pragma once

#include <condition_variable>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "engine/session/thread_answers.hpp"
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
    /// The same for questions about threads: one at a time.
    virtual void ask(const sim::ThreadRequest& request) = 0;
    virtual std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request) = 0;
    /// Why an answer about threads is not there yet, or why there is none: plain words, or empty.
    [[nodiscard]] virtual std::string about_threads() const { return ""; }
};

/// Works the answer out when it is taken: headless runs and replays without a log.
class InlineAnswers final : public AnswerSource {
 public:
    /// @param maker of the tissue for threads; empty: there is none
    explicit InlineAnswers(ThreadTissueMaker maker = {}) : threads_(std::move(maker)) {}

    void ask(const sim::Request&) override {}
    std::optional<sim::Answer> take(const sim::Request& request) override { return sim::answer(request); }
    void ask(const sim::ThreadRequest&) override {}
    std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request) override {
        return threads_.answer(request);
    }
    [[nodiscard]] std::string about_threads() const override { return threads_.trouble(); }

 private:
    LazyThreadTissue threads_;
};

/// Hands out the recorded answers about threads, so that nobody needs the tissue; what the record lacks, and all that
/// instruments ask, comes from another source.
class RecordedThreads final : public AnswerSource {
 public:
    /// @param answers by rising key @param otherwise not null
    RecordedThreads(std::vector<sim::ThreadAnswer> answers, std::shared_ptr<AnswerSource> otherwise)
        : answers_(std::move(answers)), otherwise_(std::move(otherwise)) {}

    void ask(const sim::Request& request) override { otherwise_->ask(request); }
    std::optional<sim::Answer> take(const sim::Request& request) override { return otherwise_->take(request); }
    void ask(const sim::ThreadRequest& request) override {
        if (recorded(request) == nullptr) otherwise_->ask(request);
    }
    std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request) override {
        if (const sim::ThreadAnswer* answer = recorded(request)) return *answer;
        return otherwise_->take(request);
    }
    [[nodiscard]] std::string about_threads() const override { return otherwise_->about_threads(); }

 private:
    [[nodiscard]] const sim::ThreadAnswer* recorded(const sim::ThreadRequest& request) const;

    std::vector<sim::ThreadAnswer> answers_;
    std::shared_ptr<AnswerSource> otherwise_;
};

/// One thread that answers in the background. `disorder_seed` other than 0 delays and shuffles the answers, to prove
/// that neither matters.
class Worker final : public AnswerSource {
 public:
    /// @param maker of the tissue for threads, called on the background thread; empty: there is none
    explicit Worker(std::uint64_t disorder_seed = 0, ThreadTissueMaker maker = {});
    ~Worker() override;
    Worker(const Worker&) = delete;
    Worker& operator=(const Worker&) = delete;

    void ask(const sim::Request& request) override;
    std::optional<sim::Answer> take(const sim::Request& request) override;
    void ask(const sim::ThreadRequest& request) override;
    std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request) override;
    [[nodiscard]] std::string about_threads() const override;

 private:
    void run();

    std::uint64_t disorder_seed_;
    mutable std::mutex mutex_;
    std::condition_variable wake_;
    std::vector<sim::Request> asked_;
    std::map<std::uint64_t, sim::Answer> done_;  ///< by key
    LazyThreadTissue threads_;                   ///< of the background thread
    std::optional<sim::ThreadRequest> thread_asked_;
    std::optional<sim::ThreadAnswer> thread_done_;
    std::string thread_trouble_;
    bool thread_busy_ = false;
    bool stop_ = false;
    std::thread thread_;  ///< last: starts when everything above is there
};

class LiveTissue;

/// What a window practises with: instruments are answered by a worker, threads by the tissue that also shows postures.
class LiveAnswers final : public AnswerSource {
 public:
    /// @param maker of the tissue for threads where no live tissue is given; empty: there is none
    explicit LiveAnswers(ThreadTissueMaker maker = {}) : worker_(0, std::move(maker)) {}
    /// From now on threads are answered there. @param tissue may be null; must not be given up while this is asked
    void use(std::shared_ptr<LiveTissue> tissue) { tissue_ = std::move(tissue); }

    void ask(const sim::Request& request) override { worker_.ask(request); }
    std::optional<sim::Answer> take(const sim::Request& request) override { return worker_.take(request); }
    void ask(const sim::ThreadRequest& request) override;
    std::optional<sim::ThreadAnswer> take(const sim::ThreadRequest& request) override;
    [[nodiscard]] std::string about_threads() const override;

 private:
    Worker worker_;
    std::shared_ptr<LiveTissue> tissue_;
};

}  // namespace session
