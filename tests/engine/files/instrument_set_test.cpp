#include "engine/files/instrument_set.hpp"

#include <catch2/catch.hpp>
#include <glm/geometric.hpp>

#include "files_support.hpp"
#include "sim/instruments/gauge.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using files_test::bytes_of;
using files_test::Folder;
using files_test::refusal;
using files_test::replaced;

namespace {

const std::string kTriangle = "o hub\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//1 2//1 3//1\n";

files::FileError obj_refusal(const std::string& text) {
    return refusal([&] { static_cast<void>(files::parse_obj("x.obj", text)); });
}

/// The shipped folder, with one file made different.
files::InstrumentSet changed(const std::string& name, const std::string& bytes) {
    const Folder folder;
    for (const auto& entry : std::filesystem::directory_iterator("assets/instruments"))
        static_cast<void>(folder.put(entry.path().filename(), bytes_of(entry.path())));
    static_cast<void>(folder.put(name, bytes));
    return files::load_instrument_set(folder.path());
}

std::string manifest() { return bytes_of("assets/instruments/manifest.json"); }
std::string needle() { return bytes_of("assets/instruments/needle_18g_40mm.obj"); }

}  // namespace

TEST_CASE("the shipped models are whole, at true size and few triangles", "[files][instruments]") {
    const files::InstrumentSet set = files::load_instrument_set("assets/instruments");
    CHECK(set.troubles.empty());
    REQUIRE(set.instruments.size() == 3);
    std::size_t triangles = set.holder.triangles();
    for (const files::InstrumentModel& one : set.instruments) {
        INFO(one.name << " " << one.length_mm);
        triangles += one.model.triangles();
        // a tube of twelve sides has its corners on the wall
        const files::ModelPart* shaft = one.model.part("shaft");
        REQUIRE(shaft != nullptr);
        for (const glm::vec3& p : shaft->positions_mm)
            CHECK_THAT(2e-3 * std::hypot(static_cast<double>(p.x), static_cast<double>(p.y)),
                       WithinAbs(sim::gauge(one.gauge).outer_m, 1e-6));
        float tip = 0.0f;
        for (const glm::vec3& p : one.model.part("tip")->positions_mm) tip = std::max(tip, p.z);
        CHECK_THAT(static_cast<double>(tip), WithinAbs(one.length_mm, 1e-3));
    }
    CHECK(triangles < 3000);
}

TEST_CASE("triangles of the shipped models look the way their normals do", "[files][instruments]") {
    for (const auto& entry : std::filesystem::directory_iterator("assets/instruments")) {
        if (entry.path().extension() != ".obj") continue;
        for (const files::ModelPart& part : files::load_obj(entry.path()).parts)
            for (std::size_t i = 0; i < part.triangles.size(); i += 3) {
                const auto at = [&](std::size_t k) { return part.positions_mm[part.triangles[i + k]]; };
                const glm::vec3 across = glm::cross(at(1) - at(0), at(2) - at(0));
                INFO(entry.path() << " " << part.name << " triangle " << i / 3);
                for (std::size_t k = 0; k < 3; ++k) CHECK(glm::dot(across, part.normals[part.triangles[i + k]]) > 0.0f);
            }
    }
}

TEST_CASE("a model is read with its objects, faces of four corners and line ends of other systems", "[files]") {
    const files::ObjModel model = files::parse_obj(
        "x.obj",
        "# four\r\no hub\r\nv 0 0 0\r\nv 1 0 0\r\nv 1 1 0\r\nv 0 1 0\r\nvn 0 0 1\r\nf 1//1 2//1 3//1 4//1\r\n");
    REQUIRE(model.parts.size() == 1);
    CHECK(model.parts[0].name == "hub");
    CHECK(model.triangles() == 2);
    CHECK(model.part("tip") == nullptr);
}

TEST_CASE("what a model may not be is refused with line, value and what is accepted", "[files][refusal]") {
    const auto check = [](const std::string& from, const std::string& to, const std::string& place,
                          const std::string& value, const std::string& accepted) {
        const files::FileError error = obj_refusal(replaced(kTriangle, from, to));
        INFO(error.what());
        CHECK(error.file() == "x.obj");
        CHECK(error.place() == place);
        CHECK_THAT(error.value(), Contains(value));
        CHECK_THAT(error.accepted(), Contains(accepted));
    };
    check("v 1 0 0", "v nan 0 0", "line 3", "nan", "-300 to 300");
    check("v 1 0 0", "v inf 0 0", "line 3", "inf", "-300 to 300");
    check("v 1 0 0", "v 1e30 0 0", "line 3", "1e30", "-300 to 300");
    check("v 1 0 0", "v 301 0 0", "line 3", "301", "-300 to 300");
    check("v 1 0 0", "v 1 0", "line 3", "nothing", "a number");
    check("v 1 0 0", "v 1 x 0", "line 3", "x", "a number");
    check("vn 0 0 1", "vn 0 0 0", "line 5", "no length", "unit");
    check("3//1", "4//1", "line 6", "4//1", "1 to 3");
    check("3//1", "0//1", "line 6", "0//1", "1 to 3");
    check("3//1", "-1//1", "line 6", "-1//1", "1 to 3");
    check("3//1", "99999999999999999999//1", "line 6", "99999", "1 to 3");
    check("3//1", "3//2", "line 6", "3//2", "1 to 1");
    check("3//1", "3", "line 6", "3", "place//normal");
    check(" 3//1", "", "line 6", "2 corners", "3 to 16");
    check("o hub", "mtllib /etc/passwd", "line 1", "mtllib", "v, vn, f");
    check("f 1//1 2//1 3//1\n", "", "", "no faces", "at least one face");
    std::string many = kTriangle;
    for (int i = 0; i < 3000; ++i) many += "f 1//1 2//1 3//1\n";
    CHECK_THAT(obj_refusal(many).accepted(), Contains("at most 3000"));
    CHECK_THAT(obj_refusal("").value(), Contains("no faces"));
    CHECK_THAT(obj_refusal(std::string("\x7f"
                                       "ELF\0\1",
                                       6))
                   .accepted(),
               Contains("v, vn, f"));
}

TEST_CASE("a directory, a missing file and a gigabyte are no models", "[files][refusal]") {
    const Folder folder;
    std::filesystem::create_directories(folder / "a.obj");
    CHECK_THAT(refusal([&] { static_cast<void>(files::load_obj(folder / "a.obj")); }).what(), Contains("a.obj"));
    CHECK_THAT(refusal([&] { static_cast<void>(files::load_obj(folder / "b.obj")); }).what(), Contains("b.obj"));
    const auto huge = folder.put("c.obj", kTriangle);
    std::filesystem::resize_file(huge, 1ULL << 30);  // takes no room on the disk
    CHECK_THAT(refusal([&] { static_cast<void>(files::load_obj(huge)); }).value(), Contains("1073741824"));
}

TEST_CASE("one bad model costs that model only", "[files][instruments]") {
    const auto left = [](const files::InstrumentSet& set, std::size_t instruments, const std::string& trouble) {
        CHECK(set.instruments.size() == instruments);
        REQUIRE(set.troubles.size() == 1);
        CHECK_THAT(set.troubles[0], Contains(trouble) && Contains("accepted: "));
    };
    left(changed("needle_18g_40mm.obj", kTriangle), 2, "object shaft");
    left(changed("needle_18g_40mm.obj", "not a model"), 2, "line 1");
    left(changed("holder.obj", kTriangle), 3, "object holder");
    CHECK(changed("holder.obj", kTriangle).holder.parts.empty());
    // another gauge or length than the manifest says, and a unit that is not millimetres
    left(changed("manifest.json",
                 replaced(manifest(), "\"gauge\": 18,\n      \"length_mm\"", "\"gauge\": 21,\n      \"length_mm\"")),
         2, "radius");
    left(changed("manifest.json", replaced(manifest(), "\"length_mm\": 40.0", "\"length_mm\": 41.0")), 2, "farthest z");
    CHECK(changed("manifest.json", replaced(manifest(), "\"length_unit\": \"mm\"", "\"length_unit\": \"in\""))
              .instruments.empty());
    left(changed("manifest.json", replaced(manifest(), "needle_18g_40mm.obj", "../secret.obj")), 2,
         "instruments[0].file");
    // a hub colour that is not that of its gauge is told; the models stay
    left(changed("manifest.json", replaced(manifest(), "\"name\": \"pink\"", "\"name\": \"blue\"")), 3, "pink");
    left(files::load_instrument_set("/nowhere/at/all"), 0, "manifest.json");
}

TEST_CASE("a model cut short anywhere is read or refused, never worse", "[files][instruments]") {
    const std::string text = needle();
    for (std::size_t size = 0; size < text.size(); size += 997) {
        try {
            static_cast<void>(files::parse_obj("x.obj", std::string_view(text).substr(0, size)));
        } catch (const files::FileError& error) {
            CHECK_FALSE(error.accepted().empty());
        }
    }
}
