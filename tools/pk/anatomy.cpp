#include <fmt/format.h>

#include <optional>
#include <string>
#include <vector>

#include "engine/report/anatomy_tables.hpp"
#include "engine/session/prepare.hpp"
#include "tools/pk/commands.hpp"

/// pk anatomy: the model's own numbers, for comparing with published ones.

namespace pk {

Run add_anatomy(CLI::App& app) {
    struct Arguments {
        std::string scenario;
        std::optional<std::uint64_t> seed;
        bool json = false, csv = false;
        std::vector<double> place_mm;
        std::string what;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("anatomy", "the model's own numbers");
    command->require_subcommand(1);
    const auto add = [&](const char* name, const char* meaning) {
        CLI::App* table = command->add_subcommand(name, meaning);
        table->add_option("--scenario", a->scenario, "name of a scenario, or a file")->required();
        table->add_option("--seed", a->seed, "variant of the anatomy, in place of the scenario's");
        table->add_flag("--json", a->json, "print JSON");
        table->add_flag("--csv", a->csv, "print CSV (the default)");
        table->callback([a, name] { a->what = name; });
        return table;
    };
    add("landmarks", "named landmarks: places, depth to the floor, layer thicknesses");
    add("structures", "stations along vessels, nerves, ducts and glands");
    add("at", "layers and nearest structures at a place")
        ->add_option("place", a->place_mm, "x y z in millimetres, head frame")
        ->expected(3)
        ->required();
    return [a] {
        const session::Prepared prepared = session::prepare(a->scenario, a->seed, show_progress);
        const sim::Anatomy& anatomy = *prepared.model->anatomy;
        const auto format = a->json ? report::TableFormat::json : report::TableFormat::csv;
        std::string text;
        if (a->what == "landmarks")
            text = report::landmarks_table(anatomy, format);
        else if (a->what == "structures")
            text = report::structures_table(anatomy, format);
        else
            text = report::point_table(anatomy, {a->place_mm[0], a->place_mm[1], a->place_mm[2]}, format);
        fmt::print("{}", text);
        return 0;
    };
}

}  // namespace pk
