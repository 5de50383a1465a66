#include "engine/files/places.hpp"

#include <sys/resource.h>
#include <sys/stat.h>

#include <cstdlib>
#include <optional>

#include "engine/files/cache.hpp"
#include "engine/files/keys.hpp"
#include "files_support.hpp"

using Catch::Matchers::Contains;
using files_test::bytes_of;
using files_test::Environment;
using files_test::Folder;
using files_test::refusal;

namespace {

unsigned mode_of(const std::filesystem::path& path) {
    struct stat about {};
    REQUIRE(stat(path.c_str(), &about) == 0);
    return about.st_mode & 0777U;
}

}  // namespace

TEST_CASE("a key is made once, for its owner's eyes only", "[files][keys]") {
    const Folder folder;
    const auto file = folder / "data/signing.key";
    const auto key = files::load_or_create_keys(file);
    CHECK(mode_of(file) == 0600);
    CHECK(mode_of(file.parent_path()) == 0700);
    CHECK(files::load_or_create_keys(file).secret == key.secret);
    CHECK(std::distance(std::filesystem::directory_iterator(file.parent_path()), {}) == 1);
}

TEST_CASE("a key that others may read is refused", "[files][keys]") {
    const Folder folder;
    const auto file = folder / "signing.key";
    static_cast<void>(files::load_or_create_keys(file));
    REQUIRE(chmod(file.c_str(), 0640) == 0);
    const auto error = refusal([&] { static_cast<void>(files::load_or_create_keys(file)); });
    CHECK(error.place() == "permissions");
    CHECK_THAT(error.what(), Contains("readable by others") && Contains("0600"));
}

TEST_CASE("what is no key is refused and left alone", "[files][keys]") {
    const Folder folder;
    const auto file = folder / "signing.key";
    const std::string good = [&] {
        static_cast<void>(files::load_or_create_keys(file));
        return bytes_of(file);
    }();
    // garbage, nothing, cut short, and a public half of another key
    for (const std::string& bytes :
         {std::string("hello"), std::string(), good.substr(0, 100), good.substr(0, 64) + std::string(64, '0') + "\n"}) {
        static_cast<void>(folder.put("signing.key", bytes));
        CHECK_THAT(refusal([&] { static_cast<void>(files::load_or_create_keys(file)); }).what(), Contains("key"));
        CHECK(bytes_of(file) == bytes);
    }
}

TEST_CASE("the cache gives back what was kept, and nothing else", "[files][cache]") {
    const Folder folder;
    const Environment home("XDG_CACHE_HOME", folder.path().string());
    std::string note;
    CHECK_FALSE(files::cached("a", &note).has_value());
    CHECK(note.empty());
    files::keep_in_cache("a", "bytes", &note);
    CHECK(note.empty());
    CHECK(files::cached("a") == "bytes");
    CHECK_FALSE(files::cached("b").has_value());
}

TEST_CASE("a damaged cache file is noted, thrown away and built anew", "[files][cache]") {
    const Folder folder;
    const Environment home("XDG_CACHE_HOME", folder.path().string());
    files::keep_in_cache("a", "some bytes");
    const auto blob = std::filesystem::directory_iterator(folder / "planekeeper")->path();
    const std::string whole = bytes_of(blob);
    std::string flipped = whole;
    flipped.back() = 'x';
    for (const std::string& bytes : {flipped, whole.substr(0, 20), std::string(), whole + "more"}) {
        std::ofstream(blob, std::ios::binary) << bytes;
        std::string note;
        CHECK_FALSE(files::cached("a", &note).has_value());
        CHECK_THAT(note, Contains("damaged"));
        CHECK_FALSE(std::filesystem::exists(blob));
        files::keep_in_cache("a", "some bytes");
        CHECK(files::cached("a") == "some bytes");
    }
}

TEST_CASE("a cache that cannot be written costs nothing but time", "[files][cache]") {
    const Folder folder;
    std::string note;
    SECTION("a file stands where the folder should be") {
        static_cast<void>(folder.put("planekeeper", "a file"));
        const Environment home("XDG_CACHE_HOME", folder.path().string());
        files::keep_in_cache("a", "bytes", &note);
        CHECK_FALSE(files::cached("a").has_value());
    }
    SECTION("the disk is full") {
        const Environment home("XDG_CACHE_HOME", folder.path().string());
        rlimit before{};
        getrlimit(RLIMIT_FSIZE, &before);
        const rlimit none{1, before.rlim_max};
        setrlimit(RLIMIT_FSIZE, &none);
        files::keep_in_cache("a", "bytes", &note);
        setrlimit(RLIMIT_FSIZE, &before);
        CHECK_FALSE(files::cached("a").has_value());
    }
    CHECK_THAT(note, Contains("not kept"));
}

TEST_CASE("shipped files are found where the environment says", "[files][places]") {
    const Folder folder;
    static_cast<void>(folder.put("assets/a.txt", "x"));
    static_cast<void>(folder.put("scenarios/drills/one.json", "{}"));
    const Environment home("PLANEKEEPER_HOME", folder.path().string());
    CHECK(files::shipped_folder() == folder.path());
    CHECK(files::asset("a.txt") == folder / "assets/a.txt");
    CHECK(files::find_scenario("one") == folder / "scenarios/drills/one.json");
    CHECK_THAT(refusal([] { static_cast<void>(files::asset("shaders/none.frag")); }).what(),
               Contains("assets/shaders/none.frag") && Contains("missing"));
    CHECK_THAT(refusal([] { static_cast<void>(files::find_scenario("two")); }).what(),
               Contains("two") && Contains("one"));
}

TEST_CASE("a home without scenarios is passed over", "[files][places]") {
    const Folder folder;
    const Environment home("PLANEKEEPER_HOME", folder.path().string());
    CHECK(files::shipped_folder() != folder.path());
}

TEST_CASE("a relative XDG folder is ignored, as its specification says", "[files][places]") {
    const Environment data("XDG_CACHE_HOME", "relative/cache");
    const Environment home("HOME", "/somewhere");
    CHECK(files::user_cache_folder() == "/somewhere/.cache/planekeeper");
}
