#include "sim/barbed_thread/barbs.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace sim {

namespace {

constexpr double kDragRad = 8.0 * kPi / 180.0;  // a withdrawal that turns by this drags every second barb; assumed

Layer layer_of(const TrackPiece& piece) {
    const double depth_m = 0.5 * (piece.shallowest_m + piece.deepest_m);
    if (depth_m < 0.0) return Layer::outside;
    for (std::size_t i = 0; i < piece.bottom_m.size(); ++i)
        if (depth_m < piece.bottom_m[i]) return static_cast<Layer>(i + 1);
    return Layer::floor;
}

}  // namespace

double barb_capacity_n(Layer layer) {
    static constexpr std::array<double, 7> kCapacityN{0.0, 0.30, 0.12, 0.20, 0.06, 0.05, 0.0};  // assumed
    return kCapacityN[static_cast<std::size_t>(layer)];
}

double barb_share(double set_m) {
    const auto sum_m = [](double length_m) { return kHoldLengthM * (1.0 - std::exp(-length_m / kHoldLengthM)); };
    return set_m > 0.0 ? sum_m(set_m) / set_m * (kUsualSetM / sum_m(kUsualSetM)) : 0.0;
}

namespace {

/// What each set's barbs hold together saturates with the length that they take.
void share_out(double pitch_m, std::vector<BarbRecord>& barbs) {
    for (const int direction : {1, -1}) {
        const auto holds = [&](const BarbRecord& barb) {
            return barb.direction == direction && barb.capacity_n > 0.0 && barb.layer != Layer::muscle;
        };
        const double share =
            barb_share(pitch_m * static_cast<double>(std::count_if(barbs.begin(), barbs.end(), holds)));
        for (BarbRecord& barb : barbs)
            if (holds(barb)) barb.capacity_n = quantised(share * barb.capacity_n);
    }
}

}  // namespace

std::vector<BarbRecord> seat_barbs(const ThreadSpec& thread, std::span<const TrackPiece> pieces, double turn_rad) {
    std::vector<BarbRecord> out;
    const double track_m = static_cast<double>(pieces.size()) * kMm;
    const double far_m = std::min(thread.barb_free_m + thread.barbed_length_m, track_m);
    // two opposed sets meet at the middle of what lies in the tissue
    const double middle_m = 0.5 * (thread.barb_free_m + far_m);
    for (int i = 0;; ++i) {
        const double along_m = thread.barb_free_m + (i + 0.5) * thread.barb_pitch_m;
        if (!(along_m < far_m)) break;
        const TrackPiece& piece = pieces[static_cast<std::size_t>(along_m / kMm)];
        BarbRecord barb;
        barb.along_m = quantised(along_m);
        barb.direction = along_m < middle_m ? 1 : -1;
        barb.layer = layer_of(piece);
        barb.capacity_n = barb_capacity_n(barb.layer);
        const bool dragged = turn_rad > kDragRad && i % 2 == 1;
        barb.seated = barb.capacity_n > 0.0 && barb.layer != Layer::muscle && !dragged;
        out.push_back(barb);
    }
    share_out(thread.barb_pitch_m, out);
    return out;
}

}  // namespace sim
