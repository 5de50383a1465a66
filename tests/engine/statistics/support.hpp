#pragma once

#include <catch2/catch.hpp>
#include <initializer_list>
#include <limits>
#include <string>

#include "engine/statistics/basics.hpp"

namespace statistics_test {

using statistics::Matrix;

inline constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
inline constexpr double kInfinity = std::numeric_limits<double>::infinity();

inline Matrix table(std::initializer_list<std::initializer_list<double>> rows) {
    Matrix out(static_cast<Eigen::Index>(rows.size()), static_cast<Eigen::Index>(rows.begin()->size()));
    Eigen::Index r = 0;
    for (const auto& row : rows) {
        Eigen::Index c = 0;
        for (const double value : row) out(r, c++) = value;
        ++r;
    }
    return out;
}

/// Place of the InputError that `act` throws; fails when there is none.
template <typename Act>
std::string refused_at(Act act) {
    try {
        act();
    } catch (const sim::InputError& error) {
        CHECK_FALSE(error.accepted().empty());
        return error.place();
    }
    return "nothing was refused";
}

/// Six targets by four judges: Shrout and Fleiss 1979, Psychol Bull 86:420-8, Table 2.
inline Matrix shrout_fleiss() {
    return table({{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}});
}

}  // namespace statistics_test
