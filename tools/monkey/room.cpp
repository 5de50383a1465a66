#include "tools/monkey/room.hpp"

#include <fmt/format.h>

#include <array>
#include <sstream>
#include <thread>

namespace monkey {

namespace {

constexpr int kLookMs = 20;
constexpr int kHangMs = 20'000;  // without a frame
constexpr int kNudgeMs = 4'000;  // a window in which nothing moves draws nothing: move the mouse
constexpr int kOpenMs = 60'000;  // from start to window, and from close to end
constexpr const char* kTitle = "Planekeeper";

}  // namespace

std::string sanitizer_report(const std::filesystem::path& errors) {
    static constexpr std::array kMarks{"ERROR: AddressSanitizer",       "runtime error:",   "ERROR: LeakSanitizer",
                                       "AddressSanitizer:DEADLYSIGNAL", "terminate called", "Assertion"};
    std::ifstream in(errors);
    for (std::string line; std::getline(in, line);)
        for (const char* mark : kMarks)
            if (line.find(mark) != std::string::npos) return line;
    return "";
}

Room::Room(const std::filesystem::path& program, const std::filesystem::path& folder)
    : trainer_(program), folder_(folder), list_(folder / "deeds.txt") {
    if (!list_) throw std::runtime_error((folder / "deeds.txt").string() + " cannot be written");
}

long Room::ms() const {
    return static_cast<long>(std::chrono::duration_cast<std::chrono::milliseconds>(Clock::now() - began_).count());
}

std::filesystem::path Room::errors() const { return folder_ / fmt::format("errors-{}.txt", starts_); }
std::filesystem::path Room::journal() const { return folder_ / fmt::format("journal-{}.txt", starts_); }

void Room::start(const std::string& arguments) {
    list_ << line_of({ms(), {Do::start, 0, 0, arguments}}) << std::endl;
    frames_before_ += seen_.frames();
    ++starts_;
    std::vector<std::string> words{"--journal", journal().string()};
    std::istringstream in(arguments);
    for (std::string word; in >> word;) words.push_back(word);
    seen_.begin(journal());
    trainer_.start(words, errors());
    framed_ = nudged_ = Clock::now();
    frames_seen_ = 0;
    const auto limit = Clock::now() + std::chrono::milliseconds(kOpenMs);
    while (!hands_.find_window(kTitle) || seen_.screen().empty()) {
        if (Clock::now() > limit) throw Fault(fmt::format("no window {} s after the start", kOpenMs / 1000));
        if (const auto status = trainer_.ended()) judge_end(*status, false);
        std::this_thread::sleep_for(std::chrono::milliseconds(kLookMs));
        seen_.look();
    }
    framed_ = nudged_ = Clock::now();
}

void Room::judge_end(int status, bool asked) const {
    const std::string report = sanitizer_report(errors());
    if (!report.empty()) throw Fault(report);
    if (status < 0) throw Fault(fmt::format("ended by signal {}", -status));
    if (status > 0) throw Fault(fmt::format("ended with status {}", status));
    if (!asked) throw Fault("ended on its own");
}

void Room::close() {
    act({Do::close, 0, 0, {}});
    const auto limit = Clock::now() + std::chrono::milliseconds(kOpenMs);
    while (Clock::now() < limit) {
        if (const auto status = trainer_.ended()) {
            judge_end(*status, true);
            seen_.look();
            hands_.forget_window();
            return;
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(kLookMs));
    }
    trainer_.abort();
    throw Fault(fmt::format("still there {} s after its window was closed", kOpenMs / 1000));
}

void Room::kill() {
    act({Do::kill, 0, 0, {}});
    trainer_.kill_now();
    seen_.look();
    hands_.forget_window();
}

void Room::act(const Deed& deed) {
    list_ << line_of({ms(), deed}) << std::endl;
    ++deeds_;
    if (deed.what == Do::move) mouse_x_ = deed.x;
    hands_.send(deed);
}

void Room::look() {
    seen_.look();
    if (const auto status = trainer_.ended()) judge_end(*status, false);
    const auto now = Clock::now();
    if (seen_.frames() != frames_seen_) {
        frames_seen_ = seen_.frames();
        framed_ = nudged_ = now;
    }
    if (now - framed_ > std::chrono::milliseconds(kHangMs)) {
        trainer_.abort();
        throw Fault(fmt::format("no frame for {} s on screen {}", kHangMs / 1000, seen_.screen()));
    }
    if (now - nudged_ < std::chrono::milliseconds(kNudgeMs)) return;
    nudged_ = now;
    act({Do::move, mouse_x_ > 10 ? mouse_x_ - 1 : mouse_x_ + 1, 10, {}});
}

void Room::wait(int ms) {
    const auto limit = Clock::now() + std::chrono::milliseconds(ms);
    do {
        look();
        std::this_thread::sleep_for(std::min<Clock::duration>(std::chrono::milliseconds(kLookMs),
                                                              std::max(Clock::duration{}, limit - Clock::now())));
    } while (Clock::now() < limit);
}

bool Room::await(const std::string& what, long count, int ms) {
    const auto limit = Clock::now() + std::chrono::milliseconds(ms);
    while (seen_.count(what) < count) {
        if (Clock::now() > limit) return false;
        wait(kLookMs);
    }
    return true;
}

}  // namespace monkey
