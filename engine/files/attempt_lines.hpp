#pragma once

#include <string>

#include "engine/files/attempt.hpp"
#include "engine/files/json_reader.hpp"

namespace files {

/// Reads an attempt's lines one after the other, header first, into what is known of it: for a whole file and for one
/// that grows. Whether a line is the one that was written is for others to say, before.
class AttemptLines {
 public:
    /// @param file stands for it in messages  @param out must outlive this
    AttemptLines(std::string file, LoadedAttempt& out) : file_(std::move(file)), out_(out) {}

    /// @throws FileError for content that this program does not know; `out` then holds a part of the line
    void line(const ChainLine& chain);

 private:
    void header(JsonObject& line);
    void window(JsonObject& line);
    void read_end(const JsonValue& value);

    std::string file_;
    LoadedAttempt& out_;
    WindowMemory memory_;
};

}  // namespace files
