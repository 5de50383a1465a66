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
    report::DebriefFacts facts;
    const std::vector<report::Loss> lost = report::losses(debrief.score(), recording);
    facts.pictures = gl::moment_pictures(renderer, debrief.scene(), *material.replay, lost);
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
