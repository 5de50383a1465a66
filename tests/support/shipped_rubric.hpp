#pragma once

#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

#include "sim/scoring/rubric.hpp"

/// The rubric that ships, so that tests judge what learners are judged by. No checks: those are the file reader's.

namespace support {

inline sim::Rubric shipped_rubric(const std::string& id = "one_pass") {
    std::ifstream file("scenarios/rubrics/" + id + ".json");
    if (!file) throw std::runtime_error("run tests from the top folder: no rubric " + id);
    const nlohmann::json json = nlohmann::json::parse(file);
    sim::Rubric rubric;
    rubric.id = id;
    rubric.title = json.at("title");
    rubric.pass_share = json.at("pass_share");
    rubric.heading_share = json.at("heading_share");
    for (const sim::BandField& field : sim::band_fields()) {
        const auto& band = json.at("bands").at(std::string(field.key));
        rubric.bands.*
            field.field = {band.at("value").get<double>() * field.unit, band.at("spread").get<double>() * field.unit};
    }
    for (const auto& item : json.at("items")) {
        sim::RubricItem out;
        out.measure = item.at("measure");
        out.heading = sim::heading_of(item.at("heading").get<std::string>()).value();
        out.points = item.at("points");
        out.accepted = item.at("accepted");
        out.in_proportion_to = item.value("in_proportion_to", "");
        for (const auto& point : item.at("curve"))
            out.curve.push_back({point.at("at"), point.at("share"), point.at("spread")});
        rubric.items.push_back(std::move(out));
    }
    for (const auto& fault : json.at("critical"))
        rubric.critical.push_back({fault.at("event"), fault.at("words"), fault.at("threshold"), fault.at("spread")});
    return rubric;
}

}  // namespace support
