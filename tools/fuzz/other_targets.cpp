#include <filesystem>

#include "engine/files/attempt_tail.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/csv.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/obj_model.hpp"
#include "engine/files/statistics_tables.hpp"
#include "tools/fuzz/mutate.hpp"

namespace fuzz {

namespace {

namespace fs = std::filesystem;

/// A table may suit any of the readers of tables, or none.
void read_table(const std::string& bytes) {
    const files::CsvTable table = files::parse_csv(bytes, "x.csv");
    const auto attempt = [&table](const auto& reader) {
        try {
            static_cast<void>(reader(table));
        } catch (const files::FileError&) {
            // another kind of table
        }
    };
    attempt([](const files::CsvTable& t) { return files::read_named_numbers(t, -1e6, 1e6); });
    attempt([](const files::CsvTable& t) { return files::read_mark_cube(t, true); });
    attempt([](const files::CsvTable& t) { return files::read_mark_cube(t, false); });
    attempt([](const files::CsvTable& t) { return files::read_grade_pairs(t, 5); });
    attempt([](const files::CsvTable& t) { return files::read_groups(t, "keys"); });
    attempt([](const files::CsvTable& t) { return files::read_hofstee_judges(t); });
    attempt([](const files::CsvTable& t) { return files::read_numbers(t, "score", -1e6, 1e6); });
    attempt([](const files::CsvTable& t) { return files::read_passes(t); });
    attempt([](const files::CsvTable& t) { return files::read_series(t, "score", -1e6, 1e6); });
}

Target tables() {
    return {"table",
            {"attempt,R1,R2\nA1,3,4\nA2,\"5\",4\nA3,1,2\n",
             "person,rater,occasion,score\nP1,R1,1,4\nP1,R2,1,3\nP2,R1,1,2\n",
             "learner,number,passed,score\nL1,1,0,40.5\nL1,2,1,71\nL2,1,1,80\n",
             "group,score,rating\nkeys,70,3\ncontroller,65,4\n",
             "judge,least_pass,most_pass,least_fail,most_fail\nJ1,60,75,0,20\nJ2,55,70,5,30\n"},
            read_table};
}

Target models(const fs::path& assets) {
    Target out{"model", {}, [](const std::string& bytes) { static_cast<void>(files::parse_obj("x.obj", bytes)); }};
    for (const auto& entry : fs::directory_iterator(assets / "instruments"))
        if (entry.path().extension() == ".obj")
            out.seeds.push_back(files::read_bytes(entry.path(), files::kDocumentBytes));
    return out;
}

/// An attempt that is followed while it grows: half of it first, then all.
Target tail(const std::vector<std::string>& attempts) {
    Target out{"tail", attempts, {}};
    out.none_refused = true;
    out.read = [path =
                    fs::temp_directory_path() / ("planekeeper_tail_" + files::random_id())](const std::string& bytes) {
        files::write_atomically(path, bytes.substr(0, bytes.size() / 2));
        files::AttemptTail follower(path);
        follower.read_all();
        files::write_atomically(path, bytes);
        follower.read_all();
        std::error_code ignored;
        fs::remove(path, ignored);
    };
    return out;
}

}  // namespace

std::vector<Target> other_targets(const std::string& scenarios, const std::vector<std::string>& attempts) {
    return {tables(), models(fs::path(scenarios).parent_path() / "assets"), tail(attempts)};
}

}  // namespace fuzz
