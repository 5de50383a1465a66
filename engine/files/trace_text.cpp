#include "engine/files/trace_text.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "sim/core/errors.hpp"

namespace files {

namespace {

constexpr double kQuantaPerUnit = 1e10;         // the inverse of sim::kTraceQuantum, exact in a double
constexpr std::size_t kMostListed = 1'000'000;  // rows, pieces and the like in one line

double of_quanta(std::int64_t quanta) { return static_cast<double>(quanta) / kQuantaPerUnit; }

/// plain_text() as JSON.
std::string json_text(double value) {
    if (std::isnan(value)) return "null";
    return std::isinf(value) ? fmt::format("\"{}\"", plain_text(value)) : plain_text(value);
}

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

/// The columns of a trace row in the order of the file; `columns` writes or reads them. Those that seldom change stand
/// last, so that a short row leaves them out.
template <typename Columns, typename Row>
void visit_row(Columns& columns, Row& row) {
    constexpr Expect steady = Expect::same_change, same = Expect::same;
    columns.whole(row.step, 0, INT64_MAX, steady);
    columns.value(row.inserted_m, sim::kRowPerM, steady);
    for (int i = 0; i < 3; ++i) columns.value(row.tip_m[i], sim::kRowPerM, steady);
    columns.value(row.layers.depth_m, sim::kRowPerM, steady);
    columns.value(row.nearest.distance_m, sim::kRowPerM, steady);
    for (auto& bottom_m : row.layers.bottom_m) columns.value(bottom_m, sim::kRowBottomPerM, steady);
    columns.value(row.friction_n, sim::kRowPerN, steady);
    columns.value(row.hand_n, sim::kRowPerN, steady);
    columns.value(row.tip_force_n, sim::kRowPerN, same);
    columns.value(row.ligament_n, sim::kRowPerN, same);
    columns.value(row.tent_m, sim::kRowPerM, same);
    columns.value(row.yaw_rad, sim::kRowPerRad, same);
    columns.value(row.pitch_rad, sim::kRowPerRad, same);
    columns.whole(row.layers.layer, 0, kLastLayer, same);
    columns.whole(row.nearest.structure, -1, kIntHigh, same);
    columns.whole(row.track, -1, kIntHigh, same);
    columns.whole(row.layers.floor, 0, kLastFloor, same);
}

/// visit_row() to write.
struct RowOut {
    ColumnWriter columns;
    template <typename T>
    void whole(const T& value, std::int64_t, std::int64_t, Expect expect) {
        columns.whole(static_cast<std::int64_t>(value), expect);
    }
    void value(double value, double quanta_per_unit, Expect expect) { columns.value(value, quanta_per_unit, expect); }
};

/// visit_row() to read.
struct RowIn {
    ColumnReader columns;
    template <typename T>
    void whole(T& value, std::int64_t low, std::int64_t high, Expect expect) {
        value = static_cast<T>(columns.whole(low, high, expect));
    }
    void value(double& value, double quanta_per_unit, Expect expect) { value = columns.value(quanta_per_unit, expect); }
};

constexpr std::int64_t kMostStructures = 9999;

/// Column of the distance to a structure, past those that every piece has.
std::size_t clearance_column(int structure) {
    SIM_ASSERT(structure >= 0 && structure <= kMostStructures);
    return 10 + static_cast<std::size_t>(structure);
}

/// The ten columns that every piece of a track has.
template <typename Piece, typename Visit>
void visit_piece(Piece& piece, Visit visit) {
    for (int i = 0; i < 3; ++i) visit(piece.middle_m[i]);
    visit(piece.shallowest_m);
    visit(piece.deepest_m);
    for (auto& bottom_m : piece.bottom_m) visit(bottom_m);
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
    return json_text(value);
}

std::string single_text(double value) {
    const auto single = static_cast<float>(value);
    SIM_ASSERT(std::isnan(value) || static_cast<double>(single) == value);
    if (!std::isfinite(value)) return json_text(value);
    return fmt::format("{}", single);
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

double NumberList::single() {
    const nlohmann::json& value = take();
    if (const auto number = uncoded(value)) return static_cast<double>(static_cast<float>(*number));
    if (!value.is_number_integer()) refuse("a number, null, \"inf\" or \"-inf\"");
    return static_cast<double>(value.get<float>());
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

void append_rows(std::string& out, std::span<const sim::TraceRow> rows, ColumnMemory& memory) {
    RowOut writer{ColumnWriter(out, memory)};
    for (const sim::TraceRow& row : rows) {
        writer.columns.begin_row();
        visit_row(writer, row);
        writer.columns.shorten_row();
    }
}

std::vector<sim::TraceRow> read_rows(const JsonValue& text, ColumnMemory& memory) {
    std::vector<sim::TraceRow> rows;
    RowIn reader{ColumnReader(text, memory)};
    while (reader.columns.next_row()) {
        if (rows.size() == kMostListed) reader.columns.refuse(fmt::format("at most {} rows", kMostListed));
        sim::TraceRow row;
        visit_row(reader, row);
        row.layers.fraction = sim::row_fraction(row.layers);
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
        R"("length":{},"re_angles":{},"pieces":")",
        track.track, track.instrument, track.vector, track.loaded, track.final, value_text(track.shaft_radius_m),
        point_text(track.entry_m), point_text(track.end_m), value_text(track.length_m), track.re_angles);
    ColumnMemory memory;
    ColumnWriter columns(out, memory);
    for (const sim::TrackPiece& piece : track.pieces) {
        columns.begin_row();
        visit_piece(piece, [&](double value) { columns.value(value, kQuantaPerUnit, Expect::same_change); });
        for (const sim::RecordedClearance& clearance : piece.clearance) {
            columns.alone(clearance.structure);
            columns.at_column(clearance_column(clearance.structure));
            columns.value(clearance.distance_m, kQuantaPerUnit, Expect::same_change);
        }
    }
    out += "\",\"barbs\":[";
    for (const sim::BarbRecord& barb : track.barbs)
        out += fmt::format("[{},{},{},{},{}],", value_text(barb.along_m), barb.direction, static_cast<int>(barb.layer),
                           value_text(barb.capacity_n), barb.seated ? 1 : 0);
    if (!track.barbs.empty()) out.pop_back();
    out += "]}";
}

namespace {

std::vector<sim::TrackPiece> read_pieces(const JsonValue& text) {
    std::vector<sim::TrackPiece> pieces;
    ColumnMemory memory;
    ColumnReader columns(text, memory);
    while (columns.next_row()) {
        if (pieces.size() == kMostListed) columns.refuse(fmt::format("at most {} pieces", kMostListed));
        sim::TrackPiece piece;
        visit_piece(piece, [&](double& value) { value = columns.value(kQuantaPerUnit, Expect::same_change); });
        while (!columns.row_done()) {
            const int structure = narrow(columns.alone(0, kMostStructures));
            if (columns.row_done()) columns.refuse("a structure and its distance");
            columns.at_column(clearance_column(structure));
            piece.clearance.push_back({structure, columns.value(kQuantaPerUnit, Expect::same_change)});
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
