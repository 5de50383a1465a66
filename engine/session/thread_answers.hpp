#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "engine/files/attempt.hpp"
#include "sim/model.hpp"
#include "sim/tissue/thread_tissue.hpp"

/// Where the tissue that answers about threads comes from, and what becomes of a question when it cannot be had.

namespace session {

/// Makes the tissue of one patient: seconds to tens of seconds for a head. What it throws becomes words.
using ThreadTissueMaker = std::function<std::unique_ptr<sim::ThreadTissue>()>;

/// For the patient of a model: finite elements for a head, closed form for the slab.
/// @param patient_hash as for tissue_builder()
[[nodiscard]] ThreadTissueMaker thread_tissue_maker(const std::shared_ptr<const sim::Model>& model,
                                                    const std::string& patient_hash, bool use_cache = true);

/// Built at the first question, so that an attempt without one costs nothing. One thread at a time.
class LazyThreadTissue {
 public:
    /// @param maker empty: there is no such tissue, and every answer says so
    explicit LazyThreadTissue(ThreadTissueMaker maker = {}) : maker_(std::move(maker)) {}

    [[nodiscard]] sim::ThreadAnswer answer(const sim::ThreadRequest& request);
    [[nodiscard]] const std::string& trouble() const { return trouble_; }  ///< why it could not be built, or empty

 private:
    ThreadTissueMaker maker_;
    std::unique_ptr<sim::ThreadTissue> tissue_;
    std::string trouble_;
};

/// An answer computed now, or the words of what went wrong as part of it.
/// @param trouble why there is none, empty when there is one
[[nodiscard]] sim::ThreadAnswer answer_or_trouble(sim::ThreadTissue& tissue, const sim::ThreadRequest& request,
                                                  std::string& trouble);

}  // namespace session
