#include "engine/session/session.hpp"

#include <algorithm>
#include <stdexcept>
#include <utility>

#include "sim/core/errors.hpp"

namespace session {

namespace {

/// Least depth of a structure's wall, and whether any of it lies at or above the SMAS or platysma.
sim::StructureFacts facts_of(const sim::Anatomy& anatomy, const sim::Structure& structure) {
    sim::StructureFacts facts{structure.name, structure.kind, structure.side, structure.margin_m, 1.0, false};
    for (const sim::StructureNode& node : structure.line) {
        const sim::LayerPoint at = anatomy.layers_at(node.position_m);
        const double wall_m = at.depth_m - node.radius_m;
        facts.least_depth_m = std::min(facts.least_depth_m, wall_m);
        facts.superficial = facts.superficial || wall_m <= at.bottom_of(sim::Layer::smas);
    }
    return facts;
}

template <typename T>
void append(std::vector<T>& to, const std::vector<T>& from) {
    to.insert(to.end(), from.begin(), from.end());
}

}  // namespace

sim::Recording recording_of(const sim::Model& model, sim::PracticeMode mode) {
    const sim::Scenario& scenario = model.scenario;
    sim::Recording out;
    out.scenario_id = scenario.id;
    out.scenario_title = scenario.title;
    out.rubric_id = scenario.rubric;
    out.mode = mode;
    out.variant_seed = scenario.patient.variant_seed;
    out.tray = scenario.tray;
    out.plan = scenario.plan;
    out.visit = scenario.visit;
    out.headings = scenario.headings;
    for (const sim::Structure& structure : model.anatomy->structures())
        out.structures.push_back(facts_of(*model.anatomy, structure));
    for (const sim::Ligament& ligament : model.anatomy->ligaments())
        out.ligaments.push_back({ligament.name, ligament.side, ligament.strength_n});
    out.concerns = model.concerns;
    return out;
}

Session::Session(std::shared_ptr<const sim::Model> model, SessionOptions options)
    : model_(std::move(model)),
      options_(std::move(options)),
      state_(sim::initial_state(*model_)),
      recording_(recording_of(*model_, options_.mode)) {
    if (!options_.answers) options_.answers = std::make_shared<InlineAnswers>(thread_tissue_maker(model_, "", false));
}

void Session::send(const sim::Command& command) {
    sim::validate(command);
    queued_.push_back(command);
}

void Session::take_up(const std::vector<files::TimedCommand>& commands, std::vector<sim::ThreadAnswer> answers,
                      std::int64_t steps, const sim::Recording& recorded) {
    SIM_ASSERT(state_.step == 0 && queued_.empty());
    const auto live = std::exchange(
        options_.answers, std::make_shared<RecordedThreads>(std::move(answers), std::make_shared<InlineAnswers>()));
    auto next = commands.begin();
    while (state_.step < steps) {
        for (; next != commands.end() && next->step == state_.step; ++next) send(next->command);
        if (advance(1) == 0) break;
    }
    options_.answers = live;
    // what the last steps asked and nobody has read yet
    for (const sim::Request& request : state_.pending) options_.answers->ask(request);
    if (state_.thread_pending) options_.answers->ask(*state_.thread_pending);
    recording_.scoring_version = recorded.scoring_version;
    static_cast<void>(take_events());

    const bool same_end = state_.step == steps && recording_.events.size() == recorded.events.size() &&
                          recording_.rows.size() == recorded.rows.size();
    constexpr double kSameM = 0.05 * sim::kMm;
    const bool same_place =
        recorded.rows.empty() ||
        (same_end && glm::length(recording_.rows.back().tip_m - recorded.rows.back().tip_m) < kSameM);
    if (!same_end || !same_place)
        throw std::runtime_error(
            "This attempt was made by another build of the program and comes out otherwise here: it can be looked at, "
            "and not gone on with.");
}

int Session::advance(int steps) {
    int done = 0;
    waiting_ = false;
    while (done < steps && !state_.finished && !faults_.any()) {
        if (!gather_answers()) {
            waiting_ = true;
            break;
        }
        run_one();
        ++done;
    }
    return done;
}

bool Session::gather_answers() {
    bool complete = true;
    for (const sim::Request& request : sim::due(state_)) {
        const bool known =
            std::any_of(held_.begin(), held_.end(), [&](const sim::Answer& a) { return a.key == request.key; });
        if (known) continue;
        if (const auto answer = options_.answers->take(request))
            held_.push_back(*answer);
        else
            complete = false;
    }
    if (const sim::ThreadRequest* request = sim::thread_due(state_); request != nullptr && !held_about_threads_) {
        held_about_threads_ = options_.answers->take(*request);
        complete = complete && held_about_threads_.has_value();
    }
    return complete;
}

void Session::run_one() {
    StepRecord record{state_.step, {}, {}, {}, std::exchange(held_about_threads_, std::nullopt)};
    record.commands.swap(queued_);
    record.answers.swap(held_);
    // in order of key, so that the log does not show which came first
    std::sort(record.answers.begin(), record.answers.end(), [](const auto& a, const auto& b) { return a.key < b.key; });
    record.report = sim::step(*model_, state_, record.commands, record.answers,
                              record.about_threads ? &*record.about_threads : nullptr);

    const sim::StepReport& report = record.report;
    for (const sim::Request& request : report.requests) options_.answers->ask(request);
    if (report.thread_request) options_.answers->ask(*report.thread_request);
    append(recording_.lifts, report.lifts);
    append(recording_.rows, report.rows);
    append(recording_.events, report.events);
    append(recording_.tracks, report.tracks);
    append(fresh_, report.events);
    recording_.steps = state_.step;
    recording_.finished = state_.finished;
    faults_.non_finite += report.faults.non_finite;
    faults_.not_converged += report.faults.not_converged;
    faults_.answers_missing += report.faults.answers_missing;
    faults_.threads_unanswered += report.faults.threads_unanswered;
    if (options_.recorder) options_.recorder->record(record, state_);
}

std::vector<sim::Event> Session::take_events() {
    std::vector<sim::Event> out;
    out.swap(fresh_);
    return out;
}

}  // namespace session
