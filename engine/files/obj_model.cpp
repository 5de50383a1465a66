#include "engine/files/obj_model.hpp"

#include <fmt/format.h>
#include <tiny_obj_loader.h>

#include <array>
#include <charconv>
#include <cmath>
#include <glm/geometric.hpp>
#include <map>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"

namespace files {

namespace {

constexpr std::size_t kShownBytes = 40;  // of a value that is refused

/// What the loader would pass over in silence is refused here: it takes "nan" for 0 and keeps an index that points
/// nowhere.
class ObjCheck {
 public:
    ObjCheck(const std::string& file, std::string_view text) : file_(file), text_(text) {}

    void run() {
        while (next_line()) line();
        if (faces_ == 0) throw FileError(file_, "", "no faces", "at least one face");
    }

 private:
    bool next_line() {
        if (at_ >= text_.size()) return false;
        const std::size_t end = std::min(text_.find('\n', at_), text_.size());
        rest_ = text_.substr(at_, end - at_);
        if (!rest_.empty() && rest_.back() == '\r') rest_.remove_suffix(1);
        at_ = end + 1;
        ++line_;
        return true;
    }

    std::string_view next_word() {
        const std::size_t begin = rest_.find_first_not_of(" \t");
        if (begin == std::string_view::npos) return rest_ = {};
        const std::size_t end = std::min(rest_.find_first_of(" \t", begin), rest_.size());
        const std::string_view word = rest_.substr(begin, end - begin);
        rest_.remove_prefix(end);
        return word;
    }

    [[noreturn]] void refuse(std::string_view value, const std::string& accepted) const {
        std::string shown(value.substr(0, kShownBytes));
        if (shown.empty()) shown = "nothing";
        for (char& c : shown)
            if (c < ' ' || c > '~') c = '?';
        throw FileError(file_, fmt::format("line {}", line_), shown, accepted);
    }

    void line() {
        const std::string_view word = next_word();
        if (word.empty() || word.front() == '#') return;
        if (word == "v")
            numbers(places_, kModelReachMm);
        else if (word == "vn")
            numbers(normals_, 1.001);
        else if (word == "f")
            face();
        else if (word != "o" && word != "g" && word != "s")
            refuse(word, "v, vn, f, o, g, s or #");
    }

    void numbers(std::size_t& count, double reach) {
        double square = 0.0;
        for (int i = 0; i < 3; ++i) {
            const std::string_view word = next_word();
            double value = 0.0;
            const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
            // written as "not accepted" so that NaN is refused too
            if (error != std::errc{} || end != word.data() + word.size() || !(std::fabs(value) <= reach))
                refuse(word, fmt::format("a number from {0} to {1}", -reach, reach));
            square += value * value;
        }
        if (&count == &normals_ && !(square > 0.25)) refuse("a normal of no length", "a unit vector");
        if (!next_word().empty()) refuse(rest_, "three numbers");
        ++count;
    }

    void face() {
        int corners = 0;
        for (std::string_view word = next_word(); !word.empty(); word = next_word(), ++corners) {
            const std::size_t slash = word.find("//");
            if (slash == std::string_view::npos) refuse(word, "place//normal");
            index(word, word.substr(0, slash), places_);
            index(word, word.substr(slash + 2), normals_);
        }
        constexpr int kMostCorners = 16;
        if (corners < 3 || corners > kMostCorners)
            refuse(fmt::format("{} corners", corners), fmt::format("3 to {} corners", kMostCorners));
        faces_ += static_cast<std::size_t>(corners - 2);
        if (faces_ > kModelTriangles)
            refuse(fmt::format("{} triangles", faces_), fmt::format("at most {}", kModelTriangles));
    }

    void index(std::string_view word, std::string_view digits, std::size_t most) const {
        std::size_t value = 0;
        const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
        if (error != std::errc{} || end != digits.data() + digits.size() || value < 1 || value > most)
            refuse(word, most == 0 ? "an index of what stands above it" : fmt::format("an index from 1 to {}", most));
    }

    const std::string& file_;
    std::string_view text_, rest_;
    std::size_t at_ = 0, line_ = 0, places_ = 0, normals_ = 0, faces_ = 0;
};

glm::vec3 three(const std::vector<tinyobj::real_t>& values, int index) {
    const auto at = 3 * static_cast<std::size_t>(index);
    return {values[at], values[at + 1], values[at + 2]};
}

ModelPart part_of(const tinyobj::shape_t& shape, const tinyobj::attrib_t& attributes) {
    ModelPart part;
    part.name = shape.name;
    std::map<std::pair<int, int>, std::uint32_t> corners;
    for (const tinyobj::index_t& index : shape.mesh.indices) {
        const auto [at, fresh] = corners.try_emplace({index.vertex_index, index.normal_index},
                                                     static_cast<std::uint32_t>(part.positions_mm.size()));
        if (fresh) {
            part.positions_mm.push_back(three(attributes.vertices, index.vertex_index));
            part.normals.push_back(glm::normalize(three(attributes.normals, index.normal_index)));
        }
        part.triangles.push_back(at->second);
    }
    return part;
}

}  // namespace

std::size_t ObjModel::triangles() const {
    std::size_t count = 0;
    for (const ModelPart& part : parts) count += part.triangles.size() / 3;
    return count;
}

const ModelPart* ObjModel::part(std::string_view name) const {
    for (const ModelPart& part : parts)
        if (part.name == name) return &part;
    return nullptr;
}

ObjModel parse_obj(const std::string& file, std::string_view text) {
    ObjCheck(file, text).run();
    tinyobj::ObjReader reader;
    tinyobj::ObjReaderConfig config;
    config.triangulate = true;
    config.vertex_color = false;
    if (!reader.ParseFromString(std::string(text), "", config))
        throw FileError(file, "", reader.Error().empty() ? "what the loader cannot read" : reader.Error(),
                        "an OBJ file");
    ObjModel model;
    for (const tinyobj::shape_t& shape : reader.GetShapes())
        if (!shape.mesh.indices.empty()) model.parts.push_back(part_of(shape, reader.GetAttrib()));
    if (model.parts.empty()) throw FileError(file, "", "no faces", "at least one face");
    return model;
}

ObjModel load_obj(const std::filesystem::path& path) { return parse_obj(path.string(), read_bytes(path, kModelBytes)); }

}  // namespace files
