#include "engine/language/language.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>

#include "engine/language/plural_rule.hpp"
#include "engine/language/words.hpp"

using Catch::Matchers::Contains;
using language::Catalogue;
using language::say;
using language::say_many;
using language::tr;

namespace {

void put(std::string& bytes, std::size_t at, std::uint32_t value) {
    for (std::size_t k = 0; k < 4; ++k) bytes[at + k] = static_cast<char>((value >> (8 * k)) & 255u);
}

/// A .mo file made by hand after the GNU gettext manual (10.3): header, two tables, strings. Sorted by the caller.
std::string mo(const std::vector<std::pair<std::string, std::string>>& messages) {
    const std::size_t n = messages.size(), english = 28, translated = english + 8 * n;
    std::string bytes(translated + 8 * n, '\0');
    put(bytes, 0, 0x950412de);
    put(bytes, 8, static_cast<std::uint32_t>(n));
    put(bytes, 12, static_cast<std::uint32_t>(english));
    put(bytes, 16, static_cast<std::uint32_t>(translated));
    for (std::size_t i = 0; i < 2 * n; ++i) {
        const std::string& text = i < n ? messages[i].first : messages[i - n].second;
        put(bytes, english + 8 * i, static_cast<std::uint32_t>(text.size()));
        put(bytes, english + 8 * i + 4, static_cast<std::uint32_t>(bytes.size()));
        bytes += text + '\0';
    }
    return bytes;
}

const std::string kBarbs("{} barb\0{} barbs", 16), kHaken("{} Widerhaken\0{} Widerhaken, viele", 34);

std::string some() {
    return mo({{"", "Content-Type: text/plain; charset=UTF-8\nPlural-Forms: nplurals=2; plural=(n != 1);\n"},
               {"Settings", "Einstellungen"},
               {"{:.1f} mm", "{} mm"},
               {"{} of {}", "von {1} sind es {0}"},
               {kBarbs, kHaken}});
}

/// English again when the test ends.
struct Chosen {
    explicit Chosen(const Catalogue& catalogue) { language::choose(&catalogue, "de"); }
    ~Chosen() { language::choose(nullptr, "en"); }
};

}  // namespace

TEST_CASE("English needs no catalogue", "[language]") {
    CHECK(language::now() == "en");
    CHECK(std::string(tr("Settings")) == "Settings");
    CHECK(say("{:.1f} mm deep", 2.25) == "2.2 mm deep");
    CHECK(say_many("{} barb", "{} barbs", 1, 1) == "1 barb");
    CHECK(say_many("{} barb", "{} barbs", 0, 0) == "0 barbs");
}

TEST_CASE("Words are looked up by their English, and placeholders may change places", "[language]") {
    const Catalogue catalogue(some(), "de.mo");
    const Chosen chosen(catalogue);
    CHECK(language::now() == "de");
    CHECK(std::string(tr("Settings")) == "Einstellungen");
    CHECK(tr(std::string("Settings")) == "Einstellungen");
    CHECK(tr(std::string_view("Settings")) == "Einstellungen");
    CHECK(std::string(tr("Not in it")) == "Not in it");
    CHECK(say("{} of {}", 3, 7) == "von 7 sind es 3");
    CHECK(say_many("{} barb", "{} barbs", 1, 1) == "1 Widerhaken");
    CHECK(say_many("{} barb", "{} barbs", 5, 5) == "5 Widerhaken, viele");
}

TEST_CASE("A translation whose placeholders do not fit is left out", "[language]") {
    const Catalogue catalogue(some(), "de.mo");
    CHECK(catalogue.left_out() == std::vector<std::string>{"{:.1f} mm"});
    const Chosen chosen(catalogue);
    CHECK(say("{:.1f} mm", 1.0) == "1.0 mm");
    CHECK(language::same_placeholders("{:.1f} in {}", "{1}: {0:.1f}"));
    CHECK_FALSE(language::same_placeholders("{} and {}", "{}"));
    CHECK_FALSE(language::same_placeholders("{}", "{"));
    CHECK_FALSE(language::same_placeholders("{}", "{0} {5}"));
    CHECK_FALSE(language::same_placeholders("{:.0f}", "{:.1f}"));
    CHECK(language::same_placeholders("none, {{ or }}", "keiner"));
}

TEST_CASE("A damaged catalogue is refused with its name", "[language]") {
    const std::string good = some();
    CHECK_THROWS_WITH(Catalogue("short", "de.mo"), Contains("de.mo") && Contains("at least 20 bytes"));
    std::string bad = good;
    bad[0] = 'x';
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("mark of a .mo file"));
    bad = good;
    put(bad, 4, 1u << 16);
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("revision"));
    bad = good;
    put(bad, 8, 200'000);
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("number of messages"));
    bad = good;
    put(bad, 12, 0xffffffffu);
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("offset"));
    bad = good;
    put(bad, 28 + 8, 0xfffffff0u);  // length of the second message
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("inside the file"));
    bad = good;
    put(bad, 28 + 8, 3);  // ends before its zero
    CHECK_THROWS_WITH(Catalogue(bad, "de.mo"), Contains("a zero byte"));
    // every file that is cut short, and every single byte turned over, is read or refused and nothing else
    for (std::size_t size = 0; size < good.size(); ++size)
        CHECK_THROWS_AS(Catalogue(good.substr(0, size), "de.mo"), std::runtime_error);
    for (std::size_t at = 0; at < good.size(); ++at) {
        bad = good;
        bad[at] = static_cast<char>(~bad[at]);
        try {
            const Catalogue read(bad, "de.mo");
            CHECK(read.size() <= 5);
        } catch (const std::runtime_error&) {
        }
    }
}

TEST_CASE("Numbers are put in the order of the other kind of machine too", "[language]") {
    std::string swapped = mo({{"a", "b"}});
    for (std::size_t at = 0; at < 28 + 16; at += 4)
        std::swap(swapped[at], swapped[at + 3]), std::swap(swapped[at + 1], swapped[at + 2]);
    CHECK(std::string(Catalogue(swapped, "de.mo").find("a")) == "b");
}

// expressions and their values: GNU gettext manual 11.2.6, "Additional functions for plural forms"
TEST_CASE("Plural rules of the gettext manual", "[language]") {
    CHECK(language::PluralRule("nplurals=1; plural=0;").form(5) == 0);
    const language::PluralRule french("nplurals=2; plural=n>1;");
    CHECK(french.form(0) == 0);
    CHECK(french.form(2) == 1);
    const language::PluralRule polish(
        "nplurals=3; plural=n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2;");
    const std::size_t forms[] = {2, 0, 1, 1, 1, 2};
    for (unsigned long n = 0; n < 6; ++n) CHECK(polish.form(n) == forms[n]);
    CHECK(polish.form(12) == 2);
    CHECK(polish.form(22) == 1);
    CHECK(polish.form(25) == 2);
    CHECK(language::PluralRule("nplurals=2; plural=n/0;").form(3) == 0);
    CHECK(language::PluralRule("nplurals=2; plural=9;").form(3) == 0);
    for (const char* bad :
         {"plural=0;", "nplurals=2;", "nplurals=0; plural=0;", "nplurals=2; plural=n ==;", "nplurals=2; plural=(n;",
          "nplurals=2; plural=n ? 1;", "nplurals=2; plural=m;", "nplurals=99; plural=0;"})
        CHECK_THROWS_AS(language::PluralRule(bad), std::runtime_error);
    CHECK_THROWS_AS(language::PluralRule("nplurals=2; plural=" + std::string(10'000, '(')), std::runtime_error);
    CHECK_THROWS_AS(language::PluralRule("nplurals=2; plural=" + std::string(10'000, '!') + "n"), std::runtime_error);
}

TEST_CASE("The machine's language is read from its environment", "[language]") {
    const auto with = [](const char* all, const char* messages, const char* lang) {
        setenv("LC_ALL", all, 1);
        setenv("LC_MESSAGES", messages, 1);
        setenv("LANG", lang, 1);
        return std::string(language::system_language());
    };
    CHECK(with("", "", "de_AT.UTF-8") == "de");
    CHECK(with("", "de", "en_GB.UTF-8") == "de");
    CHECK(with("C.UTF-8", "de", "de") == "en");
    CHECK(with("", "", "") == "en");
    CHECK(with("", "", "fr_CA@euro") == "en");
    unsetenv("LC_ALL");
    unsetenv("LC_MESSAGES");
    unsetenv("LANG");
    CHECK_FALSE(language::choose("de", "/nowhere").empty());
    CHECK(language::now() == "en");
    CHECK(language::choose("en", "/nowhere").empty());
}
