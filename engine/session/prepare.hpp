#pragma once

#include <memory>
#include <optional>
#include <string>

#include "engine/files/attempt.hpp"
#include "engine/files/rubric.hpp"
#include "engine/files/scenario.hpp"
#include "engine/session/variant_choice.hpp"
#include "engine/session/worker.hpp"
#include "sim/core/parallel.hpp"
#include "sim/model.hpp"
#include "sim/scoring/rubric.hpp"

/// From a scenario's name to what a session needs: the patient built or taken from the cache, the rubric read.

namespace session {

struct Prepared {
    files::LoadedScenario loaded;
    files::LoadedRubric rubric;
    std::shared_ptr<const sim::Model> model;
    bool from_cache = false;  ///< the patient's tissue was not built anew
    std::string cache_note;   ///< why the cache could not be used or written, empty when all is well
};

/// A ParallelFor on two threads: the machine that the figures are for has two cores.
[[nodiscard]] sim::ParallelFor two_threads();

/// The model of a scenario that has been read. @param use_cache false builds anew and keeps nothing
[[nodiscard]] std::shared_ptr<const sim::Model> build_model(const files::LoadedScenario& loaded, bool use_cache,
                                                            const sim::Progress& progress, bool* from_cache = nullptr,
                                                            std::string* cache_note = nullptr);

/// @param name    "hold_the_plane", or a path to a scenario file
/// @param variant in place of the scenario's own variant seed
/// @throws FileError for a scenario, patient or rubric that is not accepted or not found
[[nodiscard]] Prepared prepare(const std::string& name, std::optional<std::uint64_t> variant,
                               const sim::Progress& progress, bool use_cache = true);

/// The same with a variant chosen by a wish.
[[nodiscard]] Prepared prepare_variant(const std::string& name, const VariantAsked& asked,
                                       const sim::Progress& progress, bool use_cache = true);

/// The same from documents that came along with a graded session, not from the folders of this machine.
[[nodiscard]] Prepared prepare_documents(const files::SourceText& scenario,
                                         const std::optional<files::SourceText>& patient,
                                         const files::SourceText& rubric, std::uint64_t variant,
                                         const sim::Progress& progress);

/// Answers worked out when they are taken; the tissue for threads, built at the first question, comes from the cache.
[[nodiscard]] std::shared_ptr<AnswerSource> inline_answers(const Prepared& prepared);

/// The header of an attempt at this scenario.
[[nodiscard]] files::AttemptHeader header_of(const Prepared& prepared, sim::PracticeMode mode);

/// The model that a stored attempt was made on, from its header alone.
[[nodiscard]] std::shared_ptr<const sim::Model> model_of(const files::LoadedAttempt& attempt,
                                                         const sim::Progress& progress);

}  // namespace session
