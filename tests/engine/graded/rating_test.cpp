#include "engine/graded/rating.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <numeric>
#include <set>

#include "engine/files/bytes.hpp"
#include "engine/files/crypto.hpp"
#include "engine/files/file_error.hpp"
#include "sim/core/errors.hpp"
#include "tests/support/scratch.hpp"

/// Raters' folders: what is asked, what is kept at once, and what is refused. That two raters see each attempt, and
/// neither its owner's name nor its score, is common practice in assessment, no source.

namespace {

std::string refusal(const std::string& text) {
    try {
        static_cast<void>(graded::parse_rating_sheet(text, "one.rating.json"));
    } catch (const files::FileError& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("at most seven sides are rated, each with five different anchors", "[graded][rating]") {
    std::set<std::string_view> keys, words;
    std::size_t anchors = 0;
    for (const graded::RatingItem& item : graded::rating_items()) {
        keys.insert(item.key);
        for (const std::string_view anchor : item.anchors) {
            CHECK(anchor.size() > 20);
            words.insert(anchor);
            ++anchors;
        }
    }
    CHECK(keys.size() <= 7);
    CHECK(keys.size() == graded::rating_items().size());
    // "as before, and ..." of different items may not be the same words
    CHECK(words.size() == anchors);
}

TEST_CASE("a rater's folder keeps each change at once and knows its attempts", "[graded][rating]") {
    const support::Scratch scratch;
    const std::string bytes = "an attempt's bytes";
    const std::string hash = files::hex(files::sha256(bytes));
    files::write_atomically(scratch.path("K-7.attempt"), bytes);
    files::write_atomically(scratch.path("rating_task.json"),
                            graded::text_of(graded::RatingTask{"A", {{"K-7", hash}}}));
    {
        graded::RatingFolder folder(scratch.folder());
        CHECK(folder.attempt(0) == scratch.path("K-7.attempt"));
        CHECK(folder.complete() == 0);
        for (std::size_t item = 0; item < graded::kRatingItems; ++item)
            folder.rate(0, item, 1 + static_cast<int>(item) % 5);
        folder.comment(0, {40.0, "looks before the plane changes"});
        folder.comment(0, {12.5, "two marks are missing"});
        CHECK_THROWS_AS(folder.rate(0, 0, 6), sim::InputError);
        CHECK_THROWS_AS(folder.comment(0, {1.0, ""}), sim::InputError);
    }
    graded::RatingFolder again(scratch.folder());
    CHECK(again.complete() == 1);
    CHECK(again.sheet(0).points.at("depth") == 2);
    REQUIRE(again.sheet(0).comments.size() == 2);
    CHECK(again.sheet(0).comments[0].at_s == 12.5);  // in order of time
    again.take_back_comment(0, 0);
    CHECK(graded::RatingFolder(scratch.folder()).sheet(0).comments.size() == 1);

    files::write_atomically(scratch.path("K-7.attempt"), bytes + "!");
    CHECK_THROWS_WITH(again.attempt(0), Catch::Matchers::Contains("handed out"));
    // another rater's sheet under this one's name is refused and left alone
    graded::RatingSheet other = again.sheet(0);
    other.rater = "B";
    files::write_atomically(scratch.path("K-7.rating.json"), graded::text_of(other));
    CHECK_THROWS_WITH(graded::RatingFolder(scratch.folder()), Catch::Matchers::Contains("by B"));
    CHECK(files::read_bytes(scratch.path("K-7.rating.json"), 9999) == graded::text_of(other));
}

TEST_CASE("a sheet that is wrong is refused by place and value", "[graded][rating]") {
    const std::string hash(64, 'a');
    const graded::RatingSheet good{"R-1", "A", hash, {{"plan", 3}}, {{1.5, "words"}}};
    const std::string text = graded::text_of(good);
    const graded::RatingSheet back = graded::parse_rating_sheet(text, "one");
    CHECK(graded::text_of(back) == text);
    const auto with = [&](const std::string& from, const std::string& to) {
        std::string changed = text;
        changed.replace(changed.find(from), from.size(), to);
        return refusal(changed);
    };
    CHECK_THAT(with("\"plan\": 3", "\"plan\": 6"),
               Catch::Matchers::Contains("points.plan") && Catch::Matchers::Contains("1 to 5"));
    CHECK_THAT(with("\"plan\"", "\"plam\""), Catch::Matchers::Contains("plam"));
    CHECK_THAT(with("1.5", "-1"), Catch::Matchers::Contains("comments[0].at_s"));
    CHECK_THAT(with("R-1", "../x"), Catch::Matchers::Contains("code"));
    CHECK_THAT(with("R-1", ".x"), Catch::Matchers::Contains("code"));
    CHECK_THAT(with(hash, "aa"), Catch::Matchers::Contains("attempt_sha256"));
}

TEST_CASE("each attempt goes to as many raters as asked, with loads alike", "[graded][rating]") {
    const auto shares = graded::share_out(31, 4, 2, 5);
    std::vector<std::set<std::size_t>> seen_by(31);
    std::size_t least = 99, most = 0;
    for (std::size_t rater = 0; rater < shares.size(); ++rater) {
        least = std::min(least, shares[rater].size());
        most = std::max(most, shares[rater].size());
        for (const std::size_t attempt : shares[rater]) CHECK(seen_by.at(attempt).insert(rater).second);
    }
    for (const auto& raters : seen_by) CHECK(raters.size() == 2);
    CHECK(most - least <= 1);
    std::set<std::set<std::size_t>> pairs(seen_by.begin(), seen_by.end());
    CHECK(pairs.size() > 3);  // not the same two side by side all the time
    CHECK(graded::share_out(31, 4, 2, 5) == shares);
    CHECK(graded::share_out(31, 4, 2, 6) != shares);
    CHECK_THROWS_AS(graded::share_out(3, 1, 2, 1), sim::InputError);
}
