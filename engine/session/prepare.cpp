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
#include "sim/anatomy/slab.hpp"

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

std::shared_ptr<const sim::Model> build_model(const files::LoadedScenario& loaded, bool /*use_cache*/,
                                              const sim::Progress& progress, bool* from_cache,
                                              std::string* cache_note) {
    auto model = std::make_shared<sim::Model>();
    model->scenario = loaded.scenario;
    if (from_cache != nullptr) *from_cache = false;
    if (cache_note != nullptr) cache_note->clear();
    if (!loaded.head) {
        model->anatomy = std::make_shared<sim::Slab>(loaded.scenario.patient.slab_parameters);
        if (progress) progress(1.0, "flat patient ready");
        return model;
    }
    throw files::FileError(loaded.scenario.id, "patient", loaded.scenario.patient.name, "slab");
}

Prepared prepare(const std::string& name, std::optional<std::uint64_t> variant, const sim::Progress& progress,
                 bool use_cache) {
    Prepared out;
    out.loaded = files::load_scenario(files::find_scenario(name));
    if (variant) out.loaded.scenario.patient.variant_seed = *variant;
    out.rubric = files::load_rubric(files::find_rubric(out.loaded.scenario.rubric));
    out.model = build_model(out.loaded, use_cache, progress, &out.from_cache, &out.cache_note);
    return out;
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
    return header;
}

std::shared_ptr<const sim::Model> model_of(const files::LoadedAttempt& attempt, const sim::Progress& progress) {
    return build_model(attempt.scenario, true, progress);
}

}  // namespace session
