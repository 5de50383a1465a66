#include "engine/files/trace_text.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <cmath>
#include <limits>

#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr double kQuantaPerUnit = 1e10;         // the inverse of sim::kTraceQuantum, exact in a double
constexpr double kMostCodedValue = 9e5;         // quanta of anything larger would not all be exact in a double
constexpr std::size_t kMostListed = 1'000'000;  // rows, pieces and the like in one line

double of_quanta(std::int64_t quanta) { return static_cast<double>(quanta) / kQuantaPerUnit; }

constexpr double kRowQuantaPerUnit = 1e6;  // the inverse of sim::kRowQuantum

/// Whole number of quanta of this size in a value, when reading it back gives the same bits.
std::optional<std::int64_t> whole_quanta(double value, double per_unit) {
    if (!(std::abs(value) < kMostCodedValue)) return std::nullopt;
    const auto quanta = static_cast<std::int64_t>(std::llround(value * per_unit));
    // bits, not ==: a negative zero is not zero
    if (std::bit_cast<std::uint64_t>(static_cast<double>(quanta) / per_unit) != std::bit_cast<std::uint64_t>(value))
        return std::nullopt;
    return quanta;
}

/// A value as it is, told from a count of quanta by its point or exponent.
std::string plain_text(double value) {
    if (std::isnan(value)) return "null";
    if (std::isinf(value)) return value > 0 ? "\"inf\"" : "\"-inf\"";
    std::string text = number_text(value);
    if (text.find_first_of(".e") == std::string::npos) text += ".0";
    return text;
}

/// Columns of rows that follow one another: a whole number is what to add to the row before, in this line.
class ColumnWriter {
 public:
    ColumnWriter(std::string& out, double quanta_per_unit) : out_(out), per_unit_(quanta_per_unit) {}

    void begin_row() {
        column_ = 0;
        out_ += '[';
    }
    void end_row() {
        out_.back() = ']';  // over the last comma
    }
    void whole(std::int64_t value) { put(value); }
    void value(double value) {
        if (const auto quanta = whole_quanta(value, per_unit_)) return put(*quanta);
        out_ += plain_text(value);
        out_ += ',';
        previous() = 0;
        ++column_;
    }
    /// Not compared with the row before: for lists whose length varies.
    void alone(double value) {
        out_ += value_text(value);
        out_ += ',';
    }
    void alone_whole(std::int64_t value) { out_ += fmt::format("{},", value); }

 private:
    std::int64_t& previous() {
        if (column_ >= previous_.size()) previous_.resize(column_ + 1, 0);
        return previous_[column_];
    }
    void put(std::int64_t value) {
        // wraps around like its counterpart, so that no pair of values overflows
        const auto change =
            static_cast<std::int64_t>(static_cast<std::uint64_t>(value) - static_cast<std::uint64_t>(previous()));
        out_ += fmt::format("{},", change);
        previous() = value;
        ++column_;
    }

    std::string& out_;
    double per_unit_;
    std::vector<std::int64_t> previous_;
    std::size_t column_ = 0;
};

class ColumnReader {
 public:
    explicit ColumnReader(double quanta_per_unit) : per_unit_(quanta_per_unit) {}

    void begin_row(NumberList& row) {
        row_ = &row;
        column_ = 0;
    }
    std::int64_t whole(std::int64_t low, std::int64_t high) {
        const std::int64_t value = add(row_->whole());
        if (!(value >= low && value <= high))
            row_->refuse(fmt::format("a change that leads to {} to {}, not to {}", low, high, value));
        return value;
    }
    double value() {
        const Coded coded = row_->coded();
        if (coded.whole) return static_cast<double>(add(coded.quanta)) / per_unit_;
        previous() = 0;
        ++column_;
        return coded.plain;
    }
    sim::Vec3 point() {
        const double x = value(), y = value(), z = value();
        return {x, y, z};
    }

 private:
    std::int64_t& previous() {
        if (column_ >= previous_.size()) previous_.resize(column_ + 1, 0);
        return previous_[column_];
    }
    std::int64_t add(std::int64_t change) {
        std::int64_t& at = previous();
        at = static_cast<std::int64_t>(static_cast<std::uint64_t>(at) + static_cast<std::uint64_t>(change));
        ++column_;
        return at;
    }

    double per_unit_;
    NumberList* row_ = nullptr;
    std::vector<std::int64_t> previous_;
    std::size_t column_ = 0;
};

/// A value that is not a whole number: a float, null or an infinity's name.
std::optional<double> uncoded(const nlohmann::json& value) {
    if (value.is_number_float()) return value.get<double>();
    if (value.is_null()) return std::numeric_limits<double>::quiet_NaN();
    if (value == "inf") return std::numeric_limits<double>::infinity();
    if (value == "-inf") return -std::numeric_limits<double>::infinity();
    return std::nullopt;
}

bool is_past_signed(const nlohmann::json& value) {
    return value.is_number_unsigned() && value.get<std::uint64_t>() > static_cast<std::uint64_t>(INT64_MAX);
}

int narrow(std::int64_t value) { return static_cast<int>(value); }

constexpr std::int64_t kIntLow = std::numeric_limits<int>::min(), kIntHigh = std::numeric_limits<int>::max();
constexpr std::int64_t kLastLayer = static_cast<std::int64_t>(sim::Layer::floor);
constexpr std::int64_t kLastFloor = static_cast<std::int64_t>(sim::FloorKind::fascia);

void put_point(ColumnWriter& out, const sim::Vec3& p) {
    out.value(p.x);
    out.value(p.y);
    out.value(p.z);
}

std::string point_text(const sim::Vec3& p) {
    return fmt::format("[{},{},{}]", value_text(p.x), value_text(p.y), value_text(p.z));
}

sim::Vec3 read_point(const JsonValue& value) {
    NumberList list(value);
    const double x = list.value(), y = list.value(), z = list.value();
    list.end();
    return {x, y, z};
}

}  // namespace

std::optional<std::int64_t> quanta_of(double value) { return whole_quanta(value, kQuantaPerUnit); }

std::string value_text(double value) {
    if (const auto quanta = quanta_of(value)) return std::to_string(*quanta);
    return plain_text(value);
}

NumberList::NumberList(const JsonValue& list) : list_(&list) {
    if (!list.raw().is_array()) list.refuse("a list");
}

const nlohmann::json& NumberList::take() {
    if (done()) list_->refuse("a longer list");
    return list_->raw()[next_++];
}

void NumberList::refuse(const std::string& accepted) const {
    SIM_ASSERT(next_ > 0);
    JsonValue(list_->file(), fmt::format("{}[{}]", list_->place(), next_ - 1), list_->raw()[next_ - 1])
        .refuse(accepted);
}

Coded NumberList::coded() {
    const nlohmann::json& value = take();
    if (const auto number = uncoded(value)) return {false, 0, *number};
    if (!value.is_number_integer() || is_past_signed(value)) refuse("a number, null, \"inf\" or \"-inf\"");
    return {true, value.get<std::int64_t>(), 0.0};
}

double NumberList::value() {
    const Coded number = coded();
    return number.whole ? of_quanta(number.quanta) : number.plain;
}

std::int64_t NumberList::whole(std::int64_t low, std::int64_t high) {
    const nlohmann::json& value = take();
    const std::string accepted = "a whole number";
    if (!value.is_number_integer() || is_past_signed(value)) refuse(accepted);
    const auto number = value.get<std::int64_t>();
    if (!(number >= low && number <= high)) refuse(fmt::format("a whole number from {} to {}", low, high));
    return number;
}

std::string NumberList::text() {
    const nlohmann::json& value = take();
    if (!value.is_string()) refuse("a text");
    return value.get<std::string>();
}

void NumberList::end() const {
    if (!done()) list_->refuse(fmt::format("a list of {}", next_));
}

void append_rows(std::string& out, const std::vector<sim::TraceRow>& rows) {
    ColumnWriter columns(out, kRowQuantaPerUnit);
    for (const sim::TraceRow& row : rows) {
        columns.begin_row();
        columns.whole(row.step);
        columns.whole(row.track);
        columns.value(row.inserted_m);
        put_point(columns, row.tip_m);
        columns.value(row.yaw_rad);
        columns.value(row.pitch_rad);
        columns.whole(static_cast<std::int64_t>(row.layers.layer));
        columns.value(row.layers.fraction);
        columns.value(row.layers.depth_m);
        for (const double bottom_m : row.layers.bottom_m) columns.value(bottom_m);
        columns.whole(static_cast<std::int64_t>(row.layers.floor));
        columns.value(row.tip_force_n);
        columns.value(row.friction_n);
        columns.value(row.ligament_n);
        columns.value(row.hand_n);
        columns.value(row.tent_m);
        columns.whole(row.nearest.structure);
        columns.value(row.nearest.distance_m);
        columns.end_row();
        out += ',';
    }
    if (!rows.empty()) out.pop_back();
}

std::vector<sim::TraceRow> read_rows(const JsonValue& list) {
    std::vector<sim::TraceRow> rows;
    ColumnReader columns(kRowQuantaPerUnit);
    for (const JsonValue& item : list.array(0, kMostListed)) {
        NumberList numbers(item);
        columns.begin_row(numbers);
        sim::TraceRow row;
        row.step = columns.whole(0, INT64_MAX);
        row.track = narrow(columns.whole(-1, kIntHigh));
        row.inserted_m = columns.value();
        row.tip_m = columns.point();
        row.yaw_rad = columns.value();
        row.pitch_rad = columns.value();
        row.layers.layer = static_cast<sim::Layer>(columns.whole(0, kLastLayer));
        row.layers.fraction = columns.value();
        row.layers.depth_m = columns.value();
        for (double& bottom_m : row.layers.bottom_m) bottom_m = columns.value();
        row.layers.floor = static_cast<sim::FloorKind>(columns.whole(0, kLastFloor));
        row.tip_force_n = columns.value();
        row.friction_n = columns.value();
        row.ligament_n = columns.value();
        row.hand_n = columns.value();
        row.tent_m = columns.value();
        row.nearest.structure = narrow(columns.whole(-1, kIntHigh));
        row.nearest.distance_m = columns.value();
        numbers.end();
        rows.push_back(row);
    }
    return rows;
}

void append_event(std::string& out, const sim::Event& event) {
    out += fmt::format("[{},\"{}\",{},{},{},{}", event.step, sim::name_of(event.kind), event.subject,
                       value_text(event.place_m.x), value_text(event.place_m.y), value_text(event.place_m.z));
    for (const double value : event.value) out += "," + value_text(value);
    out += ']';
}

sim::Event read_event(const JsonValue& value) {
    NumberList list(value);
    sim::Event event;
    event.step = list.whole(0);
    const std::string name = list.text();
    int kind = 0;
    while (kind < sim::kEventKinds && sim::name_of(static_cast<sim::EventKind>(kind)) != name) ++kind;
    if (kind == sim::kEventKinds) list.refuse("the name of an event");
    event.kind = static_cast<sim::EventKind>(kind);
    event.subject = narrow(list.whole(kIntLow, kIntHigh));
    event.place_m.x = list.value();
    event.place_m.y = list.value();
    event.place_m.z = list.value();
    for (double& number : event.value) number = list.value();
    list.end();
    return event;
}

void append_track(std::string& out, const sim::TrackRecord& track) {
    out += fmt::format(
        R"({{"track":{},"instrument":{},"vector":{},"loaded":{},"final":{},"radius":{},"entry":{},"end":{},)"
        R"("length":{},"re_angles":{},"pieces":[)",
        track.track, track.instrument, track.vector, track.loaded, track.final, value_text(track.shaft_radius_m),
        point_text(track.entry_m), point_text(track.end_m), value_text(track.length_m), track.re_angles);
    ColumnWriter columns(out, kQuantaPerUnit);
    for (const sim::TrackPiece& piece : track.pieces) {
        columns.begin_row();
        put_point(columns, piece.middle_m);
        columns.value(piece.shallowest_m);
        columns.value(piece.deepest_m);
        for (const double bottom_m : piece.bottom_m) columns.value(bottom_m);
        for (const sim::RecordedClearance& clearance : piece.clearance) {
            columns.alone_whole(clearance.structure);
            columns.alone(clearance.distance_m);
        }
        columns.end_row();
        out += ',';
    }
    if (!track.pieces.empty()) out.pop_back();
    out += "],\"barbs\":[";
    for (const sim::BarbRecord& barb : track.barbs)
        out += fmt::format("[{},{},{},{},{}],", value_text(barb.along_m), barb.direction, static_cast<int>(barb.layer),
                           value_text(barb.capacity_n), barb.seated ? 1 : 0);
    if (!track.barbs.empty()) out.pop_back();
    out += "]}";
}

namespace {

std::vector<sim::TrackPiece> read_pieces(const JsonValue& list) {
    std::vector<sim::TrackPiece> pieces;
    ColumnReader columns(kQuantaPerUnit);
    for (const JsonValue& item : list.array(0, kMostListed)) {
        NumberList numbers(item);
        columns.begin_row(numbers);
        sim::TrackPiece piece;
        piece.middle_m = columns.point();
        piece.shallowest_m = columns.value();
        piece.deepest_m = columns.value();
        for (double& bottom_m : piece.bottom_m) bottom_m = columns.value();
        while (!numbers.done()) {
            const int structure = narrow(numbers.whole(-1, kIntHigh));
            piece.clearance.push_back({structure, numbers.value()});
        }
        pieces.push_back(std::move(piece));
    }
    return pieces;
}

double read_value(const JsonValue& value) {
    if (const auto number = uncoded(value.raw())) return *number;
    return of_quanta(value.integer(INT64_MIN, INT64_MAX));
}

}  // namespace

sim::TrackRecord read_track(const JsonValue& value) {
    JsonObject object = value.object();
    const auto count = [&](std::string_view key) { return narrow(object.at(key).integer(kIntLow, kIntHigh)); };
    sim::TrackRecord track;
    track.track = count("track");
    track.instrument = count("instrument");
    track.vector = count("vector");
    track.loaded = object.at("loaded").boolean();
    track.final = object.at("final").boolean();
    track.shaft_radius_m = read_value(object.at("radius"));
    track.entry_m = read_point(object.at("entry"));
    track.end_m = read_point(object.at("end"));
    track.length_m = read_value(object.at("length"));
    track.re_angles = count("re_angles");
    track.pieces = read_pieces(object.at("pieces"));
    for (const JsonValue& item : object.at("barbs").array(0, kMostListed)) {
        NumberList numbers(item);
        sim::BarbRecord barb;
        barb.along_m = numbers.value();
        barb.direction = narrow(numbers.whole(-1, 1));
        barb.layer = static_cast<sim::Layer>(numbers.whole(0, kLastLayer));
        barb.capacity_n = numbers.value();
        barb.seated = numbers.whole(0, 1) == 1;
        numbers.end();
        track.barbs.push_back(barb);
    }
    object.refuse_unknown();
    return track;
}

}  // namespace files
