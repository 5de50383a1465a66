#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <set>
#include <thread>

#include "engine/files/crypto.hpp"
#include "engine/records/store_core.hpp"
#include "sim/core/random.hpp"
#include "tests/engine/records/records_support.hpp"

/// Many processes write at once; servers and writers are killed. What was acknowledged must be there, once.

using records::Kept;
using records::Store;
using records_test::AttemptMaker;
using records_test::Clock;
using records_test::desk;
using records_test::TestPlace;

namespace {

constexpr int kLongestWaitMs = 60'000;

/// What one process does: attempts of its own and some that all others put in, too. Each that was acknowledged is
/// written to `acknowledged`, a line at once. Never returns.
[[noreturn]] void write_attempts(const std::string& place, const std::string& acknowledged, int own,
                                 const std::vector<std::string>& shared) {
    int status = 0;
    try {
        records::StoreOptions options;
        options.retry.longest_s = 300.0;  // a server that comes back on a machine with much else to do
        Store store = Store::open(place, options);
        std::ofstream lines(acknowledged, std::ios::app);
        const auto put = [&](const std::string& bytes) {
            lines << store.put_attempt(desk(), bytes, "load").attempt_id << std::endl;
        };
        for (int i = 0; i < own; ++i) {
            put(AttemptMaker{.seed = static_cast<std::uint64_t>(i),
                             .under = std::filesystem::path(acknowledged).parent_path()}
                    .bytes());
            if (static_cast<std::size_t>(i) < shared.size()) put(shared[static_cast<std::size_t>(i)]);
        }
    } catch (const std::exception& error) {
        std::ofstream(acknowledged + ".error") << error.what();
        status = 1;
    }
    _exit(status);
}

class Load {
 public:
    Load(TestPlace::Kind kind, int shared) : place(kind) {
        Store store = Store::create(place(), Clock().options());
        const std::string ada = store.add_learner(desk(), "Ada");
        store.add_key(desk(), ada, records_test::fingerprint(1));
        for (int i = 0; i < shared; ++i)
            shared_.push_back(AttemptMaker{.seed = 1000U + static_cast<std::uint64_t>(i)}.bytes());
    }

    void start(int processes, int own) {
        for (int i = 0; i < processes; ++i) {
            const std::string file = file_of(children_.size());
            const pid_t child = fork();
            if (child == 0) write_attempts(place(), file, own, shared_);
            children_.push_back(child);
        }
    }
    /// @return processes that ended as they should
    int join() {
        int good = 0;
        for (std::size_t i = 0; i < children_.size(); ++i) {
            int status = -1;
            waitpid(children_[i], &status, 0);
            if (WIFEXITED(status) && WEXITSTATUS(status) == 0) ++good;
            const std::string error = records_test::bytes_of_file(file_of(i) + ".error");
            if (!error.empty()) UNSCOPED_INFO("process " << i << ": " << error);
        }
        return good;
    }
    void kill_child(std::size_t i) const { kill(children_[i], SIGKILL); }

    [[nodiscard]] std::size_t acknowledged_lines() const {
        std::size_t lines = 0;
        for (std::size_t i = 0; i < children_.size(); ++i) {
            const std::string text = records_test::bytes_of_file(file_of(i));
            lines += static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
        }
        return lines;
    }

    /// Every acknowledged attempt is there; the store is in order. @return attempts kept
    std::size_t check() {
        Store store = Store::open(place());
        std::set<std::string> kept;
        for (const auto& row : store.attempts(desk(), {})) CHECK(kept.insert(row.facts.id).second);
        for (std::size_t i = 0; i < children_.size(); ++i) {
            std::ifstream lines(file_of(i));
            std::string id;
            while (std::getline(lines, id) && id.size() == 32)
                CHECK(kept.contains(id));  // a kill may tear the last line
        }
        const auto report = store.check(desk());
        for (const auto& fault : report.faults) FAIL_CHECK(fault.where << ": " << fault.what);
        // one line of the trail for each attempt that is kept: nothing was put in twice, nothing half
        const auto told = store.core().run("SELECT count(*) FROM audit WHERE deed = 'attempt kept'");
        CHECK(static_cast<std::size_t>(records::integer_of(told[0][0], "")) == kept.size());
        return kept.size();
    }

    TestPlace place;

 private:
    [[nodiscard]] std::string file_of(std::size_t i) const {
        return place.scratch().path("acknowledged_" + std::to_string(i));
    }
    std::vector<std::string> shared_;
    std::vector<pid_t> children_;
};

bool no_postgres() {
    if (TestPlace::no_postgres().empty()) return false;
    WARN("skipped on PostgreSQL: " << TestPlace::no_postgres());
    return true;
}

void write_at_once(TestPlace::Kind kind, int processes, int own, int shared) {
    Load load(kind, shared);
    load.start(processes, own);
    CHECK(load.join() == processes);
    CHECK(load.acknowledged_lines() == static_cast<std::size_t>(processes * (own + shared)));
    CHECK(load.check() == static_cast<std::size_t>(processes * own + shared));
}

/// The server is killed in mid-write, as often as it takes; the writers try again by themselves.
void kill_server(int processes, int own, int shared, int kills) {
    Load load(TestPlace::Kind::postgres, shared);
    load.start(processes, own);
    const std::size_t all = static_cast<std::size_t>(processes * (own + shared));
    for (int i = 1; i <= kills; ++i) {
        const std::size_t enough = all * static_cast<std::size_t>(i) / static_cast<std::size_t>(kills + 1);
        for (int wait = 0; load.acknowledged_lines() < enough && wait < kLongestWaitMs; wait += 5)
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        TestPlace::server().kill_hard();
        TestPlace::server().serve();
    }
    CHECK(load.join() == processes);
    CHECK(load.acknowledged_lines() == all);
    CHECK(load.check() == static_cast<std::size_t>(processes * own + shared));
}

/// Writers to one file are killed at random moments; others go on.
void kill_writers(int kills) {
    Load load(TestPlace::Kind::sqlite, 0);
    sim::Random random(7);
    for (int i = 0; i < kills; ++i) {
        const std::size_t before = load.acknowledged_lines();
        load.start(2, 1000);
        // a slow machine is given time until something was kept
        for (int wait = 0; load.acknowledged_lines() == before && wait < kLongestWaitMs; wait += 5)
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        std::this_thread::sleep_for(std::chrono::milliseconds(150 + static_cast<int>(200.0 * random.uniform())));
        load.kill_child(static_cast<std::size_t>(2 * i));
        load.kill_child(static_cast<std::size_t>(2 * i + 1));
    }
    CHECK(load.join() == 0);
    CHECK(load.check() > 0);
}

}  // namespace

TEST_CASE("processes that write at once to one file lose and double nothing", "[records][load]") {
    write_at_once(TestPlace::Kind::sqlite, 8, 12, 3);
}

TEST_CASE("processes that write at once to a server lose and double nothing", "[records][load]") {
    if (no_postgres()) return;
    write_at_once(TestPlace::Kind::postgres, 12, 8, 3);
}

TEST_CASE("a server killed in mid-write loses nothing that was acknowledged", "[records][load]") {
    if (no_postgres()) return;
    kill_server(6, 15, 3, 2);
}

TEST_CASE("writers killed in mid-write leave a file that is in order", "[records][load]") { kill_writers(3); }

TEST_CASE("work that several processes share is handed to one at a time", "[records][load]") {
    ON_BOTH_BACK_ENDS();
    constexpr int kProcesses = 5, kItems = 120;
    std::vector<std::string> items;
    for (int i = 0; i < kItems; ++i) items.push_back(std::to_string(1000 + i));
    Store store = Store::create(place(), Clock().options());
    store.add_work(desk(), "regrade", items);
    std::vector<pid_t> children;
    for (int i = 0; i < kProcesses; ++i) {
        const std::string who = std::to_string(i);
        children.push_back(fork());
        if (children.back() != 0) continue;
        try {
            Store own = Store::open(place());
            std::ofstream done(place.scratch().path("done_" + who));
            // until nothing waits: another may hold the rest for a moment
            while (own.work_left(desk(), "regrade") > 0)
                for (const std::string& item : own.claim_work(desk(), "regrade", who, 3, 600)) {
                    done << item << std::endl;
                    own.finish_work(desk(), "regrade", item, who, "same");
                }
            _exit(0);
        } catch (...) {
            _exit(1);
        }
    }
    std::multiset<std::string> done;
    for (int i = 0; i < kProcesses; ++i) {
        int status = -1;
        waitpid(children[static_cast<std::size_t>(i)], &status, 0);
        CHECK(status == 0);
        std::ifstream lines(place.scratch().path("done_" + std::to_string(i)));
        for (std::string item; std::getline(lines, item);) done.insert(item);
    }
    CHECK(done == std::multiset<std::string>(items.begin(), items.end()));
}

TEST_CASE("8 processes write 400 attempts to one file", "[.slow][records][load]") {
    write_at_once(TestPlace::Kind::sqlite, 8, 50, 5);
}

TEST_CASE("50 processes write 2000 attempts to a server", "[.slow][records][load]") {
    if (no_postgres()) return;
    write_at_once(TestPlace::Kind::postgres, 50, 40, 5);
}

TEST_CASE("a server killed five times under 20 writers", "[.by_hand][records][load]") {
    if (no_postgres()) return;
    kill_server(20, 25, 5, 5);
}

TEST_CASE("writers killed twenty times", "[.slow][records][load]") { kill_writers(20); }
