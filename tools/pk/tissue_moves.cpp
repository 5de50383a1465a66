#include <fmt/format.h>
#include <time.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "sim/anatomy/parameters.hpp"
#include "sim/core/errors.hpp"
#include "sim/tissue/ccx_deck.hpp"
#include "sim/tissue/final_shape.hpp"
#include "sim/tissue/read_out.hpp"
#include "tools/pk/tissue.hpp"

/// pk tissue posture and lift: what the tissue does under gravity and threads, in millimetres.

namespace pk {

namespace {

using sim::kMm;
using sim::Vec3;
using sim::fe::TetheredBody;

double cpu_now_s() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

struct Ready {
    session::Prepared prepared;
    sim::fe::Laxity laxity;
    std::unique_ptr<TetheredBody> body;
};

Ready make_ready(const TissueArguments& a) {
    Ready out{prepare_patient(a), sim::fe::Laxity::middle, nullptr};
    const sim::Head& head = head_of(out.prepared, a.scenario);
    out.laxity = laxity_of(a, head);
    sim::fe::TissueParameters parameters = sim::fe::parameters_for(out.laxity);
    apply(a.set, parameters);
    const double before = cpu_now_s();
    out.body = std::make_unique<TetheredBody>(head, a.chart(), parameters);
    const auto& f = out.body->response().factor();
    if (!a.json)
        fmt::print("{} tissue, {} unknowns, {} strings; factor {:.0f} MB, ready in {:.1f} s of processor time\n",
                   name_of(out.laxity), f.unknowns(), out.body->strings().size(), static_cast<double>(f.bytes()) / 1e6,
                   cpu_now_s() - before);
    return out;
}

}  // namespace

sim::fe::Laxity laxity_of(const TissueArguments& a, const sim::Head& head) {
    const sim::HeadParameters& p = head.tissue().parameters();
    return a.laxity.empty() ? sim::fe::laxity_class(0.5 * (p.laxity_left + p.laxity_right)) : laxity_named(a.laxity);
}

int print_posture(const TissueArguments& a) {
    const Ready ready = make_ready(a);
    const sim::Head& head = head_of(ready.prepared, a.scenario);
    const double before = cpu_now_s();
    const auto settled = ready.body->settle({sim::fe::lying_down(), {}});
    const double solve_s = cpu_now_s() - before;
    const auto rows = sim::fe::posture_read_outs(head, *ready.body, settled);
    if (a.json) {
        nlohmann::ordered_json out{{"laxity", name_of(ready.laxity)},
                                   {"converged", settled.tethers.converged},
                                   {"iterations", settled.tethers.iterations},
                                   {"taut_strings", settled.tethers.taut}};
        for (const auto& row : rows)
            out["shift"].push_back({{"place", row.place},
                                    {"side", name_of(row.side)},
                                    {"up_mm", row.moved_m.y / kMm},
                                    {"back_mm", -row.moved_m.z / kMm},
                                    {"lateral_mm", row.lateral_m() / kMm},
                                    {"all_mm", glm::length(row.moved_m) / kMm}});
        fmt::print("{}\n", out.dump(2));
    } else {
        fmt::print("upright to lying: {} iterations, {} of {} strings taut, {:.0f} ms{}\n", settled.tethers.iterations,
                   settled.tethers.taut, ready.body->strings().size(), solve_s * 1e3,
                   settled.tethers.converged ? "" : ", NOT CONVERGED");
        fmt::print("{:<28} {:<9} {:>6} {:>6} {:>8} {:>6}  mm\n", "place", "side", "up", "back", "lateral", "all");
        for (const auto& row : rows)
            fmt::print("{:<28} {:<9} {:>6.2f} {:>6.2f} {:>8.2f} {:>6.2f}\n", row.place, name_of(row.side),
                       row.moved_m.y / kMm, -row.moved_m.z / kMm, row.lateral_m() / kMm,
                       glm::length(row.moved_m) / kMm);
    }
    require_settled(settled.tethers, "upright to lying");
    return 0;
}

int print_lift(const TissueArguments& a) {
    const Ready ready = make_ready(a);
    const sim::Head& head = head_of(ready.prepared, a.scenario);
    std::optional<sim::fe::TetherState> unsettled;
    nlohmann::ordered_json out{{"laxity", name_of(ready.laxity)}, {"traction_n", a.traction_n}};
    if (!a.json)
        fmt::print("left cheek, {:.2f} N on each thread\n{:<8} {:>6} {:>6} {:>8} {:>9} {:>5} {:>6}  mm\n", a.traction_n,
                   "threads", "peak", "jowl", "drawn in", "slipping", "taut", "steps");
    for (int threads = 1; threads <= a.threads; ++threads) {
        if (a.only_all && threads != 1 && threads != a.threads) continue;
        const auto paths = sim::fe::lifting_paths(head, ready.body->mesh(), sim::Side::left, threads, a.traction_n);
        const auto settled = ready.body->settle({{}, paths});
        const auto lift = sim::fe::lift_read_out(*ready.body, settled, paths);
        if (!settled.tethers.converged) unsettled = settled.tethers;
        double drawn = 0.0;
        for (const double v : settled.thread_pulled_in_m) drawn = std::max(drawn, v);
        out["lift"].push_back({{"threads", threads},
                               {"peak_mm", lift.peak_m / kMm},
                               {"jowl_mm", lift.jowl_along_m / kMm},
                               {"drawn_in_mm", drawn / kMm},
                               {"converged", settled.tethers.converged}});
        if (!a.json)
            fmt::print("{:<8} {:>6.2f} {:>6.2f} {:>8.2f} {:>9} {:>5} {:>6}{}\n", threads, lift.peak_m / kMm,
                       lift.jowl_along_m / kMm, drawn / kMm, settled.tethers.slipping, settled.tethers.taut,
                       settled.tethers.iterations, settled.tethers.converged ? "" : "  NOT CONVERGED");
    }
    if (a.json) fmt::print("{}\n", out.dump(2));
    if (unsettled) require_settled(*unsettled, "lift");
    return 0;
}

namespace {

/// Most that the skin comes out of the face.
double bulge_m(const sim::fe::HexMesh& mesh, const Eigen::VectorXd& moved_m) {
    double most_m = 0.0;
    for (int c = 0; c < mesh.columns(); ++c) {
        const Eigen::Vector3d u = moved_m.segment<3>(3 * mesh.free_node(c, sim::fe::kCellsDeep));
        most_m = std::max(most_m, -glm::dot(sim::Vec3(u.x(), u.y(), u.z()), mesh.inward[static_cast<std::size_t>(c)]));
    }
    return most_m;
}

}  // namespace

int print_final(const TissueArguments& a) {
    const Ready ready = make_ready(a);
    const sim::Head& head = head_of(ready.prepared, a.scenario);
    const sim::fe::HexMesh& mesh = ready.body->mesh();
    const sim::fe::FiniteStrain finite = finite_strain_of(mesh, ready.body->body());
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return ready.body->response().solve(f); };
    nlohmann::ordered_json out{{"laxity", name_of(ready.laxity)}, {"traction_n", a.traction_n}};
    if (!a.json)
        fmt::print("{:<12} {:>7} {:>7} {:>9} {:>9} {:>6} {:>8} {:>6}  mm\n", "load", "peak", "final", "bulge", "final",
                   "steps", "least J", "s");
    bool all = true;
    for (const int threads : {0, 1, a.threads}) {
        std::vector<sim::fe::ThreadPath> paths;
        if (threads > 0) paths = sim::fe::lifting_paths(head, mesh, sim::Side::left, threads, a.traction_n);
        const auto linear = ready.body->settle({threads == 0 ? sim::fe::lying_down() : sim::Vec3{}, paths});
        require_settled(linear.tethers, "final");
        const auto start = std::chrono::steady_clock::now();
        const auto shape = final_shape(finite, solve, linear.force_n, linear.displacement_m);
        const double took_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
        auto settled = linear;
        settled.displacement_m = shape.moved_m;
        const double before_m = lift_read_out(*ready.body, linear, paths).peak_m,
                     after_m = lift_read_out(*ready.body, settled, paths).peak_m;
        const double bulge_before_m = bulge_m(mesh, linear.displacement_m),
                     bulge_after_m = bulge_m(mesh, shape.moved_m);
        const std::string load = threads == 0 ? "lying" : fmt::format("{} thread{}", threads, threads == 1 ? "" : "s");
        all = all && shape.converged;
        out["shapes"].push_back({{"load", load},
                                 {"peak_mm", before_m / kMm},
                                 {"peak_final_mm", after_m / kMm},
                                 {"bulge_mm", bulge_before_m / kMm},
                                 {"bulge_final_mm", bulge_after_m / kMm},
                                 {"iterations", shape.iterations},
                                 {"least_volume_ratio", shape.least_volume_ratio},
                                 {"seconds", took_s},
                                 {"converged", shape.converged}});
        if (!a.json)
            fmt::print("{:<12} {:>7.2f} {:>7.2f} {:>9.2f} {:>9.2f} {:>6} {:>8.2f} {:>6.2f}{}\n", load, before_m / kMm,
                       after_m / kMm, bulge_before_m / kMm, bulge_after_m / kMm, shape.iterations,
                       shape.least_volume_ratio, took_s, shape.converged ? "" : "  NOT CONVERGED");
    }
    if (a.json) fmt::print("{}\n", out.dump(2));
    return all ? 0 : 1;
}

int export_deck(const TissueArguments& a) {
    using sim::fe::DeckLoad;
    const Ready ready = make_ready(a);
    const DeckLoad load = a.load == "upright"  ? DeckLoad::upright
                          : a.load == "supine" ? DeckLoad::supine
                                               : DeckLoad::thread;
    const auto deck = sim::fe::make_deck(head_of(ready.prepared, a.scenario), *ready.body, load);
    for (const auto& [path, text] : {std::pair(a.inp, &deck.input), std::pair(a.csv, &deck.table)}) {
        std::ofstream file(path, std::ios::binary);
        file << *text;
        if (!file.flush()) throw sim::InputError("file", path, "a place that can be written");
    }
    fmt::print("{} and {} written\n", a.inp, a.csv);
    return 0;
}

}  // namespace pk
