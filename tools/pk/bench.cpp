#include <fmt/format.h>

#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/files/script.hpp"
#include "engine/session/machine.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/view/ultrasound.hpp"
#include "sim/core/random.hpp"
#include "sim/stages.hpp"
#include "tools/pk/bench_rows.hpp"
#include "tools/pk/commands.hpp"

/// Speed figures. Ratios come from one run; absolute rows are medians, with the machine's load beside them.

namespace pk {

namespace {

namespace fs = std::filesystem;
/// The force stage alone, on copies of the states that a script comes through: 99.9th percentile of its sub-steps.
double force_sub_step_us(const session::Prepared& prepared, const files::Script& script) {
    constexpr double kPushM = 5e-6;  // a quarter of 5 mm/s over a step
    std::vector<double> each_us;
    session::Session session(prepared.model, {});
    std::size_t next = 0;
    while (!session.finished() && session.state().step < script.steps) {
        while (next < script.commands.size() && script.commands[next].step == session.state().step)
            session.send(script.commands[next++].command);
        session.advance(1);
        sim::State state = session.state();
        sim::StepReport report;
        const sim::StepContext context{*prepared.model, state, report};
        for (int i = 0; i < sim::kForceSubSteps; ++i)
            each_us.push_back(cpu_seconds([&] { sim::force(context, kPushM); }) * 1e6);
    }
    std::sort(each_us.begin(), each_us.end());
    return each_us[each_us.size() * 999 / 1000];
}

/// Places under the skin of the treated region, both sides: from the brow to the root of the neck, seen from all around
/// but the nape, and in no order, so that hardly a query finds what it reads in the cache.
std::vector<sim::Vec3> random_treated_places(const sim::Anatomy& anatomy, std::size_t count) {
    constexpr double kFromSideRad = 2.0, kLowM = -0.165, kHighM = 0.030;
    constexpr double kDeepestM = 0.012, kOutsideM = 0.3, kAxisZM = 0.01;
    sim::Random random(1);
    std::vector<sim::Vec3> places;
    for (std::size_t tries = 0; places.size() < count && tries < 4 * count; ++tries) {
        const double around = random.uniform(-kFromSideRad, kFromSideRad);
        const sim::Vec3 out(std::sin(around), 0.0, std::cos(around));
        const sim::Vec3 axis(0.0, random.uniform(kLowM, kHighM), kAxisZM);
        const double depth_m = random.uniform(0.0, kDeepestM);
        if (const auto skin = anatomy.ray_to_skin(axis + kOutsideM * out, -out))
            places.push_back(skin->position_m - skin->normal * depth_m);
    }
    return places;
}

double layer_query_ns(const sim::Anatomy& anatomy) {
    const std::vector<sim::Vec3> places = random_treated_places(anatomy, 200'000);
    std::vector<double> ns;
    double kept = 0.0;
    for (int repeat = 0; repeat < 9; ++repeat)
        ns.push_back(cpu_seconds([&] {
                         for (const sim::Vec3& p : places) kept += anatomy.layers_at(p).depth_m;
                     }) *
                     1e9 / static_cast<double>(places.size()));
    if (!(kept == kept)) fmt::print(stderr, "pk: a depth is not a number\n");
    return median(ns);
}

/// A probe over the end of the first planned vector: a picture after it was moved, and one for the pulse alone.
void ultrasound_rows(const session::Prepared& prepared, std::vector<Row>& rows) {
    const auto anatomy = prepared.model->anatomy;
    const sim::SkinPoint skin = anatomy->nearest_skin(prepared.model->scenario.plan.front().end_m);
    view::Ultrasound probe(anatomy);
    std::vector<double> moved_ms, still_ms;
    for (int i = 0; i < 21; ++i) {
        const view::ProbePose pose = view::probe_on(skin, 0.1 * i);
        moved_ms.push_back(1e3 * cpu_seconds([&] { probe.look(pose, {}, 0.04 * i); }));
        still_ms.push_back(1e3 * cpu_seconds([&] { probe.look(pose, {}, 0.04 * i + 0.02); }));
    }
    rows.push_back({"ultrasound_moved_ms", median(moved_ms), "ms", 16.0, "at most"});
    rows.push_back({"ultrasound_ms", median(still_ms), "ms", 8.0, "at most"});
}

/// Size of the record of ten minutes at the script's pace: the header once, the rest in proportion.
double mb_per_10_min(const std::string& path, double played_s) {
    std::ifstream file(path);
    std::string header;
    std::getline(file, header);
    const double rest = static_cast<double>(fs::file_size(path)) - static_cast<double>(header.size());
    return (static_cast<double>(header.size()) + rest * 600.0 / played_s) / 1e6;
}

void attempt_rows(const session::Prepared& prepared, const files::Script& script, std::vector<Row>& rows) {
    const fs::path folder = fs::temp_directory_path() / fmt::format("pk_bench_{}", getpid());
    fs::create_directories(folder);
    const std::string path = (folder / "bench.attempt").string();
    const auto recorder = std::make_shared<session::AttemptRecorder>(
        files::AttemptWriter(path, session::header_of(prepared, sim::PracticeMode::solo), files::new_key_pair()));
    session::Session session(prepared.model, {sim::PracticeMode::solo, recorder, nullptr});
    session::play_commands(session, script.commands, script.steps + 1);
    const double played_s = session.time_s();
    rows.push_back({"attempt_mb_per_10_min", mb_per_10_min(path, played_s), "MB", 1.0, "at most"});
    std::vector<double> score_s;
    std::vector<double> resimulate_s;
    for (int repeat = 0; repeat < 5; ++repeat) {
        const files::LoadedAttempt attempt = files::read_attempt(path);
        score_s.push_back(seconds([&] { static_cast<void>(sim::score(attempt.recording, prepared.rubric.rubric)); }));
        resimulate_s.push_back(session::resimulate(attempt, prepared.model, nullptr).seconds);
    }
    rows.push_back({"rescore_speed", played_s / median(score_s), "x", 1000.0, "at least"});
    rows.push_back({"resimulate_speed", played_s / median(resimulate_s), "x", 20.0, "at least"});
    std::error_code ignored;
    fs::remove_all(folder, ignored);
}

/// What the trainer says of its own frames, when it stands beside this program and can draw here without a window.
nlohmann::json frames_of(const fs::path& trainer, const std::string& scenario, const std::string& more) {
    const std::string command = fmt::format(
        "SDL_VIDEODRIVER=offscreen '{}' --scenario '{}' --script '{}.capable' --at 9 --size 1280x720 --frames 90 {} "
        "2>/dev/null",
        trainer.string(), scenario, scenario, more);
    FILE* pipe = popen(command.c_str(), "r");
    if (pipe == nullptr) return {};
    std::string text;
    char part[512];
    while (std::fgets(part, sizeof part, pipe) != nullptr) text += part;
    pclose(pipe);
    return nlohmann::json::parse(text, nullptr, false);
}

void frame_rows(const std::string& scenario, std::vector<Row>& rows) {
    std::error_code ignored;
    const fs::path trainer = fs::read_symlink("/proc/self/exe", ignored).parent_path() / "planekeeper";
    if (!fs::exists(trainer)) return;
    const nlohmann::json idle = frames_of(trainer, scenario, ""), busy = frames_of(trainer, scenario, "--busy");
    if (!idle.is_object() || !busy.is_object()) return;
    // limits of software drawing; on a graphics card the same rows say how far below them the card is
    rows.push_back({"frame_720p_software_ms", idle.value("median", 0.0), "ms", 33.0, "at most"});
    rows.push_back({"frame_720p_software_busy_ms", busy.value("median", 0.0), "ms", 50.0, "at most"});
    // at the step of drawing that the program chose for itself: 2 is all the detail that a processor draws, 3 is three
    // quarters of it
    rows.push_back({"frame_720p_software_step", idle.value("quality", 0.0), "", 3.0, "at most"});
    rows.push_back({"first_frame_s", idle.value("first_frame_s", 0.0), "s", 2.0, "at most"});
    rows.push_back({"resident_mb", idle.value("resident_mb", 0.0), "MB", 1000.0, "at most"});
}

std::vector<Row> measure(const std::string& scenario) {
    std::vector<Row> rows;
    session::Prepared prepared;
    const double cold_s = seconds([&] { prepared = session::prepare(scenario, std::nullopt, show_progress, false); });
    // the first of these fills the cache, the second reads it
    static_cast<void>(session::prepare(scenario, std::nullopt, {}));
    const double cached_s = seconds([&] { prepared = session::prepare(scenario, std::nullopt, {}); });
    // layers, floor and structures alone: what must be there before the trainer opens
    rows.push_back({"anatomy_ready_cold_s", cold_s, "s", 10.0, "at most"});
    rows.push_back({"anatomy_ready_cached_s", cached_s, "s", 8.0, "at most"});
    tissue_rows(prepared, cold_s, cached_s, rows);
    // over random places of the whole treated region of the scenario's patient, both sides
    rows.push_back({"layer_query_ns", layer_query_ns(*prepared.model->anatomy), "ns", 200.0, "at most"});
    if (!prepared.model->scenario.plan.empty()) ultrasound_rows(prepared, rows);
    const files::Script script = files::load_script(files::find_script(prepared.loaded.scenario.id + ".capable"));
    rows.push_back({"tip_force_p999_us", force_sub_step_us(prepared, script), "us", 20.0, "at most"});
    attempt_rows(prepared, script, rows);
    rows.push_back({"pk_resident_mb", session::resident_mb(), "MB", 1000.0, "at most"});
    frame_rows(scenario, rows);
    return rows;
}

}  // namespace

Run add_bench(CLI::App& app) {
    struct Arguments {
        std::string scenario = "single_vector";
        bool json = false;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("bench", "the speed figures; exit status 1 when one misses its limit");
    command->add_option("--scenario", a->scenario, "a scenario with a capable script");
    command->add_flag("--json", a->json, "print figures for programs");
    return [a] {
        const std::vector<Row> rows = measure(a->scenario);
        bool all = true;
        nlohmann::json list = nlohmann::json::array();
        for (const Row& row : rows) {
            all = all && row.holds();
            list.push_back({{"name", row.name},
                            {"value", row.value},
                            {"unit", row.unit},
                            {"limit", row.limit},
                            {"sense", row.sense},
                            {"holds", row.holds()},
                            {"load", session::load_average()}});
            if (!a->json)
                fmt::print("{:<26}{:>12.4g} {:<4} {} {:g} {}\n", row.name, row.value, row.unit, row.sense, row.limit,
                           row.holds() ? "" : "  missed");
        }
        if (a->json)
            fmt::print("{}\n", list.dump(2));
        else
            fmt::print("load average {:.2f}\n", session::load_average());
        return all ? 0 : 1;
    };
}

}  // namespace pk
