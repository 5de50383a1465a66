#pragma once

#include <optional>
#include <vector>

#include "engine/report/debrief_pdf.hpp"
#include "engine/report/debrief_words.hpp"
#include "engine/session/replay.hpp"

namespace session {

/// The section along the shaft that the page shows: where points were lost first along a track, else at the far end of
/// the last track. Nothing when the shaft was never far enough under the skin. The replay is left where it stood.
[[nodiscard]] std::optional<report::ShaftSection> paper_section(Replay& replay, const std::vector<report::Loss>& losses,
                                                                const sim::Bands& bands);

}  // namespace session
