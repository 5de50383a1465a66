#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/statistics/basics.hpp"

namespace pk {

inline constexpr std::string_view kStatisticsCaution =
    "One input to a supervisor's decision, not the decision. A good figure is not permission to treat.";

/// Figures of one kind of statistics, printed for people or for programs from the same list.
///
/// A cell is a number, a text, true or false, null for what cannot be worked out, or an estimate with its interval.
class StatisticsSheet {
 public:
    using Cell = nlohmann::json;
    struct Column {
        std::string key, label;
    };

    /// @param confidence of the intervals; nothing for a kind that has none
    StatisticsSheet(std::string kind, std::string heading, std::string file, std::optional<double> confidence = {});

    void figure(const std::string& key, const std::string& label, const Cell& value);
    void table(const std::string& key, const std::string& label, const std::vector<Column>& columns,
               const std::vector<std::vector<Cell>>& rows);
    void warn(const statistics::Warnings& warnings);

    /// One JSON object: kind, file, confidence, figures by key, tables as lists of objects, warnings, caution.
    [[nodiscard]] std::string json() const;
    [[nodiscard]] std::string text() const;

 private:
    struct Table {
        std::string key, label;
        std::vector<Column> columns;
        std::vector<std::vector<Cell>> rows;
    };
    struct Figure {
        std::string key, label;
        Cell value;
    };
    std::string kind_, heading_, file_;
    std::optional<double> confidence_;
    std::vector<Figure> figures_;
    std::vector<Table> tables_;
    std::vector<std::string> warnings_;
};

/// {"value", "low", "high"}; low and high are null where there is no interval.
[[nodiscard]] StatisticsSheet::Cell cell(const statistics::Estimate& estimate);
[[nodiscard]] StatisticsSheet::Cell cell(const std::optional<statistics::Estimate>& estimate);
/// The number, or null.
[[nodiscard]] StatisticsSheet::Cell cell(const std::optional<double>& value);
/// {"low", "high"}, or null.
[[nodiscard]] StatisticsSheet::Cell cell(const std::optional<statistics::Interval>& interval);

}  // namespace pk
