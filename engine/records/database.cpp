#include "engine/records/database.hpp"

#include <algorithm>

#include "engine/records/records_error.hpp"

namespace records {

namespace {

[[noreturn]] void refuse_type(std::string_view what, std::string_view wanted) {
    throw RecordsError(Fault::damaged, std::string(what), "a value of another type", std::string(wanted));
}

}  // namespace

std::int64_t integer_of(const Value& value, std::string_view what) {
    if (const auto* number = std::get_if<std::int64_t>(&value)) return *number;
    refuse_type(what, "a whole number");
}

double number_of(const Value& value, std::string_view what) {
    if (const auto* number = std::get_if<double>(&value)) return *number;
    if (const auto* number = std::get_if<std::int64_t>(&value)) return static_cast<double>(*number);
    refuse_type(what, "a number");
}

const std::string& text_of(const Value& value, std::string_view what) {
    if (const auto* text = std::get_if<std::string>(&value)) return *text;
    refuse_type(what, "a text");
}

const std::string& bytes_of(const Value& value, std::string_view what) {
    if (const auto* blob = std::get_if<Blob>(&value)) return blob->bytes;
    refuse_type(what, "bytes");
}

std::string with_words(std::string_view sql,
                       std::initializer_list<std::pair<std::string_view, std::string_view>> words) {
    std::string out(sql);
    for (const auto& [from, to] : words)
        for (std::size_t at = out.find(from); at != std::string::npos; at = out.find(from, at + to.size()))
            out.replace(at, from.size(), to);
    return out;
}

Place place_of(std::string_view text) {
    Place place;
    place.address = place.shown = std::string(text);
    if (text.empty()) throw RecordsError(Fault::bad_input, "--records", "an empty place", "a file or postgresql://...");
    const std::size_t scheme = text.find("://");
    if (scheme == std::string_view::npos) return place;
    const std::string_view name = text.substr(0, scheme);
    // a pass word stands between the first colon and the last @ of "//user:pass@host", and may hold a slash that nobody
    // wrote as %2F
    const std::size_t from = scheme + 3, end = std::min(text.find('?', from), text.size());
    const std::size_t at = text.substr(0, end).rfind('@');
    if (at != std::string_view::npos && at >= from) {
        const std::size_t colon = text.find(':', from);
        if (colon < at) place.shown = std::string(text.substr(0, colon)) + ":***" + std::string(text.substr(at));
    }
    static constexpr std::string_view kKey = "password=", kHidden = "password=***";
    for (std::size_t secret = place.shown.find(kKey); secret != std::string::npos;
         secret = place.shown.find(kKey, secret + kHidden.size())) {
        const std::size_t stop = std::min(place.shown.find('&', secret), place.shown.size());
        place.shown.replace(secret, stop - secret, kHidden);
    }
    if (name != "postgresql" && name != "postgres")
        throw RecordsError(Fault::bad_input, place.shown, "an unknown kind of address",
                           "a file, postgresql://... or postgres://...");
    place.kind = Place::Kind::postgres;
    return place;
}

}  // namespace records
