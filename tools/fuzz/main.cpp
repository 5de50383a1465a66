#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <string>

#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "tools/fuzz/corpus.hpp"
#include "tools/fuzz/mutate.hpp"

/// pk_fuzz [SECONDS [SEED]]        damage good files for so long and see whether any reader does more than refuse
/// pk_fuzz readers                 names of the readers
/// pk_fuzz seeds READER FOLDER     good inputs of a reader, and those that are kept, one file each
/// pk_fuzz keep READER FOLDER      keep the inputs in a folder in the reader's corpus

namespace {

namespace fs = std::filesystem;

constexpr std::size_t kMostKeptBytes = 200'000;  // of a reader, in the repository

fs::path corpus_of(std::string reader) {
    std::replace(reader.begin(), reader.end(), ' ', '_');
    return files::shipped_folder() / "tests/fuzz" / (reader + ".corpus");
}

int damage(double seconds, std::uint64_t seed, const std::vector<fuzz::Target>& targets) {
    using Clock = std::chrono::steady_clock;
    constexpr std::int64_t kBatch = 200;
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

int lay_out(const fuzz::Target& target, const fs::path& folder) {
    std::vector<std::string> inputs = target.seeds;
    if (fs::exists(corpus_of(target.name)))
        for (std::string& one : fuzz::read_corpus(corpus_of(target.name))) inputs.push_back(std::move(one));
    fs::create_directories(folder);
    for (std::size_t i = 0; i < inputs.size(); ++i)
        std::ofstream(folder / fmt::format("kept_{:05}", i), std::ios::binary) << inputs[i];
    return 0;
}

int keep(const std::string& reader, const fs::path& folder) {
    std::vector<std::string> inputs;
    for (const auto& entry : fs::directory_iterator(folder))
        if (entry.is_regular_file()) inputs.push_back(files::read_bytes(entry.path(), files::kDocumentBytes));
    const std::size_t kept = fuzz::write_corpus(corpus_of(reader), inputs, kMostKeptBytes);
    fmt::print("{}: {} of {} inputs kept\n", reader, kept, inputs.size());
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    const std::string first = argc > 1 ? argv[1] : "60";
    const auto targets = fuzz::targets((files::shipped_folder() / "scenarios").string());
    if (first == "readers") {
        for (const fuzz::Target& one : targets) fmt::print("{}\n", one.name);
        return 0;
    }
    if ((first == "seeds" || first == "keep") && argc == 4) {
        for (const fuzz::Target& one : targets)
            if (one.name == argv[2]) return first == "keep" ? keep(one.name, argv[3]) : lay_out(one, argv[3]);
        fmt::print(stderr, "pk_fuzz: no reader is named {}\n", argv[2]);
        return 2;
    }
    return damage(std::atof(first.c_str()), argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1, targets);
}
