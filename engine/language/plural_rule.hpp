#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

/// Which form of a message a number takes: the expression after "plural=" in a catalogue's header, as the GNU gettext
/// manual (12.6, "Additional functions for plural forms") describes it: C without calls and assignments, over n.

namespace language {

class PluralRule {
 public:
    /// Two forms, the first for 1: English and German.
    PluralRule();
    /// @param forms value of the header's field, "nplurals=2; plural=(n != 1);"
    /// @throws std::runtime_error telling what is not accepted
    explicit PluralRule(std::string_view forms);

    [[nodiscard]] std::size_t forms() const { return forms_; }
    /// @return below forms(); 0 where the expression gives more, or divides by zero
    [[nodiscard]] std::size_t form(unsigned long n) const;

 private:
    /// One step of a machine with a stack.
    enum class Op : unsigned char {
        number,
        n,
        negate,
        times,
        over,
        rest,
        plus,
        minus,
        less,
        greater,
        at_most,
        at_least,
        same,
        other,
        both,
        either,
        choose
    };
    struct Step {
        Op op;
        unsigned long value = 0;
    };
    class Parser;

    std::size_t forms_ = 2;
    std::vector<Step> steps_;
};

}  // namespace language
