#pragma once

#include <array>
#include <string_view>

#include "sim/anatomy/parameters.hpp"

/// The four invented patients of scenarios/patients, for tests that read no file. tests/oracle/anthropometry_test.cpp
/// checks that they are the shipped ones.

namespace support {

struct NamedPatient {
    std::string_view name;
    sim::HeadParameters head;
};

inline sim::HeadParameters ilva() {
    sim::HeadParameters p;
    p.age_years = 36.0;
    p.malar_fullness = 0.55;
    p.buccal_fullness = 0.5;
    p.lip_fullness = 0.7;
    p.laxity_left = 0.22, p.laxity_right = 0.16;
    p.nasolabial_left = 0.3, p.nasolabial_right = 0.22;
    p.marionette_left = 0.12, p.marionette_right = 0.08;
    p.jowl_left = 0.15, p.jowl_right = 0.08;
    p.tear_trough_left = 0.22, p.tear_trough_right = 0.2;
    p.submental_left = 0.12, p.submental_right = 0.12;
    p.asymmetry = 0.3, p.asymmetry_seed = 3;
    p.melanin = 0.36, p.blood = 0.32;
    return p;
}

inline sim::HeadParameters maren() {
    sim::HeadParameters p;
    p.age_years = 61.0;
    p.malar_fullness = 0.4;
    p.buccal_fullness = 0.4;
    p.lip_fullness = 0.5;
    p.laxity_left = 0.5, p.laxity_right = 0.62;
    p.nasolabial_left = 0.6, p.nasolabial_right = 0.75;
    p.marionette_left = 0.38, p.marionette_right = 0.5;
    p.jowl_left = 0.45, p.jowl_right = 0.6;
    p.tear_trough_left = 0.5, p.tear_trough_right = 0.55;
    p.submental_left = 0.4, p.submental_right = 0.4;
    p.asymmetry = 0.4, p.asymmetry_seed = 8;
    p.melanin = 0.08, p.blood = 0.4;
    return p;
}

inline sim::HeadParameters jorun() {
    sim::HeadParameters p;
    p.male = 1.0;
    p.age_years = 48.0;
    p.malar_fullness = 0.45;
    p.buccal_fullness = 0.5;
    p.lip_fullness = 0.45;
    p.laxity_left = 0.4, p.laxity_right = 0.3;
    p.nasolabial_left = 0.55, p.nasolabial_right = 0.42;
    p.marionette_left = 0.25, p.marionette_right = 0.2;
    p.jowl_left = 0.38, p.jowl_right = 0.25;
    p.tear_trough_left = 0.35, p.tear_trough_right = 0.35;
    p.submental_left = 0.35, p.submental_right = 0.35;
    p.asymmetry = 0.35, p.asymmetry_seed = 5;
    p.melanin = 0.14, p.blood = 0.42, p.beard = 0.75;
    return p;
}

inline sim::HeadParameters tobe() {
    sim::HeadParameters p;
    p.male = 1.0;
    p.age_years = 67.0;
    p.malar_fullness = 0.5;
    p.buccal_fullness = 0.42;
    p.lip_fullness = 0.75;
    p.laxity_left = 0.55, p.laxity_right = 0.64;
    p.nasolabial_left = 0.68, p.nasolabial_right = 0.8;
    p.marionette_left = 0.42, p.marionette_right = 0.5;
    p.jowl_left = 0.5, p.jowl_right = 0.6;
    p.tear_trough_left = 0.5, p.tear_trough_right = 0.5;
    p.submental_left = 0.45, p.submental_right = 0.45;
    p.asymmetry = 0.35, p.asymmetry_seed = 12;
    p.melanin = 0.78, p.blood = 0.35, p.beard = 0.5;
    return p;
}

inline std::array<NamedPatient, 4> patients() {
    return {NamedPatient{"ilva", ilva()}, {"maren", maren()}, {"jorun", jorun()}, {"tobe", tobe()}};
}

}  // namespace support
