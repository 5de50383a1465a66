#include <catch2/catch.hpp>
#include <filesystem>
#include <functional>
#include <set>

#include "engine/author/draft.hpp"
#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/rubric.hpp"

using author::Draft;
using author::Field;
using author::FieldKind;
using author::Form;
using author::Json;
using author::Part;
using author::Place;

namespace {

namespace fs = std::filesystem;

const char* const kSchemas[] = {"scenario", "patient", "rubric"};

Form form_of(const std::string& name) { return Form::load("scenarios/schema/" + name + ".schema.json"); }
Json document(const std::string& file) { return Json::parse(files::read_bytes(file, files::kDocumentBytes)); }

/// A folder of its own for each test, gone afterwards.
struct Folder {
    fs::path path =
        fs::temp_directory_path() / ("pk_author_" + std::to_string(std::rand()) + std::to_string(::getpid()));
    ~Folder() {
        std::error_code ignored;
        fs::remove_all(path, ignored);
    }
};

/// Every field below a place, holders of others included; members of lists that are not there as a fresh one has them.
void walk(const Form& form, Json& document, const Place& at, const std::function<void(const Field&)>& visit) {
    for (const Field& field : form.fields(document, at)) {
        visit(field);
        if (field.kind != FieldKind::object && field.kind != FieldKind::list) continue;
        if (!document.contains(field.place)) document[field.place] = form.fresh(document, field.place);
        Json& here = document[field.place];
        if (field.kind == FieldKind::list && here.empty()) here.push_back(form.fresh(document, field.place / "-"));
        walk(form, document, field.place, visit);
    }
}

Field one(const Form& form, const Json& document, const std::string& place) {
    return form.field(document, Place(place));
}

}  // namespace

TEST_CASE("every field that may be written is explained", "[author]") {
    int explained = 0;
    for (const char* name : kSchemas) {
        const Form form = form_of(name);
        Json all = name == std::string("scenario") ? document("scenarios/cases/whole_visit.json") : Json::object();
        walk(form, all, Place(), [&](const Field& field) {
            const bool member = field.place.back().find_first_not_of("0123456789") == std::string::npos;
            INFO(name << " " << field.place.to_string());
            if (!member) CHECK(field.about.size() > 8);
            if (!member) CHECK_FALSE(field.label.empty());
            ++explained;
        });
    }
    CHECK(explained > 150);
}

TEST_CASE("a field tells its range, and refuses what lies beyond it", "[author]") {
    const Form form = form_of("scenario");
    const Json scenario = document("scenarios/cases/single_vector.json");
    const Field gauge = one(form, scenario, "/tray/0/gauge");
    CHECK(gauge.kind == FieldKind::integer);
    CHECK(author::accepted_words(gauge) == "a whole number, 16 to 30");
    CHECK(author::text_of(gauge, scenario) == "18");
    CHECK(author::value_of(gauge, "21") == Json(21));
    for (const char* typed : {"15", "31", "", "x", "18.5", "1e1", "21 22", "nan"})
        CHECK_FALSE(author::value_of(gauge, typed));

    const Field entry = one(form, scenario, "/plan/0/entry_mm");
    CHECK(entry.kind == FieldKind::point);
    CHECK(author::text_of(entry, scenario) == "64.5, -14.1, 20.1");
    CHECK(author::value_of(entry, "1, -2.5,3") == Json({1.0, -2.5, 3.0}));
    for (const char* typed : {"1, 2", "1, 2, 3, 4", "1, 2, 401", "1,,2", "1 2 3", ""})
        CHECK_FALSE(author::value_of(entry, typed));

    const Field tip = one(form, scenario, "/tray/0/tip");
    CHECK(author::accepted_words(tip) == "one of bevel, blunt");
    CHECK_FALSE(author::value_of(tip, "sharp"));
    CHECK(author::unit_of("hand_stiffness_n_per_m") == "N/m");
    CHECK(one(form, scenario, "/plan/0/entry_tolerance_mm").label == "Entry tolerance");
    CHECK(entry.label == "Entry");

    const Field points = one(form_of("rubric"), document("scenarios/rubrics/level_1.json"), "/items/0/points");
    CHECK_FALSE(author::value_of(points, "0"));  // exclusive
    CHECK(author::value_of(points, "0.5"));
    const Field seed = one(form_of("patient"), Json::object(), "/asymmetry_seed");
    CHECK(author::value_of(seed, "18446744073709551615") == Json(18446744073709551615ULL));
    CHECK_FALSE(author::value_of(seed, "18446744073709551616"));
    CHECK_FALSE(author::value_of(seed, "-1"));
    CHECK_THROWS_AS(one(form, scenario, "/tray/0/colour"), std::out_of_range);
}

TEST_CASE("the shape of a patient follows its name: flat tissue has layers, a head has not", "[author]") {
    const Form form = form_of("scenario");
    const auto keys = [&](const char* name) {
        std::vector<std::string> out;
        for (const Field& field : form.fields(Json{{"patient", {{"name", name}}}}, Place("/patient")))
            out.push_back(field.key);
        return out;
    };
    const auto has = [](const std::vector<std::string>& all, const char* key) {
        return std::find(all.begin(), all.end(), key) != all.end();
    };
    CHECK(has(keys("slab"), "layers"));
    CHECK_FALSE(has(keys("maren"), "layers"));
}

TEST_CASE("a field accepts as typed what the readers accept, and refuses what they refuse", "[author]") {
    // the forms' ranges come from the schemas; the readers have theirs in code
    Folder folder;
    Draft draft = Draft::begin("a_case", "whole_visit", folder.path);
    REQUIRE(draft.troubles().empty());
    int tried = 0;
    for (const Part part : author::kParts) {
        const Form form = form_of(kSchemas[static_cast<std::size_t>(part)]);
        std::vector<Field> numbers;
        Json copy = draft.document(part);
        walk(form, copy, Place(), [&](const Field& field) {
            const bool number = field.kind == FieldKind::number || field.kind == FieldKind::integer;
            if (number && draft.document(part).contains(field.place)) numbers.push_back(field);
        });
        for (const Field& field : numbers) {
            for (const auto& limit : {field.low, field.high}) {
                if (!limit || (field.key == "variant_seed" || field.key == "asymmetry_seed")) continue;
                const double beyond = limit == field.low ? *limit - 1.0 : *limit + std::max(1.0, 1e-6 * *limit);
                INFO(field.place.to_string() << " " << beyond);
                CHECK_FALSE(author::value_of(field, std::to_string(beyond)));
                draft.set(part, field.place,
                          field.kind == FieldKind::integer ? Json(std::llround(beyond)) : Json(beyond));
                CHECK_FALSE(draft.troubles().empty());
                draft.undo();
                ++tried;
            }
        }
        CHECK(draft.troubles().empty());
    }
    CHECK(tried > 100);
}

TEST_CASE("a form is made of whatever JSON stands in a file", "[author]") {
    const std::vector<Json> others{Json::array(), Json::object(), 3, "x", nullptr, true, Json::array({1, "a", Json()})};
    int made = 0;
    for (const auto& [schema, file] : {std::pair{"scenario", "scenarios/cases/single_vector.json"},
                                       std::pair{"rubric", "scenarios/rubrics/one_pass.json"}}) {
        const Form form = form_of(schema);
        const Json good = document(file);
        const Json flat = good.flatten();
        std::set<std::string> places;
        for (const auto& [leaf, unused] : flat.items())
            for (Place at(leaf); !at.empty(); at = at.parent_pointer()) places.insert(at.to_string());
        for (const std::string& place : places)
            for (const Json& other : others) {
                Json bad = good;
                bad[Place(place)] = other;
                const std::function<void(const Place&)> walk_there = [&](const Place& below) {
                    for (const Field& field : form.fields(bad, below)) {
                        static_cast<void>(author::text_of(field, bad));
                        if (bad.contains(field.place) && field.kind >= FieldKind::object) walk_there(field.place);
                    }
                };
                walk_there(Place());
                ++made;
            }
    }
    CHECK(made > 1000);
}

TEST_CASE("each change is undone and done again by itself, and typing in one place is one change", "[author]") {
    Folder folder;
    Draft draft = Draft::begin("a_case", "single_vector", folder.path);
    CHECK_FALSE(draft.can_undo());
    CHECK(draft.saved());
    const Json before = draft.document(Part::scenario);
    for (const char* title : {"N", "Ne", "New"}) draft.set(Part::scenario, Place("/title"), title, true);
    CHECK_FALSE(draft.saved());
    CHECK(draft.title() == "New");
    draft.duplicate(Part::scenario, Place("/plan/0"));
    draft.set(Part::scenario, Place("/plan/1/length_mm"), 40.0);
    draft.append(Part::scenario, Place("/tray"),
                 form_of("scenario").fresh(draft.document(Part::scenario), Place("/tray/-")));
    draft.remove(Part::scenario, Place("/tray/0"));
    const Json after = draft.document(Part::scenario);
    CHECK(after["plan"].size() == 2);
    CHECK(after["plan"][1]["length_mm"] == 40.0);
    CHECK(after["plan"][1]["entry_mm"] == after["plan"][0]["entry_mm"]);
    CHECK(after["tray"].size() == 3);
    int steps = 0;
    for (; draft.can_undo(); ++steps) draft.undo();
    CHECK(steps == 5);
    CHECK(draft.document(Part::scenario) == before);
    while (draft.can_redo()) draft.redo();
    CHECK(draft.document(Part::scenario) == after);
    draft.undo();
    draft.set(Part::scenario, Place("/level"), 2);
    CHECK_FALSE(draft.can_redo());
    // a place that is not there changes nothing
    const std::size_t version = draft.version();
    draft.set(Part::scenario, Place("/nowhere/0"), 1);
    draft.remove(Part::scenario, Place("/nowhere"));
    draft.duplicate(Part::scenario, Place("/title"));
    draft.set(Part::scenario, Place("/title/0"), 1);
    draft.append(Part::scenario, Place("/title"), 1);
    CHECK(draft.version() == version);
}

TEST_CASE("what is wrong in a draft is named with its place; it is kept all the same", "[author]") {
    Folder folder;
    Draft draft = Draft::begin("a_case", "single_vector", folder.path);
    draft.set(Part::scenario, Place("/plan/0/length_mm"), 2.0);
    draft.set(Part::patient, Place("/jowl_left"), 1.5);
    draft.set(Part::rubric, Place("/items/0/measure"), "luck");
    std::vector<author::Trouble> troubles = draft.troubles();
    REQUIRE(troubles.size() == 2);  // the scenario is read once its patient can be
    CHECK(troubles[0].place == "jowl_left");
    CHECK(troubles[0].words == "1.5 is not accepted; accepted: a number from 0 to 1");
    CHECK(troubles[1].part == Part::rubric);
    draft.save();
    Draft again = Draft::open("a_case", folder.path);
    CHECK(again.document(Part::scenario) == draft.document(Part::scenario));
    again.set(Part::patient, Place("/jowl_left"), 0.5);
    troubles = again.troubles();
    REQUIRE(troubles.size() == 2);
    CHECK(troubles[1].place == "plan[0].length_mm");
    again.set(Part::scenario, Place("/patient/name"), "somebody");
    CHECK(again.troubles()[1].words.find("a_case, or slab") != std::string::npos);
}

TEST_CASE("local rules are written, read, and refused beyond their range", "[author]") {
    Folder folder;
    Draft draft = Draft::begin("a_case", "whole_visit", folder.path);
    const Place rules("/visit/local_rules");
    draft.set(Part::scenario, rules, form_of("scenario").fresh(draft.document(Part::scenario), rules));
    draft.set(Part::scenario, rules / "max_mg_per_kg", 3.0);
    draft.set(Part::scenario, rules / "contact_time_s", 180.0);
    CHECK(draft.troubles().empty());
    draft.save();
    const files::LoadedScenario loaded = files::load_scenario(draft.file(Part::scenario));
    REQUIRE(loaded.scenario.visit);
    CHECK(loaded.scenario.visit->local == sim::LocalRules{3.0, 0.0, 180.0});
    draft.set(Part::scenario, rules / "max_mg_per_kg", 9.0);
    REQUIRE(draft.troubles().size() == 1);
    CHECK(draft.troubles()[0].place == "visit.local_rules.max_mg_per_kg");
}

TEST_CASE("choices are each taken in or out by itself, and what is left out holds what the schema says", "[author]") {
    Folder folder;
    Draft draft = Draft::begin("a_case", "single_vector", folder.path);
    const Form form = form_of("scenario");
    const Place place("/aids");
    const auto aids = [&] { return form.field(draft.document(Part::scenario), place); };
    const auto chosen = [&] { return author::chosen_of(aids(), draft.document(Part::scenario)); };
    const auto press = [&](const char* option) {
        draft.set(Part::scenario, place, author::toggled(aids(), draft.document(Part::scenario), option));
    };
    CHECK(aids().kind == FieldKind::choices);
    CHECK(aids().options.size() == 6);
    CHECK(author::accepted_words(aids()) == "any of depth trace, cut-away, structures, force, advice, section");
    CHECK(chosen() == aids().options);  // left out: all
    CHECK(form.fresh(draft.document(Part::scenario), place) == Json(aids().options));

    press("cut-away");
    CHECK(chosen() == std::vector<std::string>{"depth trace", "structures", "force", "advice", "section"});
    press("depth trace");
    press("cut-away");  // back, in the order of the options
    CHECK(chosen() == std::vector<std::string>{"cut-away", "structures", "force", "advice", "section"});
    CHECK(draft.troubles().empty());
    draft.save();
    const files::LoadedScenario loaded = files::load_scenario(draft.file(Part::scenario));
    CHECK(loaded.aids.count() == 5);
    CHECK_FALSE(loaded.aids.test(files::kAidTrace));

    for (const char* one : {"cut-away", "structures", "force", "advice", "section"}) press(one);
    CHECK(draft.document(Part::scenario).at(place) == Json::array());  // none is not left out
    CHECK(draft.troubles().empty());
    // written by other hands: told with its place, and put right by the next press
    for (const Json& other : {Json("force"), Json::array({"force", "force"}), Json::array({"ghost", 3, "force"})}) {
        draft.set(Part::scenario, place, other);
        REQUIRE(draft.troubles().size() == 1);
        CHECK(draft.troubles()[0].place.substr(0, 4) == "aids");
        press("section");
        CHECK(draft.troubles().empty());
        CHECK(chosen().back() == "section");
    }
}

TEST_CASE("a draft has files of its own, which the program can play", "[author]") {
    Folder folder;
    const Draft draft = Draft::begin("a_case", "whole_visit", folder.path);
    CHECK(author::drafts_in(folder.path) == std::vector<std::string>{"a_case"});
    const files::LoadedScenario loaded = files::load_scenario(draft.file(Part::scenario));
    CHECK(loaded.scenario.id == "a_case");
    CHECK(loaded.scenario.rubric == "a_case");
    REQUIRE(loaded.patient_source);
    CHECK(loaded.patient_source->id == "a_case");
    CHECK_NOTHROW(files::load_rubric(draft.file(Part::rubric)));
    CHECK_THROWS_AS(Draft::begin("a_case", "whole_visit", folder.path), files::FileError);
    CHECK_THROWS_AS(Draft::begin("hold_the_plane", "whole_visit", folder.path), files::FileError);
    CHECK_THROWS_AS(Draft::begin("../x", "whole_visit", folder.path), files::FileError);
    CHECK_THROWS_AS(Draft::begin("b_case", "no_such_case", folder.path), files::FileError);
    // one like a draft, under another name
    const Draft copy = Draft::begin("b_case", draft.file(Part::scenario).string(), folder.path);
    CHECK(copy.document(Part::scenario)["patient"]["name"] == "b_case");
    CHECK(copy.troubles().empty());
}
