#include <algorithm>

#include "sim/scoring/figures.hpp"
#include "sim/scoring/visit_record.hpp"

namespace sim {

std::span<const MeasureSpec> measure_table() {
    constexpr double kDegree = kPi / 180.0, kPercent = 0.01, kMillijoule = 1e-3, kMillilitre = 1e-6;
    using enum Heading;
    static constexpr MeasureSpec table[] = {
        {"track_in_band", plane_accuracy, "%", kPercent, "track in band"},
        {"planned_length_reached", plane_accuracy, "%", kPercent, "planned length reached"},
        {"worst_deep", plane_accuracy, "mm", kMm, "deepest excursion past the band"},
        {"worst_shallow", plane_accuracy, "mm", kMm, "shallowest excursion past the band"},
        {"smas_contact", plane_accuracy, "mm", kMm, "track touching the SMAS or platysma"},
        {"below_smas", plane_accuracy, "mm", kMm, "track below the SMAS or platysma"},
        {"dermis_length", plane_accuracy, "mm", kMm, "track in the dermis"},
        {"depth_bias", plane_accuracy, "mm", kMm, "depth bias (deep is positive)"},
        {"depth_rms", plane_accuracy, "mm", kMm, "depth RMS error"},
        {"excursions_deep", plane_accuracy, "count", 1.0, "excursions too deep"},
        {"excursions_shallow", plane_accuracy, "count", 1.0, "excursions too shallow"},
        {"layers_breached", plane_accuracy, "count", 1.0, "layers entered outside the fat"},
        {"entry_distance", plane_accuracy, "mm", kMm, "entry from its planned place"},
        {"pilot_angle", plane_accuracy, "degree", kDegree, "pilot needle's angle to the skin"},
        {"pilot_past_fat", plane_accuracy, "mm", kMm, "pilot needle past the superficial fat"},
        {"neck_skin_held", plane_accuracy, "%", kPercent, "neck skin drawn tight, then lifted in a fold"},
        {"least_clearance", clearance, "mm", kMm, "least clearance"},
        {"length_in_margins", clearance, "mm", kMm, "track inside margins"},
        {"walls_touched", clearance, "count", 1.0, "structures touched"},
        {"walls_breached", clearance, "count", 1.0, "structures breached"},
        {"deep_margin_intrusion", clearance, "%", kPercent, "margin of deeper structures used up"},
        {"ligament_response", ligament_resistance, "%", kPercent, "response to ligaments"},
        {"plunge_travel", ligament_resistance, "mm", kMm, "longest plunge"},
        {"ligaments_met", ligament_resistance, "count", 1.0, "ligaments met"},
        {"ligament_peak_force", ligament_resistance, "N", 1.0, "peak force at a ligament"},
        {"ligament_work", ligament_resistance, "mJ", kMillijoule, "work done on ligaments"},
        {"barbs_seated", barb_engagement, "%", kPercent, "barbs seated"},
        {"barbs_in_plane", barb_engagement, "%", kPercent, "barbs seated in the superficial fat"},
        {"hold", barb_engagement, "N", 1.0, "hold of the weaker barb set"},
        {"seated_in_worst_quarter", barb_engagement, "%", kPercent, "barbs seated in the worst quarter"},
        {"threads_misplaced", barb_engagement, "count", 1.0, "threads left at the wrong place"},
        {"anchored_seated", barb_engagement, "%", kPercent, "barbs seated after anchoring"},
        {"anchored_hold", barb_engagement, "N", 1.0, "hold of the weaker barb set after anchoring"},
        {"slipped_barbs", barb_engagement, "count", 1.0, "barbs that slipped"},
        {"peak_traction", barb_engagement, "N", 1.0, "strongest pull at a tail"},
        {"far_ends_pressed", barb_engagement, "%", kPercent, "far ends pressed on while the cannula left"},
        {"pulls_held", barb_engagement, "%", kPercent, "pulls with a counter-hold"},
        {"threads_taken_out", barb_engagement, "%", kPercent, "threads drawn out whole"},
        {"loosened_first", barb_engagement, "%", kPercent, "threads loosened before they were drawn out"},
        {"threads_lost", barb_engagement, "count", 1.0, "threads that came out"},
        {"threads_lost_in_fluid", barb_engagement, "count", 1.0, "threads that came out where much fluid lay"},
        {"lift_of_target", lift_and_sides, "%", kPercent, "lift against what is within reach"},
        {"lift", lift_and_sides, "mm", kMm, "lift"},
        {"side_difference", lift_and_sides, "mm", kMm, "difference in height between the sides"},
        {"dimple", lift_and_sides, "mm", kMm, "deepest dimple"},
        {"reinforced_beside", lift_and_sides, "%", kPercent, "reinforcing threads beside, after a review"},
        {"history_taken", consult_and_judgement, "%", kPercent, "history taken"},
        {"decision_right", consult_and_judgement, "%", kPercent, "decision that the history calls for"},
        {"consent_given", consult_and_judgement, "%", kPercent, "consent before the first needle"},
        {"baseline_taken", consult_and_judgement, "%", kPercent, "movement and sensation tested before"},
        {"views_before", consult_and_judgement, "%", kPercent, "standard views before"},
        {"signs_answered", consult_and_judgement, "%", kPercent, "signs answered in time"},
        {"blood_lost", consult_and_judgement, "ml", kMillilitre, "blood lost until it was stopped"},
        {"pulses_felt", plan_and_landmarks, "%", kPercent, "pulses felt"},
        {"marks_placed", plan_and_landmarks, "%", kPercent, "landmarks marked by rule"},
        {"pulses_felt_again", plan_and_landmarks, "%", kPercent, "sides with a pulse felt again lying back"},
        {"vectors_marked", plan_and_landmarks, "%", kPercent, "vectors marked"},
        {"barbs_laid", plan_and_landmarks, "%", kPercent, "thread's barbs that found room in the track"},
        {"track_spacing", plan_and_landmarks, "mm", kMm, "least distance between threads of a side"},
        {"far_end_to_mouth", plan_and_landmarks, "mm", kMm, "far end from the corner of the mouth"},
        {"entries_clean", asepsis, "%", kPercent, "clean entries"},
        {"antiseptic_right", asepsis, "%", kPercent, "face prepared without chlorhexidine"},
        {"packs_read", asepsis, "%", kPercent, "threads whose pack was read and in date"},
        {"contaminations", asepsis, "count", 1.0, "breaks of the clean field"},
        {"dose_of_limit", comfort_and_dose, "%", kPercent, "dose against the label's limit"},
        {"volume_per_track", comfort_and_dose, "ml", kMillilitre, "most fluid in one track"},
        {"injections_aspirated", comfort_and_dose, "%", kPercent, "injections after drawing back"},
        {"patient_moves", comfort_and_dose, "count", 1.0, "times the patient moved"},
        {"tails_trimmed", finish, "%", kPercent, "tails trimmed"},
        {"tail_depth", finish, "mm", kMm, "depth of the cut end"},
        {"sharps_counted", finish, "%", kPercent, "sharps counted"},
        {"record_written", finish, "%", kPercent, "record written"},
        {"aftercare_given", finish, "%", kPercent, "aftercare and contact given"},
        {"reviewed_upright", finish, "%", kPercent, "result seen sitting up and in movement"},
        {"calls_made", finish, "%", kPercent, "calls made"},
        {"calls_answered", finish, "%", kPercent, "calls answered with what they ask for"},
        {"views_after", finish, "%", kPercent, "standard views after"},
        {"vectors_shift_tested", plan_and_landmarks, "%", kPercent, "vectors tried by a skin-shift test"},
        {"redirections", economy, "count", 1.0, "redirections in one track"},
        {"extra_tracks", economy, "count", 1.0, "tracks beyond one bare and one loaded each"},
        {"extra_threads", economy, "count", 1.0, "threads beyond the plan"},
    };
    return table;
}

const MeasureSpec* measure_named(std::string_view name) {
    for (const MeasureSpec& spec : measure_table())
        if (spec.name == name) return &spec;
    return nullptr;
}

MeasuredAttempt measure(const Recording& recording, const Bands& bands) {
    figures::Sheet sheet(recording);
    if (figures::visit_alone(recording)) {
        figures::measure_visit(sheet);
        return std::move(sheet).take();
    }
    figures::measure_plane(sheet, bands);
    figures::measure_clearance(sheet, bands);
    figures::measure_ligaments(sheet);
    figures::measure_barbs(sheet);
    figures::measure_lift(sheet);
    figures::measure_other_hand(sheet);
    figures::measure_courses(sheet);
    figures::measure_visit(sheet);
    // a drill without a visit may still ask for buried ends
    const auto& headings = recording.headings;
    const bool asks = std::find(headings.begin(), headings.end(), key_of(Heading::finish)) != headings.end();
    if (asks && !recording.visit) figures::measure_tails(sheet);
    figures::measure_economy(sheet);
    return std::move(sheet).take();
}

}  // namespace sim
