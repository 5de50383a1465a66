#pragma once

#include <cstdint>
#include <filesystem>
#include <glm/vec3.hpp>
#include <string>
#include <string_view>
#include <vector>

/// Wavefront OBJ as far as models of instruments use it: objects of triangles or flat faces, each corner with a normal.

namespace files {

inline constexpr std::uint64_t kModelBytes = 1ULL << 20;
inline constexpr std::size_t kModelTriangles = 3000;  ///< of one file
inline constexpr double kModelReachMm = 300.0;        ///< of any corner from the origin, along each axis

/// One object of the file. Millimetres, unit normals.
struct ModelPart {
    std::string name;
    std::vector<glm::vec3> positions_mm, normals;  ///< one each for a corner
    std::vector<std::uint32_t> triangles;          ///< three corners each
};

struct ObjModel {
    std::vector<ModelPart> parts;  ///< at least one, none without triangles

    [[nodiscard]] std::size_t triangles() const;
    [[nodiscard]] const ModelPart* part(std::string_view name) const;  ///< null when there is none
};

/// @throws FileError naming line, value and what is accepted: a word that is not known here, a number that is none or
///         out of reach, an index that points nowhere, a face without area or normal, nothing to draw, too much to draw
[[nodiscard]] ObjModel parse_obj(const std::string& file, std::string_view text);

/// @throws FileError as parse_obj() and read_bytes()
[[nodiscard]] ObjModel load_obj(const std::filesystem::path& path);

}  // namespace files
