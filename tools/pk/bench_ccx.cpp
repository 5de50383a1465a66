#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "sim/tissue/ccx_deck.hpp"
#include "tools/pk/bench_rows.hpp"

/// How much less it costs to solve the same mesh and load here than in CalculiX, one thread each.

namespace pk {

namespace {

namespace fs = std::filesystem;

bool done(const std::string& command) {
    const int status = std::system(command.c_str());
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

/// Processor time of the programs that this one has waited for.
double children_s() {
    rusage used{};
    getrusage(RUSAGE_CHILDREN, &used);
    const auto of = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return of(used.ru_utime) + of(used.ru_stime);
}

/// The whole run of the other program on one thread: it reads the deck, solves, writes displacements. Its processor
/// time, which on one thread of an idle machine is its time by the clock.
std::optional<double> ccx_s(const std::string& deck) {
    const fs::path folder = fs::temp_directory_path() / fmt::format("pk_bench_ccx_{}", getpid());
    fs::create_directories(folder);
    std::ofstream(folder / "deck.inp", std::ios::binary) << deck;
    const double before_s = children_s();
    bool ran = done(fmt::format("cd '{}' && OMP_NUM_THREADS=1 CCX_NPROC_EQUATION_SOLVER=1 ccx deck > ccx.log 2>&1",
                                folder.string()));
    const double took_s = children_s() - before_s;
    std::error_code ignored;
    ran = ran && fs::exists(folder / "deck.dat", ignored) && fs::file_size(folder / "deck.dat", ignored) > 0;
    fs::remove_all(folder, ignored);
    return ran ? std::optional(took_s) : std::nullopt;
}

}  // namespace

void ccx_rows(const sim::Head& head, sim::fe::TetheredBody& body, std::vector<Row>& rows) {
    if (!done("command -v ccx > /dev/null 2>&1")) {
        fmt::print(stderr,
                   "pk bench: CalculiX (ccx) is not installed: ccx_new_load_ratio and ccx_total_ratio left out\n");
        return;
    }
    // gravity's change and the strings' forces of the patient lying down, both programs with the full brick on one
    // thread
    const sim::fe::DeckProblem problem = deck_problem(head, body, sim::fe::DeckLoad::supine);
    Eigen::VectorXd moved_m;
    std::optional<sim::fe::Factor> factor;
    const double total_s = cpu_seconds([&] {
        static_cast<void>(sim::fe::build_mesh(head.tissue(), {}));
        factor.emplace(problem.factor());
        moved_m = factor->solve(problem.force_n);
    });
    std::vector<double> solve_s;
    for (int repeat = 0; repeat < 9; ++repeat)
        solve_s.push_back(cpu_seconds([&] { moved_m = factor->solve(problem.force_n); }));
    factor.reset();
    const auto theirs_s = ccx_s(write_deck(problem, moved_m).input);
    if (!theirs_s) {
        fmt::print(stderr,
                   "pk bench: CalculiX (ccx) did not finish: ccx_new_load_ratio and ccx_total_ratio left out\n");
        return;
    }
    rows.push_back({"ccx_new_load_ratio", *theirs_s / median(solve_s), "x", 150.0, "at least"});
    rows.push_back({"ccx_total_ratio", *theirs_s / total_s, "x", 2.0, "at least"});
}

}  // namespace pk
