#include "sim/procedure/deeds.hpp"

#include <algorithm>
#include <array>

#include "sim/core/errors.hpp"
#include "sim/patient/visit_spec.hpp"

namespace sim {

namespace {

constexpr int kMostTray = 16;

constexpr std::array<DeedSpec, kDeeds> kTable{{
    {Deed::ask, "ask", "Ask", Stage::consult, static_cast<int>(kHistoryItems), 20.0},
    {Deed::explain, "explain", "Explain risks, other ways, what to expect", Stage::consult, 1, 300.0},
    {Deed::take_consent, "take_consent", "Take written consent", Stage::consult, 1, 120.0},
    {Deed::photograph, "photograph", "Photograph", Stage::consult, kViews, 15.0},
    {Deed::test_movement, "test_movement", "Test movement", Stage::consult, 1, 45.0},
    {Deed::test_sensation, "test_sensation", "Test sensation", Stage::consult, 1, 45.0},
    {Deed::feel_pulse, "feel_pulse", "Feel for a pulse here", Stage::mark, 1, 8.0},
    {Deed::mark_point, "mark_point", "Mark", Stage::mark, kMarkPoints, 8.0},
    {Deed::wash_hands, "wash_hands", "Wash hands", Stage::prepare, 1, 40.0},
    {Deed::put_on_gloves, "put_on_gloves", "Put on sterile gloves", Stage::prepare, 1, 30.0},
    {Deed::prepare_skin, "prepare_skin", "Prepare with chlorhexidine", Stage::prepare, kSkinAreas, 30.0},
    {Deed::prepare_skin_mild, "prepare_skin_mild", "Prepare with povidone-iodine", Stage::prepare, kSkinAreas, 30.0},
    {Deed::lay_field, "lay_field", "Hair away, lay a sterile field", Stage::prepare, 1, 60.0},
    {Deed::set_chair, "set_chair", "Set the chair", Stage::prepare, kChairs, 15.0},
    {Deed::aspirate, "aspirate", "Draw back before injecting", Stage::numb, 1, 3.0},
    {Deed::open_another, "open_another", "Open a fresh", Stage::pass, kMostTray, 30.0},
    {Deed::ask_how_it_feels, "ask_how_it_feels", "Ask how it feels", Stage::pass, 1, 4.0},
    {Deed::call_for_help, "call_for_help", "Call for help", Stage::pass, 1, 10.0},
    {Deed::give_care, "give_care", "Local protocol", Stage::pass, kProtocols, 60.0},
    {Deed::count_sharps, "count_sharps", "Count and drop the sharps", Stage::finish, 1, 30.0},
    {Deed::write_record, "write_record", "Write the record", Stage::finish, 1, 180.0},
    {Deed::advise, "advise", "Give aftercare advice", Stage::finish, 1, 180.0},
    {Deed::give_contact, "give_contact", "Give an emergency contact", Stage::finish, 1, 20.0},
    {Deed::discharge, "discharge", "Let the patient go", Stage::finish, 1, 10.0},
    {Deed::call_back, "call_back", "Call after", Stage::follow_up, kCalls, 0.0},
    {Deed::answer_call, "answer_call", "Tell the patient to", Stage::follow_up, kCallAnswers, 0.0},
    {Deed::read_pack, "read_pack", "Read the pack of", Stage::prepare, kMostTray, 10.0},
}};

constexpr std::array<std::string_view, kViews> kViewNames{"front",     "left oblique", "right oblique",
                                                          "left side", "right side",   "in movement"};
constexpr std::array<std::string_view, kMarkPoints> kMarkNames{"jaw artery", "line of the frontal branch",
                                                               "zone of the marginal mandibular branch",
                                                               "entry of a vector", "far end of a vector"};
constexpr std::array<std::string_view, kSkinAreas> kAreaNames{"left face", "right face", "neck"};
constexpr std::array<std::string_view, kChairs> kChairNames{"upright", "reclined", "flat, legs up"};
constexpr std::array<std::string_view, kProtocols> kProtocolNames{"anaesthetic toxicity", "blocked vessel",
                                                                  "refer to a specialist"};
constexpr std::array<std::string_view, kCallAnswers> kAnswerNames{"carry on", "come within days", "come today",
                                                                  "see a specialist"};

struct FindingWords {
    std::string_view key, words;
    CallAnswer answer;
};
constexpr std::array<FindingWords, kCallFindings> kFindings{
    {{"infection", "redness and pus along a thread", CallAnswer::see_today},
     {"extrusion", "an end of thread looks out of the skin", CallAnswer::see_soon},
     {"swelling_at_meals", "the cheek swells at meals", CallAnswer::refer},
     {"weakness", "one side of the face is weak", CallAnswer::refer},
     {"numbness", "a numb patch", CallAnswer::see_soon},
     {"dimple", "a dimple that stays", CallAnswer::see_soon}}};
constexpr std::array<std::string_view, kCalls> kCallNames{"1 week", "4 weeks", "12 weeks", "26 weeks", "52 weeks"};

}  // namespace

std::string_view name_of(Stage stage) {
    static constexpr std::array<std::string_view, kStages> names{"consult", "mark",   "prepare", "numb",   "enter",
                                                                 "pass",    "anchor", "review",  "finish", "follow-up"};
    return names[static_cast<std::size_t>(stage)];
}
std::string_view name_of(View view) { return kViewNames[static_cast<std::size_t>(view)]; }
std::string_view name_of(MarkPoint point) { return kMarkNames[static_cast<std::size_t>(point)]; }
std::string_view name_of(SkinArea area) { return kAreaNames[static_cast<std::size_t>(area)]; }
std::string_view name_of(Chair chair) { return kChairNames[static_cast<std::size_t>(chair)]; }

std::string_view words_of(CallFinding finding) { return kFindings[static_cast<std::size_t>(finding)].words; }
std::string_view key_of(CallFinding finding) { return kFindings[static_cast<std::size_t>(finding)].key; }
CallAnswer answer_to(CallFinding finding) { return kFindings[static_cast<std::size_t>(finding)].answer; }

CallAnswer answer_to(int findings) {
    CallAnswer most = CallAnswer::reassure;
    for (int i = 0; i < kCallFindings; ++i)
        if ((findings & (1 << i)) != 0) most = std::max(most, answer_to(static_cast<CallFinding>(i)));
    return most;
}

std::span<const DeedSpec> deed_table() { return kTable; }

const DeedSpec& spec_of(Deed deed) { return kTable[static_cast<std::size_t>(deed)]; }

std::optional<Deed> deed_named(std::string_view key) {
    for (const DeedSpec& spec : kTable)
        if (spec.key == key) return spec.deed;
    return std::nullopt;
}

std::string_view subject_words(Deed deed, int subject) {
    SIM_ASSERT(subject >= 0 && subject < spec_of(deed).subjects);
    const auto at = static_cast<std::size_t>(subject);
    switch (deed) {
        case Deed::ask:
            return question_of(static_cast<HistoryItem>(subject));
        case Deed::photograph:
            return kViewNames[at];
        case Deed::mark_point:
            return kMarkNames[at];
        case Deed::prepare_skin:
        case Deed::prepare_skin_mild:
            return kAreaNames[at];
        case Deed::set_chair:
            return kChairNames[at];
        case Deed::give_care:
            return kProtocolNames[at];
        case Deed::call_back:
            return kCallNames[at];
        case Deed::answer_call:
            return kAnswerNames[at];
        default:
            return "";
    }
}

std::string subject_key(Deed deed, int subject) {
    if (deed == Deed::ask) return std::string(key_of(static_cast<HistoryItem>(subject)));
    std::string key;
    for (const char c : subject_words(deed, subject))
        if (c != ',') key += c == ' ' ? '_' : c;
    return key.empty() ? std::to_string(subject) : key;
}

std::optional<int> subject_named(Deed deed, std::string_view key) {
    for (int i = 0; i < spec_of(deed).subjects; ++i)
        if (subject_key(deed, i) == key) return i;
    return std::nullopt;
}

}  // namespace sim
