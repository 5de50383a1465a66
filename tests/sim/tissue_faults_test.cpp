#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <limits>

#include "sim/core/errors.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"

/// What cannot be done is refused in words that say what and where.

using Catch::Matchers::Contains;
using sim::InputError;
using sim::kMm;
using sim::Vec3;
using sim::fe::ChartSettings;
using sim::fe::FactorError;
using sim::fe::FactorTrouble;
using sim::fe::TissueLoad;
using sim::fe::TissueParameters;

namespace {

const double kNan = std::numeric_limits<double>::quiet_NaN();
const double kInfinity = std::numeric_limits<double>::infinity();

sim::fe::TetheredBody& body() { return support::shared_coarse_body(); }

TissueLoad one_thread() { return {{}, lifting_paths(*support::tissue_head(), body().mesh(), sim::Side::left, 1, 1.0)}; }

// g++ says it by a macro, clang++ by a feature
#if defined(__SANITIZE_ADDRESS__)
constexpr bool kSanitized = true;
#elif defined(__has_feature)
constexpr bool kSanitized = __has_feature(address_sanitizer);
#else
constexpr bool kSanitized = false;
#endif

/// Runs out of memory in a process of its own that may take so much more than it holds already.
/// @return what the trouble was called there
std::string trouble_with_memory(double more_mb) {
    std::array<int, 2> pipe_ends{};
    REQUIRE(pipe(pipe_ends.data()) == 0);
    const sim::Head& head = *support::tissue_head();
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        std::size_t pages = 0;
        std::ifstream("/proc/self/statm") >> pages;
        const auto bytes = static_cast<rlim_t>(pages) * static_cast<rlim_t>(sysconf(_SC_PAGESIZE)) +
                           static_cast<rlim_t>(more_mb * 1e6);
        const rlimit limit{bytes, bytes};
        std::string words = "no limit could be set";
        if (setrlimit(RLIMIT_AS, &limit) == 0) {
            try {
                static_cast<void>(
                    sim::fe::TetheredBody(head, support::coarse_chart(), support::few_strings(sim::fe::Laxity::lax)));
                words = "memory was enough";
            } catch (const FactorError& error) {
                words = error.trouble() == FactorTrouble::out_of_memory ? error.what() : "other trouble";
            } catch (...) {
                words = "something else was thrown";
            }
        }
        const bool told = write(pipe_ends[1], words.data(), words.size()) == static_cast<ssize_t>(words.size());
        _exit(told ? 0 : 1);
    }
    close(pipe_ends[1]);
    std::string words;
    std::array<char, 512> part{};
    for (ssize_t n = 0; (n = read(pipe_ends[0], part.data(), part.size())) > 0;)
        words.append(part.data(), static_cast<std::size_t>(n));
    close(pipe_ends[0]);
    int status = 0;
    waitpid(child, &status, 0);
    CHECK((WIFEXITED(status) && WEXITSTATUS(status) == 0));
    return words;
}

}  // namespace

TEST_CASE("every tissue parameter is checked, at both ends and for not being a number", "[sim][tissue]") {
    const auto fields = sim::fe::tissue_fields();
    // all but the seed
    CHECK(fields.size() * sizeof(double) + sizeof(TissueParameters::seed) == sizeof(TissueParameters));
    for (const auto laxity : {sim::fe::Laxity::young, sim::fe::Laxity::middle, sim::fe::Laxity::lax})
        CHECK_NOTHROW(validate(sim::fe::parameters_for(laxity)));
    for (const auto& field : fields) {
        const auto with = [&](double value) {
            TissueParameters p;
            p.*field.member = value;
            return p;
        };
        INFO(std::string(field.name));
        CHECK_NOTHROW(validate(with(field.low)));
        CHECK_NOTHROW(validate(with(field.high)));
        const double least = 1e-9 * (field.high - field.low);
        for (const double value : {field.low - least, field.high + least, kNan, kInfinity, -kInfinity}) {
            try {
                validate(with(value));
                FAIL("accepted " << value);
            } catch (const InputError& error) {
                CHECK(error.place() == "tissue." + std::string(field.name));
                CHECK(error.accepted() == field.accepted());
            }
        }
    }
}

TEST_CASE("a parameter is varied within its range or not at all", "[sim][tissue]") {
    const TissueParameters base;
    for (const auto& field : sim::fe::tissue_fields()) {
        const auto doubled = varied(base, field, 2.0);
        if (field.name == "skin_pa") CHECK(doubled->skin_pa == 2.0 * base.skin_pa);
        if (field.name == "poisson") CHECK(std::abs(doubled->poisson - 0.4) < 1e-12);  // 1 - 2 nu from 0.1 to 0.2
        if (field.name == "string_tension_n") CHECK_FALSE(doubled);                    // 0 stays 0
        if (doubled) CHECK_NOTHROW(validate(*doubled));
    }
}

TEST_CASE("a load that the tissue cannot be asked is refused by name", "[sim][tissue]") {
    const auto refused = [](const TissueLoad& load, const std::string& place) {
        try {
            static_cast<void>(body().settle(load));
            FAIL("accepted: " << place);
        } catch (const InputError& error) {
            CHECK(error.place() == place);
        }
    };
    for (const double value : {-50.1, 50.1, kNan}) {
        refused({{value, 0.0, 0.0}, {}}, "gravity_change_m_per_s2.x");
        refused({{0.0, value, 0.0}, {}}, "gravity_change_m_per_s2.y");
        refused({{0.0, 0.0, value}, {}}, "gravity_change_m_per_s2.z");
    }
    using End = sim::fe::ChartPlace sim::fe::ThreadPath::*;
    using Coordinate = double sim::fe::ChartPlace::*;
    for (const auto& [end, end_name] : {std::pair<End, std::string>(&sim::fe::ThreadPath::far_end, "far_end"),
                                        std::pair<End, std::string>(&sim::fe::ThreadPath::near_end, "near_end")})
        for (const auto& [coordinate, name] :
             {std::pair<Coordinate, std::string>(&sim::fe::ChartPlace::s_m, ".s_m"),
              std::pair<Coordinate, std::string>(&sim::fe::ChartPlace::t_m, ".t_m"),
              std::pair<Coordinate, std::string>(&sim::fe::ChartPlace::level, ".level")})
            for (const double value : {-9.0, 9.0, kNan}) {
                TissueLoad load = one_thread();
                load.threads[0].*end.*coordinate = value;
                refused(load, "threads[0]." + end_name + name);
            }
    TissueLoad load = one_thread();
    load.threads[0].near_end = load.threads[0].far_end;
    refused(load, "threads[0].near_end");
    load = one_thread();
    load.threads.push_back(load.threads[0]);
    load.threads[1].pull_n = 20.1;
    refused(load, "threads[1].pull_n");
    load.threads[1].pull_n = 20.0;
    load.threads[1].barbs = 201;
    refused(load, "threads[1].barbs");
    load.threads.resize(41, load.threads[0]);
    refused(load, "threads");
    CHECK_THROWS_WITH(body().settle_skin({0.0, kNan, 0.0}), Contains("gravity_change_m_per_s2.y"));
}

TEST_CASE("a stiffness that is not one is refused, with its place", "[sim][tissue]") {
    sim::fe::LayeredBody stuff = body().body();
    const sim::fe::HexMesh& mesh = body().mesh();
    const int i = mesh.chart.wide / 2;
    const int j = mesh.chart.high / 2;
    for (int layer = 0; layer < sim::fe::kCellsDeep; ++layer)
        stuff.material[static_cast<std::size_t>(mesh.cell(i, j, layer))].youngs_pa *= -1000.0;
    try {
        const sim::fe::Response response(mesh, stuff);
        FAIL("accepted");
    } catch (const FactorError& error) {
        CHECK(error.trouble() == FactorTrouble::not_positive_definite);
        CHECK_THAT(error.what(), Contains("not positive definite") && Contains("mm, level"));
        // the unknown that is named is a corner of a cell that was spoilt
        REQUIRE(error.unknown());
        const int column = *error.unknown() / (3 * sim::fe::kCellsDeep);
        CHECK(std::abs(column % mesh.chart.wide - i) <= 1);
        CHECK(std::abs(column / mesh.chart.wide - j) <= 1);
    }
}

TEST_CASE("a degenerate cell is refused with its place", "[sim][tissue]") {
    sim::fe::HexMesh mesh = body().mesh();
    mesh.cells.node_m[static_cast<std::size_t>(mesh.node(mesh.columns() / 2, 3))] += Vec3(0.0, 0.0, 0.05);
    CHECK_THROWS_WITH(sim::fe::refuse_degenerate(mesh), Contains("scaled Jacobian") && Contains(" mm has"));
}

TEST_CASE("iterations that are spent are told, not hidden", "[sim][tissue]") {
    sim::fe::TetherProblem problem;
    problem.compliance_m_per_n = body().string_compliance();
    problem.load_m = body().gravity_moved_m(sim::fe::lying_down());
    for (const auto& site : body().strings()) problem.strings.push_back(site.string);
    const auto state = solve_tethers(problem, {}, {1e-11, 1});
    CHECK_FALSE(state.converged);
    try {
        require_settled(state, "lying down");
        FAIL("taken for settled");
    } catch (const sim::fe::NotSettled& error) {
        CHECK(error.iterations() == 1);
        CHECK(error.residual() > 1e-11);
        CHECK_THAT(error.what(), Contains("lying down") && Contains("not settled after 1 iterations"));
    }
    CHECK_NOTHROW(require_settled(solve_tethers(problem, {}), "lying down"));
}

TEST_CASE("the factor's memory is known before anything is allocated", "[sim][tissue]") {
    const sim::fe::HexMesh& mesh = body().mesh();
    const auto size = sim::fe::chart_size(support::coarse_chart());
    CHECK(size.wide == mesh.chart.wide);
    CHECK(size.high == mesh.chart.high);
    const double entries = sim::fe::dissection_entries(mesh.chart.wide, mesh.chart.high, 3 * sim::fe::kCellsDeep);
    CHECK(std::abs(entries / body().response().factor().entries() - 1.0) < 0.1);

    const auto refused = [](const ChartSettings& settings) {
        try {
            sim::fe::refuse_too_large(settings);
            FAIL("accepted");
        } catch (const FactorError& error) {
            CHECK(error.trouble() == FactorTrouble::too_large);
            CHECK_THAT(error.what(), Contains("cells of") && Contains("MB"));
        }
    };
    ChartSettings settings;
    CHECK_NOTHROW(sim::fe::refuse_too_large(settings));
    settings.edge_m = 2.5 * kMm;
    CHECK_NOTHROW(sim::fe::refuse_too_large(settings));
    settings.most_bytes = 0.5e9;
    refused(settings);
    settings = {};
    settings.edge_m = 0.5 * kMm;
    refused(settings);
    settings.edge_m = 1e-6;  // more cells than an int counts
    refused(settings);
    settings.edge_m = 0.5 * kMm;
    CHECK_THROWS_AS(sim::fe::TetheredBody(*support::tissue_head(), settings, {}), FactorError);
    settings.edge_m = -1.0;
    CHECK_THROWS_WITH(sim::fe::TetheredBody(*support::tissue_head(), settings, {}), Contains("tissue.edge_m"));
}

TEST_CASE("memory that cannot be had is told in words", "[sim][tissue]") {
    if (kSanitized) {
        WARN("not under a sanitizer, which needs the memory that is denied here");
        return;
    }
    // too little for the matrix, then enough for that and not for the factor
    CHECK_THAT(trouble_with_memory(4.0), Contains("memory could not be had"));
    CHECK_THAT(trouble_with_memory(60.0), Contains("memory could not be had") && Contains("the factor alone takes"));
}
