#include "engine/files/instrument_set.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/files/bytes.hpp"
#include "engine/files/json_reader.hpp"
#include "sim/instruments/gauge.hpp"

namespace files {

namespace {

constexpr std::int64_t kManifestSchema = 1;
constexpr double kPlaceSlackMm = 0.05;  // of a tip from its length
constexpr double kRadiusSlack = 0.05;   // share; a tube of few sides is a little thin between them
constexpr double kHubWidestMm = 12.0;   // half width
constexpr std::array<std::string_view, 2> kTips{"bevel", "blunt"};

void check_colours(const JsonValue& hub_colours) {
    JsonObject colours = hub_colours.object();
    for (const JsonValue& value : colours.at("gauges").array(1, 32)) {
        JsonObject row = value.object();
        const JsonValue number = row.at("gauge"), name = row.at("name");
        const auto known = [&]() -> const sim::Gauge& {
            for (const sim::Gauge& gauge : sim::gauge_table())
                if (gauge.number == number.integer(0, 99)) return gauge;
            number.refuse("a gauge from 16 to 30");
        };
        const sim::Gauge& gauge = known();
        if (name.text() != gauge.hub_colour)
            name.refuse(fmt::format("\"{}\", the colour of {} G by ISO 6009", gauge.hub_colour, gauge.number));
        const std::vector<JsonValue> srgb = row.at("srgb").array(3, 3);
        for (std::size_t i = 0; i < 3; ++i)
            if (srgb[i].integer(0, 255) != gauge.hub_srgb[i]) srgb[i].refuse(std::to_string(gauge.hub_srgb[i]));
        row.refuse_unknown();
    }
    colours.refuse_unknown();
}

/// A name in the folder, and nothing that leads out of it.
std::filesystem::path file_beside(const std::filesystem::path& folder, const JsonValue& name) {
    const std::filesystem::path file = name.text(128);
    if (file.empty() || file != file.filename() || file.extension() != ".obj")
        name.refuse("the name of an .obj file beside the manifest");
    return folder / file;
}

const ModelPart& needed_part(const std::string& file, const ObjModel& model, std::string_view name) {
    if (const ModelPart* part = model.part(name)) return *part;
    throw FileError(file, fmt::format("object {}", name), "missing", "one object of this name");
}

struct Extent {
    double low_z = 1e9, high_z = -1e9, widest = 0.0;
};
Extent extent_of(const ModelPart& part) {
    Extent out;
    for (const glm::vec3& p : part.positions_mm) {
        out.low_z = std::min(out.low_z, static_cast<double>(p.z));
        out.high_z = std::max(out.high_z, static_cast<double>(p.z));
        out.widest = std::max(out.widest, std::hypot(static_cast<double>(p.x), static_cast<double>(p.y)));
    }
    return out;
}

void check_size(const std::string& file, const std::string& place, double value_mm, double low_mm, double high_mm) {
    if (!(value_mm >= low_mm && value_mm <= high_mm))
        throw FileError(file, place, fmt::format("{:.3g} mm", value_mm),
                        fmt::format("{:.4g} to {:.4g} mm", low_mm, high_mm));
}

/// A model in inches or metres, or of another gauge than the manifest says, is not shown as if it were true.
void check_sizes(const std::string& file, const InstrumentModel& one) {
    const double r = 0.5e3 * sim::gauge(one.gauge).outer_m;
    const Extent hub = extent_of(needed_part(file, one.model, "hub")),
                 shaft = extent_of(needed_part(file, one.model, "shaft")),
                 tip = extent_of(needed_part(file, one.model, "tip"));
    check_size(file, "object tip, farthest z", tip.high_z, one.length_mm - kPlaceSlackMm,
               one.length_mm + kPlaceSlackMm);
    for (const auto& [place, widest] :
         {std::pair{"object tip, radius", tip.widest}, {"object shaft, radius", shaft.widest}})
        check_size(file, place, widest, r * (1.0 - kRadiusSlack), r * (1.0 + kRadiusSlack));
    check_size(file, "object hub, nearest z", hub.low_z, one.hub_end_mm - kPlaceSlackMm,
               one.hub_end_mm + kPlaceSlackMm);
    check_size(file, "object hub, radius", hub.widest, r, kHubWidestMm);
}

InstrumentModel read_instrument(const std::filesystem::path& folder, const JsonValue& value) {
    JsonObject row = value.object();
    InstrumentModel out;
    out.name = row.at("name").text(64);
    out.tip = static_cast<sim::TipShape>(row.at("tip").one_of(kTips));
    out.gauge = static_cast<int>(row.at("gauge").integer(16, 30));
    out.length_mm = row.number("length_mm", {5.0, 200.0});
    out.hub_end_mm = row.number("hub_end_mm", {-60.0, -2.0});
    out.hub_face_mm = row.number("hub_face_mm", {0.0, 0.0});
    out.tip_from_mm = row.number("tip_from_mm", {0.5 * out.length_mm, out.length_mm});
    const std::filesystem::path file = file_beside(folder, row.at("file"));
    row.refuse_unknown();
    out.model = load_obj(file);
    check_sizes(file.string(), out);
    return out;
}

void read_holder(const std::filesystem::path& folder, const JsonValue& value, InstrumentSet& out) {
    JsonObject row = value.object();
    const double length_mm = row.number("length_mm", {10.0, 120.0});
    const std::filesystem::path file = file_beside(folder, row.at("file"));
    row.refuse_unknown();
    ObjModel model = load_obj(file);
    const Extent extent = extent_of(needed_part(file.string(), model, "holder"));
    check_size(file.string(), "object holder, nearest z", extent.low_z, -length_mm - kPlaceSlackMm,
               -length_mm + kPlaceSlackMm);
    check_size(file.string(), "object holder, radius", extent.widest, 1.0, kHubWidestMm);
    out.holder = std::move(model);
    out.holder_length_mm = length_mm;
}

/// Run one part of the reading; what it refuses is told.
template <typename Body>
void or_tell(InstrumentSet& out, Body body) {
    try {
        body();
    } catch (const FileError& error) {
        out.troubles.emplace_back(error.what());
    }
}

}  // namespace

InstrumentSet load_instrument_set(const std::filesystem::path& folder) {
    InstrumentSet out;
    or_tell(out, [&] {
        const JsonDocument document = JsonDocument::load(folder / "manifest.json", kDocumentBytes);
        JsonObject manifest = document.root_object(kManifestSchema);
        for (const std::string_view key : {"origin", "licence", "axes"}) static_cast<void>(manifest.text(key));
        static constexpr std::array<std::string_view, 1> kUnits{"mm"};
        static_cast<void>(manifest.at("length_unit").one_of(kUnits));
        const std::vector<JsonValue> rows = manifest.at("instruments").array(1, 64);
        const JsonValue holder = manifest.at("holder");
        const JsonValue colours = manifest.at("hub_colours");
        manifest.refuse_unknown();
        or_tell(out, [&] { check_colours(colours); });
        for (const JsonValue& row : rows)
            or_tell(out, [&] { out.instruments.push_back(read_instrument(folder, row)); });
        or_tell(out, [&] { read_holder(folder, holder, out); });
    });
    return out;
}

}  // namespace files
