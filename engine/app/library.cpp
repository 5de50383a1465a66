#include "engine/app/library.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <stdexcept>
#include <tuple>

#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/recorder.hpp"
#include "engine/session/replay.hpp"
#include "engine/view/head_look.hpp"

namespace app {

namespace {

std::string patient_words(const files::LoadedScenario& loaded) {
    if (!loaded.head) return "flat practice tissue";
    return fmt::format("{} of {:.0f}", loaded.head->male >= 0.5 ? "man" : "woman", loaded.head->age_years);
}

bool in_use(const sim::Scenario& scenario, sim::Heading heading) {
    return scenario.headings.empty() || std::find(scenario.headings.begin(), scenario.headings.end(),
                                                  sim::key_of(heading)) != scenario.headings.end();
}

/// What the start screen says of a scenario; a file that cannot be used is listed with the reason.
Entry entry_of(const std::string& name) {
    Entry entry;
    entry.id = entry.title = name;
    entry.kind = "drill";
    try {
        const std::filesystem::path file = files::find_scenario(name);
        const files::LoadedScenario loaded = files::load_scenario(file);
        entry.title = loaded.scenario.title;
        entry.goal = loaded.scenario.goal;
        entry.kind = loaded.scenario.kind;
        entry.level = loaded.scenario.level;
        entry.order = loaded.order;
        entry.patient = patient_words(loaded);
        entry.lesson = !loaded.lesson.empty();
        entry.aids = loaded.aids;
        entry.variant_seed = loaded.scenario.patient.variant_seed;
        for (const sim::RubricItem& item :
             files::load_rubric(files::find_rubric_for(file, loaded.scenario.rubric)).rubric.items)
            if (in_use(loaded.scenario, item.heading))
                entry.heading_points[static_cast<std::size_t>(item.heading)] += item.points;
    } catch (const std::exception& error) {
        entry.trouble = error.what();
    }
    return entry;
}

/// Where attempts of this user go, one file each, named by scenario and time.
std::filesystem::path new_attempt_file(const std::string& scenario) {
    const std::filesystem::path folder = files::user_data_folder() / "attempts";
    std::filesystem::create_directories(folder);
    const std::time_t now = std::time(nullptr);
    std::tm utc{};
    gmtime_r(&now, &utc);
    char stamp[32];
    std::strftime(stamp, sizeof stamp, "%Y%m%d-%H%M%S", &utc);
    std::filesystem::path file = folder / (scenario + "-" + stamp + ".attempt");
    for (int k = 2; std::filesystem::exists(file); ++k)
        file = folder / (scenario + "-" + stamp + "-" + std::to_string(k) + ".attempt");
    return file;
}

void keep_by(files::AttemptWriter writer, const std::filesystem::path& file, Prepared& out) {
    const auto recorder = std::make_shared<session::AttemptRecorder>(std::move(writer));
    out.recorder = recorder;
    out.close_attempt = [recorder](bool finished) { return recorder->close(finished) ? "" : recorder->trouble(); };
    out.park_attempt = [recorder] { return recorder->park() ? "" : recorder->trouble(); };
    out.record_trouble = [recorder] { return recorder->trouble(); };
    out.attempt_file = file;
}

/// Graded work that cannot be kept is not begun.
void begin_slot(const session::Prepared& ready, const graded::Slot& slot, const std::filesystem::path& file,
                Prepared& out) {
    files::AttemptHeader header = session::header_of(ready, sim::PracticeMode::graded);
    header.attempt_id = slot.id;
    keep_by(files::AttemptWriter(file, std::move(header), files::load_or_create_keys(), {files::ledger_path()}), file,
            out);
}

/// An attempt that cannot be kept is still practised; the screen says that it is not kept.
void begin_attempt(const session::Prepared& ready, sim::PracticeMode mode, Prepared& out) {
    try {
        const std::filesystem::path file = new_attempt_file(ready.loaded.scenario.id);
        keep_by(files::AttemptWriter(file, session::header_of(ready, mode), files::load_or_create_keys(),
                                     {files::ledger_path()}),
                file, out);
    } catch (const std::exception& error) {
        out.not_kept = error.what();
    }
}

}  // namespace

Library::Library() {
    for (const std::string& name : files::scenario_names()) entries_.push_back(entry_of(name));
    // lessons first, then by level, then as they are to be learnt
    std::stable_sort(entries_.begin(), entries_.end(), [](const Entry& a, const Entry& b) {
        return std::tuple(!a.lesson, a.level, a.order) < std::tuple(!b.lesson, b.level, b.order);
    });
}

namespace {

// the tissue takes most of the time for a new patient, the skin's mesh the rest
constexpr double kTissueShare = 0.6;

/// Skin and tissue of the patient of a scenario that was read, and what lies ready there.
void give_patient(const files::LoadedScenario& loaded, const Job<Prepared>::Progress& progress, Prepared& out) {
    out.ultrasound = loaded.ultrasound;
    out.aids = loaded.aids;
    if (loaded.patient_source) {
        out.patient_hash = loaded.patient_source->hash;
        out.tissue = session::tissue_builder(out.model, out.patient_hash);
    }
    if (loaded.head)
        out.look = view::build_head_look(*loaded.head, session::two_threads(), [&](double fraction) {
            progress(kTissueShare + (1.0 - kTissueShare) * fraction, "shaping the skin");
        });
}

}  // namespace

Prepared Library::prepare(const std::string& id, bool keep_attempt, sim::PracticeMode mode,
                          const session::VariantAsked& variant, const Job<Prepared>::Progress& progress) const {
    const session::Prepared ready = session::prepare_variant(
        id, variant, [&](double fraction, std::string_view what) { progress(kTissueShare * fraction, what); });
    Prepared out;
    out.model = ready.model;
    out.rubric = ready.rubric.rubric;
    out.lesson = ready.loaded.lesson;
    give_patient(ready.loaded, progress, out);
    if (keep_attempt) begin_attempt(ready, mode, out);
    return out;
}

Prepared Library::prepare_slot(const graded::Station& station, const graded::Slot& slot,
                               const Job<Prepared>::Progress& progress) const {
    const graded::Form& form = station.session().form_of(slot);
    const session::Prepared ready = session::prepare_documents(
        form.scenario, form.patient, form.rubric, slot.variant_seed,
        [&](double fraction, std::string_view what) { progress(kTissueShare * fraction, what); });
    Prepared out;
    out.model = ready.model;
    out.rubric = ready.rubric.rubric;
    give_patient(ready.loaded, progress, out);
    begin_slot(ready, slot, station.attempt_file(slot), out);
    return out;
}

Prepared Library::take_up(const std::filesystem::path& file, const Job<Prepared>::Progress& progress) const {
    Prepared out;
    out.before = session::open_attempt(file, files::ledger_path());
    out.model = session::model_of(
        *out.before, [&](double fraction, std::string_view what) { progress(kTissueShare * fraction, what); });
    out.rubric = files::parse_rubric(out.before->header.rubric, file.string()).rubric;
    out.lesson = out.before->scenario.lesson;
    give_patient(out.before->scenario, progress, out);
    out.attempt_file = file;
    out.open_record = [file](Prepared& to) {
        keep_by(files::AttemptWriter::resume(file, files::load_or_create_keys(), {files::ledger_path()}), file, to);
    };
    return out;
}

}  // namespace app
