#include "engine/report/anatomy_tables.hpp"

#include <fmt/format.h>

#include <cmath>
#include <string_view>
#include <variant>
#include <vector>

#include "sim/core/errors.hpp"

namespace report {

namespace {

using sim::kMm;

struct Missing {};
using Cell = std::variant<std::string, double, Missing>;

std::string number(double value) {
    const std::string text = fmt::format("{:.3f}", value);
    return text == "-0.000" ? "0.000" : text;
}

/// RFC 4180: quoted where a comma, a quote or a line end is in it, quotes doubled.
std::string csv_field(std::string_view text) {
    if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"') out += '"';
        out += c;
    }
    return out + '"';
}

/// RFC 8259.
std::string json_string(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\')
            (out += '\\') += c;
        else if (static_cast<unsigned char>(c) < 0x20)
            out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
        else
            out += c;
    }
    return out + '"';
}

class Table {
 public:
    Table(TableFormat format, std::vector<std::string_view> columns) : format_(format), columns_(std::move(columns)) {}

    void add(const std::vector<Cell>& row) {
        SIM_ASSERT(row.size() == columns_.size());
        if (format_ == TableFormat::csv) {
            for (std::size_t i = 0; i < row.size(); ++i) (body_ += i > 0 ? "," : "") += csv(row[i]);
            body_ += "\r\n";
            return;
        }
        body_ += body_.empty() ? "\n  {" : ",\n  {";
        for (std::size_t i = 0; i < row.size(); ++i)
            body_ += fmt::format("{}{}: {}", i > 0 ? ", " : "", json_string(columns_[i]), json(row[i]));
        body_ += "}";
    }

    [[nodiscard]] std::string text() const {
        if (format_ == TableFormat::json) return "[" + body_ + "\n]\n";
        return fmt::format("{}\r\n{}", fmt::join(columns_, ","), body_);
    }

 private:
    static std::string csv(const Cell& cell) {
        if (const auto* text = std::get_if<std::string>(&cell)) return csv_field(*text);
        if (const auto* value = std::get_if<double>(&cell)) return number(*value);
        return "";
    }
    static std::string json(const Cell& cell) {
        if (const auto* text = std::get_if<std::string>(&cell)) return json_string(*text);
        if (const auto* value = std::get_if<double>(&cell)) return number(*value);
        return "null";
    }

    TableFormat format_;
    std::vector<std::string_view> columns_;
    std::string body_;
};

Cell text_of(std::string_view text) { return std::string(text); }

}  // namespace

std::string landmarks_table(const sim::Anatomy& anatomy, TableFormat format) {
    Table table(format, {"landmark", "side", "x_mm", "y_mm", "z_mm", "depth_mm", "skin_mm", "superficial_fat_mm",
                         "smas_mm", "deep_mm"});
    for (const sim::Landmark& landmark : anatomy.landmarks()) {
        const sim::Vec3 p = landmark.skin.position_m / kMm;
        const auto& bottom = landmark.bottom_m;
        table.add({landmark.name, text_of(name_of(landmark.side)), p.x, p.y, p.z, landmark.depth_m / kMm,
                   bottom[0] / kMm, (bottom[1] - bottom[0]) / kMm, (bottom[2] - bottom[1]) / kMm,
                   (bottom[4] - bottom[2]) / kMm});
    }
    return table.text();
}

std::string structures_table(const sim::Anatomy& anatomy, TableFormat format) {
    Table table(format, {"structure", "side", "station", "x_mm", "y_mm", "z_mm", "depth_mm", "radius_mm"});
    for (const sim::Structure& structure : anatomy.structures()) {
        for (const sim::Station& station : structure.stations) {
            const sim::Vec3 p = station.position_m / kMm;
            table.add({structure.name, text_of(name_of(structure.side)), station.name, p.x, p.y, p.z,
                       station.depth_m / kMm, station.radius_m / kMm});
        }
    }
    return table.text();
}

std::string point_table(const sim::Anatomy& anatomy, const sim::Vec3& p_mm, TableFormat format) {
    constexpr double kFarthestMm = 300.0, kReachM = 0.05;
    for (int axis = 0; axis < 3; ++axis)
        if (!(std::abs(p_mm[axis]) <= kFarthestMm))
            throw sim::InputError(std::string("at: ") + "xyz"[axis], p_mm[axis], "a number from -300 to 300 mm");

    const sim::Vec3 p = p_mm * kMm;
    const sim::LayerPoint at = anatomy.layers_at(p);
    std::vector<sim::Clearance> near;
    anatomy.clearances(p, p, kReachM, near);
    const sim::Clearance* nearest = nullptr;
    for (const sim::Clearance& each : near)
        if (!nearest || each.distance_m < nearest->distance_m) nearest = &each;

    Table table(format, {"x_mm", "y_mm", "z_mm", "layer", "fraction", "depth_mm", "skin_bottom_mm",
                         "superficial_fat_bottom_mm", "smas_bottom_mm", "deep_fat_bottom_mm", "floor_mm", "floor",
                         "nearest_structure", "nearest_side", "distance_mm"});
    std::vector<Cell> row{p_mm.x, p_mm.y, p_mm.z, text_of(name_of(at.layer)), at.fraction, at.depth_m / kMm};
    for (const double bottom_m : at.bottom_m) row.emplace_back(bottom_m / kMm);
    row.emplace_back(text_of(name_of(at.floor)));
    if (nearest) {
        const sim::Structure& structure = anatomy.structures()[static_cast<std::size_t>(nearest->structure)];
        row.emplace_back(structure.name);
        row.emplace_back(text_of(name_of(structure.side)));
        row.emplace_back(nearest->distance_m / kMm);
    } else {
        row.insert(row.end(), 3, Missing{});
    }
    table.add(row);
    return table.text();
}

}  // namespace report
