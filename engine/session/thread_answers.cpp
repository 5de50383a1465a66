#include "engine/session/thread_answers.hpp"

#include <exception>
#include <new>

#include "engine/session/live_tissue.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/posture.hpp"

namespace session {

ThreadTissueMaker thread_tissue_maker(const std::shared_ptr<const sim::Model>& model, const std::string& patient_hash,
                                      bool use_cache) {
    const TissueBuilder builder = tissue_builder(model, patient_hash, use_cache);
    if (!builder) return [] { return sim::flat_thread_tissue(); };
    return [builder] {
        TissueNotes notes;
        return std::make_unique<sim::fe::FeThreads>(builder({}, notes));
    };
}

sim::ThreadAnswer answer_or_trouble(sim::ThreadTissue& tissue, const sim::ThreadRequest& request,
                                    std::string& trouble) {
    try {
        return tissue.answer(request);
    } catch (const std::bad_alloc&) {
        trouble = "not enough memory for the tissue";
    } catch (const std::exception& error) {
        trouble = error.what();
    }
    return sim::no_answer(request, sim::ThreadTrouble::no_body);
}

sim::ThreadAnswer LazyThreadTissue::answer(const sim::ThreadRequest& request) {
    if (!tissue_ && maker_) {
        const ThreadTissueMaker maker = std::exchange(maker_, {});  // once: what failed is not tried at every question
        try {
            tissue_ = maker();
        } catch (const std::bad_alloc&) {
            trouble_ = "not enough memory for the tissue";
        } catch (const std::exception& error) {
            trouble_ = error.what();
        }
    }
    if (!tissue_) {
        if (trouble_.empty()) trouble_ = "there is no tissue to ask";
        return sim::no_answer(request, sim::ThreadTrouble::no_body);
    }
    return answer_or_trouble(*tissue_, request, trouble_);
}

}  // namespace session
