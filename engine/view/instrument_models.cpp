#include "engine/view/instrument_models.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <glm/geometric.hpp>
#include <map>
#include <tuple>

#include "engine/view/shapes.hpp"
#include "sim/instruments/gauge.hpp"

namespace view {

namespace {

constexpr float kMmPerM = 1000.0f;

/// A part of a model, at the size of the instrument that is shown.
std::vector<glm::vec3> resized(const ModelMesh& part, const InstrumentModel& model, const sim::InstrumentSpec& shown) {
    const auto scale = static_cast<float>(sim::gauge(shown.gauge).outer_m / sim::gauge(model.gauge).outer_m);
    const float length_mm = static_cast<float>(shown.length_m) * kMmPerM;
    const float tip_from_mm = length_mm - scale * (model.length_mm - model.tip_from_mm);
    std::vector<glm::vec3> out = part.positions_mm;
    for (glm::vec3& p : out) {
        if (part.role == ModelRole::hub) continue;
        if (part.role == ModelRole::holder) {
            p.z += model.hub_end_mm;
            continue;
        }
        p.x *= scale;
        p.y *= scale;
        p.z = part.role == ModelRole::shaft ? p.z * tip_from_mm / model.tip_from_mm
                                            : length_mm + scale * (p.z - model.length_mm);
    }
    return out;
}

/// Lit from above and in front, as everything in the tray is.
float light_on(const glm::vec3& normal) {
    const glm::vec3 from = glm::normalize(glm::vec3(-0.55f, 0.80f, 0.15f));
    return 0.5f + 0.5f * glm::dot(normal, from);
}

/// What faces a viewer at -x, and the border between that and what does not.
class SideMaker {
 public:
    void add(const std::vector<glm::vec3>& places, const ModelMesh& part) {
        std::map<std::tuple<int, int, int>, int> same;
        std::map<std::pair<int, int>, std::pair<int, std::array<glm::vec3, 2>>> edges;
        const auto number = [&same](const glm::vec3& p) {
            const auto fine = [](float mm) { return static_cast<int>(std::lround(mm * 2000.0f)); };
            return same.try_emplace({fine(p.x), fine(p.y), fine(p.z)}, static_cast<int>(same.size())).first->second;
        };
        for (std::size_t i = 0; i + 2 < part.triangles.size(); i += 3) {
            const std::array<glm::vec3, 3> p{places[part.triangles[i]], places[part.triangles[i + 1]],
                                             places[part.triangles[i + 2]]};
            const glm::vec3 across = glm::cross(p[1] - p[0], p[2] - p[0]);
            if (!(across.x < -1e-7f * glm::length(across))) continue;
            seen_.push_back({p, {{flat(p[0]), flat(p[1]), flat(p[2])}, part.role, light_on(glm::normalize(across))}});
            for (std::size_t k = 0; k < 3; ++k) {
                const int a = number(p[k]), b = number(p[(k + 1) % 3]);
                auto& edge = edges[{std::min(a, b), std::max(a, b)}];
                ++edge.first;
                edge.second = {p[k], p[(k + 1) % 3]};
            }
        }
        for (const auto& [key, edge] : edges)
            if (edge.first == 1 && part.role != ModelRole::bore) borders_.push_back(edge.second);
    }

    SidePicture take() {
        SidePicture picture;
        // the inside of a socket is hidden by its wall
        for (const auto& border : borders_)
            if (!hidden(0.5f * (border[0] + border[1]))) picture.outline.push_back({flat(border[0]), flat(border[1])});
        std::stable_sort(seen_.begin(), seen_.end(),
                         [](const Seen& a, const Seen& b) { return a.depth_mm() > b.depth_mm(); });
        for (const Seen& one : seen_) {
            picture.triangles.push_back(one.drawn);
            for (const glm::vec2& at : one.drawn.at_mm) {
                picture.from_mm = std::min(picture.from_mm, at.x);
                picture.to_mm = std::max(picture.to_mm, at.x);
            }
        }
        return picture;
    }

 private:
    struct Seen {
        std::array<glm::vec3, 3> places;
        SidePicture::Triangle drawn;

        [[nodiscard]] float depth_mm() const { return places[0].x + places[1].x + places[2].x; }
    };

    static glm::vec2 flat(const glm::vec3& p) { return {p.z, p.y}; }

    [[nodiscard]] bool hidden(const glm::vec3& p) const {
        const auto turn = [](const glm::vec2& a, const glm::vec2& b, const glm::vec2& c) {
            return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        };
        return std::any_of(seen_.begin(), seen_.end(), [&](const Seen& one) {
            const auto& [a, b, c] = one.drawn.at_mm;
            const float all = turn(a, b, c), wa = turn(b, c, flat(p)) / all, wb = turn(c, a, flat(p)) / all;
            constexpr float kNearerMm = 0.05f;
            return wa >= 0.0f && wb >= 0.0f && wa + wb <= 1.0f &&
                   wa * one.places[0].x + wb * one.places[1].x + (1.0f - wa - wb) * one.places[2].x < p.x - kNearerMm;
        });
    }

    std::vector<Seen> seen_;
    std::vector<std::array<glm::vec3, 2>> borders_;
};

}  // namespace

const InstrumentModel* InstrumentModels::nearest(const sim::InstrumentSpec& instrument) const {
    const float length_mm = static_cast<float>(instrument.length_m) * kMmPerM;
    const InstrumentModel* best = nullptr;
    const auto distance = [&](const InstrumentModel& model) {
        return std::pair(std::abs(model.gauge - instrument.gauge), std::fabs(model.length_mm - length_mm));
    };
    for (const InstrumentModel& model : shafts)
        if (model.tip == instrument.tip && (best == nullptr || distance(model) < distance(*best))) best = &model;
    return best;
}

SidePicture side_picture(const InstrumentModels& models, const sim::InstrumentSpec& instrument, bool holder) {
    SideMaker maker;
    const InstrumentModel* nearest = models.nearest(instrument);
    const InstrumentModel model = nearest == nullptr ? plain_model(instrument) : *nearest;
    for (const ModelMesh& part : model.parts) maker.add(resized(part, model, instrument), part);
    if (holder && !instrument.loaded)
        for (const ModelMesh& part : models.holder.empty() ? plain_holder() : models.holder)
            maker.add(resized(part, model, instrument), part);
    return maker.take();
}

}  // namespace view
