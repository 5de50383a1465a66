#include "engine/app/debrief_paper.hpp"

#include "engine/files/bytes.hpp"
#include "engine/files/places.hpp"
#include "engine/files/verify.hpp"
#include "engine/gl/moment_pictures.hpp"
#include "engine/report/debrief_pdf.hpp"
#include "engine/session/paper_section.hpp"
#include "engine/session/resimulate.hpp"

namespace app {

std::filesystem::path write_debrief_paper(Debrief& debrief, gl::Renderer& renderer) {
    const DebriefMaterial& material = debrief.material();
    const sim::Recording& recording = material.replay->recording();
    const std::int64_t stood = material.replay->step();
    report::DebriefFacts facts;
    const std::vector<report::Loss> lost = report::losses(debrief.score(), recording);
    session::Replay& replay = *material.replay;
    const auto skin_at = [&debrief](const sim::State& state) { debrief.settle_skin(state); };
    facts.pictures = gl::moment_pictures(renderer, debrief.scene(), replay, lost, skin_at);
    facts.threads = session::threads_at_end(replay);
    if (recording.visit) facts.outline = view::head_outline(*replay.model().anatomy);
    if (debrief.lift_shown() && !facts.threads.empty()) {
        debrief.settle_skin(sim::State{});
        facts.lift_pictures.push_back(gl::end_picture(renderer, debrief.scene(), replay, "As the skin lay before."));
        replay.seek(replay.steps());
        debrief.settle_skin(replay.state());
        facts.lift_pictures.push_back(
            gl::end_picture(renderer, debrief.scene(), replay, "As the threads hold it at the end."));
        replay.seek(stood);
    }
    facts.section = session::paper_section(*material.replay, lost, material.rubric.bands);
    facts.build = session::program_version() + ", " + session::build_id();
    facts.rubric_title = material.rubric.title;
    if (!material.file.empty()) {
        const files::VerifyReport report = files::verify(material.file, files::ledger_path());
        facts.record_state = std::string(report.verdict());
        facts.attempt_hash = files::hex(report.last_hash);
    }
    const std::filesystem::path folder = files::user_data_folder() / "debriefs";
    std::filesystem::create_directories(folder);
    const std::string name =
        material.file.empty() ? recording.scenario_id + "-not-kept" : material.file.stem().string();
    const std::filesystem::path file = folder / (name + ".pdf");
    files::write_atomically(file, report::debrief_pdf(recording, debrief.score(), material.rubric, facts));
    return file;
}

}  // namespace app
