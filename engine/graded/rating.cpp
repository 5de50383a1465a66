#include "engine/graded/rating.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <numeric>
#include <set>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/json_reader.hpp"
#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"

namespace graded {

namespace {

using files::JsonObject;
using files::JsonValue;
using nlohmann::json;

constexpr const char* kTaskFile = "rating_task.json";
constexpr std::size_t kMostName = 80;
constexpr std::uint64_t kSheetBytes = 256U << 10U;
constexpr double kLongestS = 36000.0;  // ten hours, as an attempt's file holds

/// A code or a rater's name becomes a file's name: what logins are made of, and not hidden.
std::string name_in(const JsonValue& value) {
    std::string name = value.text(kMostName);
    const bool plain = !name.empty() && name[0] != '.' && std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '_' ||
               c == '-';
    });
    if (!plain) value.refuse("1 to 80 letters, digits and ._-, no point in front");
    return name;
}

std::string hash_in(const JsonValue& value) {
    std::string text = value.text();
    if (!files::from_hex<32>(text)) value.refuse("64 lower-case hexadecimal digits");
    return text;
}

std::map<std::string, int> points_in(const JsonValue& value) {
    JsonObject object = value.object();
    std::map<std::string, int> out;
    for (const RatingItem& item : rating_items())
        if (const auto point = object.find(item.key))
            out.emplace(item.key, static_cast<int>(point->integer(1, kRatingPoints)));
    object.refuse_unknown();
    return out;
}

std::string words_in(const JsonValue& value) {
    std::string words = value.text(kMostCommentBytes);
    if (words.empty()) value.refuse("1 to 600 bytes");
    return words;
}

}  // namespace

RatingSheet parse_rating_sheet(std::string_view text, const std::string& name) {
    const auto document = files::JsonDocument::parse(name, text);
    JsonObject object = document.root_object(kRatingSchema);
    RatingSheet sheet;
    sheet.code = name_in(object.at("code"));
    sheet.rater = name_in(object.at("rater"));
    sheet.attempt_sha256 = hash_in(object.at("attempt_sha256"));
    sheet.points = points_in(object.at("points"));
    for (const JsonValue& item : object.at("comments").array(0, kMostComments)) {
        JsonObject comment = item.object();
        sheet.comments.push_back({comment.number("at_s", {0.0, kLongestS}), words_in(comment.at("words"))});
        comment.refuse_unknown();
    }
    object.refuse_unknown();
    return sheet;
}

std::string text_of(const RatingSheet& sheet) {
    json comments = json::array();
    for (const RatingComment& one : sheet.comments) comments.push_back({{"at_s", one.at_s}, {"words", one.words}});
    return json{{"schema_version", kRatingSchema},        {"code", sheet.code},     {"rater", sheet.rater},
                {"attempt_sha256", sheet.attempt_sha256}, {"points", sheet.points}, {"comments", comments}}
               .dump(1) +
           "\n";
}

RatingTask parse_rating_task(std::string_view text, const std::string& name) {
    const auto document = files::JsonDocument::parse(name, text);
    JsonObject object = document.root_object(kRatingSchema);
    RatingTask task;
    task.rater = name_in(object.at("rater"));
    std::set<std::string> codes;
    for (const JsonValue& item : object.at("attempts").array(1, kMostToRate)) {
        JsonObject entry = item.object();
        task.entries.push_back({name_in(entry.at("code")), hash_in(entry.at("attempt_sha256"))});
        if (!codes.insert(task.entries.back().code).second) entry.at("code").refuse("a code that comes once");
        entry.refuse_unknown();
    }
    object.refuse_unknown();
    return task;
}

std::string text_of(const RatingTask& task) {
    json attempts = json::array();
    for (const RatingTask::Entry& entry : task.entries)
        attempts.push_back({{"code", entry.code}, {"attempt_sha256", entry.attempt_sha256}});
    return json{{"schema_version", kRatingSchema}, {"rater", task.rater}, {"attempts", attempts}}.dump(1) + "\n";
}

RatingFolder::RatingFolder(std::filesystem::path folder) : folder_(std::move(folder)) {
    const std::filesystem::path file = folder_ / kTaskFile;
    task_ = parse_rating_task(files::read_bytes(file, files::kDocumentBytes), file.string());
    for (const RatingTask::Entry& entry : task_.entries) {
        RatingSheet sheet{entry.code, task_.rater, entry.attempt_sha256, {}, {}};
        const std::filesystem::path path = folder_ / RatingTask::sheet_file(entry.code);
        if (std::filesystem::exists(path)) {
            sheet = parse_rating_sheet(files::read_bytes(path, kSheetBytes), path.string());
            if (sheet.code != entry.code || sheet.attempt_sha256 != entry.attempt_sha256 || sheet.rater != task_.rater)
                throw files::FileError(path.string(), "", "a sheet of " + sheet.code + " by " + sheet.rater,
                                       "the sheet of " + entry.code + " by " + task_.rater);
        }
        sheets_.push_back(std::move(sheet));
    }
}

std::size_t RatingFolder::complete() const {
    return static_cast<std::size_t>(
        std::count_if(sheets_.begin(), sheets_.end(), [](const RatingSheet& sheet) { return sheet.complete(); }));
}

std::filesystem::path RatingFolder::attempt(std::size_t entry) const {
    const RatingTask::Entry& asked = task_.entries.at(entry);
    const std::filesystem::path path = folder_ / RatingTask::attempt_file(asked.code);
    if (files::hex(files::sha256(files::read_bytes(path, files::kAttemptBytes))) != asked.attempt_sha256)
        throw files::FileError(path.string(), "", "another file", "the attempt that was handed out");
    return path;
}

void RatingFolder::rate(std::size_t entry, std::size_t item, int point) {
    sim::require_within("point", point, 1, kRatingPoints);
    RatingSheet changed = sheets_.at(entry);
    changed.points[std::string(rating_items()[item].key)] = point;
    keep(entry, std::move(changed));
}

void RatingFolder::comment(std::size_t entry, RatingComment comment) {
    RatingSheet changed = sheets_.at(entry);
    if (comment.words.empty() || comment.words.size() > kMostCommentBytes)
        throw sim::InputError("comment", std::to_string(comment.words.size()) + " bytes", "1 to 600 bytes");
    if (changed.comments.size() >= kMostComments)
        throw sim::InputError("comment", std::to_string(kMostComments + 1) + " of them", "at most 100");
    changed.comments.push_back(std::move(comment));
    std::stable_sort(changed.comments.begin(), changed.comments.end(),
                     [](const RatingComment& a, const RatingComment& b) { return a.at_s < b.at_s; });
    keep(entry, std::move(changed));
}

void RatingFolder::take_back_comment(std::size_t entry, std::size_t comment) {
    RatingSheet changed = sheets_.at(entry);
    if (comment >= changed.comments.size()) return;
    changed.comments.erase(changed.comments.begin() + static_cast<std::ptrdiff_t>(comment));
    keep(entry, std::move(changed));
}

void RatingFolder::keep(std::size_t entry, RatingSheet changed) {
    files::write_atomically(folder_ / RatingTask::sheet_file(changed.code), text_of(changed));
    sheets_[entry] = std::move(changed);
}

std::vector<std::vector<std::size_t>> share_out(std::size_t attempts, std::size_t raters, std::size_t each,
                                                std::uint64_t seed) {
    if (each == 0 || raters < each)
        throw sim::InputError("raters", std::to_string(raters),
                              std::to_string(std::max<std::size_t>(each, 1)) + " or more");
    sim::Random random(seed);
    const auto shuffle = [&random](std::vector<std::size_t>& list) {
        for (std::size_t i = list.size(); i > 1; --i) std::swap(list[i - 1], list[random.next() % i]);
    };
    std::vector<std::vector<std::size_t>> out(raters);
    std::vector<std::size_t> order(attempts), by_load(raters);
    std::iota(order.begin(), order.end(), std::size_t{0});
    shuffle(order);
    for (const std::size_t attempt : order) {
        // those with the least so far; among equals the lot decides, so that pairs of raters change
        std::iota(by_load.begin(), by_load.end(), std::size_t{0});
        shuffle(by_load);
        std::stable_sort(by_load.begin(), by_load.end(),
                         [&out](std::size_t a, std::size_t b) { return out[a].size() < out[b].size(); });
        for (std::size_t i = 0; i < each; ++i) out[by_load[i]].push_back(attempt);
    }
    for (std::vector<std::size_t>& list : out) shuffle(list);
    return out;
}

}  // namespace graded
