#include "tools/fuzz/mutate.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>

#include "engine/files/file_error.hpp"
#include "tools/fuzz/corpus.hpp"

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

TEST_CASE("what a guided fuzzer found is read or refused", "[files][fuzz]") {
    std::size_t inputs = 0;
    for (const fuzz::Target& target : fuzz::targets("scenarios")) {
        std::string name = target.name;
        std::replace(name.begin(), name.end(), ' ', '_');
        const std::filesystem::path file = "tests/fuzz/" + name + ".corpus";
        if (!std::filesystem::exists(file)) continue;
        for (const std::string& one : fuzz::read_corpus(file)) {
            INFO(target.name << ", input " << inputs);
            try {
                target.read(one);
            } catch (const files::FileError& error) {
                REQUIRE_FALSE(std::string(error.what()).empty());
            }
            ++inputs;
        }
    }
    CHECK(inputs > 100);
}

TEST_CASE("damaged files are refused, whatever the damage", "[files][fuzz]") { run_all(1000); }

TEST_CASE("damaged files are refused, many of them", "[.slow][files][fuzz]") { run_all(20'000); }
