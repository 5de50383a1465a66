#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "sim/barbed_thread/held_thread.hpp"
#include "sim/patient/signs.hpp"
#include "sim/scoring/recording.hpp"

/// What the record says of a visit, in words: signs and what answered them, and the case sheet.

namespace report {

/// "12:40": of the patient's time.
[[nodiscard]] std::string patient_clock_words(double seconds);
/// What a call heard: "All is well. About 48 % of a thread's strength is left ..."
[[nodiscard]] std::string call_words(const sim::Event& called);

/// A sign that was shown, and what came of it.
struct SignLine {
    sim::Sign sign = sim::Sign::pain;
    std::int64_t step = 0;         ///< when it showed
    std::int64_t before_step = 0;  ///< a second before what led to it, where the record tells, else before the sign
    double patient_s = 0.0;        ///< patient's time when it showed
    bool judged = false;           ///< an answer is wanted
    bool answered = false;
    std::string shown;  ///< what was seen or said
    std::string asked;  ///< what it asks for, in general terms
    std::string done;   ///< "Pressed, after 6:10." or "Not answered within 15:00."
};
[[nodiscard]] std::vector<SignLine> sign_lines(const sim::Recording& recording);

/// A part of the case sheet: rows of a table, all as long as its heads.
struct SheetPart {
    std::string title;
    std::vector<std::string> heads;
    std::vector<double> shares;  ///< of the width, for each column; they sum to 1
    std::vector<std::vector<std::string>> rows;
    std::string none;  ///< said where there are no rows
    std::string note;  ///< under the table; may be empty
};
/// @param threads as they lie at the end  @pre the recording has a visit
[[nodiscard]] std::vector<SheetPart> case_sheet(const sim::Recording& recording,
                                                std::span<const sim::HeldThread> threads);

}  // namespace report
