#include "engine/app/instruments.hpp"

#include <array>
#include <optional>
#include <string_view>

#include "engine/files/instrument_set.hpp"

namespace app {

namespace {

std::optional<view::ModelRole> role_of(std::string_view name) {
    static constexpr std::array<std::pair<std::string_view, view::ModelRole>, 5> kRoles{
        {{"hub", view::ModelRole::hub},
         {"shaft", view::ModelRole::shaft},
         {"tip", view::ModelRole::tip},
         {"bore", view::ModelRole::bore},
         {"holder", view::ModelRole::holder}}};
    for (const auto& [known, role] : kRoles)
        if (known == name) return role;
    return std::nullopt;  // an object of another name is nobody's part
}

std::vector<view::ModelMesh> parts_of(const files::ObjModel& model) {
    std::vector<view::ModelMesh> out;
    for (const files::ModelPart& part : model.parts)
        if (const auto role = role_of(part.name))
            out.push_back({*role, part.positions_mm, part.normals, part.triangles});
    return out;
}

}  // namespace

Instruments load_instruments(const std::filesystem::path& folder) {
    const files::InstrumentSet set = files::load_instrument_set(folder);
    view::InstrumentModels models;
    for (const files::InstrumentModel& one : set.instruments)
        models.shafts.push_back({one.tip, one.gauge, static_cast<float>(one.length_mm),
                                 static_cast<float>(one.hub_end_mm), static_cast<float>(one.tip_from_mm),
                                 parts_of(one.model)});
    models.holder = parts_of(set.holder);
    models.holder_length_mm = static_cast<float>(set.holder_length_mm);
    Instruments out;
    out.models = std::make_shared<const view::InstrumentModels>(std::move(models));
    for (const std::string& trouble : set.troubles) out.trouble += trouble + ". ";
    if (!out.trouble.empty()) out.trouble += "A plain shape stands in for it.";
    return out;
}

}  // namespace app
