#include <cstring>

#include "sim/anatomy/head_grids.hpp"
#include "sim/core/errors.hpp"

/// The cache's bytes: mark, version, parameters, grid, bony points, nodes, and a sum over all of it. Same machine and
/// build only: numbers are stored as they lie in memory, and the engine keys the cache by content and build.

namespace sim {
namespace {

constexpr std::uint64_t kMark = 0x316873697430706bull;
constexpr std::uint32_t kVersion = 3;
constexpr const char* kPlace = "stored head tissue";

std::uint64_t sum_of(std::span<const std::byte> bytes) {
    // FNV-1a over words, the rest byte by byte
    constexpr std::uint64_t kPrime = 0x100000001b3ull;
    std::uint64_t h = 0xcbf29ce484222325ull;
    std::size_t i = 0;
    for (; i + 8 <= bytes.size(); i += 8) {
        std::uint64_t word = 0;
        std::memcpy(&word, bytes.data() + i, 8);
        h = (h ^ word) * kPrime;
        h ^= h >> 32;
    }
    for (; i < bytes.size(); ++i) h = (h ^ static_cast<std::uint64_t>(bytes[i])) * kPrime;
    return h;
}

class Writer {
 public:
    template <class T>
    void put(const T& value) {
        static_assert(std::is_trivially_copyable_v<T>);
        append(&value, sizeof value);
    }
    template <class T>
    void put_list(const std::vector<T>& list) {
        put(static_cast<std::uint64_t>(list.size()));
        append(list.data(), list.size() * sizeof(T));
    }
    void reserve(std::size_t n) { bytes_.reserve(n); }
    [[nodiscard]] std::vector<std::byte> take() { return std::move(bytes_); }
    [[nodiscard]] std::span<const std::byte> so_far() const { return bytes_; }

 private:
    void append(const void* from, std::size_t size) {
        const auto* first = static_cast<const std::byte*>(from);
        bytes_.insert(bytes_.end(), first, first + size);
    }
    std::vector<std::byte> bytes_;
};

class Reader {
 public:
    explicit Reader(std::span<const std::byte> bytes) : bytes_(bytes) {}
    template <class T>
    T get() {
        static_assert(std::is_trivially_copyable_v<T>);
        T value;
        copy(&value, sizeof value);
        return value;
    }
    template <class T>
    std::vector<T> get_list() {
        const auto count = get<std::uint64_t>();
        if (!(count <= bytes_.size() / sizeof(T))) cut_short();
        std::vector<T> list(count);
        copy(list.data(), count * sizeof(T));
        return list;
    }
    [[nodiscard]] std::size_t left() const { return bytes_.size(); }

 private:
    [[noreturn]] static void cut_short() { throw InputError(kPlace, "cut short", "all bytes that save() gave"); }
    void copy(void* to, std::size_t size) {
        if (size > bytes_.size()) cut_short();
        if (size > 0) std::memcpy(to, bytes_.data(), size);
        bytes_ = bytes_.subspan(size);
    }
    std::span<const std::byte> bytes_;
};

void put_side(Writer& w, const BonySide& side) {
    w.put(side.gonion_m);
    w.put(side.antegonial_notch_m);
    w.put(side.ear_canal_m);
    w.put(side.mandible_angle_rad);
    w.put_list(side.lower_border_m);
    w.put_list(side.arch_lower_border_m);
    w.put_list(side.ramus_back_m);
}

BonySide get_side(Reader& r) {
    BonySide side;
    side.gonion_m = r.get<Vec3>();
    side.antegonial_notch_m = r.get<Vec3>();
    side.ear_canal_m = r.get<Vec3>();
    side.mandible_angle_rad = r.get<double>();
    side.lower_border_m = r.get_list<Vec3>();
    side.arch_lower_border_m = r.get_list<Vec3>();
    side.ramus_back_m = r.get_list<Vec3>();
    return side;
}

void put_parameters(Writer& w, const HeadParameters& p) {
    for (const HeadParameterField& field : head_parameter_fields()) w.put(p.*field.member);
    w.put(p.asymmetry_seed);
}

HeadParameters get_parameters(Reader& r) {
    HeadParameters p;
    for (const HeadParameterField& field : head_parameter_fields()) p.*field.member = r.get<double>();
    p.asymmetry_seed = r.get<std::uint64_t>();
    return p;
}

}  // namespace

std::vector<std::byte> save(const HeadTissue& tissue) {
    const HeadGrids& g = *tissue.grids;
    Writer w;
    w.reserve(g.layers.size() * (sizeof(LayerNode) + sizeof(DeepNode)) + (1u << 16));
    w.put(kMark);
    w.put(kVersion);
    put_parameters(w, tissue.parameters());
    w.put(g.box.low_m);
    w.put(g.box.cell_m);
    w.put(g.box.nodes);
    put_side(w, g.bony.left);
    put_side(w, g.bony.right);
    w.put(g.bony.menton_m);
    w.put(g.vertex_depth_m);
    w.put_list(g.layers);
    w.put_list(g.deep);
    w.put(sum_of(w.so_far()));
    return w.take();
}

std::shared_ptr<const HeadTissue> load_head_tissue(std::span<const std::byte> bytes, const HeadParameters& parameters) {
    Reader r(bytes);
    if (r.get<std::uint64_t>() != kMark) throw InputError(kPlace, "another kind of file", "bytes that save() gave");
    const auto version = r.get<std::uint32_t>();
    if (version != kVersion) throw InputError(kPlace, "version " + std::to_string(version), std::to_string(kVersion));
    if (!(get_parameters(r) == parameters)) throw InputError(kPlace, "another patient", "the parameters asked for");
    auto grids = std::make_unique<HeadGrids>(parameters);
    grids->box.low_m = r.get<Vec3>();
    grids->box.cell_m = r.get<double>();
    grids->box.nodes = r.get<glm::ivec3>();
    grids->bony.left = get_side(r);
    grids->bony.right = get_side(r);
    grids->bony.menton_m = r.get<Vec3>();
    grids->vertex_depth_m = r.get<double>();
    grids->layers = r.get_list<LayerNode>();
    grids->deep = r.get_list<DeepNode>();
    const std::size_t summed = bytes.size() - r.left();
    if (r.get<std::uint64_t>() != sum_of(bytes.first(summed)) || r.left() != 0)
        throw InputError(kPlace, "damaged", "all bytes that save() gave, unchanged");
    const glm::ivec3 n = grids->box.nodes;
    const bool fits = n.x >= 2 && n.y >= 2 && n.z >= 2 && grids->box.size() == grids->layers.size() &&
                      grids->box.size() == grids->deep.size() && grids->box.cell_m > 0.0;
    if (!fits) throw InputError(kPlace, "a grid that does not match its nodes", "bytes that save() gave");
    auto tissue = std::make_shared<HeadTissue>();
    tissue->grids = std::move(grids);
    return tissue;
}

}  // namespace sim
