#pragma once

#include <string>

#include "engine/session/prepare.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/tissue/hex_mesh.hpp"

/// What the sub-commands of pk tissue share.

namespace pk {

struct TissueArguments;
using TissueRun = int (*)(const TissueArguments&);

struct TissueArguments {
    std::string scenario;
    double edge_mm = 4.0;
    bool json = false;
    TissueRun run = nullptr;

    [[nodiscard]] sim::fe::ChartSettings chart() const {
        sim::fe::ChartSettings settings;
        settings.edge_m = edge_mm * sim::kMm;
        return settings;
    }
};

/// @throws InputError when the scenario's patient is the slab
[[nodiscard]] const sim::HeadTissue& head_of(const session::Prepared& prepared, const std::string& scenario);

}  // namespace pk
