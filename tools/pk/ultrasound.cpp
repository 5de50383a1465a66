#include <fmt/format.h>

#include <string>
#include <vector>

#include "engine/report/ultrasound_sheet.hpp"
#include "engine/session/prepare.hpp"
#include "engine/view/ultrasound.hpp"
#include "sim/core/errors.hpp"
#include "tools/pk/commands.hpp"

/// pk ultrasound: what a linear probe shows at a place of a scenario's patient.

namespace pk {

Run add_ultrasound(CLI::App& app) {
    struct Arguments {
        std::string scenario, out;
        std::optional<std::uint64_t> seed;
        std::vector<double> at_mm;
        double turn_deg = 0.0, press_mm = 0.0, depth_mm = 20.0, width_mm = 25.0, mhz = 15.0, gain_db = 0.0,
               time_s = 0.0;
    };
    const auto a = std::make_shared<Arguments>();
    CLI::App* command = app.add_subcommand("ultrasound", "what a linear probe shows, as a picture");
    command->add_option("--scenario", a->scenario, "name of a scenario, or a file")->required();
    command->add_option("--seed", a->seed, "variant of the anatomy, in place of the scenario's");
    command->add_option("--at", a->at_mm, "x,y,z in millimetres, head frame: the skin point nearest to it")
        ->delimiter(',')
        ->expected(3)
        ->required();
    command->add_option("--turn", a->turn_deg, "degrees clockwise: 0 across, 90 with the head at the picture's left");
    command->add_option("--press", a->press_mm, "how far the skin is pressed in, mm");
    command->add_option("--depth", a->depth_mm, "of the picture, mm");
    command->add_option("--width", a->width_mm, "of the footprint, mm");
    command->add_option("--mhz", a->mhz, "frequency");
    command->add_option("--gain", a->gain_db, "dB");
    command->add_option("--time", a->time_s, "s: where in the pulse");
    command->add_option("--out", a->out, "picture to write, PNG")->required();
    return [a] {
        for (const double place_mm : a->at_mm) sim::require_within("--at", place_mm, -300.0, 300.0);
        sim::require_within("--turn", a->turn_deg, -360.0, 360.0);
        sim::require_within("--press", a->press_mm, 0.0, view::kMostPressM / sim::kMm);
        sim::require_within("--depth", a->depth_mm, 8.0, 40.0);
        sim::require_within("--width", a->width_mm, 10.0, 50.0);
        sim::require_within("--mhz", a->mhz, 5.0, 25.0);
        sim::require_within("--gain", a->gain_db, -40.0, 40.0);
        sim::require_within("--time", a->time_s, 0.0, 1e6);
        const session::Prepared prepared = session::prepare(a->scenario, a->seed, show_progress);
        const auto anatomy = prepared.model->anatomy;
        const sim::SkinPoint skin = anatomy->nearest_skin(sim::kMm * sim::Vec3(a->at_mm[0], a->at_mm[1], a->at_mm[2]));
        view::ProbeSettings settings;
        settings.width_m = a->width_mm * sim::kMm;
        settings.depth_m = a->depth_mm * sim::kMm;
        settings.frequency_hz = a->mhz * 1e6;
        settings.gain_db = a->gain_db;
        view::Ultrasound probe(anatomy);
        probe.look(view::probe_on(skin, a->turn_deg * sim::kPi / 180.0, a->press_mm * sim::kMm), settings, a->time_s);
        report::write_ultrasound_sheet(a->out, probe.picture());
        const sim::Vec3 at_mm = skin.position_m / sim::kMm;
        fmt::print("{}: {:.1f} mm wide, {:.1f} mm deep, {:.4f} mm a pixel, at {:.2f} {:.2f} {:.2f} mm\n", a->out,
                   a->width_mm, a->depth_mm, probe.picture().pixel_m / sim::kMm, at_mm.x, at_mm.y, at_mm.z);
        return 0;
    };
}

}  // namespace pk
