#include <fmt/format.h>

#include "engine/files/trace_text.hpp"
#include "sim/core/errors.hpp"

/// Rows of lift, and answers about threads, as texts of columns.

namespace files {

namespace {

constexpr std::size_t kMostRows = 100'000;       // in one line
constexpr std::int64_t kMostListed = 1'000'000;  // barbs, threads and places in one line
constexpr std::int64_t kMostPlaces = 64, kMostThreads = 32, kMostBarbs = 1000;

// where the columns of a list begin, past those that every row has
constexpr std::size_t kFirstPlace = 15, kFirstThread = kFirstPlace + 3 * static_cast<std::size_t>(kMostPlaces);
constexpr std::size_t kColumnsOfThread = 3 + 3 * static_cast<std::size_t>(kMostBarbs);

/// Writes what a visit names.
class Out {
 public:
    Out(std::string& out, ColumnMemory& memory) : columns_(out, memory) {}
    void begin_row() { columns_.begin_row(); }
    void shorten_row() { columns_.shorten_row(); }
    void at_column(std::size_t column) { columns_.at_column(column); }
    template <typename T>
    void whole(const T& value, std::int64_t, std::int64_t, Expect expect = Expect::same) {
        columns_.whole(static_cast<std::int64_t>(value), expect);
    }
    void value(double value, double per_unit) { columns_.value(value, per_unit, Expect::same); }
    template <typename List>
    void size(const List& list, std::int64_t most) {
        SIM_ASSERT(static_cast<std::int64_t>(list.size()) <= most);
        columns_.whole(static_cast<std::int64_t>(list.size()));
    }

 private:
    ColumnWriter columns_;
};

/// Reads what a visit names.
class In {
 public:
    In(const JsonValue& text, ColumnMemory& memory) : columns_(text, memory) {}
    bool next_row(std::size_t so_far) {
        if (!columns_.next_row()) return false;
        if (so_far == kMostRows) columns_.refuse(fmt::format("at most {} rows", kMostRows));
        return true;
    }
    void at_column(std::size_t column) { columns_.at_column(column); }
    template <typename T>
    void whole(T& value, std::int64_t low, std::int64_t high, Expect expect = Expect::same) {
        value = static_cast<T>(columns_.whole(low, high, expect));
    }
    void value(double& value, double per_unit) { value = columns_.value(per_unit, Expect::same); }
    template <typename List>
    void size(List& list, std::int64_t most) {
        const std::int64_t count = columns_.whole(0, most);
        // a row costs as little as two letters, however much it repeats
        if ((listed_ += count) > kMostListed) columns_.refuse(fmt::format("at most {} numbers of a kind", kMostListed));
        list.resize(static_cast<std::size_t>(count));
    }

 private:
    ColumnReader columns_;
    std::int64_t listed_ = 0;
};

template <typename Columns, typename Places>
void visit_places(Columns& columns, Places& places) {
    columns.size(places, kMostPlaces);
    columns.at_column(kFirstPlace);
    for (auto& place : places)
        for (int i = 0; i < 3; ++i) columns.value(place[i], sim::kLiftPerM);
}

template <typename Columns, typename Row>
void visit_lift(Columns& columns, Row& row) {
    columns.whole(row.step, 0, INT64_MAX, Expect::same_change);
    columns.whole(row.thread, 0, kMostThreads);
    columns.value(row.pull_n, sim::kLiftPerN);
    columns.value(row.stroke_n, sim::kLiftPerN);
    columns.value(row.hand_n, sim::kLiftPerN);
    columns.value(row.tail_out_m, sim::kLiftPerM);
    columns.value(row.held_n, sim::kLiftPerN);
    columns.value(row.hold_n, sim::kLiftPerN);
    columns.value(row.dimple_m, sim::kLiftPerM);
    columns.whole(row.seated, 0, kMostBarbs);
    columns.whole(row.slipped, 0, kMostBarbs);
    columns.whole(row.folded, 0, kMostBarbs);
    columns.whole(row.out, 0, 1);
    columns.whole(row.shape, 0, sim::kLiftShapes - 1);
    visit_places(columns, row.moved_m);
}

template <typename Columns, typename Timed>
void visit_answer(Columns& columns, Timed& at) {
    auto& answer = at.answer;
    columns.whole(at.step, 0, INT64_MAX, Expect::same_change);
    columns.whole(answer.key, 0, INT64_MAX, Expect::same_change);
    columns.whole(answer.trouble, 0, sim::kThreadTroubles - 1);
    columns.whole(answer.iterations, 0, 1'000'000);
    columns.whole(answer.shape, 0, sim::kLiftShapes - 1);
    columns.whole(answer.shape_steps, 0, 1'000'000);
    columns.value(answer.hand_held_n, sim::kLiftPerN);
    visit_places(columns, answer.moved_m);
    columns.at_column(8);
    columns.size(answer.threads, kMostThreads);
    for (std::size_t k = 0; k < answer.threads.size(); ++k) {
        columns.at_column(kFirstThread + k * kColumnsOfThread);
        columns.value(answer.threads[k].tail_out_m, sim::kLiftPerM);
        columns.value(answer.threads[k].dimple_m, sim::kLiftPerM);
        columns.size(answer.threads[k].barbs, kMostBarbs);
        for (auto& barb : answer.threads[k].barbs) {
            columns.value(barb.force_n, sim::kLiftPerN);
            columns.value(barb.slip_m, sim::kLiftPerM);
            columns.value(barb.over_m, sim::kLiftPerM);
        }
    }
}

template <typename Row, typename Visit>
void append_list(std::string& out, std::span<const Row> rows, ColumnMemory& memory, const Visit& visit) {
    Out columns(out, memory);
    for (const Row& row : rows) {
        columns.begin_row();
        visit(columns, row);
        columns.shorten_row();
    }
}

template <typename Row, typename Visit>
std::vector<Row> read_list(const JsonValue& text, ColumnMemory& memory, const Visit& visit) {
    std::vector<Row> rows;
    In columns(text, memory);
    while (columns.next_row(rows.size())) {
        Row row;
        visit(columns, row);
        rows.push_back(std::move(row));
    }
    return rows;
}

}  // namespace

void append_lifts(std::string& out, std::span<const sim::LiftRow> rows, ColumnMemory& memory) {
    append_list(out, rows, memory, [](auto& columns, auto& row) { visit_lift(columns, row); });
}

std::vector<sim::LiftRow> read_lifts(const JsonValue& text, ColumnMemory& memory) {
    return read_list<sim::LiftRow>(text, memory, [](auto& columns, auto& row) { visit_lift(columns, row); });
}

void append_thread_answers(std::string& out, std::span<const TimedThreadAnswer> answers, ColumnMemory& memory) {
    append_list(out, answers, memory, [](auto& columns, auto& at) { visit_answer(columns, at); });
}

std::vector<TimedThreadAnswer> read_thread_answers(const JsonValue& text, ColumnMemory& memory) {
    return read_list<TimedThreadAnswer>(text, memory, [](auto& columns, auto& at) { visit_answer(columns, at); });
}

}  // namespace files
