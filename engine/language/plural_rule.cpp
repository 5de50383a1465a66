#include "engine/language/plural_rule.hpp"

#include <array>
#include <cctype>
#include <optional>
#include <stdexcept>
#include <string>

namespace language {

namespace {

constexpr unsigned long kMostForms = 8;  // six are the most that any language has
constexpr int kDeepest = 40;

}  // namespace

/// Recursive descent by rising strength of the operators; writes steps in the order in which a stack takes them.
class PluralRule::Parser {
 public:
    Parser(std::string_view text, std::vector<Step>& out) : text_(text), out_(out) {}

    void whole() {
        ternary();
        if (!at_end()) refuse("the end of the expression");
    }

    [[noreturn]] void refuse(const char* accepted) const {
        throw std::runtime_error("plural rule \"" + std::string(text_) + "\", character " + std::to_string(at_ + 1) +
                                 ": not accepted; accepted: " + accepted);
    }

 private:
    struct Binary {
        std::string_view sign;
        Op op;
        int strength;
    };
    // longer signs first
    static constexpr std::array<Binary, 13> kBinary{{{"||", Op::either, 0},
                                                     {"&&", Op::both, 1},
                                                     {"==", Op::same, 2},
                                                     {"!=", Op::other, 2},
                                                     {"<=", Op::at_most, 3},
                                                     {">=", Op::at_least, 3},
                                                     {"<", Op::less, 3},
                                                     {">", Op::greater, 3},
                                                     {"+", Op::plus, 4},
                                                     {"-", Op::minus, 4},
                                                     {"*", Op::times, 5},
                                                     {"/", Op::over, 5},
                                                     {"%", Op::rest, 5}}};

    void ternary() {
        if (++depth_ > kDeepest) refuse("fewer brackets");
        binary(0);
        if (take("?")) {
            ternary();
            if (!take(":")) refuse("\":\"");
            ternary();
            out_.push_back({Op::choose});
        }
        --depth_;
    }

    void binary(int strength) {
        if (strength > 5) return unary();
        binary(strength + 1);
        while (const auto found = sign_of(strength)) {
            binary(strength + 1);
            out_.push_back({*found});
        }
    }

    void unary() {
        if (++depth_ > kDeepest) refuse("fewer brackets");
        if (take("!")) {
            unary();
            out_.push_back({Op::negate});
        } else if (take("(")) {
            ternary();
            if (!take(")")) refuse("\")\"");
        } else if (take("n")) {
            out_.push_back({Op::n});
        } else {
            number();
        }
        --depth_;
    }

    void number() {
        unsigned long value = 0;
        const std::size_t from = at_;
        for (; at_ < text_.size() && std::isdigit(static_cast<unsigned char>(text_[at_])) != 0; ++at_) {
            if (value > 1'000'000) refuse("a number below ten million");
            value = 10 * value + static_cast<unsigned long>(text_[at_] - '0');
        }
        if (at_ == from) refuse("n, a number, \"!\" or \"(\"");
        out_.push_back({Op::number, value});
    }

    std::optional<Op> sign_of(int strength) {
        for (const Binary& one : kBinary)
            if (one.strength == strength && take(one.sign)) return one.op;
        return std::nullopt;
    }

    bool take(std::string_view sign) {
        if (at_end() || text_.substr(at_, sign.size()) != sign) return false;
        at_ += sign.size();
        return true;
    }

    bool at_end() {
        while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_])) != 0) ++at_;
        return at_ == text_.size();
    }

    std::string_view text_;
    std::vector<Step>& out_;
    std::size_t at_ = 0;
    int depth_ = 0;
};

PluralRule::PluralRule() : steps_{{Op::n}, {Op::number, 1}, {Op::other}} {}

PluralRule::PluralRule(std::string_view forms) {
    const auto after = [forms](std::string_view key) {
        const std::size_t at = forms.find(key);
        if (at == std::string_view::npos)
            throw std::runtime_error("plural forms \"" + std::string(forms) + "\": " + std::string(key) +
                                     " is missing; accepted: nplurals=NUMBER; plural=EXPRESSION;");
        const std::string_view rest = forms.substr(at + key.size());
        return rest.substr(0, rest.find(';'));
    };
    std::vector<Step> count;
    Parser(after("nplurals="), count).whole();
    if (count.size() != 1 || count[0].op != Op::number || count[0].value < 1 || count[0].value > kMostForms)
        throw std::runtime_error("plural forms \"" + std::string(forms) +
                                 "\": nplurals is not accepted; accepted: 1 to 8");
    forms_ = count[0].value;
    Parser(after("plural="), steps_).whole();
}

std::size_t PluralRule::form(unsigned long n) const {
    std::vector<unsigned long> stack;
    const auto pop = [&stack] {
        const unsigned long top = stack.back();
        stack.pop_back();
        return top;
    };
    for (const Step& step : steps_) {
        if (step.op == Op::number || step.op == Op::n) {
            stack.push_back(step.op == Op::n ? n : step.value);
            continue;
        }
        const unsigned long b = pop();
        if (step.op == Op::negate) {
            stack.push_back(b == 0 ? 1 : 0);
            continue;
        }
        const unsigned long a = pop();
        switch (step.op) {
            case Op::times:
                stack.push_back(a * b);
                break;
            case Op::over:
            case Op::rest:
                if (b == 0) return 0;
                stack.push_back(step.op == Op::over ? a / b : a % b);
                break;
            case Op::plus:
                stack.push_back(a + b);
                break;
            case Op::minus:
                stack.push_back(a - b);
                break;
            case Op::less:
                stack.push_back(a < b ? 1 : 0);
                break;
            case Op::greater:
                stack.push_back(a > b ? 1 : 0);
                break;
            case Op::at_most:
                stack.push_back(a <= b ? 1 : 0);
                break;
            case Op::at_least:
                stack.push_back(a >= b ? 1 : 0);
                break;
            case Op::same:
                stack.push_back(a == b ? 1 : 0);
                break;
            case Op::other:
                stack.push_back(a != b ? 1 : 0);
                break;
            case Op::both:
                stack.push_back(a != 0 && b != 0 ? 1 : 0);
                break;
            case Op::either:
                stack.push_back(a != 0 || b != 0 ? 1 : 0);
                break;
            default:
                stack.push_back(pop() != 0 ? a : b);
        }
    }
    return stack.back() < forms_ ? stack.back() : 0;
}

}  // namespace language
