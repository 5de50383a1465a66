#include "engine/files/learners.hpp"

#include <cstdlib>
#include <fstream>

#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "files_support.hpp"

using Catch::Matchers::Contains;
using files_test::Environment;
using files_test::Folder;

namespace {

/// Folders of a user of this test alone; afterwards the first learner's are in use again.
class User {
 public:
    User()
        : data_("XDG_DATA_HOME", (folder_.path() / "data").string()),
          config_("XDG_CONFIG_HOME", (folder_.path() / "config").string()) {}
    ~User() { files::use_folders_of(""); }
    User(const User&) = delete;
    User& operator=(const User&) = delete;
    [[nodiscard]] std::filesystem::path list() const { return folder_.path() / "data/planekeeper/learners.json"; }

 private:
    Folder folder_;
    Environment data_, config_;
};

}  // namespace

TEST_CASE("there is one learner at first, and nothing is written until there is another", "[files][learners]") {
    const User user;
    const files::LearnerList learners;
    CHECK(learners.all() == std::vector<files::Learner>{{"", "Learner 1"}});
    CHECK_FALSE(std::filesystem::exists(user.list()));
    CHECK(files::user_data_folder() == files::all_learners_folder());
}

TEST_CASE("each learner has keys, ledger and settings of their own, found again at the next start",
          "[files][learners]") {
    const User user;
    const auto first = files::load_or_create_keys();
    const auto first_data = files::user_data_folder(), first_config = files::user_config_folder();
    {
        files::LearnerList learners;
        learners.add("Ana");
        CHECK(files::user_data_folder() != first_data);
        CHECK(files::user_config_folder() != first_config);
        CHECK(files::ledger_path().parent_path() == files::user_data_folder());
        CHECK(files::load_or_create_keys().secret != first.secret);
        learners.rename_now("Ana B");
        learners.add("Cem");
        learners.work_as(learners.all()[1].id);
    }
    files::use_folders_of("");
    const files::LearnerList again;
    CHECK(again.now().name == "Ana B");
    CHECK(again.all().size() == 3);
    CHECK(files::user_data_folder() == files::all_learners_folder() / "learners" / again.now().id);
    CHECK(files::user_cache_folder().string().find("learners") == std::string::npos);
    files::use_folders_of("");
    CHECK(files::load_or_create_keys().secret == first.secret);
}

TEST_CASE("names that are empty, too long, spaced, given twice or hold control characters are refused",
          "[files][learners]") {
    const User user;
    files::LearnerList learners;
    learners.add("Ana");
    for (const std::string& name :
         {std::string(), std::string(61, 'a'), std::string(" Ana"), std::string("Ana"), std::string("A\nB")}) {
        INFO(name);
        CHECK_FALSE(learners.refusal(name).empty());
        CHECK_THROWS_AS(learners.add(name), files::FileError);
    }
    CHECK(learners.refusal("Zo\xc3\xab").empty());
    CHECK(learners.all().size() == 2);
    CHECK_THROWS_AS(learners.work_as("99"), files::FileError);
}

TEST_CASE("a list of learners that cannot be read is left as it is, and names what is wrong", "[files][learners]") {
    const User user;
    static_cast<void>(files::user_data_folder());
    for (const std::string& text :
         {std::string("{"), std::string(R"({"schema_version":2,"now":"","learners":[{"id":"","name":"A"}]})"),
          std::string(R"({"schema_version":1,"now":"7","learners":[{"id":"","name":"A"}]})"),
          std::string(R"({"schema_version":1,"now":"","learners":[{"id":"","name":"A"},{"id":"../x","name":"B"}]})"),
          std::string(R"({"schema_version":1,"now":"","learners":[{"id":"","name":"A"},{"id":"2","name":"A"}]})"),
          std::string(R"({"schema_version":1,"now":"","learners":[]})")}) {
        INFO(text);
        std::ofstream(user.list()) << text;
        files::LearnerList learners;
        CHECK_THAT(learners.trouble(), Contains("learners.json") && Contains("left as it is"));
        CHECK(learners.all().size() == 1);
        CHECK_THROWS_AS(learners.add("Ana"), files::FileError);
        std::ifstream file(user.list());
        CHECK(std::string(std::istreambuf_iterator<char>(file), {}) == text);
    }
}
