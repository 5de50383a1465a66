#pragma once

#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "engine/files/attempt_tail.hpp"
#include "engine/session/replay.hpp"

/// Follows an attempt that somebody is making, on a thread of its own: a disk or a network that does not answer holds
/// up nobody else.

namespace session {

inline constexpr double kFollowEachS = 0.2;  ///< between two looks at the file
/// A trainer writes at least once a second while time goes on in it.
inline constexpr double kQuietS = 4.0;

/// How an attempt stands, as its file tells.
enum class Standing {
    live,     ///< it grows
    stopped,  ///< nothing was written for some seconds: it waits, was left, or its machine is off
    ended,    ///< finished or given up: its signed end is there
};
[[nodiscard]] Standing standing_of(const files::AttemptTail& tail);

class AttemptFollower {
 public:
    /// @param tail of an attempt whose header has been read  @param from what the caller has of it already
    AttemptFollower(files::AttemptTail tail, GrownTo from);
    /// Whoever looks is told to end and not waited for.
    ~AttemptFollower();
    AttemptFollower(const AttemptFollower&) = delete;
    AttemptFollower& operator=(const AttemptFollower&) = delete;

    struct Now {
        Standing standing = Standing::live;
        double quiet_s = 0.0;   ///< since it last grew
        bool finished = false;  ///< ended by whoever made it, not given up
        std::string trouble;    ///< why nothing comes, with the file's name; empty when all is well
    };
    [[nodiscard]] Now now() const;
    /// What came since the last call, in order.
    [[nodiscard]] std::vector<Growth> take();

 private:
    struct Shared;
    std::shared_ptr<Shared> shared_;
    std::thread thread_;
};

}  // namespace session
