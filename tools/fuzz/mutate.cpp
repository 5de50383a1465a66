#include "tools/fuzz/mutate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <string_view>

#include "engine/files/attempt.hpp"
#include "engine/files/attempt_header.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/rubric.hpp"
#include "engine/files/script.hpp"
#include "engine/files/trace_text.hpp"
#include "sim/core/random.hpp"

namespace fuzz {

namespace {

namespace fs = std::filesystem;

constexpr std::array<std::string_view, 28> kWords{"0",
                                                  "-1",
                                                  "1e308",
                                                  "1e999",
                                                  "-0.0",
                                                  "9223372036854775807",
                                                  "-9223372036854775808",
                                                  "18446744073709551616",
                                                  "null",
                                                  "true",
                                                  "\"\"",
                                                  "[]",
                                                  "{}",
                                                  "NaN",
                                                  "[[[[[[[[[[[[[[[[[[[[[[",
                                                  "\"inf\"",
                                                  "\\u0000",
                                                  "\xff",
                                                  "\xed\xa0\x80",
                                                  "\n",
                                                  ",",
                                                  ":",
                                                  "\"source\"",
                                                  "\"schema_version\":1",
                                                  "\"seq\":0",
                                                  "{\"seq\":",
                                                  "mm",
                                                  "at"};

std::size_t below(sim::Random& random, std::size_t limit) {
    return limit == 0 ? 0
                      : std::min(limit - 1, static_cast<std::size_t>(random.uniform() * static_cast<double>(limit)));
}

void mutate_once(std::string& text, const std::string& other, sim::Random& random) {
    const std::size_t at = below(random, text.size() + 1);
    const std::size_t length = std::min(text.size() - at, 1 + below(random, 40));
    switch (below(random, 8)) {
        case 0:  // one bit
            if (at < text.size()) text[at] = static_cast<char>(text[at] ^ static_cast<char>(1U << below(random, 8)));
            break;
        case 1:
            text.erase(at, length);
            break;
        case 2:
            text.insert(at, text.substr(at, length));
            break;
        case 3:
            text.resize(at);
            break;
        case 4:
            text.insert(at, kWords[below(random, kWords.size())]);
            break;
        case 5: {  // the number or word here by another
            const auto ends = [](char c) { return std::string_view(" ,:[]{}\n").find(c) != std::string_view::npos; };
            const auto begin = text.begin() + static_cast<std::ptrdiff_t>(at);
            const auto end = std::find_if(begin, text.end(), ends);
            text.replace(begin, end, kWords[below(random, kWords.size())]);
            break;
        }
        case 6: {  // a piece from elsewhere, of another input
            const std::size_t from = below(random, other.size() + 1);
            text.insert(at, other.substr(from, 1 + below(random, 200)));
            break;
        }
        default:  // one byte
            if (at < text.size()) text[at] = static_cast<char>(below(random, 256));
            break;
    }
}

void add_files(std::vector<std::string>& seeds, const fs::path& folder, std::string_view ending) {
    std::vector<fs::path> found;
    if (!fs::is_directory(folder)) return;
    for (const auto& entry : fs::directory_iterator(folder))
        if (entry.path().extension() == ending) found.push_back(entry.path());
    std::sort(found.begin(), found.end());  // the order of a folder hangs on the file system, and seeds on the order
    for (const fs::path& path : found) seeds.push_back(files::read_bytes(path, files::kDocumentBytes));
}

const char* const kWindow =
    R"({"to":64,"commands":[[3,"push",16,"x",7],[9,"finish"]],"answers":[[4,1,12,3.5,1e-9,null]],)"
    R"("thread_answers":"CCACCCCCCECCCECC;AAE","lifts":"CCCC;AAE",)"
    R"("rows":"KoGCEGIKEUOCEGIKACCCEB;CACA(nan)(0.5);C",)"
    R"("events":[[5,"plunge",-1,1,2,3,0,0,"inf",-0.5]],"tracks":[{"track":0,"instrument":1,"vector":0,"loaded":true,)"
    R"("final":true,"radius":4100000,"entry":[1,2,3],"end":[4,5,6],"length":7,"re_angles":0,)"
    R"~("pieces":"CEGIKMOQSUAqECwF;CC(1e-9)CCCCCCCA(inf)","barbs":[[1,-1,2,5,1]]}]})~";

/// The lists of one window, each by its own reader: past the chain, which would refuse any mutant as changed.
void read_window(const std::string& bytes) {
    const auto document = files::JsonDocument::parse("window", bytes);
    files::JsonObject object = document.root().object();
    files::ColumnMemory memory, lift_memory, answer_memory;
    if (const auto lifts = object.find("lifts")) static_cast<void>(files::read_lifts(*lifts, lift_memory));
    if (const auto answers = object.find("thread_answers"))
        static_cast<void>(files::read_thread_answers(*answers, answer_memory));
    if (const auto rows = object.find("rows")) static_cast<void>(files::read_rows(*rows, memory));
    if (const auto events = object.find("events"))
        for (const auto& event : events->array(0, 1000)) static_cast<void>(files::read_event(event));
    if (const auto tracks = object.find("tracks"))
        for (const auto& track : tracks->array(0, 1000)) static_cast<void>(files::read_track(track));
}

void write(const fs::path& path, const std::string& bytes) { std::ofstream(path, std::ios::binary) << bytes; }

/// A whole attempt on disk, its chain made to fit when the mutant still has lines, so that what lies behind it is met.
void read_whole(const std::string& bytes, const fs::path& scratch) {
    write(scratch, bytes);
    static_cast<void>(files::verify(scratch));
    std::string rechained;
    files::Hash hash{};
    for (const files::ChainLine& line : files::split_chain(bytes).lines) {
        if (line.seq < 0) continue;
        hash = files::chained(hash, line.body);
        rechained += files::chain_line(line.body, hash, line.signature ? &*line.signature : nullptr);
    }
    write(scratch, rechained);
    static_cast<void>(files::read_attempt(scratch));
}

std::string chained_attempt(const std::string& scenario, const std::string& rubric) {
    files::AttemptHeader header;
    header.attempt_id = "00000000000000000000000000000000";
    header.started_at = "2026-01-01T00:00:00Z";
    header.scenario = files::source_text("scenario", scenario);
    header.rubric = files::source_text("rubric", rubric);
    const files::KeyPair key = files::key_pair_of_seed({1});
    header.public_key = key.public_key;
    const std::array<std::string, 3> bodies{
        fmt::format("{{\"seq\":0,\"header\":{}}}", files::header_text(header)),
        "{\"seq\":1," + std::string(kWindow).substr(1),
        R"({"seq":2,"to":100,"end":{"finished":true,"commands":8,"answers":1,"rows":3,"events":1,"tracks":1,)"
        R"("thread_answers":2,"lifts":2}})"};
    std::string text;
    files::Hash hash{};
    for (std::size_t i = 0; i < bodies.size(); ++i) {
        hash = files::chained(hash, bodies[i]);
        const files::Signature signature = files::sign(key, files::view_of(hash));
        text += files::chain_line(bodies[i], hash, i == 2 ? &signature : nullptr);
    }
    return text;
}

}  // namespace

std::vector<Target> targets(const std::string& scenarios) {
    const fs::path root(scenarios);
    Target scenario{
        "scenario", {}, [](const std::string& bytes) {
            static_cast<void>(files::parse_scenario(files::source_text("x", bytes), std::nullopt, "x.json"));
        }};
    add_files(scenario.seeds, root / "drills", ".json");
    add_files(scenario.seeds, root / "cases", ".json");
    Target patient{"patient", {}, [](const std::string& bytes) {
                       static_cast<void>(files::parse_patient(files::source_text("x", bytes), "x.json"));
                   }};
    add_files(patient.seeds, root / "patients", ".json");
    Target rubric{"rubric", {}, [](const std::string& bytes) {
                      static_cast<void>(files::parse_rubric(files::source_text("x", bytes), "x.json"));
                  }};
    add_files(rubric.seeds, root / "rubrics", ".json");
    Target script{"script",
                  {"take 1\nentry -31.2 -64 40.5 # mm\naim yaw 0 pitch 35\npush 12 mm at 4 mm/s turning pitch 3\n"
                   "lift 0.6 N for 1 s\nwithdraw all at 15 mm/s\naid 0 on\nexactly 90000 discard\nfinish\n"},
                  [](const std::string& bytes) { static_cast<void>(files::compile_script(bytes, "x.script")); }};
    add_files(script.seeds, root / "scripts", ".script");
    Target window{"window", {kWindow}, read_window};
    Target seal{
        "seal",
        {files::seal_text(files::make_seal(files::key_pair_of_seed({1}), "id", 3, {}))},
        [](const std::string& bytes) { static_cast<void>(files::seal_holds(files::parse_seal(bytes, "x.seal"))); }};
    // a flat patient needs no second file
    const auto flat = std::find_if(scenario.seeds.begin(), scenario.seeds.end(),
                                   [](const std::string& text) { return text.find("\"slab\"") != std::string::npos; });
    Target attempt{"attempt", {}, {}};
    if (flat != scenario.seeds.end()) attempt.seeds.push_back(chained_attempt(*flat, rubric.seeds.at(0)));
    attempt.read = [path = fs::temp_directory_path() /
                           ("planekeeper_fuzz_" + files::random_id())](const std::string& bytes) {
        struct Remove {
            const fs::path& path;
            ~Remove() {
                std::error_code ignored;
                fs::remove(path, ignored);
            }
        } const remove{path};
        read_whole(bytes, path);
    };
    const std::vector<std::string> attempts = attempt.seeds;
    std::vector<Target> all{scenario, patient, rubric, script, window, seal, attempt};
    for (Target& one : graded_targets(scenarios)) all.push_back(std::move(one));
    for (Target& one : other_targets(scenarios, attempts)) all.push_back(std::move(one));
    return all;
}

std::string mutated(const Target& target, std::uint64_t seed) {
    sim::Random random(seed);
    const auto any = [&]() -> const std::string& { return target.seeds[below(random, target.seeds.size())]; };
    std::string text = any();
    for (std::size_t i = 0, times = 1 + below(random, 4); i < times; ++i) mutate_once(text, any(), random);
    return text;
}

Outcome run(const Target& target, std::uint64_t first, std::int64_t count) {
    Outcome outcome;
    for (std::int64_t i = 0; i < count && outcome.failure.empty(); ++i) {
        const std::uint64_t seed = first + static_cast<std::uint64_t>(i);
        try {
            target.read(mutated(target, seed));
            ++outcome.read;
        } catch (const files::FileError&) {
            ++outcome.refused;
        } catch (const std::exception& error) {
            outcome.failure = fmt::format("{}, seed {}: {}", target.name, seed, error.what());
        }
    }
    return outcome;
}

}  // namespace fuzz
