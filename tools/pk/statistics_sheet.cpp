#include "tools/pk/statistics_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace pk {

namespace {

std::string number(double value) {
    if (value == std::round(value) && std::abs(value) < 1e7) return fmt::format("{:.0f}", value);
    return std::abs(value) >= 1e-3 && std::abs(value) < 1e6
               ? fmt::format("{:.{}f}", value, std::abs(value) >= 100 ? 1 : 3)
               : fmt::format("{:.3g}", value);
}

std::string in_words(const StatisticsSheet::Cell& value) {
    if (value.is_null()) return "-";
    if (value.is_boolean()) return value.get<bool>() ? "yes" : "no";
    if (value.is_string()) return value.get<std::string>();
    if (value.is_number()) return number(value.get<double>());
    const bool has_interval = !value["low"].is_null() || !value["high"].is_null();
    const std::string interval = in_words(value["low"]) + " to " + in_words(value["high"]);
    if (!value.contains("value")) return interval;
    return in_words(value["value"]) + (has_interval ? " (" + interval + ")" : " (no interval)");
}

/// Characters, not bytes.
std::size_t width_of(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

void append_padded(std::string& out, const std::string& text, std::size_t width, bool last) {
    out += text;
    if (!last) out.append(width - std::min(width, width_of(text)) + 2, ' ');
}

}  // namespace

StatisticsSheet::StatisticsSheet(std::string kind, std::string heading, std::string file,
                                 std::optional<double> confidence)
    : kind_(std::move(kind)), heading_(std::move(heading)), file_(std::move(file)), confidence_(confidence) {}

void StatisticsSheet::figure(const std::string& key, const std::string& label, const Cell& value) {
    figures_.push_back({key, label, value});
}

void StatisticsSheet::table(const std::string& key, const std::string& label, const std::vector<Column>& columns,
                            const std::vector<std::vector<Cell>>& rows) {
    tables_.push_back({key, label, columns, rows});
}

void StatisticsSheet::warn(const statistics::Warnings& warnings) {
    warnings_.insert(warnings_.end(), warnings.begin(), warnings.end());
}

std::string StatisticsSheet::json() const {
    nlohmann::ordered_json out{{"kind", kind_}, {"file", file_}, {"confidence", cell(confidence_)}};
    out["figures"] = nlohmann::ordered_json::object();
    for (const Figure& figure : figures_) out["figures"][figure.key] = figure.value;
    out["tables"] = nlohmann::ordered_json::object();
    for (const Table& table : tables_) {
        nlohmann::ordered_json rows = nlohmann::ordered_json::array();
        for (const auto& row : table.rows) {
            nlohmann::ordered_json object;
            for (std::size_t c = 0; c < row.size(); ++c) object[table.columns[c].key] = row[c];
            rows.push_back(std::move(object));
        }
        out["tables"][table.key] = std::move(rows);
    }
    out["warnings"] = warnings_;
    out["caution"] = kStatisticsCaution;
    return out.dump();
}

std::string StatisticsSheet::text() const {
    std::string out =
        heading_ + " (" + file_ + (confidence_ ? fmt::format("; intervals {:g} %", 100.0 * *confidence_) : "") + ")\n";
    std::size_t label_width = 0;
    for (const Figure& figure : figures_) label_width = std::max(label_width, width_of(figure.label));
    for (const Figure& figure : figures_) {
        out += "  ";
        append_padded(out, figure.label, label_width, false);
        out += in_words(figure.value) + "\n";
    }
    for (const Table& table : tables_) {
        out += "\n" + table.label + "\n";
        std::vector<std::size_t> widths;
        for (std::size_t c = 0; c < table.columns.size(); ++c) {
            widths.push_back(width_of(table.columns[c].label));
            for (const auto& row : table.rows) widths[c] = std::max(widths[c], width_of(in_words(row[c])));
        }
        const auto line = [&](auto text_of) {
            out += "  ";
            for (std::size_t c = 0; c < table.columns.size(); ++c)
                append_padded(out, text_of(c), widths[c], c + 1 == table.columns.size());
            out += "\n";
        };
        line([&](std::size_t c) { return table.columns[c].label; });
        for (const auto& row : table.rows) line([&](std::size_t c) { return in_words(row[c]); });
    }
    for (const std::string& warning : warnings_)
        out += (&warning == &warnings_.front() ? "\n! " : "! ") + warning + "\n";
    return out + "\n" + std::string(kStatisticsCaution) + "\n";
}

StatisticsSheet::Cell cell(const statistics::Estimate& estimate) {
    StatisticsSheet::Cell out{{"value", estimate.value}, {"low", nullptr}, {"high", nullptr}};
    if (estimate.interval) out["low"] = estimate.interval->low, out["high"] = estimate.interval->high;
    return out;
}

StatisticsSheet::Cell cell(const std::optional<statistics::Estimate>& estimate) {
    return estimate ? cell(*estimate) : StatisticsSheet::Cell(nullptr);
}

StatisticsSheet::Cell cell(const std::optional<double>& value) {
    return value ? StatisticsSheet::Cell(*value) : StatisticsSheet::Cell(nullptr);
}

StatisticsSheet::Cell cell(const std::optional<statistics::Interval>& interval) {
    if (!interval) return nullptr;
    return {{"low", interval->low}, {"high", interval->high}};
}

}  // namespace pk
