#include "engine/app/cohort_desk.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <thread>

#include "tests/engine/files/files_support.hpp"
#include "tests/engine/records/records_support.hpp"

/// A school's records as the window asks for them: on a thread, by the store's own rules.

using app::CohortDesk;
using Catch::Matchers::Contains;
using records_test::AttemptMaker;
using Stage = app::CohortDesk::Stage;

namespace fs = std::filesystem;

namespace {

constexpr const char* kSecret = "a phrase of some length";

struct Desk {
    explicit Desk(const std::string& place)
        : journal(""),
          desk(
              place, [](const std::string& id) { return "Title of " + id; }, journal) {
        wait();
    }
    void wait() {
        while (desk.busy()) {
            static_cast<void>(desk.advance());
            std::this_thread::sleep_for(std::chrono::milliseconds(1));
        }
    }
    void log_in(const std::string& login, const std::string& passphrase) {
        desk.login = login;
        desk.passphrase = passphrase;
        desk.log_in();
        wait();
    }
    app::Journal journal;
    CohortDesk desk;
};

void write(const fs::path& path, const std::string& bytes) {
    fs::create_directories(path.parent_path());
    std::ofstream(path, std::ios::binary) << bytes;
}

}  // namespace

TEST_CASE("records are begun, and what was made at this machine is put in once", "[app][cohort]") {
    const support::Scratch scratch;
    const files_test::Environment home("XDG_DATA_HOME", scratch.folder().string());
    const fs::path mine = scratch.folder() / "planekeeper/attempts";
    Desk one(scratch.path("school/records.db"));
    CohortDesk& desk = one.desk;
    CHECK(desk.stage() == Stage::absent);
    desk.begin_store();
    one.wait();
    REQUIRE(desk.stage() == Stage::open);
    CHECK(desk.cohort().people.empty());

    const std::string bytes = AttemptMaker{}.bytes();
    write(mine / "1.attempt", bytes);
    write(mine / "2.attempt", AttemptMaker{.seed = 4}.bytes());
    std::string edited = AttemptMaker{.seed = 5}.bytes();
    edited[edited.size() / 2] ^= 1;
    write(mine / "3.attempt", edited);
    // what a graded session made is not told before it is collected
    write(scratch.folder() / "planekeeper/stations/s/attempts/4.attempt", AttemptMaker{.seed = 6}.bytes());
    desk.put_in();
    one.wait();
    CHECK(desk.trouble().empty());
    CHECK_THAT(desk.done(), Contains("2 put in, 0 were there already"));
    CHECK_THAT(desk.done(), Contains("1 refused") && Contains("3.attempt"));
    REQUIRE(desk.cohort().people.size() == 1);
    CHECK(desk.cohort().people[0].name == "Learner 1");
    CHECK(desk.cohort().people[0].cells[0].attempts == 2);
    CHECK(desk.cohort().scenarios[0].title == "Title of flat_pass");
    desk.put_in();
    one.wait();
    CHECK_THAT(desk.done(), Contains("0 put in, 2 were there already"));
    CHECK(desk.cohort().people[0].cells[0].attempts == 2);

    desk.select(0, 0);
    one.wait();
    REQUIRE(desk.selection());
    CHECK(desk.selection()->attempts.size() == 2);

    desk.save_paper();
    CHECK(desk.trouble().empty());
    bool found = false;
    for (const auto& entry : fs::directory_iterator(scratch.folder() / "planekeeper/debriefs"))
        found = found || entry.path().extension() == ".pdf";
    CHECK(found);
}

TEST_CASE("records begin under a plain name, and a learner entered beforehand is known by it", "[app][cohort]") {
    const support::Scratch scratch;
    const files_test::Environment home("XDG_DATA_HOME", scratch.folder().string());
    const fs::path before = fs::current_path();
    fs::current_path(scratch.folder());
    {
        Desk one("plain.db");
        REQUIRE(one.desk.stage() == Stage::absent);
        one.desk.begin_store();
        one.wait();
        CHECK(one.desk.trouble().empty());
        REQUIRE(one.desk.stage() == Stage::open);
        records::Store(records::Store::open("plain.db")).add_learner(records::desk_actor(), "Learner 1");
        write(scratch.folder() / "planekeeper/attempts/1.attempt", AttemptMaker{}.bytes());
        one.desk.put_in();
        one.wait();
        CHECK(one.desk.cohort().people.size() == 1);
    }
    fs::current_path(before);
}

TEST_CASE("records with accounts ask who one is, and show what the role may see", "[app][cohort]") {
    const support::Scratch scratch;
    const std::string place = scratch.path("records.db");
    {
        records::Store store = records::Store::create(place);
        const records::Actor lead = records::desk_actor();
        const std::string ada = store.add_learner(lead, "Ada"), bob = store.add_learner(lead, "Bob");
        store.put_attempt(lead, AttemptMaker{.who = 1}.bytes(), "ada", ada);
        store.put_attempt(lead, AttemptMaker{.who = 2}.bytes(), "bob", bob);
        store.add_account(lead, "ada", records::Role::learner, ada, kSecret);
        store.add_account(lead, "carla", records::Role::instructor, "", kSecret);
        store.add_pass_mark(lead, {.scenario = "flat_pass", .mark = 0.8, .reason = "a panel"});
    }
    Desk one(place);
    CohortDesk& desk = one.desk;
    REQUIRE(desk.stage() == Stage::log_in);

    one.log_in("carla", "a phrase of another length");
    CHECK(desk.stage() == Stage::log_in);
    CHECK(!desk.trouble().empty());
    CHECK(desk.passphrase.empty());
    CHECK(desk.cohort().people.empty());

    one.log_in("carla", kSecret);
    REQUIRE(desk.stage() == Stage::open);
    CHECK(desk.cohort().people.size() == 2);
    desk.select(1, 0);
    one.wait();
    CHECK(desk.selection()->attempts.size() == 1);
    CHECK(desk.selection()->mark == Approx(0.8));

    Desk other(place);
    other.log_in("ada", kSecret);
    REQUIRE(other.desk.stage() == Stage::open);
    CHECK(other.desk.own_lines_only());
    REQUIRE(other.desk.cohort().people.size() == 1);
    CHECK(other.desk.cohort().people[0].name == "Ada");
    CHECK(other.desk.sessions().empty());
}

TEST_CASE("a place that holds something else is named, and left as it is", "[app][cohort]") {
    const support::Scratch scratch;
    const std::string place = scratch.path("notes.txt");
    write(place, "no database");
    const Desk one(place);
    CHECK(one.desk.stage() == Stage::opening);
    CHECK_THAT(one.desk.trouble(), Contains("notes.txt"));
    CHECK(records_test::bytes_of_file(place) == "no database");

    // a server that is not there, whose pass word is not told
    Desk far("postgresql://school:secret@/none?host=/nowhere/at/all");
    CHECK(far.desk.stage() == Stage::opening);
    CHECK(!far.desk.trouble().empty());
    CHECK_THAT(far.desk.trouble(), !Contains("secret"));
    CHECK_THAT(far.desk.place(), !Contains("secret"));
    far.desk.open();
    far.wait();
    CHECK(!far.desk.trouble().empty());
    CHECK(!Desk("mysql://elsewhere").desk.trouble().empty());
}
