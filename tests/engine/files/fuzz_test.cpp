#include "tools/fuzz/mutate.hpp"

#include <catch2/catch.hpp>

namespace {

void run_all(std::int64_t count) {
    for (const fuzz::Target& target : fuzz::targets("scenarios")) {
        INFO(target.name);
        REQUIRE_FALSE(target.seeds.empty());
        // the inputs that mutants start from are good: otherwise nothing behind the first refusal is met
        for (const std::string& seed : target.seeds)
            if (seed.find("\"name\": \"slab\"") != std::string::npos || target.name != "scenario")
                CHECK_NOTHROW(target.read(seed));
        const fuzz::Outcome outcome = fuzz::run(target, 1, count);
        CHECK(outcome.failure == "");
        CHECK((outcome.refused > 0) != target.none_refused);
        CHECK((outcome.read > 0 || target.all_refused));
    }
}

}  // namespace

TEST_CASE("damaged files are refused, whatever the damage", "[files][fuzz]") { run_all(1000); }

TEST_CASE("damaged files are refused, many of them", "[.slow][files][fuzz]") { run_all(20'000); }
