#include <algorithm>
#include <set>

#include "sim/scoring/figures.hpp"

/// Heading 3: what did the hand do when a ligament resisted? The action earns points; newtons are shown.

namespace sim::figures {

namespace {

constexpr std::int64_t kPlungeSteps = 250;  ///< a plunge within 1 s of parting belongs to it

enum class Response { skirted, stopped, eased, forced, plunged };

/// Share of the points that a response is worth; assumed, order from practice: go round, stop, ease, force, plunge.
double worth(Response response) {
    switch (response) {
        case Response::skirted:
        case Response::stopped:
            return 1.0;
        case Response::eased:
            return 0.6;
        case Response::forced:
            return 0.25;
        case Response::plunged:
            break;
    }
    return 0.0;
}

/// From first contact to parting, skirting, the next ligament or the end of the track.
struct Encounter {
    const Event* met = nullptr;
    const Event* parted = nullptr;
    bool stopped = false, skirted = false;
    double peak_n = 0.0, work_j = 0.0, plunge_m = 0.0;

    [[nodiscard]] Response response() const {
        if (plunge_m > kPlungeM) return Response::plunged;
        if (parted != nullptr) return stopped ? Response::eased : Response::forced;
        return skirted ? Response::skirted : Response::stopped;
    }
};

void follow(Encounter& encounter, const Event& event) {
    switch (event.kind) {
        case EventKind::ligament_stopped:
            encounter.stopped = true;
            encounter.peak_n = std::max(encounter.peak_n, event.value[0]);
            break;
        case EventKind::ligament_parted:
            encounter.parted = &event;
            encounter.peak_n = std::max(encounter.peak_n, event.value[0]);
            encounter.work_j += event.value[1];
            encounter.plunge_m = std::max(encounter.plunge_m, event.value[2]);
            break;
        case EventKind::ligament_skirted:
            encounter.skirted = true;
            encounter.peak_n = std::max(encounter.peak_n, event.value[0]);
            encounter.work_j += event.value[1];
            break;
        default:
            break;
    }
}

std::vector<Encounter> encounters_of(const Recording& recording) {
    std::vector<Encounter> encounters;
    for (const Event& event : recording.events) {
        if (event.kind == EventKind::ligament_met) {
            encounters.push_back({&event, nullptr, false, false, event.value[0], 0.0, 0.0});
            continue;
        }
        if (encounters.empty()) continue;
        Encounter& last = encounters.back();
        const bool of_parting = last.parted != nullptr && event.step - last.parted->step <= kPlungeSteps;
        if (event.kind == EventKind::plunge && of_parting)
            last.plunge_m = std::max(last.plunge_m, event.value[0]);
        else if (event.subject == last.met->subject)
            follow(last, event);
    }
    return encounters;
}

std::string words(const Recording& recording, const Encounter& encounter) {
    const std::string name = ligament_text(recording, encounter.met->subject);
    const std::string peak = " at " + n_text(encounter.peak_n);
    switch (encounter.response()) {
        case Response::skirted:
            return name + " skirted" + peak;
        case Response::stopped:
            return "stopped before the " + name + peak;
        case Response::eased:
            return name + " eased through" + peak + " after a stop";
        case Response::forced:
            return name + " forced" + peak + " without a stop";
        case Response::plunged:
            break;
    }
    return name + " forced" + peak + ", tip plunged " + mm_text(encounter.plunge_m);
}

}  // namespace

void measure_ligaments(Sheet& sheet) {
    const std::vector<Encounter> encounters = encounters_of(sheet.recording());
    if (encounters.empty()) return;  // a ligament not met earns nothing

    const auto by_worth = [](const Encounter& a, const Encounter& b) {
        return worth(a.response()) < worth(b.response());
    };
    const auto by_plunge = [](const Encounter& a, const Encounter& b) { return a.plunge_m < b.plunge_m; };
    const auto by_peak = [](const Encounter& a, const Encounter& b) { return a.peak_n < b.peak_n; };
    // the worst, not the mean: meeting further ligaments must not dilute a bad response
    const Encounter& worst = *std::min_element(encounters.begin(), encounters.end(), by_worth);
    const Encounter& plunge = *std::max_element(encounters.begin(), encounters.end(), by_plunge);
    const Encounter& peak = *std::max_element(encounters.begin(), encounters.end(), by_peak);
    std::set<int> ligaments;
    double work_j = 0.0;
    for (const Encounter& encounter : encounters) {
        ligaments.insert(encounter.met->subject);
        work_j += encounter.work_j;
    }

    const auto place_of = [](const Encounter& e) -> const Event& { return e.parted != nullptr ? *e.parted : *e.met; };
    const auto find = [&](std::string_view name, const Encounter& e, std::string what) {
        sheet.find(name, std::move(what), place_of(e).step, place_of(e).place_m);
    };
    sheet.add("ligament_response", worth(worst.response()));
    find("ligament_response", worst, words(sheet.recording(), worst));
    sheet.add("plunge_travel", plunge.plunge_m);
    if (plunge.plunge_m > 0.0)
        find("plunge_travel", plunge, "tip plunged " + mm_text(plunge.plunge_m) + " when it gave way");
    sheet.add("ligaments_met", static_cast<double>(ligaments.size()));
    sheet.add("ligament_peak_force", peak.peak_n);
    sheet.add("ligament_work", work_j);
}

}  // namespace sim::figures
