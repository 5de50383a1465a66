#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

/// Everything in a visit that is done at once and needs no steering: a question, a swab, a count. Each takes its time,
/// which passes for the patient at once; what it leads to is the business of the patient stage.
///
/// Order, meaning and times are common practice, no source; times are assumed.

namespace sim {

enum class Stage : std::uint8_t { consult, mark, prepare, numb, enter, pass, anchor, review, finish, follow_up };
inline constexpr int kStages = 10;
[[nodiscard]] std::string_view name_of(Stage stage);  ///< "follow-up"

enum class Deed : std::uint8_t {
    ask,             ///< of: HistoryItem
    explain,         ///< risks, other ways, what to expect
    take_consent,    ///< in writing, after it was explained
    photograph,      ///< of: View
    test_movement,   ///< smile, pucker, clench, raise the brows, both sides
    test_sensation,  ///< light touch, both sides and ear lobes
    feel_pulse,      ///< under the finger of the other hand
    mark_point,      ///< of: MarkPoint; where the finger of the other hand lies; a vector is marked by its two ends
    wash_hands,
    put_on_gloves,
    prepare_skin,       ///< of: SkinArea, with an alcoholic chlorhexidine solution
    prepare_skin_mild,  ///< of: SkinArea, with povidone-iodine: safe near eye and ear canal
    lay_field,          ///< hair away, sterile drape
    set_chair,          ///< of: Chair
    aspirate,           ///< draw back before injecting
    open_another,       ///< of: tray number; a fresh one of what was discarded
    ask_how_it_feels,
    call_for_help,
    give_care,  ///< of: Protocol; the local one
    count_sharps,
    write_record,  ///< thread by thread, lots, doses, times
    advise,        ///< aftercare, in writing
    give_contact,  ///< whom to call at any hour
    discharge,
    call_back,    ///< of: week, as an index of kCallWeeks
    answer_call,  ///< of: CallAnswer; the call before it
    read_pack,    ///< of: tray number; type, size, lot and expiry of what it holds now
};
inline constexpr int kDeeds = static_cast<int>(Deed::read_pack) + 1;

enum class View : std::uint8_t { front, left_oblique, right_oblique, left_side, right_side, in_movement };
enum class MarkPoint : std::uint8_t {
    jaw_artery,
    frontal_branch_line,
    mandibular_branch_zone,
    vector_entry,
    vector_end,  ///< with the vector_entry before it: a vector as whoever marks it means it
};
inline constexpr int kLandmarks = 3;  ///< of them those that have a rule
enum class SkinArea : std::uint8_t { left_face, right_face, neck };
enum class Chair : std::uint8_t { upright, reclined, flat };
enum class Protocol : std::uint8_t { toxicity, vascular, refer };
inline constexpr int kViews = 6, kMarkPoints = 5, kSkinAreas = 3, kChairs = 3, kProtocols = 3;
[[nodiscard]] std::string_view name_of(View view);
[[nodiscard]] std::string_view name_of(MarkPoint point);
[[nodiscard]] std::string_view name_of(SkinArea area);
[[nodiscard]] std::string_view name_of(Chair chair);

/// When patients are called after the visit, weeks.
inline constexpr int kCallWeeks[] = {1, 4, 12, 26, 52};
inline constexpr int kCalls = 5;

/// What a patient tells when called, beside that all is well.
enum class CallFinding : std::uint8_t { infection, extrusion, swelling_at_meals, weakness, numbness, dimple };
inline constexpr int kCallFindings = 6;
[[nodiscard]] std::string_view words_of(CallFinding finding);  ///< "redness and pus along a thread"
[[nodiscard]] std::string_view key_of(CallFinding finding);    ///< "swelling_at_meals": in files

/// What whoever calls says to do, from the least to the most.
enum class CallAnswer : std::uint8_t { reassure, see_soon, see_today, refer };
inline constexpr int kCallAnswers = 4;
/// What a finding asks for; common practice, no source: who cannot be sure sees the patient.
[[nodiscard]] CallAnswer answer_to(CallFinding finding);
/// Of all that was heard, a bit each: the most that any of it asks for.
[[nodiscard]] CallAnswer answer_to(int findings);

struct DeedSpec {
    Deed deed;
    std::string_view key;    ///< in scripts: "wash_hands"
    std::string_view words;  ///< on a button: "Wash hands"
    Stage stage;             ///< where it usually stands; any time is allowed
    int subjects = 1;        ///< accepted: 0 to subjects - 1
    double takes_s = 0.0;    ///< of the patient's time; assumed
};

[[nodiscard]] std::span<const DeedSpec> deed_table();
[[nodiscard]] const DeedSpec& spec_of(Deed deed);
[[nodiscard]] std::optional<Deed> deed_named(std::string_view key);
/// "Left face": what a deed is done to, in words; "" where it has one subject only.
[[nodiscard]] std::string_view subject_words(Deed deed, int subject);
/// "left_face": the same in scripts; the number where it has no word of its own.
[[nodiscard]] std::string subject_key(Deed deed, int subject);
/// Subject by that key.
[[nodiscard]] std::optional<int> subject_named(Deed deed, std::string_view key);

}  // namespace sim
