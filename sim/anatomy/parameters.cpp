#include "sim/anatomy/parameters.hpp"

#include <array>
#include <cstdio>
#include <string>
#include <utility>

#include "sim/core/errors.hpp"

namespace sim {
namespace {

using P = HeadParameters;

constexpr std::array kFields = {
    HeadParameterField{"male", &P::male, 0.0, 1.0},
    HeadParameterField{"age_years", &P::age_years, 18.0, 90.0},
    HeadParameterField{"malar_fullness", &P::malar_fullness, 0.0, 1.0},
    HeadParameterField{"buccal_fullness", &P::buccal_fullness, 0.0, 1.0},
    HeadParameterField{"lip_fullness", &P::lip_fullness, 0.0, 1.0},
    HeadParameterField{"laxity_left", &P::laxity_left, 0.0, 1.0},
    HeadParameterField{"laxity_right", &P::laxity_right, 0.0, 1.0},
    HeadParameterField{"nasolabial_left", &P::nasolabial_left, 0.0, 1.0},
    HeadParameterField{"nasolabial_right", &P::nasolabial_right, 0.0, 1.0},
    HeadParameterField{"marionette_left", &P::marionette_left, 0.0, 1.0},
    HeadParameterField{"marionette_right", &P::marionette_right, 0.0, 1.0},
    HeadParameterField{"jowl_left", &P::jowl_left, 0.0, 1.0},
    HeadParameterField{"jowl_right", &P::jowl_right, 0.0, 1.0},
    HeadParameterField{"tear_trough_left", &P::tear_trough_left, 0.0, 1.0},
    HeadParameterField{"tear_trough_right", &P::tear_trough_right, 0.0, 1.0},
    HeadParameterField{"submental_left", &P::submental_left, 0.0, 1.0},
    HeadParameterField{"submental_right", &P::submental_right, 0.0, 1.0},
    HeadParameterField{"asymmetry", &P::asymmetry, 0.0, 1.0},
    HeadParameterField{"melanin", &P::melanin, 0.0, 1.0},
    HeadParameterField{"blood", &P::blood, 0.0, 1.0},
    HeadParameterField{"beard", &P::beard, 0.0, 1.0},
};

struct SidePair {
    double P::*left;
    double P::*right;
};

constexpr std::array kConcerns = {
    SidePair{&P::laxity_left, &P::laxity_right},           SidePair{&P::nasolabial_left, &P::nasolabial_right},
    SidePair{&P::marionette_left, &P::marionette_right},   SidePair{&P::jowl_left, &P::jowl_right},
    SidePair{&P::tear_trough_left, &P::tear_trough_right}, SidePair{&P::submental_left, &P::submental_right},
};

std::string range_text(const HeadParameterField& field) {
    char text[64];
    std::snprintf(text, sizeof text, "%g to %g", field.low, field.high);
    return text;
}

}  // namespace

std::span<const HeadParameterField> head_parameter_fields() { return kFields; }

void validate(const HeadParameters& parameters) {
    for (const HeadParameterField& field : kFields) {
        const double value = parameters.*field.member;
        if (!(value >= field.low && value <= field.high)) {
            throw InputError("head parameter " + std::string(field.name), value, range_text(field));
        }
    }
}

HeadParameters young_reference(const HeadParameters& parameters) {
    HeadParameters young = parameters;
    for (const SidePair& concern : kConcerns) {
        young.*concern.left = 0.0;
        young.*concern.right = 0.0;
    }
    return young;
}

HeadParameters mirrored(const HeadParameters& parameters) {
    HeadParameters mirror = parameters;
    for (const SidePair& concern : kConcerns) {
        std::swap(mirror.*concern.left, mirror.*concern.right);
    }
    return mirror;
}

}  // namespace sim
