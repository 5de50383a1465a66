#include "engine/language/catalogue.hpp"

#include <cctype>
#include <cstdint>
#include <fstream>
#include <map>
#include <optional>
#include <stdexcept>

namespace language {

namespace {

constexpr std::uint32_t kMagic = 0x950412de;
constexpr std::uint32_t kMostMessages = 100'000;
constexpr std::size_t kMostBytes = 16u << 20;
constexpr std::size_t kHeaderBytes = 20;

/// What is read out of the bytes, each access within them.
class Reader {
 public:
    Reader(std::string_view bytes, const std::string& file) : bytes_(bytes), file_(file) {
        if (bytes.size() < kHeaderBytes) refuse("size", bytes.size(), "at least 20 bytes");
        if (number(0) == kMagic) return;
        swapped_ = true;
        if (number(0) != kMagic) refuse("byte 0", bytes.size(), "the mark of a .mo file");
    }

    [[nodiscard]] std::uint32_t number(std::size_t at) const {
        if (bytes_.size() < 4 || at > bytes_.size() - 4) refuse("offset", at, "one inside the file");
        std::uint32_t out = 0;
        for (std::size_t k = 0; k < 4; ++k) {
            const std::size_t shift = 8 * (swapped_ ? 3 - k : k);
            out |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes_[at + k])) << shift;
        }
        return out;
    }

    /// The string whose length and place stand at this offset; a zero follows it in the file.
    [[nodiscard]] std::string_view text(std::size_t at) const {
        const std::size_t length = number(at), from = number(at + 4);
        if (from >= bytes_.size() || length >= bytes_.size() - from) refuse("string at", from, "one inside the file");
        if (bytes_[from + length] != '\0') refuse("end of the string at", from, "a zero byte");
        return bytes_.substr(from, length);
    }

    [[noreturn]] void refuse(const std::string& place, std::size_t value, const std::string& accepted) const {
        throw std::runtime_error(file_ + ": " + place + " " + std::to_string(value) +
                                 " is not accepted; accepted: " + accepted);
    }

 private:
    std::string_view bytes_;
    const std::string& file_;
    bool swapped_ = false;
};

/// Strings that zero bytes part.
std::vector<std::string_view> parts(std::string_view text) {
    std::vector<std::string_view> out;
    for (std::size_t from = 0;;) {
        const std::size_t end = text.find('\0', from);
        out.push_back(text.substr(from, end - from));
        if (end == std::string_view::npos) return out;
        from = end + 1;
    }
}

/// Argument to its form ("" or ":.1f"); nothing where braces do not pair or are nested.
std::optional<std::map<int, std::string>> placeholders(std::string_view text) {
    std::map<int, std::string> out;
    int next = 0;
    for (std::size_t at = 0; at < text.size(); ++at) {
        const bool twice = at + 1 < text.size() && text[at + 1] == text[at];
        if (text[at] == '}') {
            if (!twice) return std::nullopt;
            ++at;
        } else if (text[at] == '{') {
            if (twice) {
                ++at;
                continue;
            }
            const std::size_t end = text.find('}', at);
            if (end == std::string_view::npos) return std::nullopt;
            const std::string_view field = text.substr(at + 1, end - at - 1), number = field.substr(0, field.find(':'));
            int index = next;
            if (number.empty()) {
                ++next;
            } else {
                if (number.size() > 2) return std::nullopt;
                index = 0;
                for (const char c : number) {
                    if (std::isdigit(static_cast<unsigned char>(c)) == 0) return std::nullopt;
                    index = 10 * index + (c - '0');
                }
            }
            const std::string form(field.substr(number.size()));
            // one argument may be told twice in the same form
            if (!out.emplace(index, form).second && out[index] != form) return std::nullopt;
            at = end;
        }
    }
    return out;
}

/// Value of a field of the header, which is the translation of the empty message.
std::string_view header_field(std::string_view header, std::string_view key) {
    const std::size_t at = header.find(key);
    if (at == std::string_view::npos) return {};
    const std::string_view rest = header.substr(at + key.size());
    return rest.substr(0, rest.find('\n'));
}

}  // namespace

bool same_placeholders(std::string_view english, std::string_view translated) {
    const auto a = placeholders(english), b = placeholders(translated);
    // words with braces that are no format at all must keep none of them in doubt
    return a && b ? *a == *b : !a && !b;
}

Catalogue::Catalogue(std::string bytes, const std::string& file) : bytes_(std::move(bytes)) {
    const Reader reader(bytes_, file);
    if (const std::uint32_t revision = reader.number(4); revision >> 16 != 0)
        reader.refuse("revision", revision, "0 (the file was made by a newer msgfmt)");
    const std::uint32_t count = reader.number(8);
    if (count > kMostMessages) reader.refuse("number of messages", count, "0 to 100000");
    const std::size_t english_at = reader.number(12), translated_at = reader.number(16);
    for (std::size_t i = 0; i < count; ++i) {
        const std::string_view whole = reader.text(translated_at + 8 * i);
        const std::vector<std::string_view> english = parts(reader.text(english_at + 8 * i));
        if (english[0].empty()) {
            if (const std::string_view forms = header_field(whole, "Plural-Forms:"); !forms.empty()) {
                try {
                    rule_ = PluralRule(forms);
                } catch (const std::exception& problem) {
                    throw std::runtime_error(file + ": " + problem.what());
                }
            }
            continue;
        }
        std::vector<const char*> forms;
        bool fits = true;
        for (const std::string_view form : parts(whole)) {
            fits = fits && same_placeholders(english.back(), form);
            forms.push_back(form.data());
        }
        if (english.size() > 1 && forms.size() < rule_.forms()) fits = false;
        if (fits)
            messages_.emplace(english[0], std::move(forms));
        else
            left_out_.emplace_back(english[0]);
    }
}

const char* Catalogue::find(std::string_view english) const {
    const auto found = messages_.find(english);
    return found == messages_.end() ? nullptr : found->second.front();
}

const char* Catalogue::find(std::string_view english, unsigned long n) const {
    const auto found = messages_.find(english);
    if (found == messages_.end()) return nullptr;
    const std::size_t form = rule_.form(n);
    return form < found->second.size() ? found->second[form] : nullptr;
}

std::string read_catalogue_file(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) throw std::runtime_error(file.string() + ": cannot be read");
    std::string bytes;
    for (char block[1 << 16]; in.read(block, sizeof block), in.gcount() > 0;) {
        bytes.append(block, static_cast<std::size_t>(in.gcount()));
        if (bytes.size() > kMostBytes) throw std::runtime_error(file.string() + ": longer than 16 MiB");
    }
    return bytes;
}

}  // namespace language
