#include "engine/app/debrief.hpp"
#include "engine/files/places.hpp"
#include "engine/files/rubric.hpp"
#include "engine/session/prepare.hpp"
#include "engine/view/head_look.hpp"

/// A kept attempt made ready to be looked at.

namespace app {

DebriefMaterial load_debrief(const files::LoadedAttempt& attempt, const std::filesystem::path& file,
                             const Job<DebriefMaterial>::Progress& progress) {
    constexpr double kModelShare = 0.5, kSkinShare = 0.4;  // of the time for a patient that is not in the cache
    DebriefMaterial out;
    out.file = file;
    if (attempt.header.patient) out.patient_hash = attempt.header.patient->hash;
    out.rubric = files::parse_rubric(attempt.header.rubric, file.string()).rubric;
    const auto model = session::model_of(
        attempt, [&](double fraction, std::string_view what) { progress(kModelShare * fraction, what); });
    if (attempt.scenario.head)
        out.look = view::build_head_look(*attempt.scenario.head, session::two_threads(), [&](double fraction) {
            progress(kModelShare + kSkinShare * fraction, "shaping the skin");
        });
    out.replay = std::make_shared<session::Replay>(model, session::tape_of(attempt), attempt.recording);
    // where no thread was asked about the skin lies as it was
    if (!attempt.about_threads.empty()) out.build_tissue = session::tissue_builder(model, out.patient_hash);
    out.replay->build([&](double fraction, std::string_view what) {
        progress(kModelShare + kSkinShare + (1.0 - kModelShare - kSkinShare) * fraction, what);
    });
    return out;
}

}  // namespace app
