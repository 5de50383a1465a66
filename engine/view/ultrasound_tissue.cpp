#include "engine/view/ultrasound_tissue.hpp"

#include <algorithm>
#include <cmath>
#include <glm/glm.hpp>

#include "sim/anatomy/head.hpp"

/// Layers, glands and ligaments; what moves is in ultrasound_vessels.cpp.

namespace view {

namespace {

using sim::kMm;
using sim::Layer;

// -- levels of what scatters, dB below white; assumed
const float kGel = amplitude(-90), kEpidermis = amplitude(-10), kDermis = amplitude(-21), kFat = amplitude(-45),
            kSeptum = amplitude(-18), kDeepFat = amplitude(-44), kSmas = amplitude(-27), kPlatysma = amplitude(-35),
            kMuscle = amplitude(-41), kStrand = amplitude(-21), kGland = amplitude(-25), kLigament = amplitude(-22),
            kBeyondFascia = amplitude(-42), kRough = amplitude(-23), kRingDown = amplitude(-16);

// -- losses, dB / (cm MHz); fat and muscle from memory after Culjat et al. 2010, Ultrasound Med Biol 36:861-73, skin
// and gland assumed
constexpr float kGelLoss = 0.02f, kSkinLoss = 1.2f, kFatLoss = 0.48f, kFibreLoss = 1.2f, kMuscleLoss = 0.9f,
                kGlandLoss = 0.7f, kBoneLoss = 12.0f, kAirLoss = 4.0f, kNoContactLoss = 40.0f;

/// Echo of each edge where it lies square: skin, dermis, top and bottom of the SMAS, deep fascia; assumed.
constexpr std::array<double, sim::kTissueLayers> kEdgeDb{-2.0, -11.0, -9.0, -11.0, -8.0};
constexpr std::array<double, 3> kFloorDb{8.0, 2.0, -6.0};  // by FloorKind: bone, lining, deep cervical fascia
constexpr double kEdgeFallsRad = 0.22;                     // from square to 1/e of the echo; assumed
constexpr double kEdgeLeast = 0.12;  // what is left of it aslant: no fascia is quite smooth; assumed
constexpr double kRoughMm = 0.10;    // half the thickness of a fascia that scatters; assumed

constexpr double kCoarseMm = 0.5;
constexpr double kLatticeMm = 0.11;  // of scatterers; a resolution cell holds more than ten, assumed
constexpr int kSlices = 6;           // of that lattice across the plane: a beam is about as thick

float smooth(float t) { return t * t * (3.0f - 2.0f * t); }

float step_between(float from, float to, float x) { return smooth(std::clamp((x - from) / (to - from), 0.0f, 1.0f)); }

/// Smooth noise of a place, 0 to 1, with a lattice of 1.
float noise_at(const glm::vec3& p) {
    // whole numbers by cutting off what follows the point, above zero; places are within a metre of the origin
    constexpr float kAboveZero = 4096.0f;
    const auto i = static_cast<int>(p.x + kAboveZero), j = static_cast<int>(p.y + kAboveZero),
               k = static_cast<int>(p.z + kAboveZero);
    const float x = smooth(p.x + kAboveZero - static_cast<float>(i)),
                y = smooth(p.y + kAboveZero - static_cast<float>(j)),
                z = smooth(p.z + kAboveZero - static_cast<float>(k));
    const auto corner = [&](int a, int b, int c) {
        return static_cast<float>(lattice_bits(i + a, j + b, k + c) >> 8) * 0x1.0p-24f;
    };
    const auto row = [&](int b, int c) { return glm::mix(corner(0, b, c), corner(1, b, c), x); };
    return glm::mix(glm::mix(row(0, 0), row(1, 0), y), glm::mix(row(0, 1), row(1, 1), y), z);
}

/// What changes slowly, asked on a coarse lattice of line and depth.
struct Slow {
    float warp = 0.0f, patch = 0.0f;        ///< of septa
    float lobule = 0.0f;                    ///< of the brightness of fat
    float parotid = 0.0f, masseter = 0.0f;  ///< shares of their layers
    float gland_mm = -100.0f;               ///< inside a gland, negative outside
};

Slow mix(const Slow& a, const Slow& b, float t) {
    const auto at = [t](float x, float y) { return x + t * (y - x); };
    return {at(a.warp, b.warp),       at(a.patch, b.patch),       at(a.lobule, b.lobule),
            at(a.parotid, b.parotid), at(a.masseter, b.masseter), at(a.gland_mm, b.gland_mm)};
}

/// Depth inside the nearest gland.
float gland_mm(const std::vector<const sim::Structure*>& glands, const Vec3& p_m) {
    double most_m = -0.1;
    for (const sim::Structure* gland : glands)
        for (std::size_t i = 0; i + 1 < gland->line.size(); ++i) {
            const sim::StructureNode &a = gland->line[i], &b = gland->line[i + 1];
            const Vec3 way = b.position_m - a.position_m;
            const double t =
                std::clamp(glm::dot(p_m - a.position_m, way) / std::max(1e-12, glm::dot(way, way)), 0.0, 1.0);
            most_m = std::max(most_m, glm::mix(a.radius_m, b.radius_m, t) - glm::length(p_m - a.position_m - t * way));
        }
    return static_cast<float>(most_m / kMm);
}

class SlowField {
 public:
    SlowField(const sim::Anatomy& anatomy, const ProbeMap& map) {
        const auto* head = dynamic_cast<const sim::Head*>(&anatomy);
        const double reach_m = 0.5 * (map.grid.lines * map.grid.line_m()) + map.grid.rows * map.grid.row_m;
        std::vector<const sim::Structure*> glands;
        for (const sim::Structure& one : anatomy.structures())
            if (one.kind == sim::StructureKind::gland &&
                std::any_of(one.line.begin(), one.line.end(), [&](const sim::StructureNode& node) {
                    return glm::length(node.position_m - map.pose.at_m) < reach_m + node.radius_m;
                }))
                glands.push_back(&one);
        half_mm_ = static_cast<float>(-map.grid.x_m(0) / kMm);
        columns_ = static_cast<int>(std::ceil(2.0f * half_mm_ / static_cast<float>(kCoarseMm))) + 2;
        rows_ = static_cast<int>((map.grid.rows * map.grid.row_m / kMm + kAboveMm + 4.0) / kCoarseMm) + 2;
        for (int c = 0; c < columns_; ++c)
            for (int r = 0; r < rows_; ++r) {
                const double x = c * kCoarseMm - static_cast<double>(half_mm_), ref = r * kCoarseMm - kAboveMm;
                const Vec3 p = map.place_mm(x, ref);
                Slow slow;
                slow.warp = noise_at(glm::vec3(p / 4.5)) + 0.5f * noise_at(glm::vec3(p / 1.9 + 31.0));
                slow.patch = noise_at(glm::vec3(p / 2.4 + 57.0));
                slow.lobule = noise_at(glm::vec3(p / 1.6 + 113.0));
                if (head != nullptr) {
                    const auto windows = head->tissue().windows_at(p * kMm);
                    slow.parotid = static_cast<float>(windows.parotid);
                    slow.masseter = static_cast<float>(windows.masseter);
                }
                slow.gland_mm = gland_mm(glands, p * kMm);
                values_.push_back(slow);
            }
    }

    [[nodiscard]] Slow at(float x_mm, float ref_mm) const {
        const float c =
            std::clamp((x_mm + half_mm_) / static_cast<float>(kCoarseMm), 0.0f, static_cast<float>(columns_) - 1.001f);
        const float r = std::clamp((ref_mm + static_cast<float>(kAboveMm)) / static_cast<float>(kCoarseMm), 0.0f,
                                   static_cast<float>(rows_) - 1.001f);
        const auto i = static_cast<std::size_t>(c), j = static_cast<std::size_t>(r);
        const float s = c - static_cast<float>(i), t = r - static_cast<float>(j);
        const auto n = static_cast<std::size_t>(rows_);
        return mix(mix(values_[i * n + j], values_[i * n + j + 1], t),
                   mix(values_[(i + 1) * n + j], values_[(i + 1) * n + j + 1], t), s);
    }

 private:
    static constexpr double kAboveMm = 4.0;
    float half_mm_ = 0.0f;
    int columns_ = 0, rows_ = 0;
    std::vector<Slow> values_;
};

/// Thin sheets of fibres in fat: wavy, mostly along the skin, broken up. @param spacing_mm between them
float septum(const Slow& slow, float depth_mm, float spacing_mm) {
    const float phase = depth_mm / spacing_mm + 1.6f * slow.warp, off = phase - std::round(phase);
    const float thin = 1.0f - std::min(1.0f, std::fabs(off) * spacing_mm / 0.13f);
    return smooth(thin) * step_between(0.35f, 0.62f, slow.patch);
}

/// Direction in which a muscle's strands run: the masseter's from the cheek bone down and back to the jaw angle; all
/// others are given the same. Assumed.
const glm::vec3 kStrands = glm::normalize(glm::vec3(0.0f, -0.87f, -0.49f));

float strand(const glm::vec3& p_mm, float depth_mm) {
    const float fibre = glm::dot(p_mm, kStrands);
    const glm::vec3 side = p_mm - fibre * kStrands;
    const float fine = noise_at({fibre / 9.0f, (side.x + side.y + side.z) / 1.5f, depth_mm / 0.42f});
    const float coarse = noise_at({fibre / 14.0f + 40.0f, (side.x + side.y + side.z) / 3.2f, depth_mm / 1.1f});
    return std::min(1.0f, 0.8f * step_between(0.60f, 0.86f, fine) + step_between(0.66f, 0.80f, coarse));
}

struct Echo {
    float scatter, loss;
};

class Layers {
 public:
    Layers(const sim::Anatomy& anatomy, const ProbeMap& map) : anatomy_(anatomy), map_(map), slow_(anatomy, map) {}

    void fill(EchoField& field) {
        for (int l = 0; l < map_.grid.lines; ++l) fill_line(field, l);
    }

 private:
    /// Bright skin line, then bundles of collagen, coarser and sparser towards the fat.
    [[nodiscard]] static Echo skin(float depth_mm, float share, const Slow& slow, const glm::vec3& p_mm) {
        if (depth_mm < 0.12f) return {kEpidermis, kSkinLoss};
        const float bundle = noise_at({(p_mm.x + p_mm.z) / 0.7f, p_mm.y / 0.7f, depth_mm / 0.16f});
        const float lower = 1.0f - 0.6f * share * share;
        return {kDermis * lower * (0.35f + 0.9f * bundle + 0.5f * slow.patch), kSkinLoss};
    }

    /// Dark lobules between bright sheets of fibres; no two lobules are alike.
    [[nodiscard]] static Echo fat(float depth_mm, const Slow& slow, bool deep) {
        const float s = septum(slow, depth_mm, deep ? 2.3f : 1.25f) * (deep ? 0.55f : 1.0f);
        const float lobule = 0.55f + 1.1f * slow.lobule * slow.lobule;
        return {glm::mix((deep ? kDeepFat : kFat) * lobule, kSeptum, s * s), kFatLoss};
    }

    [[nodiscard]] static Echo muscle(const glm::vec3& p_mm, float depth_mm) {
        const float s = strand(p_mm, depth_mm);
        return {glm::mix(kMuscle, kStrand, s), kMuscleLoss};
    }

    /// @param share of the way through the layer  @param depth_mm under the skin
    [[nodiscard]] Echo echo(Layer layer, float share, float depth_mm, const Slow& slow, const glm::vec3& p_mm) const {
        Echo out{kGel, kGelLoss};
        switch (layer) {
            case Layer::outside:
                return out;
            case Layer::skin:
                return skin(depth_mm, share, slow, p_mm);
            case Layer::superficial_fat:
                return fat(depth_mm, slow, false);
            case Layer::smas:
                out = {p_mm.y < kJawMm ? kPlatysma : kSmas, kFibreLoss};
                break;
            case Layer::deep_fat:
                out = fat(depth_mm, slow, true);
                out.scatter = glm::mix(out.scatter, kGland * (0.8f + 0.4f * slow.patch), slow.parotid);
                break;
            case Layer::muscle:
                out = muscle(p_mm, depth_mm);
                break;
            case Layer::floor:
                return out;
        }
        const float in = step_between(-0.5f, 0.5f, slow.gland_mm);
        if (layer != Layer::smas && in > 0.0f) {
            out.scatter = glm::mix(out.scatter, kGland * (0.8f + 0.4f * slow.patch), in);
            out.loss = glm::mix(out.loss, kGlandLoss, in);
        }
        return out;
    }

    /// Under the floor: bone swallows the sound, air behind the lining leaves a haze, under the deep fascia muscle goes
    /// on, of which the model knows no more.
    [[nodiscard]] static Echo beyond(sim::FloorKind kind, float below_mm, const glm::vec3& p_mm, float depth_mm) {
        switch (kind) {
            case sim::FloorKind::bone:
                return {below_mm < 0.3f ? amplitude(-8) : amplitude(-60), kBoneLoss};
            case sim::FloorKind::lining:
                return {amplitude(-16 - 4.0 * static_cast<double>(below_mm)), kAirLoss};
            case sim::FloorKind::fascia:
                return {glm::mix(kBeyondFascia, kStrand, 0.7f * strand(p_mm, depth_mm)), kMuscleLoss};
        }
        return {kGel, kGelLoss};
    }

    void fill_line(EchoField& field, int l) {
        const EchoGrid& grid = map_.grid;
        const LineOfSight& line = map_.lines[static_cast<std::size_t>(l)];
        const double x_mm = grid.x_m(l) / kMm, row_mm = grid.row_m / kMm;
        const Vec3 floor_mm = map_.place_mm(x_mm, std::min(line.edge_mm.back(), 60.0) + 0.05);
        const sim::FloorKind kind = anatomy_.layers_at(floor_mm * kMm).floor;
        for (int r = 0; r < grid.rows; ++r) {
            const std::size_t i = grid.at(r, l);
            const double y = r * row_mm;
            if (y < 0.2) field.scatter[i] = kRingDown;
            if (!line.contact) {
                field.loss[i] = kNoContactLoss;
                continue;
            }
            field.loss[i] = kGelLoss;
            if (y < line.begin_mm) continue;
            const double ref = line.ref_mm(y);
            std::size_t passed = 0;
            while (passed < line.edge_mm.size() && ref >= line.edge_mm[passed]) ++passed;
            const glm::vec3 p_mm(map_.place_mm(x_mm, ref));
            const auto depth_mm = static_cast<float>(ref - line.skin_mm);
            Echo out{};
            if (passed == line.edge_mm.size()) {
                out = beyond(kind, static_cast<float>(ref - line.edge_mm.back()), p_mm, depth_mm);
            } else {
                const double top = passed > 0 ? line.edge_mm[passed - 1] : ref;
                const auto share = static_cast<float>((ref - top) / std::max(0.1, line.edge_mm[passed] - top));
                const Slow slow = slow_.at(static_cast<float>(x_mm), static_cast<float>(ref));
                out = echo(static_cast<Layer>(passed), share, depth_mm, slow, p_mm);
            }
            field.scatter[i] = std::max(out.scatter, field.scatter[i]);
            field.loss[i] = out.loss;
        }
        if (line.contact)
            for (std::size_t e = 0; e < line.edge_mm.size(); ++e) fill_edge(field, l, e, kind);
    }

    void fill_edge(EchoField& field, int l, std::size_t e, sim::FloorKind kind) const {
        const LineOfSight& line = map_.lines[static_cast<std::size_t>(l)];
        if (!(line.edge_mm[e] < ProbeMap::kBeyondMm)) return;
        const EchoGrid& grid = map_.grid;
        const double y = line.y_mm(line.edge_mm[e]), row = y * kMm / grid.row_m;
        if (!(row >= 0.0 && row < grid.rows - 1)) return;
        const double aslant = std::acos(std::clamp(line.square[e], -1.0, 1.0));
        const double facing = kEdgeLeast + (1.0 - kEdgeLeast) * std::exp(-std::pow(aslant / kEdgeFallsRad, 2));
        const glm::vec3 p_mm(map_.place_mm(grid.x_m(l) / kMm, line.edge_mm[e]));
        const float uneven =
            e == 0 ? 1.0f : 0.5f + 0.35f * noise_at(p_mm / 1.3f) + 0.35f * noise_at(p_mm / 0.45f + 9.0f);
        const double db = e < kEdgeDb.size() ? kEdgeDb[e] : kFloorDb[static_cast<std::size_t>(kind)];
        const float echo = amplitude(db) * static_cast<float>(facing) * uneven;
        const auto above = static_cast<int>(row);
        const auto t = static_cast<float>(row - above);
        field.mirror[grid.at(above, l)] += (1.0f - t) * echo;
        field.mirror[grid.at(above + 1, l)] += t * echo;
        // a fascia has some thickness, and scatters whichever way it lies
        if (e < 2 || e + 1 == line.edge_mm.size()) return;
        const int reach = std::max(1, static_cast<int>(std::lround(kRoughMm * kMm / grid.row_m)));
        for (int r = std::max(0, above - reach); r <= std::min(grid.rows - 1, above + reach + 1); ++r)
            field.scatter[grid.at(r, l)] = std::max(field.scatter[grid.at(r, l)], kRough * uneven);
    }

    static constexpr float kJawMm = -62.0f;  // below it the sheet is the platysma, a thin muscle; assumed
    const sim::Anatomy& anatomy_;
    const ProbeMap& map_;
    SlowField slow_;
};

/// Places of one row of samples in the lattice of scatterers, and what they add up to there.
struct ScatterRow {
    std::vector<float> x, y, z;
    std::vector<std::int32_t> re, im;

    explicit ScatterRow(std::size_t lines) : x(lines), y(lines), z(lines), re(lines), im(lines) {}

    void add(const glm::vec3& across) {
        for (std::size_t l = 0; l < x.size(); ++l) {
            const std::uint32_t bits =
                lattice_bits(static_cast<std::int32_t>(x[l] + across.x), static_cast<std::int32_t>(y[l] + across.y),
                             static_cast<std::int32_t>(z[l] + across.z));
            re[l] += static_cast<std::int32_t>((bits & 255U) + ((bits >> 8) & 255U)) - 255;
            im[l] += static_cast<std::int32_t>(((bits >> 16) & 255U) + (bits >> 24)) - 255;
        }
    }
};

/// Scatterers of the tissue, seen in a slice as thick as the beam: they move with it, and others come in as the probe
/// moves on.
void fill_scatterers(EchoField& field, const ProbeMap& map) {
    constexpr auto kPerMm = static_cast<float>(1.0 / kLatticeMm);
    constexpr float kAboveZero = 65536.0f;  // whole numbers by cutting off what follows the point
    // variance of a sum of two bytes is 10922.5; re and im share unit power
    const float scale = 0.70710678f / std::sqrt(static_cast<float>(kSlices) * 10922.5f);
    const glm::vec3 across(map.pose.across()), along = kPerMm * glm::vec3(map.pose.along),
                                               inward = kPerMm * glm::vec3(map.pose.inward);
    const glm::vec3 origin = kPerMm * glm::vec3(map.pose.at_m / kMm) + kAboveZero;
    const auto lines = static_cast<std::size_t>(map.grid.lines);
    ScatterRow row(lines);
    for (int r = 0; r < map.grid.rows; ++r) {
        const double y = r * map.grid.row_m / kMm;
        for (std::size_t l = 0; l < lines; ++l) {
            const LineOfSight& line = map.lines[l];
            const auto ref = static_cast<float>(y < line.begin_mm ? y : line.ref_mm(y));
            const auto x_mm = static_cast<float>(map.grid.x_m(static_cast<int>(l)) / kMm);
            row.x[l] = origin.x + x_mm * along.x + ref * inward.x;
            row.y[l] = origin.y + x_mm * along.y + ref * inward.y;
            row.z[l] = origin.z + x_mm * along.z + ref * inward.z;
            row.re[l] = row.im[l] = 0;
        }
        for (int s = 0; s < kSlices; ++s) row.add((static_cast<float>(s) - 0.5f * (kSlices - 1)) * across);
        for (std::size_t l = 0; l < lines; ++l) {
            field.re[map.grid.at(r, 0) + l] = scale * static_cast<float>(row.re[l]);
            field.im[map.grid.at(r, 0) + l] = scale * static_cast<float>(row.im[l]);
        }
    }
}

/// Where the plane crosses the way from a to b.
std::optional<Vec3> crossing(const ProbePose& pose, const Vec3& a, const Vec3& b) {
    const double da = glm::dot(a - pose.at_m, pose.across()), db = glm::dot(b - pose.at_m, pose.across());
    if (!(da * db <= 0.0) || da == db) return std::nullopt;
    return glm::mix(a, b, da / (da - db));
}

void fill_ligament_piece(EchoField& field, const ProbeMap& map, const Vec3& a_m, const Vec3& b_m, double half_mm) {
    const auto x_of = [&](const Vec3& p) { return glm::dot(p - map.pose.at_m, map.pose.along) / kMm; };
    const auto ref_of = [&](const Vec3& p) { return glm::dot(p - map.pose.at_m, map.pose.inward) / kMm; };
    const glm::vec2 a(x_of(a_m), ref_of(a_m)), way = glm::vec2(x_of(b_m), ref_of(b_m)) - a;
    const float length2 = std::max(1e-6f, glm::dot(way, way)), half = static_cast<float>(half_mm);
    for (int l = 0; l < map.grid.lines; ++l) {
        const auto x = static_cast<float>(map.grid.x_m(l) / kMm);
        if (x < std::min(a.x, a.x + way.x) - half || x > std::max(a.x, a.x + way.x) + half) continue;
        const LineOfSight& line = map.lines[static_cast<std::size_t>(l)];
        for (int r = 0; r < map.grid.rows && line.contact; ++r) {
            const double y = r * map.grid.row_m / kMm;
            if (y < line.begin_mm || y >= line.floor_mm) continue;
            const glm::vec2 p(x, static_cast<float>(line.ref_mm(y)));
            const float t = glm::clamp(glm::dot(p - a, way) / length2, 0.0f, 1.0f), off = glm::length(p - a - t * way);
            if (off > half) continue;
            // strands side by side along the way
            const float ripple = 0.5f + 0.5f * std::cos(off * 11.0f);
            float& scatter = field.scatter[map.grid.at(r, l)];
            scatter = std::max(scatter, kLigament * ripple * (1.0f - off / half));
        }
    }
}

void fill_ligaments(EchoField& field, const sim::Anatomy& anatomy, const ProbeMap& map) {
    for (const sim::Ligament& ligament : anatomy.ligaments())
        for (std::size_t i = 0; i + 1 < ligament.deep_m.size(); ++i) {
            const Vec3 corners[4] = {ligament.deep_m[i], ligament.deep_m[i + 1], ligament.superficial_m[i + 1],
                                     ligament.superficial_m[i]};
            std::vector<Vec3> met;
            for (std::size_t k = 0; k < 4 && met.size() < 2; ++k)
                if (const auto p = crossing(map.pose, corners[k], corners[(k + 1) % 4])) met.push_back(*p);
            if (met.size() == 2) fill_ligament_piece(field, map, met[0], met[1], ligament.half_thickness_m / kMm);
        }
}

}  // namespace

EchoField field_at_rest(const sim::Anatomy& anatomy, const ProbeMap& map) {
    EchoField field(map.grid);
    Layers(anatomy, map).fill(field);
    fill_ligaments(field, anatomy, map);
    fill_scatterers(field, map);
    return field;
}

}  // namespace view
