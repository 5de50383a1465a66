#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>

#include "sim/core/errors.hpp"
#include "sim/tissue/read_out.hpp"
#include "sim/tissue/refinement.hpp"
#include "tools/pk/commands.hpp"
#include "tools/pk/tissue.hpp"

/// pk tissue converge and sensitivity: how much of a millimetre is the mesh's, and how much each parameter's.

namespace pk {

namespace {

using sim::kMm;
using sim::fe::TetheredBody;
using sim::fe::TissueParameters;

// ---- converge

struct NamedFigure {
    const char* name;
    double sim::fe::MeshFigures::*member;
    const char* unit;
};
constexpr NamedFigure kFigures[] = {{"barb compliance, along", &sim::fe::MeshFigures::barb_along, "mm/N"},
                                    {"barb compliance, outward", &sim::fe::MeshFigures::barb_outward, "mm/N"},
                                    {"skin peak, load along", &sim::fe::MeshFigures::skin_along, "mm/N"},
                                    {"skin peak, load outward", &sim::fe::MeshFigures::skin_outward, "mm/N"},
                                    {"skin peak, thread of 25", &sim::fe::MeshFigures::skin_thread, "mm/N"},
                                    {"skin peak, lying down", &sim::fe::MeshFigures::skin_lying, "mm"}};

// ---- sensitivity

/// What is asked of each set of parameters; all of the left side.
struct Reached {
    double shift_mm = 0.0;      ///< mean of the lower third's skin, upright to lying
    double lift_one_mm = 0.0;   ///< most that the skin moves with 1 N on one thread ...
    double lift_four_mm = 0.0;  ///< ... and on each of four
};

Reached reached(const sim::Head& head, TetheredBody& body) {
    Reached out;
    const auto lying = body.settle({sim::fe::lying_down(), {}});
    require_settled(lying.tethers, "upright to lying");
    for (const auto& row : sim::fe::posture_read_outs(head, body, lying))
        if (row.place == "lower third, mean" && row.side == sim::Side::left)
            out.shift_mm = glm::length(row.moved_m) / kMm;
    const auto lift_mm = [&](int threads) {
        const auto paths = sim::fe::lifting_paths(head, body.mesh(), sim::Side::left, threads, 1.0);
        const auto settled = body.settle({{}, paths});
        require_settled(settled.tethers, fmt::format("lift by {}", threads));
        return sim::fe::lift_read_out(body, settled, paths).peak_m / kMm;
    };
    out.lift_one_mm = lift_mm(1);
    out.lift_four_mm = lift_mm(4);
    return out;
}

struct Influence {
    std::string name;
    double value = 0.0;
    std::optional<Reached> halved, doubled;

    /// Largest change of any figure, as a share of it.
    [[nodiscard]] double of(const Reached& base) const {
        double most = 0.0;
        for (const auto& one : {halved, doubled})
            if (one)
                most = std::max({most, std::abs(one->shift_mm / base.shift_mm - 1.0),
                                 std::abs(one->lift_one_mm / base.lift_one_mm - 1.0),
                                 std::abs(one->lift_four_mm / base.lift_four_mm - 1.0)});
        return most;
    }
};

nlohmann::ordered_json to_json(const std::optional<Reached>& r) {
    if (!r) return nullptr;
    return {{"shift_mm", r->shift_mm}, {"lift_one_mm", r->lift_one_mm}, {"lift_four_mm", r->lift_four_mm}};
}

std::string to_text(const std::optional<Reached>& r) {
    return r ? fmt::format("{:>6.2f} {:>6.2f} {:>6.2f}", r->shift_mm, r->lift_one_mm, r->lift_four_mm)
             : fmt::format("{:>6} {:>6} {:>6}", "-", "-", "-");
}

void print_table(const Reached& base, const std::vector<Influence>& rows) {
    fmt::print("shift of the lower third, lift by one thread, by four; 1 N each; mm\n");
    fmt::print("{:<22} {:>10}   {:^20}   {:^20}   {}\n", "parameter", "value", "halved", "doubled", "most");
    fmt::print("{:<22} {:>10}   {}\n", "as it is", "", to_text(base));
    for (const Influence& row : rows)
        fmt::print("{:<22} {:>10.4g}   {}   {}   {:>4.0f} %\n", row.name, row.value, to_text(row.halved),
                   to_text(row.doubled), 100.0 * row.of(base));
    fmt::print("-: 0, or outside what is accepted. Poisson's ratios: 1 - 2 nu is halved and doubled.\n");
}

}  // namespace

int print_convergence(const TissueArguments& a) {
    const session::Prepared prepared = prepare_patient(a);
    const sim::Head& head = head_of(prepared, a.scenario);
    if (!(a.edges_mm[0] > a.edges_mm[1] && a.edges_mm[1] > a.edges_mm[2]))
        throw sim::InputError("--edges-mm", fmt::format("{}", fmt::join(a.edges_mm, " ")), "three sizes that fall");
    TissueParameters parameters = sim::fe::parameters_for(laxity_of(a, head));
    apply(a.set, parameters);
    std::array<double, 3> edge_mm{};
    std::array<sim::fe::MeshFigures, 3> found;
    nlohmann::ordered_json out{{"laxity", name_of(laxity_of(a, head))}};
    for (std::size_t k = 0; k < 3; ++k) {
        sim::fe::ChartSettings settings = a.chart();
        edge_mm[k] = a.edges_mm[k];
        settings.edge_m = edge_mm[k] * kMm;
        show_progress(static_cast<double>(k) / 3.0, fmt::format("cells of {} mm", edge_mm[k]));
        found[k] = mesh_figures(head, settings, parameters);
        out["meshes"].push_back(
            {{"edge_mm", edge_mm[k]}, {"unknowns", found[k].unknowns}, {"factor_mb", found[k].factor_bytes / 1e6}});
        if (!a.json)
            fmt::print("{} mm: {} unknowns, factor {:.0f} MB\n", edge_mm[k], found[k].unknowns,
                       found[k].factor_bytes / 1e6);
    }
    show_progress(1.0, "done");
    if (!a.json)
        fmt::print("{:<26} {:>8} {:>8} {:>8} {:>6} {:>8} {:>8}\n", "", fmt::format("{} mm", edge_mm[0]),
                   fmt::format("{} mm", edge_mm[1]), fmt::format("{} mm", edge_mm[2]), "order", "limit", "first off");
    for (const NamedFigure& figure : kFigures) {
        const double to_mm = 1.0 / kMm;
        const std::array value{found[0].*figure.member * to_mm, found[1].*figure.member * to_mm,
                               found[2].*figure.member * to_mm};
        const auto limit = sim::fe::extrapolate(edge_mm, value);
        nlohmann::ordered_json row{{"figure", figure.name}, {"unit", figure.unit}, {"value", value}};
        row["order"] = limit ? nlohmann::ordered_json(limit->order) : nullptr;
        row["limit"] = limit ? nlohmann::ordered_json(limit->limit) : nullptr;
        out["figures"].push_back(row);
        if (a.json) continue;
        fmt::print("{:<26} {:>8.3f} {:>8.3f} {:>8.3f} ", figure.name, value[0], value[1], value[2]);
        if (limit)
            fmt::print("{:>6.2f} {:>8.3f} {:>7.1f} %", limit->order, limit->limit,
                       100.0 * (value[0] / limit->limit - 1.0));
        else
            fmt::print("{:>6} {:>8} {:>9}", "none", "-", "-");
        fmt::print("  {}\n", figure.unit);
    }
    if (a.json) fmt::print("{}\n", out.dump(2));
    return 0;
}

int print_sensitivity(const TissueArguments& a) {
    constexpr double kEdgeMm = 6.0;  // half a hundred bodies in minutes
    if (!(a.string_spacing_mm >= 10.0 && a.string_spacing_mm <= 25.0))
        throw sim::InputError("--spacing-mm", a.string_spacing_mm, "10 to 25, so that half and twice are accepted");
    const session::Prepared prepared = prepare_patient(a);
    const sim::Head& head = head_of(prepared, a.scenario);
    const sim::fe::ChartSettings settings = a.chart(kEdgeMm);
    TissueParameters base_set = sim::fe::parameters_for(laxity_of(a, head));
    base_set.string_spacing_m = a.string_spacing_mm * kMm;
    apply(a.set, base_set);
    TetheredBody base_body(head, settings, base_set);
    const Reached base = reached(head, base_body);

    std::vector<Influence> rows;
    const auto fields = sim::fe::tissue_fields();
    for (const auto& field : fields) {
        show_progress(static_cast<double>(rows.size()) / static_cast<double>(fields.size()), field.name);
        const auto with = [&](double factor) -> std::optional<Reached> {
            const auto set = sim::fe::varied(base_set, field, factor);
            if (!set) return std::nullopt;
            std::optional<sim::fe::StringFields> kept;
            if (only_in_strings(field)) kept = base_body.fields();
            TetheredBody body(head, settings, *set, {}, std::move(kept));
            return reached(head, body);
        };
        rows.push_back({std::string(field.name), base_set.*field.member, with(0.5), with(2.0)});
    }
    show_progress(1.0, "done");
    std::stable_sort(rows.begin(), rows.end(),
                     [&](const Influence& x, const Influence& y) { return x.of(base) > y.of(base); });
    if (!a.json) {
        fmt::print("{} tissue, cells of {} mm, {} strings\n", name_of(laxity_of(a, head)), settings.edge_m / kMm,
                   base_body.strings().size());
        print_table(base, rows);
        return 0;
    }
    nlohmann::ordered_json out{{"laxity", name_of(laxity_of(a, head))},
                               {"edge_mm", settings.edge_m / kMm},
                               {"strings", base_body.strings().size()},
                               {"as_it_is", to_json(base)}};
    for (const Influence& row : rows)
        out["parameters"].push_back({{"name", row.name},
                                     {"value", row.value},
                                     {"halved", to_json(row.halved)},
                                     {"doubled", to_json(row.doubled)},
                                     {"most_share", row.of(base)}});
    fmt::print("{}\n", out.dump(2));
    return 0;
}

}  // namespace pk
