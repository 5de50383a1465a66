#include "engine/records/regrade.hpp"

#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <map>
#include <set>

#include "engine/files/verify.hpp"
#include "engine/records/store_core.hpp"
#include "sim/core/errors.hpp"
#include "tests/engine/records/records_support.hpp"

/// What is kept, scored anew by threads, by processes, and by processes that are killed.

using records::Fault;
using records::Regraded;
using records::Store;
using records_test::AttemptMaker;
using records_test::Clock;
using records_test::desk;
using records_test::refusal;
using records_test::TestPlace;

namespace {

records::RegradeSettings settings_of(const std::string& job, const Clock& clock) {
    records::RegradeSettings out;
    out.job = job;
    out.program = "test";
    out.store = clock.options();
    return out;
}

/// A store with attempts of one learner, near and far from the plane. @return the learner's id
std::string fill(Store& store, int attempts) {
    const std::string ada = store.add_learner(desk(), "Ada");
    for (int i = 0; i < attempts; ++i)
        store.put_attempt(desk(),
                          AttemptMaker{.depth_m = support::kMidBandM + (i % 3) * 0.0004,
                                       .seed = static_cast<std::uint64_t>(i),
                                       .end = i % 5 != 4}
                              .bytes(),
                          "a", ada);
    return ada;
}

std::map<std::string, Regraded> results_of(Store& store, const std::string& job) {
    std::map<std::string, Regraded> out;
    records::each_result(store, desk(), job,
                         [&](const Regraded& one) { CHECK(out.emplace(one.attempt_id, one).second); });
    return out;
}

/// How often each attempt of a job was claimed.
std::map<std::string, std::int64_t> tries_of(Store& store, const std::string& job) {
    std::map<std::string, std::int64_t> out;
    for (const auto& row : store.core().run("SELECT item, tries FROM claims WHERE job = $1", {job}))
        out[records::text_of(row[0], "")] = records::integer_of(row[1], "");
    return out;
}

/// A process that works on a job and is left standing after its first attempt, with the rest of its claim.
pid_t start_and_stand(const std::string& place, const records::RegradeSettings& settings, int told) {
    const pid_t child = fork();
    if (child != 0) return child;
    try {
        records::regrade(place, desk(), settings, [&](std::int64_t, std::int64_t) {
            static_cast<void>(!write(told, "1", 1));
            while (true) pause();
        });
    } catch (...) {
    }
    _exit(1);
}

}  // namespace

TEST_CASE("what is kept is scored anew as it was, once each, by threads", "[records][regrade]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    fill(store, 10);
    std::int64_t told = 0;
    const auto report =
        records::regrade(place(), desk(), settings_of("one", clock), [&](std::int64_t done, std::int64_t all) {
            CHECK(all == 10);
            CHECK(done >= told);
            told = done;
        });
    CHECK(told == 10);
    CHECK(report.all == 10);
    CHECK(report.before == 0);
    CHECK(report.here == 10);
    auto settings = settings_of("three", clock);
    settings.jobs = 3;
    CHECK(records::regrade(place(), desk(), settings).here == 10);
    for (const auto& [id, tries] : tries_of(store, "three")) CHECK(tries == 1);

    const auto one = results_of(store, "one"), three = results_of(store, "three");
    CHECK(one.size() == 10);
    CHECK(one == three);
    for (const auto& row : store.attempts(desk(), {})) {
        const Regraded& is = one.at(row.facts.id);
        CHECK(is.same());
        CHECK(is.points == row.facts.points);
        CHECK(is.verdict == row.facts.verdict);
        CHECK(is.headings.size() == row.facts.headings.size());
        CHECK(is.program == "test");
    }
    CHECK(store.check(desk()).faults.empty());
}

TEST_CASE("a job goes on with what is new, and what is done is not done again", "[records][regrade]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    const std::string ada = fill(store, 4);
    const auto settings = settings_of("job", clock);
    CHECK(records::regrade(place(), desk(), settings).here == 4);
    const std::string head = store.check(desk()).audit_head;
    const auto again = records::regrade(place(), desk(), settings);
    CHECK(again.before == 4);
    CHECK(again.here == 0);
    CHECK(store.check(desk()).audit_head == head);  // nothing was changed
    // one more, and one that went on
    const std::string id(32, '7');
    const std::string whole = AttemptMaker{.id = id}.bytes();
    store.put_attempt(desk(), whole.substr(0, whole.find('\n', whole.size() / 3) + 1), "part", ada);
    CHECK(records::regrade(place(), desk(), settings).here == 1);
    CHECK(!results_of(store, "job").at(id).finished);
    store.put_attempt(desk(), whole, "whole", ada);
    CHECK(records::regrade(place(), desk(), settings).here == 1);
    CHECK(results_of(store, "job").at(id).finished);
    CHECK(results_of(store, "job").at(id).verdict == "pass");
    // what is erased is of no job
    store.erase_learner(desk(), ada);
    CHECK(records::regrade(place(), desk(), settings).all == 0);
}

TEST_CASE("figures that differ and files that are damaged are told and not changed", "[records][regrade]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    fill(store, 4);
    const auto rows = store.attempts(desk(), {});
    const auto id = [&](std::size_t i) { return rows[i].facts.id; };
    store.core().run("UPDATE attempts SET points = points + 0.5 WHERE id = $1", {id(0)});
    store.core().run("UPDATE attempts SET verdict = 'fail' WHERE id = $1", {id(1)});
    std::string broken = store.attempt_bytes(desk(), id(2));
    broken[broken.rfind("\"to\":") + 5] = '9';  // another number of steps at the end
    store.core().run("UPDATE attempts SET content = $2 WHERE id = $1", {id(2), records::Blob{broken}});
    const auto before = store.core().run("SELECT * FROM attempts ORDER BY id");
    CHECK(records::regrade(place(), desk(), settings_of("job", clock)).here == 4);
    CHECK(store.core().run("SELECT * FROM attempts ORDER BY id") == before);

    const auto results = results_of(store, "job");
    CHECK(results.at(id(0)).differences.size() == 1);
    CHECK(results.at(id(0)).points == Approx(rows[0].facts.points).margin(1e-9));
    CHECK(results.at(id(0)).kept_points == Approx(rows[0].facts.points + 0.5).margin(1e-9));
    CHECK(results.at(id(1)).kept_verdict == "fail");
    CHECK(results.at(id(1)).verdict == "pass");
    CHECK_THAT(results.at(id(2)).trouble, Catch::Matchers::Contains("not intact"));
    CHECK(results.at(id(3)).same());
}

TEST_CASE("a killed program's share is taken over when its claim is over, and nothing is done twice",
          "[records][regrade]") {
    ON_BOTH_BACK_ENDS();
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    fill(store, 7);
    const auto settings = settings_of("job", clock);
    int told[2];
    REQUIRE(pipe(told) == 0);
    const pid_t child = start_and_stand(place(), settings, told[1]);
    char one = 0;
    REQUIRE(read(told[0], &one, 1) == 1);
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    CHECK(WIFSIGNALED(status));
    close(told[0]);
    close(told[1]);
    CHECK(store.work_left(desk(), "job") == 6);
    const auto first = results_of(store, "job");
    CHECK(first.size() == 1);
    // while the claim holds, the one that it has begun is left alone
    *clock.now_s += settings.lease_s - 1;
    CHECK(store.claim_work(desk(), "job", "probe", 100, 1).size() == 5);
    *clock.now_s += 1;
    const auto report = records::regrade(place(), desk(), settings);
    CHECK(report.before == 1);
    CHECK(report.here == 6);
    CHECK(report.late == 0);
    std::map<std::int64_t, int> count;
    for (const auto& [id, tries] : tries_of(store, "job")) ++count[tries];
    CHECK(count == std::map<std::int64_t, int>{{1, 1}, {2, 6}});
    CHECK(results_of(store, "job").size() == 7);
    CHECK(results_of(store, "job").at(first.begin()->first) == first.begin()->second);
    CHECK(store.check(desk()).faults.empty());
}

TEST_CASE("several programs share a job and nothing is done twice", "[records][regrade]") {
    ON_BOTH_BACK_ENDS();
    constexpr int kPrograms = 3, kAttempts = 18;
    Store store = Store::create(place(), Clock().options());
    fill(store, kAttempts);
    std::vector<pid_t> children;
    for (int i = 0; i < kPrograms; ++i) {
        children.push_back(fork());
        if (children.back() != 0) continue;
        try {
            auto settings = settings_of("job", {});
            settings.jobs = 2;
            settings.program = std::to_string(i);
            const auto report = records::regrade(place(), desk(), settings);
            // each waits for the others
            _exit(report.late == 0 && report.all == kAttempts ? static_cast<int>(report.here) : 100);
        } catch (...) {
            _exit(101);
        }
    }
    int done = 0;
    for (int i = 0; i < kPrograms; ++i) {
        int status = -1;
        waitpid(children[static_cast<std::size_t>(i)], &status, 0);
        REQUIRE(WIFEXITED(status));
        done += WEXITSTATUS(status);
    }
    CHECK(done == kAttempts);
    CHECK(results_of(store, "job").size() == kAttempts);
    for (const auto& [id, tries] : tries_of(store, "job")) CHECK(tries == 1);
}

TEST_CASE("what regrading is asked for is in range, and asked by whom it may be", "[records][regrade]") {
    const TestPlace place(TestPlace::Kind::sqlite);
    const Clock clock;
    Store store = Store::create(place(), clock.options());
    const std::string ada = store.add_learner(desk(), "Ada");
    const auto settings = settings_of("job", clock);
    const auto refused = [&](auto change) {
        auto bad = settings;
        change(bad);
        return refusal([&] { records::regrade(place(), desk(), bad); }).fault();
    };
    CHECK(refused([](auto& s) { s.job = ""; }) == Fault::bad_input);
    CHECK(refused([](auto& s) { s.jobs = 0; }) == Fault::bad_input);
    CHECK(refused([](auto& s) { s.jobs = 65; }) == Fault::bad_input);
    CHECK(refused([](auto& s) { s.lease_s = 0; }) == Fault::bad_input);
    const records::Actor learner{"a", records::Role::learner, ada};
    CHECK(refusal([&] { records::regrade(place(), learner, settings); }).fault() == Fault::denied);
    CHECK(refusal([&] { records::each_result(store, learner, "job", {}); }).fault() == Fault::denied);
    store.add_work(desk(), "job", {"x"});
    CHECK(store.claim_work(desk(), "job", "w", 1, 60).size() == 1);
    store.finish_work(desk(), "job", "x", "w", "no result");
    CHECK(refusal([&] { records::each_result(store, desk(), "job", [](const Regraded&) {}); }).fault() ==
          Fault::damaged);
}

namespace {

/// The same attempt under another id and the test's key, chained and signed anew.
std::string copy_of(const std::string& bytes) {
    const files::ChainLines chain = files::split_chain(bytes);
    const files::KeyPair key = records_test::key_of(1);
    const auto put = [](std::string& body, const std::string& name, const std::string& value) {
        const std::size_t at = body.find("\"" + name + "\":\"") + name.size() + 4;
        body.replace(at, body.find('"', at) - at, value);
    };
    std::string out;
    files::Hash hash{};
    for (const files::ChainLine& line : chain.lines) {
        std::string body = line.body;
        if (line.seq == 0) {
            put(body, "attempt_id", files::random_id());
            put(body, "public_key", files::hex(key.public_key));
        }
        hash = files::chained(hash, body);
        const files::Signature signature = files::sign(key, files::view_of(hash));
        out += files::chain_line(body, hash, line.signature ? &signature : nullptr);
    }
    return out;
}

}  // namespace

// PK_ATTEMPT names an attempt of real length, PK_ATTEMPTS how many copies of it are kept, PK_PLACE a file that is left
// there; by default 60 of a plain pass
TEST_CASE("threads against one", "[.by_hand][records][regrade]") {
    const TestPlace place(TestPlace::Kind::sqlite);
    const char *of = std::getenv("PK_ATTEMPT"), *many = std::getenv("PK_ATTEMPTS"), *to = std::getenv("PK_PLACE");
    const std::string where = to == nullptr ? place() : to;
    const std::string bytes = of == nullptr ? AttemptMaker{}.bytes() : records_test::bytes_of_file(of);
    Store store = Store::create(where);
    store.add_key(desk(), store.add_learner(desk(), "Ada"), records_test::fingerprint(1));
    for (int i = 0; i < (many == nullptr ? 60 : std::atoi(many)); ++i)
        store.put_attempt(desk(), copy_of(bytes), "copy");
    double alone_s = 0.0;
    for (int jobs = 1; jobs <= 2; ++jobs) {
        auto settings = settings_of("by " + std::to_string(jobs), {});
        settings.store = {};
        settings.jobs = jobs;
        const auto start = std::chrono::steady_clock::now();
        records::regrade(where, desk(), settings);
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
        WARN(jobs << " threads: " << took.count() << " s");
        if (jobs == 1) alone_s = took.count();
        if (jobs == 2) CHECK(alone_s / took.count() >= 1.9);
    }
}
