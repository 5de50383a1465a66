#include "engine/language/phrases.hpp"

#include <catch2/catch.hpp>
#include <memory>

#include "engine/language/language.hpp"

namespace {

/// The German that is shipped, as it was compiled with this build.
const language::Phrases& german() {
    static const auto file = language::catalogue_folder() / "de" / "LC_MESSAGES" / "planekeeper.mo";
    static const language::Catalogue catalogue(language::read_catalogue_file(file), file.string());
    static const language::Phrases phrases(catalogue);
    return phrases;
}

std::string in_german(const char* english) { return german().translate(english).value_or("nothing"); }

}  // namespace

TEST_CASE("Every message of the shipped German is used", "[language]") {
    const auto file = language::catalogue_folder() / "de" / "LC_MESSAGES" / "planekeeper.mo";
    const language::Catalogue catalogue(language::read_catalogue_file(file), file.string());
    CHECK(catalogue.left_out().empty());
    CHECK(catalogue.size() > 1000);
}

// what sim and session put together, as it stands in records and screens
TEST_CASE("Words that come put together are translated by patterns and in parts", "[language]") {
    CHECK(in_german("Sensitivity") == "Empfindlichkeit");
    CHECK(in_german("Press") == "Drücken");  // from "press", with its first letter raised
    CHECK(in_german("3 of 12") == "3 von 12");
    CHECK(in_german("pilot went 3.6 mm past the superficial fat") ==
          "Vorstechnadel ging 3.6 mm unter das Unterhautfett");
    CHECK(in_german("Pilot at 62 degrees to the skin") == "Vorstechnadel in 62 Grad zur Haut");
    CHECK(in_german("shaft came within 1.2 mm of the left facial vein") ==
          "Schaft kam bis auf 1.2 mm heran: Vena facialis links");
    CHECK(in_german("Under the tip 1.4 mm of superficial fat, then the SMAS or platysma. Facial vein 1.2 mm away.") ==
          "Unter der Spitze 1.4 mm Unterhautfett, dann SMAS oder Platysma. Vena facialis 1.2 mm entfernt.");
    CHECK(in_german("masseteric ligament, upper forced at 7.4 N, tip plunged 3.0 mm") ==
          "Ligamentum massetericum, oberes erzwungen bei 7.4 N, Spitze stieß 3.0 mm durch");
    CHECK(in_german("\"It hurts.\"") == "„Es tut weh.“");
    CHECK(in_german(
              "2 questions of the history not asked before the decision, wanted every question before the decision") ==
          "2 Fragen der Anamnese vor der Entscheidung nicht gestellt, verlangt jede Frage vor der Entscheidung");
}

TEST_CASE("Figures and units are the same everywhere", "[language]") {
    CHECK(language::says_nothing("12.5 mm"));
    CHECK(language::says_nothing("\u201312.5 %"));
    CHECK(in_german("23 mm") == "23 mm");
    CHECK_FALSE(language::says_nothing("2 tracks"));
}

TEST_CASE("What no catalogue knows stays as it is and is told", "[language]") {
    CHECK(in_german("Quibble flotsam") == "nothing");
    CHECK(german().missed().contains("Quibble flotsam"));
    CHECK(in_german("Sensitivity: quibble") == "Empfindlichkeit: quibble");
}
