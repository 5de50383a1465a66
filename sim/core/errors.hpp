#pragma once

#include <cstdio>
#include <cstdlib>
#include <stdexcept>
#include <string>

/// How sim/ says that something is wrong: InputError for a value that came from outside, SIM_ASSERT for a caller's bug.

namespace sim {

/// A value from outside that cannot be accepted. The engine adds the file; sim names place, value and what is accepted.
class InputError : public std::runtime_error {
 public:
    InputError(std::string place, std::string value, std::string accepted)
        : std::runtime_error(place + ": " + value + " is not accepted; accepted: " + accepted),
          place_(std::move(place)),
          value_(std::move(value)),
          accepted_(std::move(accepted)) {}
    InputError(std::string place, double value, std::string accepted)
        : InputError(std::move(place), number_text(value), std::move(accepted)) {}

    [[nodiscard]] const std::string& place() const { return place_; }
    [[nodiscard]] const std::string& value() const { return value_; }
    [[nodiscard]] const std::string& accepted() const { return accepted_; }

 private:
    static std::string number_text(double value) {
        char text[40];
        std::snprintf(text, sizeof text, "%.9g", value);
        return text;
    }
    std::string place_, value_, accepted_;
};

/// "0 to 20"
inline std::string range_text(double low, double high) {
    char text[64];
    std::snprintf(text, sizeof text, "%g to %g", low, high);
    return text;
}

/// @throws InputError for a value outside the range or not a number; both ends are accepted
inline void require_within(const std::string& place, double value, double low, double high) {
    if (!(value >= low && value <= high)) throw InputError(place, value, range_text(low, high));
}

[[noreturn]] inline void assertion_failed(const char* expression, const char* file, int line) {
    std::fprintf(stderr, "%s:%d: assertion failed: %s\n", file, line, expression);
    std::abort();
}

}  // namespace sim

/// A promise that a caller broke. On wherever NDEBUG is not the only guide: Debug, RelWithDebInfo and tests.
#if defined(PK_NO_ASSERT)
#define SIM_ASSERT(expression) static_cast<void>(0)
#else
#define SIM_ASSERT(expression) \
    ((expression) ? static_cast<void>(0) : ::sim::assertion_failed(#expression, __FILE__, __LINE__))
#endif
