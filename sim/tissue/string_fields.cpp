#include <array>
#include <cstring>

#include "sim/core/errors.hpp"
#include "sim/tissue/posture.hpp"

/// StringFields as bytes: sizes, the upper triangle of the compliance, the two fields. Byte order of the machine: a
/// cache does not travel.

namespace sim::fe {

namespace {

constexpr std::string_view kMark = "tissue strings 1";
constexpr std::int64_t kMostCoordinates = 20'000, kMostUnknowns = 4'000'000;

template <class T>
void append(std::string& out, const T* values, std::size_t count) {
    out.append(reinterpret_cast<const char*>(values), count * sizeof(T));
}

/// Takes values off the front of what is left.
class Source {
 public:
    explicit Source(std::string_view bytes) : left_(bytes) {}

    template <class T>
    void take(T* values, std::size_t count) {
        if (left_.size() / sizeof(T) < count)
            throw InputError("kept tissue", std::to_string(left_.size()) + " bytes left", "more: it is cut short");
        std::memcpy(values, left_.data(), count * sizeof(T));
        left_.remove_prefix(count * sizeof(T));
    }
    [[nodiscard]] bool empty() const { return left_.empty(); }

 private:
    std::string_view left_;
};

}  // namespace

std::string save(const StringFields& fields) {
    const Eigen::MatrixXd& c = fields.compliance_m_per_n;
    const std::array<std::int64_t, 3> sizes{c.cols(), fields.gravity_field_m.rows(), fields.skin_m_per_n.rows()};
    std::string out(kMark);
    append(out, sizes.data(), sizes.size());
    for (Eigen::Index k = 0; k < c.cols(); ++k) append(out, c.col(k).data(), static_cast<std::size_t>(k + 1));
    append(out, fields.gravity_field_m.data(), static_cast<std::size_t>(fields.gravity_field_m.size()));
    append(out, fields.skin_m_per_n.data(), static_cast<std::size_t>(fields.skin_m_per_n.size()));
    return out;
}

StringFields load_string_fields(std::string_view bytes) {
    if (bytes.substr(0, kMark.size()) != kMark)
        throw InputError("kept tissue", "something else", "bytes that begin \"" + std::string(kMark) + "\"");
    Source source(bytes.substr(kMark.size()));
    std::array<std::int64_t, 3> sizes{};
    source.take(sizes.data(), sizes.size());
    const auto [coordinates, unknowns, skin] = sizes;
    if (!(coordinates > 0 && coordinates <= kMostCoordinates && unknowns > 0 && unknowns <= kMostUnknowns && skin > 0 &&
          skin <= unknowns))
        throw InputError("kept tissue: sizes", std::to_string(coordinates) + ", " + std::to_string(unknowns),
                         "1 to 20000, 1 to 4000000");
    // what is there must be enough before room is made for it
    const auto wanted = static_cast<std::size_t>(coordinates * (coordinates + 1) / 2 + 3 * unknowns) * sizeof(double) +
                        static_cast<std::size_t>(skin * coordinates) * sizeof(float);
    if (bytes.size() != kMark.size() + sizeof(sizes) + wanted)
        throw InputError("kept tissue", std::to_string(bytes.size()) + " bytes",
                         std::to_string(kMark.size() + sizeof(sizes) + wanted));
    StringFields out;
    out.compliance_m_per_n.resize(coordinates, coordinates);
    for (Eigen::Index k = 0; k < coordinates; ++k) {
        source.take(out.compliance_m_per_n.col(k).data(), static_cast<std::size_t>(k + 1));
        out.compliance_m_per_n.row(k).head(k + 1) = out.compliance_m_per_n.col(k).head(k + 1).transpose();
    }
    out.gravity_field_m.resize(unknowns, 3);
    source.take(out.gravity_field_m.data(), static_cast<std::size_t>(out.gravity_field_m.size()));
    out.skin_m_per_n.resize(skin, coordinates);
    source.take(out.skin_m_per_n.data(), static_cast<std::size_t>(out.skin_m_per_n.size()));
    return out;
}

}  // namespace sim::fe
