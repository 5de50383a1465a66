#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "engine/app/ui.hpp"
#include "engine/graded/rating.hpp"

/// Where a rater works: the list of what was handed out, and the page beside a replay. Nothing here knows a name or a
/// score.

namespace app {

/// A rater's folder, the attempt that is looked at, and what is being typed.
struct RatingDesk {
    explicit RatingDesk(const std::filesystem::path& raters_folder) : folder(raters_folder) {}

    graded::RatingFolder folder;
    std::size_t entry = 0;  ///< index of the attempt that is looked at
    std::size_t item = 0;   ///< of what is rated now
    std::string typed;      ///< a comment that is not added yet
    std::string trouble;    ///< why the last change was not kept

    [[nodiscard]] const graded::RatingSheet& sheet() const { return folder.sheet(entry); }
    /// Rate the item that is asked now. Says so in `trouble` when it cannot be kept.
    void rate(int point);
    void add_comment(double at_s);
    void take_back(std::size_t comment);
};

struct RatingChoice {
    bool back = false;
    std::optional<std::size_t> open;  ///< an attempt, by its place in the task
};
[[nodiscard]] RatingChoice draw_rating_list(Ui& ui, const RatingDesk& desk);

/// Items, anchors and comments. @param now_s the moment that the replay shows
/// @return the moment of a comment that was pressed
[[nodiscard]] std::optional<double> draw_rating_page(Ui& ui, const Rect& rect, RatingDesk& desk, double now_s);

inline constexpr const char* kCommentField = "rating.comment";

}  // namespace app
