#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <string>

#include "engine/files/places.hpp"
#include "tools/fuzz/mutate.hpp"

/// pk_fuzz [SECONDS [SEED]]: damage good files for so long and see whether any reader does more than refuse.
int main(int argc, char** argv) {
    using Clock = std::chrono::steady_clock;
    const double seconds = argc > 1 ? std::atof(argv[1]) : 60.0;
    std::uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
    constexpr std::int64_t kBatch = 200;
    const auto targets = fuzz::targets((files::shipped_folder() / "scenarios").string());
    std::int64_t read = 0, refused = 0;
    for (const auto start = Clock::now(); std::chrono::duration<double>(Clock::now() - start).count() < seconds;
         seed += kBatch)
        for (const fuzz::Target& target : targets) {
            const fuzz::Outcome outcome = fuzz::run(target, seed, kBatch);
            read += outcome.read;
            refused += outcome.refused;
            if (outcome.failure.empty()) continue;
            fmt::print("{}\n", outcome.failure);
            return 1;
        }
    fmt::print("{} mutants: {} refused, {} still readable, next seed {}\n", read + refused, refused, read, seed);
    return 0;
}
