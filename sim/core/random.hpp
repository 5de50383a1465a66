#pragma once

#include <cmath>
#include <cstdint>

#include "sim/core/vec.hpp"

/// A seeded generator with its own distributions, because those of the standard library differ between vendors.

namespace sim {

/// SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators", OOPSLA): 64 bits of state.
class Random {
 public:
    explicit Random(std::uint64_t seed) : state_(seed) {}

    std::uint64_t next() {
        state_ += 0x9e3779b97f4a7c15ULL;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
        return z ^ (z >> 31);
    }

    /// Uniform in [0, 1), 53 bits.
    double uniform() { return static_cast<double>(next() >> 11) * 0x1.0p-53; }
    double uniform(double low, double high) { return low + (high - low) * uniform(); }

    /// Standard normal by the polar-free Box-Muller form; takes two draws each time, so that streams stay aligned.
    double normal() {
        const double u = 1.0 - uniform();
        const double v = uniform();
        return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * kPi * v);
    }
    double normal(double mean, double sd) { return mean + sd * normal(); }

    /// An independent stream for a named purpose, so that adding a draw in one place moves nothing in another.
    [[nodiscard]] Random fork(std::uint64_t purpose) const {
        Random child(state_ ^ (purpose * 0xd1342543de82ef95ULL + 0x632be59bd9b4e019ULL));
        child.next();
        return child;
    }

    [[nodiscard]] std::uint64_t state() const { return state_; }

 private:
    std::uint64_t state_;
};

}  // namespace sim
