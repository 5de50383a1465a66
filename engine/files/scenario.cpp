#include "engine/files/scenario.hpp"

#include <algorithm>
#include <array>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/json_reader.hpp"
#include "engine/files/scenario_visit.hpp"
#include "sim/core/errors.hpp"
#include "sim/model.hpp"

namespace files {

namespace {

using sim::kMm;

constexpr Range kPlaceMm{-400.0, 400.0};  // a head and its neck fit within 400 mm of the origin
constexpr Range kSizeMm{0.0, 400.0};
constexpr Range kThicknessMm{0.01, 99.0};
constexpr Range kForceN{0.0, 1000.0};
constexpr std::size_t kMostParts = 256;   // structures or ligaments of a slab
constexpr std::size_t kMostNodes = 4096;  // of one structure's line
constexpr std::size_t kStepBytes = 240;   // of a lesson step's sentence: two lines on the screen

constexpr std::array<std::string_view, 2> kKinds{"drill", "case"};
constexpr std::array<std::string_view, 3> kSides{"left", "right", "midline"};
constexpr std::array<std::string_view, 3> kFloors{"bone", "lining", "fascia"};
constexpr std::array<std::string_view, 5> kStructureKinds{"artery", "vein", "nerve", "duct", "gland"};
constexpr std::array<std::string_view, 2> kTips{"bevel", "blunt"};
constexpr std::array<std::string_view, sim::kTissueLayers> kLayers{"skin_mm", "superficial_fat_mm", "smas_mm",
                                                                   "deep_fat_mm", "muscle_mm"};

/// A length in millimetres, in metres; `otherwise` is in metres.
double length_or(JsonObject& object, std::string_view key, Range accepted_mm, double otherwise_m) {
    const auto value = object.find(key);
    return value ? value->number(accepted_mm) * kMm : otherwise_m;
}

double length(JsonObject& object, std::string_view key, Range accepted_mm) {
    return object.number(key, accepted_mm) * kMm;
}

sim::Side side(JsonObject& object, sim::Side otherwise) {
    const auto value = object.find("side");
    return value ? static_cast<sim::Side>(value->one_of(kSides)) : otherwise;
}

std::vector<sim::Vec3> points(const JsonValue& list, std::size_t least) {
    std::vector<sim::Vec3> read;
    for (const JsonValue& point : list.array(least, kMostNodes)) read.push_back(point.point_mm(kPlaceMm));
    return read;
}

/// Either `line`, a chain of nodes, or `cylinder`, its two ends and one radius.
std::vector<sim::StructureNode> read_line(JsonObject& object) {
    const auto cylinder = object.find("cylinder");
    const auto line = object.find("line");
    if (cylinder && line) line->refuse("either \"line\" or \"cylinder\", not both");
    if (!cylinder && !line)
        throw FileError(object.value().file(), object.place(), "a structure without a course",
                        "\"line\", a list of nodes, or \"cylinder\"");
    std::vector<sim::StructureNode> nodes;
    if (cylinder) {
        JsonObject ends = cylinder->object();
        const double radius_m = length(ends, "radius_mm", {0.01, 50.0});
        nodes = {{ends.at("from_mm").point_mm(kPlaceMm), radius_m}, {ends.at("to_mm").point_mm(kPlaceMm), radius_m}};
        ends.refuse_unknown();
        return nodes;
    }
    for (const JsonValue& value : line->array(2, kMostNodes)) {
        JsonObject node = value.object();
        nodes.push_back({node.at("at_mm").point_mm(kPlaceMm), length(node, "radius_mm", {0.01, 50.0})});
        node.refuse_unknown();
    }
    return nodes;
}

sim::Structure read_structure(const JsonValue& value) {
    JsonObject object = value.object();
    sim::Structure structure;
    structure.name = object.text("name");
    structure.kind = static_cast<sim::StructureKind>(object.at("kind").one_of(kStructureKinds));
    structure.side = side(object, structure.side);
    structure.variant = object.text_or("variant", "");
    structure.line = read_line(object);
    structure.margin_m = length_or(object, "margin_mm", kSizeMm, structure.margin_m);
    structure.wall_force_n = object.number_or("wall_force_n", kForceN, structure.wall_force_n);
    structure.source = object.text_or("source", "");
    if (const auto stations = object.find("stations"))
        for (const JsonValue& item : stations->array(0, kMostNodes)) {
            JsonObject station = item.object();
            structure.stations.push_back({station.text("name"), station.at("at_mm").point_mm(kPlaceMm),
                                          length(station, "depth_mm", kPlaceMm), length(station, "radius_mm", kSizeMm),
                                          station.boolean_or("placed", true)});
            station.refuse_unknown();
        }
    object.refuse_unknown();
    return structure;
}

sim::Ligament read_ligament(const JsonValue& value) {
    JsonObject object = value.object();
    sim::Ligament ligament;
    ligament.name = object.text("name");
    ligament.side = side(object, ligament.side);
    ligament.deep_m = points(object.at("deep_mm"), 2);
    ligament.superficial_m = points(object.at("superficial_mm"), 2);
    if (ligament.deep_m.size() != ligament.superficial_m.size())
        object.at("superficial_mm").refuse("as many points as deep_mm has");
    ligament.half_thickness_m = length(object, "half_thickness_mm", {0.0, 50.0});
    ligament.strength_n = object.number("strength_n", kForceN);
    ligament.stretch_m = length(object, "stretch_mm", {0.0, 100.0});
    ligament.source = object.text_or("source", "");
    object.refuse_unknown();
    return ligament;
}

void read_slab(JsonObject& object, sim::SlabParameters& slab) {
    if (const auto layers = object.find("layers")) {
        JsonObject thickness = layers->object();
        for (std::size_t i = 0; i < kLayers.size(); ++i)
            slab.thickness_m[i] = length_or(thickness, kLayers[i], kThicknessMm, slab.thickness_m[i]);
        thickness.refuse_unknown();
    }
    if (const auto floor = object.find("floor")) slab.floor = static_cast<sim::FloorKind>(floor->one_of(kFloors));
    if (const auto structures = object.find("structures"))
        for (const JsonValue& value : structures->array(0, kMostParts))
            slab.structures.push_back(read_structure(value));
    if (const auto ligaments = object.find("ligaments"))
        for (const JsonValue& value : ligaments->array(0, kMostParts)) slab.ligaments.push_back(read_ligament(value));
}

/// A name that becomes part of a path: nothing that could leave its folder.
std::string file_name(const JsonValue& value) {
    const std::string name = value.text(64);
    const auto accepted = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '-' || c == '.';
    };
    if (name.empty() || name.front() == '.' || !std::all_of(name.begin(), name.end(), accepted))
        value.refuse("a file name of a-z, 0-9, _, - and . that does not begin with .");
    return name;
}

sim::PatientSpec read_patient(const JsonValue& value) {
    JsonObject object = value.object();
    sim::PatientSpec patient;
    patient.name = file_name(object.at("name"));
    patient.slab = patient.name == "slab";
    if (const auto seed = object.find("variant_seed")) patient.variant_seed = seed->unsigned_integer();
    if (patient.slab) read_slab(object, patient.slab_parameters);
    object.refuse_unknown();
    return patient;
}

sim::ThreadSpec read_thread(const JsonValue& value) {
    JsonObject object = value.object();
    sim::ThreadSpec thread;
    thread.usp_size = object.text_or("usp_size", thread.usp_size);
    thread.length_m = length_or(object, "length_mm", {1.0, 1000.0}, thread.length_m);
    thread.barb_free_m = length_or(object, "barb_free_mm", {0.0, 50.0}, thread.barb_free_m);
    thread.barbed_length_m = length_or(object, "barbed_length_mm", {1.0, 200.0}, thread.barbed_length_m);
    thread.barb_pitch_m = length_or(object, "barb_pitch_mm", {0.2, 20.0}, thread.barb_pitch_m);
    thread.lot = object.text_or("lot", thread.lot);
    thread.use_by_months = static_cast<int>(object.integer_or("use_by_months", -600, 600, thread.use_by_months));
    object.refuse_unknown();
    return thread;
}

sim::InstrumentSpec read_instrument(const JsonValue& value) {
    JsonObject object = value.object();
    sim::InstrumentSpec instrument;
    instrument.name = object.text("name");
    instrument.tip = static_cast<sim::TipShape>(object.at("tip").one_of(kTips));
    instrument.gauge = static_cast<int>(object.at("gauge").integer(16, 30));
    instrument.length_m = length(object, "length_mm", {10.0, 150.0});
    if (const auto thread = object.find("thread")) {
        instrument.loaded = true;
        instrument.thread = read_thread(*thread);
    }
    object.refuse_unknown();
    return instrument;
}

sim::PlannedVector read_vector(const JsonValue& value) {
    JsonObject object = value.object();
    sim::PlannedVector vector;
    vector.entry_m = object.at("entry_mm").point_mm(kPlaceMm);
    vector.end_m = object.at("end_mm").point_mm(kPlaceMm);
    vector.side = side(object, vector.side);
    vector.length_m = length_or(object, "length_mm", {5.0, 150.0}, vector.length_m);
    vector.entry_tolerance_m = length_or(object, "entry_tolerance_mm", {0.1, 50.0}, vector.entry_tolerance_m);
    vector.neck = object.boolean_or("neck", false);
    vector.take_out = object.boolean_or("take_out", false);
    vector.reinforces = object.boolean_or("reinforces", false);
    if (const auto lift = object.find("lift"))
        for (const JsonValue& item : lift->array(1, sim::kConcernNames.size())) {
            JsonObject target = item.object();
            vector.lift.push_back({std::string(sim::kConcernNames[target.at("concern").one_of(sim::kConcernNames)]),
                                   length(target, "target_mm", {0.1, 20.0})});
            target.refuse_unknown();
        }
    object.refuse_unknown();
    return vector;
}

sim::MechanicsSpec read_mechanics(const JsonValue& value) {
    JsonObject object = value.object();
    sim::MechanicsSpec mechanics;
    mechanics.bending = object.boolean_or("bending", mechanics.bending);
    mechanics.tissue_response = object.boolean_or("tissue_response", mechanics.tissue_response);
    mechanics.hand_stiffness_n_per_m =
        object.number_or("hand_stiffness_n_per_m", {10.0, 1e9}, mechanics.hand_stiffness_n_per_m);
    object.refuse_unknown();
    return mechanics;
}

/// Names of the simulation's events, as the trace and the record write them.
std::vector<std::string_view> event_names() {
    std::vector<std::string_view> names;
    for (int i = 0; i < sim::kEventKinds; ++i) names.push_back(sim::name_of(static_cast<sim::EventKind>(i)));
    return names;
}

AllowedAids read_aids(JsonObject& object) {
    const auto list = object.find("aids");
    if (!list) return kAllAids;
    AllowedAids allowed;
    for (const JsonValue& value : list->array(0, kAidNames.size())) {
        const std::size_t aid = value.one_of(kAidNames);
        if (allowed.test(aid)) value.refuse("an aid that is not named before");
        allowed.set(aid);
    }
    return allowed;
}

/// A step that waits for an aid which nobody can ask for would never be done.
bool can_be_used(int aid, const AllowedAids& allowed) {
    if (aid < 0) return allowed.any();
    return static_cast<std::size_t>(aid) >= allowed.size() || allowed.test(static_cast<std::size_t>(aid));
}

LessonStep read_lesson_step(const JsonValue& value, const AllowedAids& aids) {
    JsonObject object = value.object();
    LessonStep step;
    step.say = object.at("say").text(kStepBytes);
    if (const auto why = object.find("why")) step.why = why->text(kStepBytes);
    const JsonValue sign = object.at("until");
    JsonObject until = sign.object();
    if (const auto event = until.find("event")) {
        step.event = static_cast<sim::EventKind>(event->one_of(event_names()));
        step.subject = static_cast<int>(until.integer_or("subject", 0, 4096, -1));
        if (step.event == sim::EventKind::aid_used && !can_be_used(step.subject, aids))
            (step.subject < 0 ? *event : until.at("subject")).refuse("an aid that the scenario allows");
    }
    if (const auto inserted = until.find("inserted_mm")) step.inserted_m = inserted->number({0.1, 150.0}) * kMm;
    const auto slope_rad = [&until](std::string_view key) -> std::optional<double> {
        const auto slope = until.find(key);
        if (!slope) return std::nullopt;
        return slope->number({-90.0, 90.0}) * sim::kPi / 180.0;
    };
    step.slope_at_most_rad = slope_rad("slope_at_most_deg");
    step.slope_at_least_rad = slope_rad("slope_at_least_deg");
    until.refuse_unknown();
    const int signs = (step.event ? 1 : 0) + (step.inserted_m ? 1 : 0) + (step.slope_at_most_rad ? 1 : 0) +
                      (step.slope_at_least_rad ? 1 : 0);
    if (signs != 1)
        sign.refuse("exactly one of \"event\", \"inserted_mm\", \"slope_at_most_deg\" and \"slope_at_least_deg\"");
    object.refuse_unknown();
    return step;
}

std::vector<LessonStep> read_lesson(JsonObject& object, const AllowedAids& aids) {
    std::vector<LessonStep> steps;
    if (const auto lesson = object.find("lesson"))
        for (const JsonValue& value : lesson->array(1, 64)) steps.push_back(read_lesson_step(value, aids));
    return steps;
}

sim::Scenario read_scenario(JsonObject& object) {
    sim::Scenario scenario;
    scenario.title = object.text("title");
    scenario.goal = object.text("goal");
    scenario.kind = kKinds[object.at("kind").one_of(kKinds)];
    scenario.level = static_cast<int>(object.integer_or("level", 1, 2, scenario.level));
    scenario.patient = read_patient(object.at("patient"));
    for (const JsonValue& value : object.at("tray").array(1, 16)) scenario.tray.push_back(read_instrument(value));
    for (const JsonValue& value : object.at("plan").array(1, 32)) scenario.plan.push_back(read_vector(value));
    if (const auto mechanics = object.find("mechanics")) scenario.mechanics = read_mechanics(*mechanics);
    if (const auto visit = object.find("visit")) scenario.visit = read_visit(*visit);
    scenario.rubric = file_name(object.at("rubric"));
    if (const auto headings = object.find("headings"))
        for (const JsonValue& value : headings->array(0, 32)) scenario.headings.push_back(value.text(64));
    return scenario;
}

}  // namespace

SourceText source_text(std::string id, std::string text) {
    std::string hash = hex(sha256(text));
    return {std::move(id), std::move(text), std::move(hash)};
}

SourceText load_source(const std::filesystem::path& path) {
    return source_text(path.stem().string(), read_bytes(path, kDocumentBytes));
}

std::string patient_named_in(const SourceText& scenario, const std::string& file) {
    const JsonDocument document = JsonDocument::parse(file, scenario.text);
    JsonObject object = document.root_object(kScenarioSchema);
    JsonObject patient = object.at("patient").object();
    return file_name(patient.at("name"));
}

sim::HeadParameters parse_patient(const SourceText& patient, const std::string& file) {
    const JsonDocument document = JsonDocument::parse(file, patient.text);
    JsonObject object = document.root_object(kPatientSchema);
    sim::HeadParameters head;
    static_cast<void>(object.text_or("about", ""));
    for (const sim::HeadParameterField& field : sim::head_parameter_fields())
        head.*field.member = object.number_or(field.name, {field.low, field.high}, head.*field.member);
    if (const auto seed = object.find("asymmetry_seed")) head.asymmetry_seed = seed->unsigned_integer();
    object.refuse_unknown();
    return head;
}

LoadedScenario parse_scenario(SourceText scenario, const std::optional<SourceText>& patient, const std::string& file) {
    const JsonDocument document = JsonDocument::parse(file, scenario.text);
    JsonObject object = document.root_object(kScenarioSchema);
    LoadedScenario loaded;
    loaded.scenario = read_scenario(object);
    loaded.order = static_cast<int>(object.integer_or("order", 0, 999, loaded.order));
    loaded.aids = read_aids(object);
    loaded.lesson = read_lesson(object, loaded.aids);
    loaded.ultrasound = object.boolean_or("ultrasound", false);
    object.refuse_unknown();
    loaded.scenario.id = scenario.id;
    loaded.content_hash = scenario.hash;
    if (!loaded.scenario.patient.slab) {
        const std::string& name = loaded.scenario.patient.name;
        if (!patient || patient->id != name)
            throw FileError(file, "patient.name", name, "a patient whose parameters were given");
        loaded.head = parse_patient(*patient, name + ".json");
        loaded.patient_source = patient;
        loaded.content_hash = hex(sha256(scenario.hash + patient->hash));
    }
    try {
        sim::validate(loaded.scenario);
    } catch (const sim::InputError& error) {
        throw FileError(file, error.place(), error.value(), error.accepted());
    }
    loaded.source = std::move(scenario);
    return loaded;
}

LoadedScenario load_scenario(const std::filesystem::path& path) {
    SourceText scenario = load_source(path);
    const std::string patient = patient_named_in(scenario, path.string());
    if (patient == "slab") return parse_scenario(std::move(scenario), std::nullopt, path.string());
    const auto folder = std::filesystem::absolute(path).parent_path().parent_path() / "patients";
    return parse_scenario(std::move(scenario), load_source(folder / (patient + ".json")), path.string());
}

}  // namespace files
