#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// A global rating of an attempt by a person who sees its replay and neither a name nor the automatic score.
///
/// Raters work from a folder: attempts under codes, in an order of their own, `rating_task.json` that lists them, and
/// one sheet an attempt, `CODE.rating.json`, written at each change.

namespace graded {

inline constexpr int kRatingSchema = 1;
inline constexpr int kRatingPoints = 5;
inline constexpr std::size_t kRatingItems = 6;
inline constexpr std::size_t kMostCommentBytes = 600, kMostComments = 100, kMostToRate = 2000;

/// What is rated: one side of the work, with words for each of its five points.
struct RatingItem {
    std::string_view key, title;
    std::array<std::string_view, kRatingPoints> anchors;  ///< 1 to 5
};
/// (6) In the order in which they are asked. Words and choice are expert opinion (assumed); only what a replay shows.
[[nodiscard]] std::span<const RatingItem, kRatingItems> rating_items();

struct RatingComment {
    double at_s = 0.0;  ///< of the attempt's own time
    std::string words;
};

/// One rater on one attempt.
struct RatingSheet {
    std::string code, rater;
    std::string attempt_sha256;         ///< of the file's bytes
    std::map<std::string, int> points;  ///< by RatingItem::key, 1 to 5; what is not rated yet is missing
    std::vector<RatingComment> comments;

    [[nodiscard]] bool complete() const { return points.size() == kRatingItems; }
};

/// What a rater is asked to look at. Codes are letters, digits and ._-; files lie beside the task.
struct RatingTask {
    std::string rater;  ///< a login or a letter; nobody's name
    struct Entry {
        std::string code, attempt_sha256;
    };
    std::vector<Entry> entries;

    [[nodiscard]] static std::string attempt_file(const std::string& code) { return code + ".attempt"; }
    [[nodiscard]] static std::string sheet_file(const std::string& code) { return code + ".rating.json"; }
};

/// @param name stands for it in messages @throws files::FileError
[[nodiscard]] RatingSheet parse_rating_sheet(std::string_view text, const std::string& name);
[[nodiscard]] std::string text_of(const RatingSheet& sheet);
[[nodiscard]] RatingTask parse_rating_task(std::string_view text, const std::string& name);
[[nodiscard]] std::string text_of(const RatingTask& task);

/// A rater's folder.
class RatingFolder {
 public:
    /// @throws files::FileError when there is no task, or a sheet is not of it: nothing of it is overwritten then
    explicit RatingFolder(std::filesystem::path folder);

    [[nodiscard]] const RatingTask& task() const { return task_; }
    [[nodiscard]] const RatingSheet& sheet(std::size_t entry) const { return sheets_[entry]; }
    [[nodiscard]] std::size_t complete() const;
    /// The attempt's file. @throws files::FileError when it is not the one that was handed out
    [[nodiscard]] std::filesystem::path attempt(std::size_t entry) const;

    /// Each is on the disk when the call returns. @throws files::FileError when it cannot be written; nothing changes
    /// then
    void rate(std::size_t entry, std::size_t item, int point);
    void comment(std::size_t entry, RatingComment comment);  ///< kept in order of time
    void take_back_comment(std::size_t entry, std::size_t comment);

 private:
    void keep(std::size_t entry, RatingSheet changed);

    std::filesystem::path folder_;
    RatingTask task_;
    std::vector<RatingSheet> sheets_;
};

/// Who rates what: each attempt by `each` of the raters, loads alike to one attempt, and an order for each rater.
///
/// @param seed decides; the same gives the same
/// @return for each rater the attempts, in their order
/// @throws sim::InputError for fewer raters than `each`, or none
[[nodiscard]] std::vector<std::vector<std::size_t>> share_out(std::size_t attempts, std::size_t raters,
                                                              std::size_t each, std::uint64_t seed);

}  // namespace graded
