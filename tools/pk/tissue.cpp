#include "tools/pk/tissue.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "engine/session/prepare.hpp"
#include "sim/core/errors.hpp"
#include "tools/pk/commands.hpp"

/// pk tissue: the finite-element tissue of a patient, its mesh and how it moves.

namespace pk {

using sim::kMm;

const sim::HeadTissue& head_of(const session::Prepared& prepared, const std::string& scenario) {
    const auto* head = dynamic_cast<const sim::Head*>(prepared.model->anatomy.get());
    if (head == nullptr)
        throw sim::InputError("--scenario", scenario, "a scenario whose patient is a head, not the slab");
    return head->tissue();
}

namespace {

int print_mesh(const TissueArguments& a) {
    const session::Prepared prepared = session::prepare(a.scenario, {}, show_progress);
    const sim::fe::HexMesh mesh = sim::fe::build_mesh(head_of(prepared, a.scenario), a.chart());
    const sim::fe::MeshQuality q = sim::fe::quality_of(mesh);
    if (a.json) {
        nlohmann::ordered_json out{{"cells", q.cells},
                                   {"nodes", q.nodes},
                                   {"unknowns", q.unknowns},
                                   {"edge_mean_mm", q.edge_mean_m / kMm},
                                   {"least_scaled_jacobian", q.least_jacobian},
                                   {"percentile_1_scaled_jacobian", q.percentile_1_jacobian},
                                   {"share_under_0.2", q.share_under_limit},
                                   {"mended_columns", mesh.mended_columns},
                                   {"mended_most_mm", mesh.mended_most_m / kMm}};
        for (std::size_t k = 0; k < q.thickness.size(); ++k)
            out["thickness_mm"].push_back({{"layer", name_of(static_cast<sim::fe::CellLayer>(k))},
                                           {"least", q.thickness[k].least_m / kMm},
                                           {"median", q.thickness[k].median_m / kMm},
                                           {"most", q.thickness[k].most_m / kMm}});
        fmt::print("{}\n", out.dump(2));
    } else {
        fmt::print("{} cells, {} nodes, {} unknowns; cells of {:.2f} mm in the treated region\n", q.cells, q.nodes,
                   q.unknowns, q.edge_mean_m / kMm);
        fmt::print(
            "scaled Jacobian: least {:.3f} ({} at {:.0f} {:.0f} {:.0f} mm), 1st percentile {:.3f}, share under "
            "{:.1f}: {:.4f}\n",
            q.least_jacobian, name_of(static_cast<sim::fe::CellLayer>(q.worst_layer)), q.worst_m.x / kMm,
            q.worst_m.y / kMm, q.worst_m.z / kMm, q.percentile_1_jacobian, sim::fe::kJacobianLimit,
            q.share_under_limit);
        fmt::print("columns whose floor was drawn in to keep cells proper: {} of {}, by at most {:.1f} mm\n",
                   mesh.mended_columns, mesh.columns(), mesh.mended_most_m / kMm);
        fmt::print("{:<12} {:>7} {:>7} {:>7}  mm, treated region\n", "layer", "least", "median", "most");
        for (std::size_t k = q.thickness.size(); k-- > 0;)
            fmt::print("{:<12} {:>7.2f} {:>7.2f} {:>7.2f}\n", name_of(static_cast<sim::fe::CellLayer>(k)),
                       q.thickness[k].least_m / kMm, q.thickness[k].median_m / kMm, q.thickness[k].most_m / kMm);
    }
    return q.least_jacobian >= sim::fe::kJacobianLimit ? 0 : 1;
}

}  // namespace

Run add_tissue(CLI::App& app) {
    const auto a = std::make_shared<TissueArguments>();
    CLI::App* command = app.add_subcommand("tissue", "the finite-element tissue of a patient");
    command->require_subcommand(1);
    const auto add = [&](const char* name, const char* meaning, TissueRun run) {
        CLI::App* what = command->add_subcommand(name, meaning);
        what->add_option("--scenario", a->scenario, "name of a scenario, or a file")->required();
        what->add_option("--edge-mm", a->edge_mm, "size of a cell in the treated region, 2 to 8 (default 4)");
        what->add_flag("--json", a->json, "print JSON");
        what->callback([a, run] { a->run = run; });
        return what;
    };
    add("mesh", "cells, unknowns and quality; fails below a scaled Jacobian of 0.2", print_mesh);
    return [a] { return a->run(*a); };
}

}  // namespace pk
