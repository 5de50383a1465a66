#include <array>
#include <catch2/catch.hpp>

#include "engine/records/schema.hpp"
#include "engine/records/store_core.hpp"
#include "tests/engine/records/records_support.hpp"

/// What is passing is tried again, and nothing is done twice by it.

using records::Access;
using records::Fault;
using records::RecordsError;
using records_test::Clock;
using records_test::desk;
using records_test::refusal;

namespace {

/// A database that loses its connection: before a commit is made, or after, when only the answer is lost.
class Lossy final : public records::Database {
 public:
    Lossy(std::unique_ptr<records::Database> behind, int before, int after)
        : behind_(std::move(behind)), before_(before), after_(after) {}

    using Database::run;
    records::Rows run(std::string_view sql, std::span<const records::Value> values) override {
        if (lost_) throw RecordsError(Fault::connection_lost, name(), "lost");
        return behind_->run(sql, values);
    }
    [[nodiscard]] std::int64_t changed() const override { return behind_->changed(); }
    void begin(Access access) override {
        if (lost_) throw RecordsError(Fault::connection_lost, name(), "lost");
        behind_->begin(access);
    }
    void commit() override {
        if (before_ > 0) {
            --before_;
            behind_->rollback();
            lost_ = true;
        } else {
            behind_->commit();
            if (after_ > 0) {
                --after_;
                lost_ = true;
            }
        }
        if (lost_) throw RecordsError(Fault::connection_lost, name(), "lost");
    }
    void rollback() noexcept override { behind_->rollback(); }
    void reconnect() override {
        ++reconnects;
        lost_ = false;
    }
    void lock_schema() override { behind_->lock_schema(); }
    [[nodiscard]] std::vector<std::string> columns(std::string_view table) override { return behind_->columns(table); }
    [[nodiscard]] std::vector<std::string> integrity_faults() override { return behind_->integrity_faults(); }
    void forget_deleted() override { behind_->forget_deleted(); }
    [[nodiscard]] records::Place::Kind kind() const override { return behind_->kind(); }
    [[nodiscard]] const std::string& name() const override { return behind_->name(); }
    [[nodiscard]] std::string in_dialect(std::string_view sql) const override { return behind_->in_dialect(sql); }

    int reconnects = 0;

 private:
    std::unique_ptr<records::Database> behind_;
    int before_, after_;
    bool lost_ = false;
};

}  // namespace

TEST_CASE("a lost connection is made anew, and what was committed with its answer lost is not done again",
          "[records]") {
    const auto [before, after] = GENERATE(table<int, int>({{0, 0}, {1, 0}, {3, 0}, {0, 1}, {2, 1}}));
    ON_BOTH_BACK_ENDS();
    { records::Store::create(place(), Clock().options()); }
    const auto where = records::place_of(place());
    auto lossy =
        std::make_unique<Lossy>(back_end == records_test::TestPlace::Kind::sqlite ? records::open_sqlite(where, false)
                                                                                  : records::open_postgres(where),
                                before, after);
    Lossy& database = *lossy;
    records::StoreOptions options = Clock().options();
    options.retry.first_wait_s = 0.001;
    records::StoreCore core(std::move(lossy), options);
    int runs = 0;
    core.write([&] {
        ++runs;
        core.run("INSERT INTO learners (id, name, added_at) VALUES ($1, 'Ada', 'now')", {"id " + std::to_string(runs)});
        core.note(desk(), "learner added", "x");
    });
    CHECK(runs == before + 1);
    CHECK(database.reconnects == before + after);
    CHECK(core.run("SELECT id FROM learners").size() == 1);
    CHECK(core.run("SELECT seq FROM audit WHERE deed = 'learner added'").size() == 1);
}

TEST_CASE("what stays away is given up by name when the time is over", "[records]") {
    const records_test::TestPlace place(records_test::TestPlace::Kind::sqlite);
    { records::Store::create(place(), Clock().options()); }
    records::StoreOptions options = Clock().options();
    options.retry.first_wait_s = 0.001;
    options.retry.longest_s = 0.05;
    records::StoreCore core(
        std::make_unique<Lossy>(records::open_sqlite(records::place_of(place()), false), 1'000'000, 0), options);
    CHECK(refusal([&] { core.write([] {}); }).fault() == Fault::connection_lost);
    // a fault that is not passing is not tried again
    int runs = 0;
    CHECK(refusal([&] {
              core.write([&] {
                  ++runs;
                  throw RecordsError(Fault::conflict, "x", "y");
              });
          }).fault() == Fault::conflict);
    CHECK(runs == 1);
}
