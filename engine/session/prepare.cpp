#include "engine/session/prepare.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>

#include "engine/files/cache.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/session/session.hpp"
#include "sim/anatomy/head.hpp"
#include "sim/anatomy/slab.hpp"
#include "sim/anatomy/structures.hpp"
#include "sim/barbed_thread/concerns.hpp"
#include "sim/core/errors.hpp"
#include "sim/tissue/factor.hpp"

namespace session {

sim::ParallelFor two_threads() {
    return [](int count, const std::function<void(int)>& body) {
        std::atomic<int> next{0};
        std::exception_ptr failure;
        std::mutex failure_guard;
        const auto work = [&] {
            for (int i = next++; i < count; i = next++) {
                try {
                    body(i);
                } catch (...) {
                    const std::lock_guard lock(failure_guard);
                    if (!failure) failure = std::current_exception();
                    next = count;
                }
            }
        };
        std::thread helper(work);
        work();
        helper.join();
        if (failure) std::rethrow_exception(failure);
    };
}

namespace {

/// The tissue of a head: from the cache, else built and kept there.
std::shared_ptr<const sim::HeadTissue> tissue_of(const files::LoadedScenario& loaded, bool use_cache,
                                                 const sim::Progress& progress, bool* from_cache, std::string* note) {
    // content and build: another program may cut the layers differently
    const std::string key = "head " + build_id() + " " + (loaded.patient_source ? loaded.patient_source->hash : "");
    if (use_cache)
        if (const auto bytes = files::cached(key, note)) {
            try {
                auto tissue =
                    sim::load_head_tissue(std::as_bytes(std::span(bytes->data(), bytes->size())), *loaded.head);
                if (from_cache != nullptr) *from_cache = true;
                return tissue;
            } catch (const sim::InputError& error) {
                if (note != nullptr) *note = std::string("cached patient not used: ") + error.what();
            }
        }
    auto tissue = sim::build_head_tissue(*loaded.head, two_threads(), progress);
    if (use_cache) {
        const std::vector<std::byte> bytes = sim::save(*tissue);
        files::keep_in_cache(key, {reinterpret_cast<const char*>(bytes.data()), bytes.size()}, note);
    }
    return tissue;
}

}  // namespace

namespace {

/// @param tissue null for flat tissue
std::shared_ptr<const sim::Model> model_on(const sim::Scenario& scenario,
                                           const std::shared_ptr<const sim::HeadTissue>& tissue,
                                           const sim::Progress& progress) {
    auto model = std::make_shared<sim::Model>();
    model->scenario = scenario;
    if (tissue) {
        sim::Placement placed = sim::place_structures(*tissue, scenario.patient.variant_seed);
        model->anatomy = std::make_shared<sim::Head>(tissue, std::move(placed.structures), std::move(placed.ligaments),
                                                     std::move(placed.landmarks));
    } else {
        model->anatomy = std::make_shared<sim::Slab>(scenario.patient.slab_parameters);
    }
    model->concerns = sim::concerns_of(*model->anatomy);
    if (progress) progress(1.0, tissue ? "patient ready" : "flat patient ready");
    return model;
}

}  // namespace

std::shared_ptr<const sim::Model> build_model(const files::LoadedScenario& loaded, bool use_cache,
                                              const sim::Progress& progress, bool* from_cache,
                                              std::string* cache_note) {
    if (from_cache != nullptr) *from_cache = false;
    if (cache_note != nullptr) cache_note->clear();
    const auto tissue = loaded.head ? tissue_of(loaded, use_cache, progress, from_cache, cache_note) : nullptr;
    return model_on(loaded.scenario, tissue, progress);
}

Prepared prepare(const std::string& name, std::optional<std::uint64_t> variant, const sim::Progress& progress,
                 bool use_cache) {
    Prepared out;
    const std::filesystem::path file = files::find_scenario(name);
    out.loaded = files::load_scenario(file);
    if (variant) out.loaded.scenario.patient.variant_seed = *variant;
    out.rubric = files::load_rubric(files::find_rubric_for(file, out.loaded.scenario.rubric));
    out.model = build_model(out.loaded, use_cache, progress, &out.from_cache, &out.cache_note);
    return out;
}

Prepared prepare_variant(const std::string& name, const VariantAsked& asked, const sim::Progress& progress,
                         bool use_cache) {
    Prepared out;
    const std::filesystem::path file = files::find_scenario(name);
    out.loaded = files::load_scenario(file);
    out.rubric = files::load_rubric(files::find_rubric_for(file, out.loaded.scenario.rubric));
    sim::Scenario& scenario = out.loaded.scenario;
    const auto tissue =
        out.loaded.head ? tissue_of(out.loaded, use_cache, progress, &out.from_cache, &out.cache_note) : nullptr;
    scenario.patient.variant_seed = choose_variant(asked, tissue.get(), scenario);
    out.model = model_on(scenario, tissue, progress);
    return out;
}

Prepared prepare_documents(const files::SourceText& scenario, const std::optional<files::SourceText>& patient,
                           const files::SourceText& rubric, std::uint64_t variant, const sim::Progress& progress) {
    Prepared out;
    out.loaded = files::parse_scenario(scenario, patient, scenario.id);
    out.loaded.scenario.patient.variant_seed = variant;
    out.rubric = files::parse_rubric(rubric, rubric.id);
    out.model = build_model(out.loaded, true, progress, &out.from_cache, &out.cache_note);
    return out;
}

std::shared_ptr<AnswerSource> inline_answers(const Prepared& prepared) {
    const auto& patient = prepared.loaded.patient_source;
    return std::make_shared<InlineAnswers>(thread_tissue_maker(prepared.model, patient ? patient->hash : ""));
}

files::AttemptHeader header_of(const Prepared& prepared, sim::PracticeMode mode) {
    const sim::Recording facts = recording_of(*prepared.model, mode);
    files::AttemptHeader header;
    header.program_version = program_version();
    header.build_id = build_id();
    header.scenario = prepared.loaded.source;
    header.patient = prepared.loaded.patient_source;
    header.rubric = prepared.rubric.source;
    header.mode = mode;
    header.variant_seed = prepared.loaded.scenario.patient.variant_seed;
    header.structures = facts.structures;
    header.ligaments = facts.ligaments;
    header.concerns = facts.concerns;
    if (header.patient) header.kernel = sim::fe::blas_kernel();
    return header;
}

std::shared_ptr<const sim::Model> model_of(const files::LoadedAttempt& attempt, const sim::Progress& progress) {
    return build_model(attempt.scenario, true, progress);
}

}  // namespace session
