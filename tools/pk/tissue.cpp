#include "tools/pk/tissue.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "engine/files/places.hpp"
#include "engine/session/prepare.hpp"
#include "sim/core/errors.hpp"
#include "tools/pk/commands.hpp"

/// pk tissue: the finite-element tissue of a patient, its mesh and how it moves.

namespace pk {

using sim::kMm;

const sim::Head& head_of(const session::Prepared& prepared, const std::string& scenario) {
    const auto* head = dynamic_cast<const sim::Head*>(prepared.model->anatomy.get());
    if (head == nullptr)
        throw sim::InputError("--scenario", scenario, "a scenario whose patient is a head, not the slab");
    return *head;
}

session::Prepared prepare_patient(const TissueArguments& a) {
    if (a.patient.empty()) return session::prepare(a.scenario, {}, show_progress);
    session::Prepared out;
    const auto folder = files::shipped_folder() / "scenarios";
    out.loaded = files::load_scenario(files::find_scenario(a.scenario));
    const auto path = folder / "patients" / (a.patient + ".json");
    out.loaded.patient_source = files::load_source(path);
    out.loaded.head = files::parse_patient(*out.loaded.patient_source, path.string());
    out.model = session::build_model(out.loaded, true, show_progress);
    return out;
}

sim::fe::Laxity laxity_named(const std::string& name) {
    for (const auto laxity : {sim::fe::Laxity::young, sim::fe::Laxity::middle, sim::fe::Laxity::lax})
        if (name_of(laxity) == name) return laxity;
    throw sim::InputError("--laxity", name, "young, middle, lax");
}

void apply(const std::vector<std::string>& settings, sim::fe::TissueParameters& p) {
    const auto fields = sim::fe::tissue_fields();
    for (const std::string& text : settings) {
        const auto equals = text.find('=');
        const std::string name = text.substr(0, equals);
        const auto found = std::find_if(fields.begin(), fields.end(), [&](const auto& f) { return f.name == name; });
        if (equals == std::string::npos || found == fields.end())
            throw sim::InputError("--set", text, "name=value with the name of a tissue parameter");
        const char* const number = text.c_str() + equals + 1;
        char* end = nullptr;
        p.*found->member = std::strtod(number, &end);
        if (end == number || *end != 0) throw sim::InputError("--set", text, "name=value with a number");
    }
    validate(p);
}

namespace {

int print_mesh(const TissueArguments& a) {
    const session::Prepared prepared = prepare_patient(a);
    const sim::fe::HexMesh mesh = sim::fe::build_mesh(head_of(prepared, a.scenario).tissue(), a.chart());
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
        what->add_option("--patient", a->patient, "a patient by name, in place of the scenario's");
        what->add_flag("--json", a->json, "print JSON");
        what->callback([a, run] { a->run = run; });
        return what;
    };
    add("mesh", "cells, unknowns and quality; fails below a scaled Jacobian of 0.2", print_mesh);
    const auto add_moves = [&](const char* name, const char* meaning, TissueRun run) {
        CLI::App* what = add(name, meaning, run);
        what->add_option("--laxity", a->laxity, "young, middle or lax, in place of the patient's");
        what->add_option("--set", a->set, "name=value: a tissue parameter in place of the laxity's");
        return what;
    };
    add_moves("posture", "how far the skin shifts from upright to lying", print_posture);
    CLI::App* lift = add_moves("lift", "how far threads lift the left cheek", print_lift);
    lift->add_option("--threads", a->threads, "1 to this many are shown, up to 8 (default 4)");
    lift->add_option("--traction-n", a->traction_n, "pull on each thread, newtons (default 1)");
    lift->add_flag("--ends", a->only_all, "show one and all threads only");
    CLI::App* final =
        add_moves("final", "the final shape beside the linear one: lying, one and all threads", print_final);
    final->add_option("--threads", a->threads, "this many at most, up to 8 (default 4)");
    final->add_option("--traction-n", a->traction_n, "pull on each thread, newtons (default 1)");
    CLI::App* deck = add_moves("export", "a CalculiX deck and our own displacements beside it", export_deck);
    deck->add_option("--load", a->load, "upright, supine or thread")
        ->required()
        ->check(CLI::IsMember({"upright", "supine", "thread"}));
    deck->add_option("--inp", a->inp, "where the deck goes")->required();
    deck->add_option("--csv", a->csv, "where the displacements go")->required();
    CLI::App* converge =
        add_moves("converge", "how much of a figure is the mesh's: three sizes of cell", print_convergence);
    converge->add_option("--edges-mm", a->edges_mm, "three sizes, falling (default 4 3 2.5)")->expected(3);
    CLI::App* sensitivity =
        add_moves("sensitivity", "lift and shift with each tissue parameter halved and doubled", print_sensitivity);
    sensitivity->get_option("--edge-mm")->description("size of a cell in the treated region, 2 to 8 (default 6)");
    sensitivity->add_option("--spacing-mm", a->string_spacing_mm, "of strings, 10 to 25 (default 20)");
    return [a] { return a->run(*a); };
}

}  // namespace pk
