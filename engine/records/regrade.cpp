#include "engine/records/regrade.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <exception>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <thread>

#include "engine/files/crypto.hpp"
#include "engine/records/attempt_sql.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

using nlohmann::json;
using Clock = std::chrono::steady_clock;

constexpr int kMostJobs = 64;
constexpr std::int64_t kAtOnce = 1;  // attempts claimed: more would leave one thread with the last of them
constexpr std::int64_t kLongestLease_s = 86400, kResultsAtOnce = 500;
constexpr std::size_t kHashDigits = 64;
constexpr double kLookAround_s = 0.5;                                        // how often others' work is counted
constexpr double kFirstWait_s = 0.005, kLongestWait_s = 1.0, kGrowth = 1.5;  // while others hold the rest

void need_settings(const RegradeSettings& settings) {
    const auto need = [](std::string_view what, std::int64_t is, std::int64_t most) {
        if (is < 1 || is > most)
            throw RecordsError(Fault::bad_input, std::string(what), std::to_string(is), fmt::format("1 to {}", most));
    };
    need_text(settings.job, 200, "job");
    need("jobs", settings.jobs, kMostJobs);
    need("lease", settings.lease_s, kLongestLease_s);
}

/// A result as it is kept: the attempt's hash, so that SQL can tell which attempts went on, and the rest.
std::string text_of_result(const Regraded& one) {
    json headings = json::array();
    for (const HeadingPoints& heading : one.headings) headings.push_back({heading.heading, heading.points, heading.of});
    const json rest{{"scenario", one.scenario},
                    {"mode", one.mode},
                    {"finished", one.finished},
                    {"program", one.program},
                    {"kept_verdict", one.kept_verdict},
                    {"kept_points", one.kept_points},
                    {"kept_of", one.kept_of},
                    {"verdict", one.verdict},
                    {"points", one.points},
                    {"of", one.of},
                    {"headings", headings},
                    {"differences", one.differences},
                    {"trouble", one.trouble}};
    return one.content_hash + rest.dump(-1, ' ', false, json::error_handler_t::replace);
}

Regraded result_of_text(const std::string& attempt_id, const std::string& text) {
    try {
        const json rest = json::parse(text.substr(std::min(kHashDigits, text.size())));
        Regraded out;
        out.attempt_id = attempt_id;
        out.content_hash = text.substr(0, kHashDigits);
        const auto read = [&](const char* key, auto& to) { rest.at(key).get_to(to); };
        read("scenario", out.scenario);
        read("mode", out.mode);
        read("finished", out.finished);
        read("program", out.program);
        read("kept_verdict", out.kept_verdict);
        read("kept_points", out.kept_points);
        read("kept_of", out.kept_of);
        read("verdict", out.verdict);
        read("points", out.points);
        read("of", out.of);
        read("differences", out.differences);
        read("trouble", out.trouble);
        for (const json& one : rest.at("headings")) out.headings.push_back({one.at(0), one.at(1), one.at(2)});
        return out;
    } catch (const json::exception& error) {
        throw RecordsError(Fault::damaged, "result of attempt " + attempt_id, error.what(),
                           "what pk records regrade wrote");
    }
}

/// What is kept of one attempt against what its file says now.
Regraded regraded(const AttemptRow& kept, const std::string& bytes, const std::string& program) {
    Regraded out;
    out.attempt_id = kept.facts.id;
    out.content_hash = kept.facts.content_hash;
    out.scenario = kept.facts.scenario;
    out.mode = kept.facts.mode;
    out.finished = kept.facts.finished;
    out.program = program;
    out.kept_verdict = kept.facts.verdict;
    out.kept_points = kept.facts.points;
    out.kept_of = kept.facts.of;
    try {
        const AttemptFacts now = facts_of(bytes, "attempt " + kept.facts.id);
        out.verdict = now.verdict;
        out.points = now.points;
        out.of = now.of;
        out.headings = now.headings;
        out.differences = differences(kept.facts, now);
    } catch (const RecordsError& error) {
        out.trouble = error.what();  // the others are scored all the same
    }
    return out;
}

/// Every attempt that the job does not know, or knows shorter than it is.
void open_job(StoreCore& core, const Actor& actor, const std::string& job) {
    core.write([&] {
        core.run(
            "INSERT INTO claims (job, item, state, claimed_by, claimed_until, tries, result) "
            "SELECT $1, id, 'waiting', '', 0, 0, '' FROM attempts WHERE NOT EXISTS "
            "(SELECT 1 FROM claims WHERE job = $1 AND item = attempts.id) ON CONFLICT (job, item) DO NOTHING",
            {job});
        std::int64_t added = core.database().changed();
        core.run(
            "UPDATE claims SET state = 'waiting', claimed_by = '', claimed_until = 0, result = '' WHERE job = $1 AND "
            "state = 'done' AND item IN (SELECT id FROM attempts WHERE id = claims.item AND content_hash <> "
            "substr(claims.result, 1, 64))",
            {job});
        added += core.database().changed();
        if (added > 0) core.note(actor, "work added", job, fmt::format("{} items", added));
    });
}

struct Counts {
    std::int64_t all = 0, done = 0;
};
Counts counts_of(StoreCore& core, const std::string& job) {
    Counts out;
    core.read([&] {
        const Rows all = core.run("SELECT count(*) FROM claims WHERE job = $1", {job});
        const Rows open = core.run("SELECT count(*) FROM claims WHERE job = $1 AND state <> 'done'", {job});
        out.all = integer_of(all[0][0], "count");
        out.done = out.all - integer_of(open[0][0], "count");
    });
    return out;
}

/// What the threads of one run share.
struct Shared {
    const std::string& place;
    const Actor& actor;
    const RegradeSettings& settings;
    std::atomic<std::int64_t> here{0}, late{0};
    std::atomic<bool> stop{false};
    std::mutex mutex;
    std::exception_ptr error;  // the first
};

class Worker {
 public:
    /// @param look told now and then while it works and waits; may be empty
    Worker(Shared& shared, Store& store, std::function<void()> look)
        : shared_(shared), store_(store), look_(std::move(look)) {}

    /// Until nothing of the job is open.
    void work() {
        double wait_s = kFirstWait_s;
        while (!shared_.stop) {
            std::vector<std::string> items =
                store_.claim_work(shared_.actor, shared_.settings.job, who_, kAtOnce, shared_.settings.lease_s);
            if (!items.empty()) wait_s = kFirstWait_s;
            while (!items.empty() && !shared_.stop) items = one(items.front());
            // others hold the rest, and may be gone
            if (shared_.stop || store_.work_left(shared_.actor, shared_.settings.job) == 0) return;
            std::this_thread::sleep_for(std::chrono::duration<double>(wait_s));
            wait_s = std::min(wait_s * kGrowth, kLongestWait_s);
            if (look_) look_();
        }
    }

 private:
    /// @return what is next
    std::vector<std::string> one(const std::string& id) {
        const std::optional<Regraded> result = result_of(id);
        if (!result) return {};  // erased meanwhile, and its claim with it
        const NextWork next = store_.finish_and_claim(shared_.actor, shared_.settings.job, id, who_,
                                                      text_of_result(*result), kAtOnce, shared_.settings.lease_s);
        ++(next.taken ? shared_.here : shared_.late);  // late: another has it, or it was erased
        if (look_) look_();
        return next.items;
    }

    [[nodiscard]] std::optional<Regraded> result_of(const std::string& id) {
        AttemptRow kept;
        std::string bytes;
        bool there = false;
        StoreCore& core = store_.core();
        try {
            core.read([&] {
                Rows rows =
                    core.run(std::string("SELECT ") + kAttemptColumns + ", content FROM attempts WHERE id = $1", {id});
                there = !rows.empty();
                if (!there) return;
                kept = attempt_row_of(rows[0]);
                kept.facts.headings = headings_of(core, id);
                static_cast<void>(bytes_of(rows[0].back(), "attempts.content"));
                bytes = std::move(std::get<Blob>(rows[0].back()).bytes);
            });
        } catch (const RecordsError& error) {
            if (error.fault() != Fault::damaged) throw;
            Regraded out;  // the others are scored all the same
            out.attempt_id = id;
            out.content_hash = std::string(kHashDigits, '0');
            out.program = shared_.settings.program;
            out.trouble = error.what();
            return out;
        }
        if (!there) return std::nullopt;
        return regraded(kept, bytes, shared_.settings.program);
    }

    Shared& shared_;
    Store& store_;
    std::function<void()> look_;
    const std::string who_ = new_id();
};

/// Runs in every thread but the first.
void work_beside(Shared& shared) {
    try {
        Store store = Store::open(shared.place, shared.settings.store);
        Worker(shared, store, {}).work();
    } catch (...) {
        const std::lock_guard lock(shared.mutex);
        if (!shared.error) shared.error = std::current_exception();
        shared.stop = true;
    }
}

}  // namespace

RegradeReport regrade(const std::string& place, const Actor& actor, const RegradeSettings& settings,
                      const std::function<void(std::int64_t, std::int64_t)>& progress) {
    need_role(actor, Role::instructor, "score attempts anew");
    need_settings(settings);
    Store store = Store::open(place, settings.store);
    open_job(store.core(), actor, settings.job);
    const Counts begin = counts_of(store.core(), settings.job);
    Shared shared{place, actor, settings, {}, {}, {}, {}, {}};
    Clock::time_point looked = Clock::now();
    Counts known = begin;
    std::int64_t told = 0;  // of ours when others' were counted last
    const auto look = [&] {
        if (std::chrono::duration<double>(Clock::now() - looked).count() >= kLookAround_s) {
            looked = Clock::now();
            told = shared.here;
            known = counts_of(store.core(), settings.job);
        }
        progress(std::min(known.done + shared.here - told, known.all), known.all);
    };
    std::vector<std::thread> others;
    for (int i = 1; i < settings.jobs; ++i) others.emplace_back([&shared] { work_beside(shared); });
    try {
        Worker(shared, store, progress ? std::function<void()>(look) : std::function<void()>()).work();
    } catch (...) {
        shared.stop = true;
        for (std::thread& one : others) one.join();
        throw;
    }
    for (std::thread& one : others) one.join();
    if (shared.error) std::rethrow_exception(shared.error);
    return {counts_of(store.core(), settings.job).all, begin.done, shared.here, shared.late};
}

std::int64_t each_result(Store& store, const Actor& actor, const std::string& job,
                         const std::function<void(const Regraded&)>& each) {
    need_role(actor, Role::instructor, "read what was scored anew");
    std::int64_t number = 0;
    for (std::string last;;) {
        Rows rows;
        store.core().read([&] {
            rows = store.core().run(
                "SELECT item, result FROM claims WHERE job = $1 AND item > $2 AND state = 'done' ORDER BY item LIMIT "
                "$3",
                {job, last, kResultsAtOnce});
        });
        if (rows.empty()) return number;
        for (const Row& row : rows)
            each(result_of_text(text_of(row[0], "claims.item"), text_of(row[1], "claims.result")));
        number += static_cast<std::int64_t>(rows.size());
        last = text_of(rows.back()[0], "claims.item");
    }
}

}  // namespace records
