#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "engine/view/head_outline.hpp"
#include "engine/view/slice.hpp"
#include "sim/barbed_thread/held_thread.hpp"
#include "sim/scoring/rubric.hpp"

/// The debrief on paper, which prints in grey without loss. Page one for the learner, page two the full list, and where
/// the tissue was asked about threads a third on what they hold and lift. After a visit the case sheet follows, with a
/// map of the threads.

namespace report {

/// A finished picture of the head.
struct Picture {
    int width = 0, height = 0;       ///< pixels
    std::vector<std::uint8_t> rgba;  ///< width x height x 4, rows from the top, opaque
    std::string caption;
};

/// The tissue along the shaft at one moment.
struct ShaftSection {
    std::string caption;  ///< "Track 1 at 31 mm, 00:31"
    double tip_depth_mm = 0.0;
    /// Made for the room that the page has for it.
    std::function<std::optional<view::Slice>(const view::SliceWindow&)> cut;
};

/// What the record says about itself, and what has to be made before it is printed.
struct DebriefFacts {
    std::string attempt_hash;  ///< last link of the chain, or what stands for it
    std::string record_state;  ///< "intact, finished"
    std::string build;         ///< version and build that scored
    std::string rubric_title;
    std::vector<Picture> pictures = {};             ///< up to three, printed on page one
    std::optional<ShaftSection> section = {};       ///< printed on page two
    std::vector<sim::HeldThread> threads = {};      ///< as they lie at the end; printed on page three
    std::vector<Picture> lift_pictures = {};        ///< up to two: the skin without them and with them
    std::optional<view::HeadOutline> outline = {};  ///< of a visit's patient, for the map of threads
};

enum class Paper { a4, letter };

/// The bytes of the PDF; writing them is the caller's, who knows how to write a file whole or not at all.
///
/// What does not fit on page two is never dropped in silence: it says how many further entries the table of
/// `pk score` holds.
/// @throws std::runtime_error when Cairo cannot draw
[[nodiscard]] std::string debrief_pdf(const sim::Recording& recording, const sim::Score& score,
                                      const sim::Rubric& rubric, const DebriefFacts& facts, Paper paper = Paper::a4);

}  // namespace report
