#pragma once

#include <memory>

#include "sim/anatomy/structures.hpp"
#include "sim/tissue/posture.hpp"
#include "tests/support/heads.hpp"

/// A patient's finite-element tissue, coarse and with few strings: a second of work instead of twenty.

namespace support {

/// Patient maren.
inline std::shared_ptr<const sim::Head> tissue_head() {
    static const auto built = [] {
        const auto tissue = sim::build_head_tissue(maren(), on_two_threads, {});
        sim::Placement placed = sim::place_structures(*tissue, 0);
        return std::make_shared<const sim::Head>(tissue, std::move(placed.structures), std::move(placed.ligaments),
                                                 std::move(placed.landmarks));
    }();
    return built;
}

inline sim::fe::ChartSettings coarse_chart() {
    sim::fe::ChartSettings settings;
    settings.edge_m = 8.0 * sim::kMm;
    return settings;
}

inline sim::fe::TissueParameters few_strings(sim::fe::Laxity laxity) {
    sim::fe::TissueParameters p = sim::fe::parameters_for(laxity);
    p.string_spacing_m = 30.0 * sim::kMm;
    return p;
}

inline std::unique_ptr<sim::fe::TetheredBody> coarse_body(const sim::Progress& progress = {}) {
    return std::make_unique<sim::fe::TetheredBody>(*tissue_head(), coarse_chart(), few_strings(sim::fe::Laxity::lax),
                                                   progress);
}

/// One such body for all tests of a program, and that body lying down.
inline sim::fe::TetheredBody& shared_coarse_body() {
    static const auto built = coarse_body();
    return *built;
}
inline const sim::fe::Settled& coarse_body_lying() {
    static const sim::fe::Settled settled = shared_coarse_body().settle({sim::fe::lying_down(), {}});
    return settled;
}

}  // namespace support
