#pragma once

#include <optional>
#include <string>
#include <vector>

#include "engine/session/prepare.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/tissue/hex_mesh.hpp"
#include "sim/tissue/material.hpp"

/// What the sub-commands of pk tissue share.

namespace pk {

struct TissueArguments;
using TissueRun = int (*)(const TissueArguments&);

struct TissueArguments {
    std::string scenario;
    std::string patient;           ///< in place of the scenario's
    std::string laxity;            ///< in place of the patient's: young, middle, lax
    std::vector<std::string> set;  ///< "name=value": a parameter in place of the laxity's
    std::optional<double> edge_mm;
    std::vector<double> edges_mm{4.0, 3.0, 2.5};  ///< of converge, falling
    double string_spacing_mm = 20.0;              ///< of sensitivity
    double traction_n = 1.0;
    int threads = 4;
    bool only_all = false;
    std::string load, inp, csv;  ///< of export
    bool json = false;
    TissueRun run = nullptr;

    [[nodiscard]] sim::fe::ChartSettings chart(double default_edge_mm = 4.0) const {
        sim::fe::ChartSettings settings;
        settings.edge_m = edge_mm.value_or(default_edge_mm) * sim::kMm;
        return settings;
    }
};

/// The scenario's patient, or the one named in its place.
[[nodiscard]] session::Prepared prepare_patient(const TissueArguments& arguments);

/// @throws InputError for a name that is none
[[nodiscard]] sim::fe::Laxity laxity_named(const std::string& name);

/// Sets parameters by name. @throws InputError for a name or a value that is not accepted
void apply(const std::vector<std::string>& settings, sim::fe::TissueParameters& parameters);

int print_posture(const TissueArguments& arguments);
int print_lift(const TissueArguments& arguments);
int print_final(const TissueArguments& arguments);
int export_deck(const TissueArguments& arguments);
int print_convergence(const TissueArguments& arguments);
int print_sensitivity(const TissueArguments& arguments);

/// The laxity asked for, or the patient's.
[[nodiscard]] sim::fe::Laxity laxity_of(const TissueArguments& arguments, const sim::Head& head);

/// @throws InputError when the scenario's patient is the slab
[[nodiscard]] const sim::Head& head_of(const session::Prepared& prepared, const std::string& scenario);

}  // namespace pk
