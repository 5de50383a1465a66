/// Writes the models of the instruments with their manifest: the same bytes each time.
///
///   instrument_models FOLDER           write them there
///   instrument_models --check FOLDER   say which of the files there differ; exit status 1 when one does

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "engine/files/bytes.hpp"
#include "sim/core/vec.hpp"
#include "sim/instruments/gauge.hpp"
#include "tools/instrument_models/shapes.hpp"

namespace {

using models::Part;
using nlohmann::ordered_json;

constexpr int kSides = 20, kShaftSides = 12, kTipSides = 24;
// ISO 7864 knows a long bevel of about 11 degrees and a short one of about 17, from memory
constexpr double kBevelRad = 17.0 * sim::kPi / 180.0;

struct Model {
    std::string name, file, tip, source;
    int gauge = 0;
    double length_mm = 0.0, hub_end_mm = 0.0, tip_from_mm = 0.0;
};

double outer_r_mm(const Model& model) { return 0.5e3 * sim::gauge(model.gauge).outer_m; }
double inner_r_mm(const Model& model) { return 0.5e3 * sim::gauge(model.gauge).inner_m; }

Part straight_shaft(const Model& model) {
    Part shaft{"shaft", {}, {}};
    const glm::dvec2 profile[] = {{0.0, outer_r_mm(model)}, {model.tip_from_mm, outer_r_mm(model)}};
    models::turn(shaft, profile, kShaftSides, models::round_section());
    return shaft;
}

/// A cone with ribs to hold it by, and a lipped socket of 6 % taper for what holds it: widths of ISO 80369-7, from
/// memory; lengths assumed.
std::string needle_text(const Model& model) {
    const double r = outer_r_mm(model);
    Part hub{"hub", {}, {}};
    const glm::dvec2 socket[] = {{-9.5, 0.0},   {-9.5, 1.85},  {-19.0, 2.13}, {-19.0, 3.90},
                                 {-17.4, 3.90}, {-17.4, 3.05}, {-15.6, 2.95}};
    models::turn(hub, socket, kSides, models::round_section());
    const glm::dvec2 grip[] = {{-15.6, 2.95}, {-6.8, 2.55}};
    models::turn(hub, grip, 3 * kSides, models::ribbed(10, 0.07));
    const glm::dvec2 nose[] = {{-6.8, 2.55}, {-6.0, 1.75}, {-1.2, 1.15}, {0.0, 0.85}, {0.0, r}};
    models::turn(hub, nose, kSides, models::round_section());
    Part tip{"tip", {}, {}}, bore{"bore", {}, {}};
    models::bevel(tip, bore, r, inner_r_mm(model), model.tip_from_mm, model.length_mm, kBevelRad, kTipSides);
    const Part parts[] = {hub, straight_shaft(model), tip, bore};
    return models::obj_text(model.name + ", " + model.source, parts);
}

/// A cannula that may carry a thread has no plunger behind it: its hub ends in an oval flange for two fingers.
std::string cannula_text(const Model& model) {
    const double r = outer_r_mm(model);
    Part hub{"hub", {}, {}};
    const glm::dvec2 back[] = {{-12.0, 0.0}, {-12.0, 1.85}, {-21.5, 2.13}, {-21.5, 3.10}};
    models::turn(hub, back, kSides, models::round_section());
    const glm::dvec2 flange[] = {{-21.5, 3.10}, {-21.5, 6.50}, {-20.1, 6.50}, {-20.1, 2.60}};
    models::turn(hub, flange, kSides, models::oval(1.0, 0.62));
    const glm::dvec2 body[] = {{-20.1, 3.05}, {-14.5, 2.75}, {-13.6, 2.30}, {-10.0, 2.30}, {-9.1, 2.75}, {-7.0, 2.60}};
    models::turn(hub, body, kSides, models::round_section());
    const glm::dvec2 nose[] = {{-7.0, 2.60}, {-2.0, 1.20}, {0.0, 0.90}, {0.0, r}};
    models::turn(hub, nose, kSides, models::round_section());
    Part tip{"tip", {}, {}}, bore{"bore", {}, {}};
    // a port somewhat longer than the shaft is thick, close behind the dome: assumed
    const models::Port port{model.length_mm - 2.0, 0.60, 0.26};
    models::blunt_end(tip, bore, r, inner_r_mm(model), model.tip_from_mm, model.length_mm, port, kTipSides);
    const Part parts[] = {hub, straight_shaft(model), tip, bore};
    return models::obj_text(model.name + ", " + model.source, parts);
}

/// A handle with a slip of 6 % taper at its front, for hubs without a syringe. Lengths assumed.
constexpr double kHolderMm = 44.0;
std::string holder_text() {
    Part holder{"holder", {}, {}};
    const glm::dvec2 front[] = {{-2.0, 3.6}, {0.0, 3.3}, {0.0, 2.08}, {7.5, 1.86}, {7.5, 0.0}};
    const glm::dvec2 grip[] = {{-40.0, 4.6}, {-30.0, 5.0}, {-20.0, 4.5}, {-8.0, 4.3}, {-2.0, 3.6}};
    const glm::dvec2 end[] = {{-kHolderMm, 0.0}, {-kHolderMm, 3.4}, {-40.0, 4.6}};
    models::turn(holder, end, kSides, models::round_section());
    models::turn(holder, grip, kSides, models::round_section());
    models::turn(holder, front, kSides, models::round_section());
    return models::obj_text("Holder, lengths assumed", {&holder, 1});
}

ordered_json hub_colours() {
    ordered_json gauges = ordered_json::array();
    for (const sim::Gauge& row : sim::gauge_table())
        gauges.push_back({{"gauge", row.number}, {"name", row.hub_colour}, {"srgb", row.hub_srgb}});
    return {{"source", "ISO 6009:2016, from memory; the colours as a screen shows them: assumed"}, {"gauges", gauges}};
}

std::map<std::string, std::string> files_to_write() {
    const double bevel_mm = 1e3 * sim::gauge(18).outer_m / std::tan(kBevelRad);
    const std::string needle = "outside diameter: needle gauge chart; bevel: ISO 7864, from memory; hub: assumed",
                      cannula = "outside diameter: needle gauge chart; hub, flange and port: assumed";
    const Model shown[] = {{"Pilot needle", "needle_18g_40mm.obj", "bevel", needle, 18, 40.0, -19.0, 39.8 - bevel_mm},
                           {"Blunt cannula", "cannula_21g_70mm.obj", "blunt", cannula, 21, 70.0, -21.5, 66.5},
                           {"Blunt cannula", "cannula_21g_90mm.obj", "blunt", cannula, 21, 90.0, -21.5, 86.5}};
    std::map<std::string, std::string> out;
    ordered_json instruments = ordered_json::array();
    for (const Model& model : shown) {
        out[model.file] = model.tip == "bevel" ? needle_text(model) : cannula_text(model);
        // what stands in the file has four digits
        const auto four_digits = [](double mm) { return std::round(1e4 * mm) / 1e4; };
        instruments.push_back({{"name", model.name},
                               {"file", model.file},
                               {"tip", model.tip},
                               {"gauge", model.gauge},
                               {"length_mm", model.length_mm},
                               {"hub_end_mm", model.hub_end_mm},
                               {"hub_face_mm", 0.0},
                               {"tip_from_mm", four_digits(model.tip_from_mm)},
                               {"source", model.source}});
    }
    out["holder.obj"] = holder_text();
    const ordered_json manifest{{"schema_version", 1},
                                {"origin", "written by tools/instrument_models"},
                                {"licence", "that of this repository"},
                                {"length_unit", "mm"},
                                {"axes", "+z from the hub to the tip, +y to the side that a bevel or a port faces"},
                                {"hub_colours", hub_colours()},
                                {"instruments", instruments},
                                {"holder", {{"file", "holder.obj"}, {"length_mm", kHolderMm}, {"source", "assumed"}}}};
    out["manifest.json"] = manifest.dump(2) + "\n";
    return out;
}

}  // namespace

int main(int argc, char** argv) {
    const bool check = argc == 3 && std::string_view(argv[1]) == "--check";
    if (argc != 2 && !check) {
        std::fputs("usage: instrument_models [--check] FOLDER\n", stderr);
        return 2;
    }
    const std::filesystem::path folder = argv[argc - 1];
    constexpr std::uint64_t kMostBytes = 1 << 20;
    try {
        int differ = 0;
        if (!check) std::filesystem::create_directories(folder);
        for (const auto& [name, text] : files_to_write()) {
            if (!check) {
                files::write_atomically(folder / name, text);
            } else if (files::read_bytes(folder / name, kMostBytes) != text) {
                std::fprintf(stderr, "%s differs from what is generated\n", (folder / name).c_str());
                ++differ;
            }
        }
        return differ == 0 ? 0 : 1;
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", error.what());
        return 1;
    }
}
