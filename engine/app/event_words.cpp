#include "engine/app/event_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/app/aids.hpp"
#include "engine/app/guide.hpp"
#include "engine/app/visit_words.hpp"
#include "engine/language/words.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/report/visit_sheet.hpp"
#include "sim/patient/patient.hpp"
#include "sim/patient/signs.hpp"
#include "sim/procedure/deeds.hpp"

namespace app {

namespace {

using Kind = sim::EventKind;

double mm(double metres) { return metres / sim::kMm; }
double degrees(double rad) { return rad * 180.0 / sim::kPi; }

bool is_index(double number, std::size_t size) { return number >= 0.0 && number < static_cast<double>(size); }

/// A name from a list of the record; what it does not hold has none.
template <typename List>
std::string named(const List& list, int index) {
    return is_index(index, list.size()) ? list[static_cast<std::size_t>(index)].name : "";
}

/// "Facial artery, 0.8 N".
std::string with_force(std::string name, double force_n) {
    const std::string force = fmt::format("{:.1f} N", std::fabs(force_n));
    return name.empty() ? force : report::capital(name) + ", " + force;
}

std::string track_words(int track) { return fmt::format("Track {}", track + 1); }

std::string layer_words(const sim::Event& event) {
    const auto layer = static_cast<sim::Layer>(std::clamp(event.subject, 0, sim::kTissueLayers + 1));
    return fmt::format("{}, {:.1f} mm deep", in_layer(layer), std::max(0.0, mm(event.value[0])));
}

/// What was done stands in place of the event's name.
Happening deed_happening(const sim::Event& event, const sim::Recording& recording) {
    Happening out{event.step, Mark::neutral, report::capital(sim::name_of(event.kind)), ""};
    if (!is_index(event.subject, sim::kDeeds)) return out;
    const auto deed = static_cast<sim::Deed>(event.subject);
    const sim::DeedSpec& spec = sim::spec_of(deed);
    out.what = spec.words;
    if (!is_index(event.value[0], static_cast<std::size_t>(spec.subjects))) return out;
    out.detail = report::capital(sim::subject_words(deed, static_cast<int>(event.value[0])));
    const std::string found = recording.visit ? found_words(event, *recording.visit) : "";
    if (found.empty()) return out;
    if (out.detail.empty()) {
        out.detail = found;
        return out;
    }
    out.detail += (out.detail.back() == '?' ? " " : ". ") + found;
    return out;
}

std::string decision_words(const sim::Event& event) {
    if (!is_index(event.subject, sim::kDecisions.size())) return "";
    return report::capital(sim::kDecisions[static_cast<std::size_t>(event.subject)]);
}

std::string injected_words(const sim::Event& event) {
    if (event.value[3] > 0.0) return fmt::format("{:.2f} ml, {}", event.value[0], "into a vessel");
    if (!is_index(event.value[2], sim::kTissueLayers + 2)) return fmt::format("{:.2f} ml", event.value[0]);
    const auto layer = static_cast<sim::Layer>(static_cast<int>(event.value[2]));
    return fmt::format("{:.2f} ml, {}", event.value[0], in_layer(layer));
}

std::string sign_words(const sim::Event& event) {
    if (!is_index(event.subject, sim::kSigns)) return "";
    const auto sign = static_cast<sim::Sign>(event.subject);
    const std::string words(sim::words_of(sign));
    return sim::is_said(sign) ? fmt::format("\"{}\"", words) : words;
}

std::string aid_words(const sim::Event& event) {
    static constexpr std::array<const char*, kProbe + 1> kNames{
        language::word("Depth"),           language::word("Cut-away"), language::word("Structures"),
        language::word("Force"),           language::word("Advice"),   language::word("Section"),
        language::word("Ultrasound probe")};
    if (!is_index(event.subject, kNames.size())) return "";
    const bool probe = event.subject == kProbe;
    return fmt::format("{}: {}", kNames[static_cast<std::size_t>(event.subject)],
                       event.value[0] > 0.0 ? (probe ? "taken up" : "shown") : (probe ? "put away" : "hidden"));
}

std::string thread_words(const sim::Event& event) {
    const std::string name = fmt::format("Thread {}", event.subject);
    switch (event.kind) {
        case Kind::traction:
            if (!(event.value[0] > 0.0)) return fmt::format("{}, let go", name);
            return fmt::format("{}, {:.1f} N; its tail came {:.1f} mm out", name, event.value[0], mm(event.value[1]));
        case Kind::stroked:
            return fmt::format("{}, {:.1f} N; the tissue moved {:.1f} mm", name, std::fabs(event.value[0]),
                               mm(event.value[2]));
        case Kind::thread_slipped:
            return fmt::format("{}, {:.0f} barbs in all", name, event.value[1]);
        case Kind::thread_refused: {
            if (!is_index(event.value[0], sim::kThreadRefusals)) return name;
            const auto why = static_cast<sim::ThreadRefusal>(static_cast<int>(event.value[0]));
            return std::string(sim::words_of(why));
        }
        case Kind::tissue_trouble: {
            if (!is_index(event.value[0], sim::kThreadTroubles)) return name;
            const auto why = static_cast<sim::ThreadTrouble>(static_cast<int>(event.value[0]));
            return std::string(sim::words_of(why));
        }
        default:
            return name;
    }
}

std::string grip_words(const sim::Event& event) {
    if (!is_index(event.subject, sim::kGrips)) return "";
    return with_force(std::string(sim::name_of(static_cast<sim::Grip>(event.subject))), event.value[0]);
}

/// What the hands do outside the skin and at its entry.
std::string hands_words(const sim::Event& event, const sim::Recording& recording) {
    switch (event.kind) {
        case Kind::instrument_taken:
        case Kind::instrument_discarded:
        case Kind::unclean_entry:
            return named(recording.tray, event.subject);
        case Kind::contaminated:
            return event.subject < 0 ? "The gloves" : named(recording.tray, event.subject);
        case Kind::entry_chosen:
            return fmt::format("{:.1f} mm from the planned entry", mm(event.value[0]));
        case Kind::skin_punctured:
            return fmt::format("{:.0f}° to the skin, {:.1f} N", degrees(event.value[0]), event.value[1]);
        case Kind::entry_opened:
            return fmt::format("{:.1f} mm deep", mm(event.value[1]));
        case Kind::hand_settled:
        case Kind::hand_slipped:
            return grip_words(event);
        case Kind::device_changed:
            if (!is_index(event.subject, sim::kDevices)) return "";
            return report::capital(sim::name_of(static_cast<sim::Device>(event.subject)));
        default:
            return "";
    }
}

/// What an instrument does in the tissue.
std::string tissue_words(const sim::Event& event, const sim::Recording& recording) {
    switch (event.kind) {
        case Kind::layer_crossed:
            return layer_words(event);
        case Kind::ligament_met:
        case Kind::ligament_stopped:
        case Kind::ligament_parted:
        case Kind::ligament_skirted:
            return with_force(named(recording.ligaments, event.subject), event.value[0]);
        case Kind::wall_touched:
        case Kind::wall_breached:
            return with_force(named(recording.structures, event.subject), event.value[0]);
        case Kind::floor_touched:
            return with_force(std::string(sim::name_of(static_cast<sim::FloorKind>(std::clamp(event.subject, 0, 2)))),
                              event.value[0]);
        case Kind::plunge:
            return fmt::format("{:.1f} mm, from {:.1f} N", mm(event.value[0]), event.value[1]);
        case Kind::resistance_doubled:
            return fmt::format("{:.1f} N, running {:.1f} N", event.value[0], event.value[1]);
        case Kind::re_angled:
            return fmt::format("{:.0f}° after {:.1f} mm of withdrawal", degrees(event.value[0]), mm(event.value[1]));
        case Kind::tip_lifted:
            return fmt::format("The skin rises {:.1f} mm", mm(event.value[0]));
        case Kind::thread_left:
            return fmt::format("{}, {}", track_words(event.subject),
                               event.value[0] > 0.0 ? "at the planned place" : "left behind by re-angling");
        case Kind::track_opened:
        case Kind::withdrawal_began:
        case Kind::followed_out:
        case Kind::track_closed:
            return track_words(event.subject);
        default:
            return "";
    }
}

/// What a visit tells.
std::string visit_words(const sim::Event& event, const sim::Recording& recording) {
    switch (event.kind) {
        case Kind::decided:
            return decision_words(event);
        case Kind::deed_refused:
            return is_index(event.value[0], sim::kDeedRefusals) ? refused_words(event) : "";
        case Kind::time_passed:
            return report::patient_clock_words(event.value[0]);
        case Kind::injected:
            return injected_words(event);
        case Kind::sign_shown:
            return sign_words(event);
        case Kind::patient_moved:
            return fmt::format("Pain {:.0f} of 10", event.value[0]);
        case Kind::bleeding_stopped:
            return named(recording.structures, event.subject);
        default:
            return "";
    }
}

std::string detail_of(const sim::Event& event, const sim::Recording& recording) {
    switch (event.kind) {
        case Kind::traction:
        case Kind::stroked:
        case Kind::thread_slipped:
        case Kind::thread_out:
        case Kind::thread_refused:
        case Kind::tissue_trouble:
        case Kind::trimmed:
        case Kind::tail_settled:
            return thread_words(event);
        case Kind::aid_used:
            return aid_words(event);
        default:
            break;
    }
    for (const auto& words : {tissue_words(event, recording), hands_words(event, recording)})
        if (!words.empty()) return words;
    return visit_words(event, recording);
}

Mark mark_of(Kind kind) {
    switch (kind) {
        case Kind::wall_breached:
        case Kind::lining_breached:
        case Kind::skin_broken_through:
        case Kind::ligament_parted:
        case Kind::thread_out:
        case Kind::followed_out:
        case Kind::unclean_entry:
        case Kind::sign_shown:
            return Mark::bad;
        case Kind::wall_touched:
        case Kind::floor_touched:
        case Kind::ligament_met:
        case Kind::ligament_stopped:
        case Kind::resistance_doubled:
        case Kind::plunge:
        case Kind::entry_refused:
        case Kind::thread_slipped:
        case Kind::thread_refused:
        case Kind::tissue_trouble:
        case Kind::hand_slipped:
        case Kind::deed_refused:
        case Kind::contaminated:
        case Kind::patient_moved:
            return Mark::caution;
        default:
            return Mark::neutral;
    }
}

}  // namespace

std::string line_of(const sim::Event& event) {
    return fmt::format("{} subject {} at {:.1f} {:.1f} {:.1f} mm", sim::name_of(event.kind), event.subject,
                       event.place_m.x * 1e3, event.place_m.y * 1e3, event.place_m.z * 1e3);
}

Happening happening_of(const sim::Event& event, const sim::Recording& recording) {
    if (event.kind == Kind::deed_done) return deed_happening(event, recording);
    return {event.step, mark_of(event.kind), report::capital(sim::name_of(event.kind)), detail_of(event, recording)};
}

void Happenings::follow(const sim::Recording& recording) {
    const auto before = static_cast<std::ptrdiff_t>(all_.size());
    for (; events_ < recording.events.size(); ++events_)
        all_.push_back(happening_of(recording.events[events_], recording));
    for (; rows_ < recording.rows.size(); ++rows_) {
        const sim::TraceRow& row = recording.rows[rows_];
        const int nearest = row.inserted_m > 0.0 ? row.nearest.structure : -1;
        const bool known = is_index(nearest, recording.structures.size());
        const int near =
            known && row.nearest.distance_m < recording.structures[static_cast<std::size_t>(nearest)].margin_m ? nearest
                                                                                                               : -1;
        if (near >= 0 && near != near_)
            all_.push_back({row.step, Mark::caution, "Near a structure",
                            fmt::format("{:.1f} mm from the {}.", mm(std::max(0.0, row.nearest.distance_m)),
                                        named(recording.structures, near))});
        near_ = near;
    }
    std::stable_sort(all_.begin() + before, all_.end(),
                     [](const Happening& a, const Happening& b) { return a.step < b.step; });
}

std::size_t Happenings::count_by(std::int64_t step) const {
    const auto after = std::upper_bound(all_.begin(), all_.end(), step,
                                        [](std::int64_t at, const Happening& one) { return at < one.step; });
    return static_cast<std::size_t>(after - all_.begin());
}

}  // namespace app
