#pragma once

#include <cmath>
#include <memory>
#include <vector>

#include "sim/step.hpp"
#include "sim/tissue/thread_tissue.hpp"

/// Plays commands on a model and keeps what came out: the shortest way for a test to make a pass.

namespace support {

/// A slab with a pilot (18 G) and a blunt cannula (21 G, 70 mm), one planned vector along +x.
inline sim::Model slab_model(sim::SlabParameters slab = {}, sim::MechanicsSpec mechanics = {}) {
    sim::Model model;
    sim::InstrumentSpec pilot;
    pilot.name = "Pilot needle";
    pilot.tip = sim::TipShape::bevel;
    pilot.gauge = 18;
    pilot.length_m = 40.0 * sim::kMm;
    sim::InstrumentSpec cannula;
    cannula.name = "Blunt cannula";
    sim::InstrumentSpec loaded = cannula;
    loaded.name = "Loaded cannula";
    loaded.loaded = true;
    model.scenario.id = "test";
    model.scenario.tray = {pilot, cannula, loaded};
    model.scenario.plan = {{{0, 0, 0}, {60.0 * sim::kMm, 0, 0}, sim::Side::left, 60.0 * sim::kMm, 3.0 * sim::kMm}};
    model.scenario.mechanics = mechanics;
    model.anatomy = std::make_shared<sim::Slab>(std::move(slab));
    return model;
}

struct Play {
    explicit Play(const sim::Model& model_in) : model(model_in), state(sim::initial_state(model_in)) {}

    sim::Model model;
    sim::State state;
    std::vector<sim::Event> events;
    std::vector<sim::TraceRow> rows;
    std::vector<sim::TrackRecord> tracks;
    std::vector<sim::LiftRow> lifts;
    sim::Faults faults;
    std::shared_ptr<sim::ThreadTissue> tissue = sim::flat_thread_tissue();  ///< null: none can be had

    void step(std::vector<sim::Command> commands) {
        std::vector<sim::Answer> answers;
        for (const sim::Request& request : sim::due(state)) answers.push_back(sim::answer(request));
        std::optional<sim::ThreadAnswer> about_threads;
        if (const sim::ThreadRequest* request = sim::thread_due(state))
            about_threads =
                tissue != nullptr ? tissue->answer(*request) : sim::no_answer(*request, sim::ThreadTrouble::no_body);
        const sim::StepReport report =
            sim::step(model, state, commands, answers, about_threads ? &*about_threads : nullptr);
        lifts.insert(lifts.end(), report.lifts.begin(), report.lifts.end());
        faults.threads_unanswered += report.faults.threads_unanswered;
        events.insert(events.end(), report.events.begin(), report.events.end());
        rows.insert(rows.end(), report.rows.begin(), report.rows.end());
        tracks.insert(tracks.end(), report.tracks.begin(), report.tracks.end());
        faults.non_finite += report.faults.non_finite;
        faults.not_converged += report.faults.not_converged;
        faults.answers_missing += report.faults.answers_missing;
    }
    void command(const sim::Command& one) { step({one}); }
    void wait(int steps) {
        for (int i = 0; i < steps; ++i) step({});
    }
    /// Push (or, negative, withdraw) at about 5 mm/s: 20 um a step.
    void push_mm(double mm) {
        const auto total = static_cast<std::int64_t>(std::llround(mm * 1000.0));
        const std::int64_t by = total < 0 ? -20 : 20;
        for (std::int64_t done = 0; done != total;) {
            const std::int64_t now = std::abs(total - done) < 20 ? total - done : by;
            command({sim::Verb::push, {now}});
            done += now;
        }
    }
    [[nodiscard]] int count(sim::EventKind kind) const {
        int n = 0;
        for (const sim::Event& event : events) n += event.kind == kind ? 1 : 0;
        return n;
    }
    [[nodiscard]] const sim::Event* last(sim::EventKind kind) const {
        for (auto it = events.rbegin(); it != events.rend(); ++it)
            if (it->kind == kind) return &*it;
        return nullptr;
    }
};

/// Pilot in at the origin at 40 degrees until it goes through the skin, and out again.
inline void open_entry(Play& play) {
    play.command({sim::Verb::take, {0}});
    play.command({sim::Verb::entry, {0, 0, 0}});
    play.command({sim::Verb::aim, {0, 40'000}});
    play.push_mm(8.0);
    play.push_mm(-8.5);
    play.wait(2);
}

}  // namespace support
