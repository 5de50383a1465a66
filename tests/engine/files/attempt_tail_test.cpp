#include "engine/files/attempt_tail.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "engine/files/bytes.hpp"
#include "tests/engine/files/files_support.hpp"

/// An attempt's file followed while it grows, is cut, goes and comes back.

using Catch::Matchers::Contains;
using files::AttemptTail;
using files_test::bytes_of;
using files_test::Folder;

namespace fs = std::filesystem;

namespace {

/// A short attempt: header, three windows with an event each, and perhaps its end.
fs::path written(const Folder& folder, bool ended, const std::string& name = "one.attempt") {
    const fs::path file = folder / name;
    files::AttemptWriter writer(file, files_test::test_header(), files_test::test_key());
    for (int i = 1; i <= 3; ++i) {
        files::WindowData data;
        data.to_step = 64 * i;
        data.commands.push_back({64 * i - 10, {sim::Verb::take, {i, 0, 0}}});
        sim::Event event;
        event.step = 64 * i - 9;
        event.kind = sim::EventKind::instrument_taken;
        event.subject = i;
        data.events.push_back(event);
        REQUIRE(writer.window(data));
    }
    if (ended) REQUIRE(writer.end(200, true));
    return file;
}

void append(const fs::path& file, std::string_view bytes) {
    std::ofstream(file, std::ios::binary | std::ios::app)
        .write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

void check_same(const files::LoadedAttempt& is, const files::LoadedAttempt& was) {
    CHECK(is.header.attempt_id == was.header.attempt_id);
    CHECK(is.commands == was.commands);
    CHECK(is.answers == was.answers);
    CHECK(is.recording.steps == was.recording.steps);
    CHECK(is.recording.finished == was.recording.finished);
    REQUIRE(is.recording.events.size() == was.recording.events.size());
    for (std::size_t i = 0; i < was.recording.events.size(); ++i) {
        CHECK(is.recording.events[i].step == was.recording.events[i].step);
        CHECK(is.recording.events[i].subject == was.recording.events[i].subject);
    }
}

}  // namespace

TEST_CASE("a file that grows byte by byte gives at each byte what its whole lines say", "[files][tail]") {
    const Folder folder;
    const std::string bytes = bytes_of(written(folder, true));
    const fs::path file = folder / "growing.attempt";
    AttemptTail tail(file);
    CHECK_FALSE(tail.read_on());
    CHECK_THAT(tail.trouble(), Contains("growing.attempt"));
    CHECK_FALSE(tail.given_up());
    std::ofstream(file).close();
    std::size_t lines = 0;
    for (std::size_t i = 0; i < bytes.size(); ++i) {
        append(file, bytes.substr(i, 1));
        const bool whole = bytes[i] == '\n';
        REQUIRE(tail.read_on() == whole);
        REQUIRE(tail.trouble().empty());
        lines += whole ? 1 : 0;
        REQUIRE(tail.begun() == (lines > 0));
        if (lines > 0)
            REQUIRE(tail.attempt().recording.steps == (lines == 5 ? 200 : 64 * (static_cast<int>(lines) - 1)));
        REQUIRE(tail.ended() == (lines == 5));
    }
    REQUIRE(lines == 5);
    CHECK_FALSE(tail.read_on());
    check_same(tail.attempt(), files::read_attempt(folder / "one.attempt"));
}

TEST_CASE("looks that read little come to the same as one that reads all; a line may be longer than a look",
          "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, true);
    AttemptTail tail(file);
    // each look that finds no line end reads twice as much the next time
    int looks = 0;
    do {
        static_cast<void>(tail.read_on(16));
        REQUIRE(++looks < 1000);
    } while (tail.behind());
    CHECK(looks > 5);
    CHECK(tail.ended());
    check_same(tail.attempt(), files::read_attempt(file));
}

TEST_CASE("a torn last line is waited for, and may be cut off and written anew", "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, false);
    const std::string bytes = bytes_of(file);
    AttemptTail tail(file);
    REQUIRE(tail.read_all());
    append(file, R"({"seq":4,"to":25)");
    CHECK_FALSE(tail.read_on());
    CHECK(tail.trouble().empty());
    // who goes on with it cuts the piece off: the file shrinks, and no line is lost
    fs::resize_file(file, bytes.size());
    CHECK_FALSE(tail.read_on());
    CHECK(tail.trouble().empty());
    auto writer = files::AttemptWriter::resume(file, files_test::test_key());
    files::WindowData data;
    data.to_step = 256;
    data.commands.push_back({250, {sim::Verb::finish, {}}});
    REQUIRE(writer.window(data));
    REQUIRE(writer.end(260, false));
    CHECK(tail.read_all());
    CHECK(tail.attempt().recording.steps == 260);
    CHECK(tail.ended());
    CHECK_FALSE(tail.attempt().recording.finished);
    check_same(tail.attempt(), files::read_attempt(file));
}

TEST_CASE("a file that shrinks or goes is told by name, and followed again once it is back", "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, false);
    const std::string bytes = bytes_of(file);
    AttemptTail tail(file);
    REQUIRE(tail.read_all());
    fs::resize_file(file, bytes.size() - 40);
    CHECK_FALSE(tail.read_on());
    CHECK_THAT(tail.trouble(), Contains("one.attempt") && Contains("only grows"));
    CHECK_FALSE(tail.given_up());
    fs::remove(file);
    CHECK_FALSE(tail.read_on());
    CHECK_THAT(tail.trouble(), Contains("one.attempt") && Contains("No such file"));
    CHECK(tail.attempt().recording.steps == 192);
    // the same bytes as another file, as a copy across machines leaves them
    static_cast<void>(folder.put("one.attempt", bytes));
    CHECK_FALSE(tail.read_on());
    CHECK(tail.trouble().empty());
    auto writer = files::AttemptWriter::resume(file, files_test::test_key());
    REQUIRE(writer.end(192, false));
    CHECK(tail.read_all());
    CHECK(tail.ended());
}

TEST_CASE("another file under the same name is not followed", "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, false);
    AttemptTail tail(file);
    REQUIRE(tail.read_all());
    const fs::path other = written(folder, true, "other.attempt");  // another number, so that every hash differs
    fs::remove(file);
    fs::rename(other, file);
    CHECK_FALSE(tail.read_on());
    CHECK(tail.given_up());
    CHECK_THAT(tail.trouble(), Contains("one.attempt") && Contains("line 4"));
    CHECK(tail.attempt().recording.steps == 192);
}

TEST_CASE("a line that was not written so ends the following before it", "[files][tail]") {
    const Folder folder;
    const std::string bytes = bytes_of(written(folder, true));
    const auto [from, to, line] = GENERATE(table<std::string, std::string, std::string>(
        {{R"("to":128)", R"("to":129)", "line 3"},                       // changed
         {R"({"seq":2,)", R"({"seq":7,)", "line 3"},                     // out of its order
         {R"("signature":")", R"("signatur":")", "line 5"},              // no line of an attempt
         {R"({"seq":0,"header")", R"({"seq":0,"haeder")", "line 1"}}));  // no header
    INFO(from << " " << to);
    const fs::path file = folder.put("changed.attempt", files_test::replaced(bytes, from, to));
    AttemptTail tail(file);
    static_cast<void>(tail.read_all());
    CHECK(tail.given_up());
    CHECK_THAT(tail.trouble(), Contains("changed.attempt") && Contains(line));
    CHECK(tail.begun() == (line != "line 1"));
    CHECK_FALSE(tail.ended());
    if (line == "line 3") CHECK(tail.attempt().recording.steps == 64);
    append(file, "\n\n");
    CHECK_FALSE(tail.read_on());
}

TEST_CASE("lines after the signed end, and what is no file of lines, are refused", "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, true);
    append(file, "{\"seq\":5}\n");
    AttemptTail tail(file);
    static_cast<void>(tail.read_all());
    CHECK(tail.ended());
    CHECK_THAT(tail.trouble(), Contains("line 6") && Contains("after the signed end"));

    fs::create_directories(folder / "folder.attempt");
    AttemptTail none(folder / "folder.attempt");
    CHECK_FALSE(none.read_on());
    CHECK(none.given_up());
    AttemptTail words(folder.put("words.attempt", "not an attempt\n"));
    CHECK_FALSE(words.read_on());
    CHECK_THAT(words.trouble(), Contains("words.attempt") && Contains("line 1"));
}

TEST_CASE("a line whose chain holds and whose words are unknown is told, and nothing of it believed", "[files][tail]") {
    const Folder folder;
    const std::string bytes = bytes_of(written(folder, false));
    const files::ChainLines chain = files::split_chain(bytes);
    const std::string body = R"({"seq":4,"to":300,"commands":"1 no_such_verb"})";
    const files::Hash hash = files::chained(chain.lines.back().hash, body);
    const fs::path file = folder.put("later.attempt", bytes + files::chain_line(body, hash, nullptr));
    AttemptTail tail(file);
    CHECK(tail.read_all());
    CHECK(tail.given_up());
    CHECK_THAT(tail.trouble(), Contains("later.attempt") && Contains("line 5"));
    CHECK(tail.attempt().recording.steps == 192);
}

TEST_CASE("looking changes nothing of the file, and does not keep others from writing it", "[files][tail]") {
    const Folder folder;
    const fs::path file = written(folder, false);
    const std::string bytes = bytes_of(file);
    const auto time = fs::last_write_time(file);
    fs::permissions(file, fs::perms::owner_read);
    AttemptTail tail(file);
    REQUIRE(tail.read_all());
    CHECK(bytes_of(file) == bytes);
    CHECK(fs::last_write_time(file) == time);
    fs::permissions(file, fs::perms::owner_read | fs::perms::owner_write);
    CHECK_NOTHROW(files::AttemptWriter::resume(file, files_test::test_key()));  // would be refused if it were locked
}
