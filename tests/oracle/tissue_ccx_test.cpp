#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "sim/anatomy/structures.hpp"
#include "sim/tissue/ccx_deck.hpp"
#include "tests/support/heads.hpp"
#include "tests/support/scratch.hpp"

using sim::Vec3;

namespace {

using Moved = std::map<int, Vec3>;

/// What CalculiX prints after *NODE PRINT: node, then three displacements.
Moved printed_by_ccx(const std::filesystem::path& file) {
    Moved out;
    std::ifstream in(file);
    for (std::string line; std::getline(in, line);) {
        std::istringstream words(line);
        int node = 0;
        Vec3 u{};
        if (words >> node >> u.x >> u.y >> u.z) out[node] = u;
    }
    return out;
}

Moved beside(const std::string& table) {
    Moved out;
    std::istringstream in(table);
    std::string line;
    std::getline(in, line);
    while (std::getline(in, line)) {
        for (char& c : line)
            if (c == ',') c = ' ';
        std::istringstream words(line);
        int node = 0;
        Vec3 p{}, u{};
        words >> node >> p.x >> p.y >> p.z >> u.x >> u.y >> u.z;
        out[node] = u;
    }
    return out;
}

sim::Head head_of_maren() {
    const auto tissue = sim::build_head_tissue(support::maren(), support::on_two_threads, {});
    sim::Placement placed = sim::place_structures(*tissue, 0);
    return {tissue, std::move(placed.structures), std::move(placed.ligaments), std::move(placed.landmarks)};
}

/// Writes the deck, has CalculiX run it as it is, and compares every node.
void compare(const sim::fe::Deck& deck, int threads) {
    const support::Scratch scratch;
    std::ofstream(scratch.path("deck.inp")) << deck.input;
    const std::string run = "cd '" + scratch.folder().string() + "' && OMP_NUM_THREADS=" + std::to_string(threads) +
                            " ccx deck > ccx.log 2>&1";
    REQUIRE(std::system(run.c_str()) == 0);
    const Moved theirs = printed_by_ccx(scratch.path("deck.dat"));
    const Moved ours = beside(deck.table);
    REQUIRE(theirs.size() == ours.size());
    double peak = 0.0;
    double worst = 0.0;
    for (const auto& [node, u] : ours) {
        peak = std::max(peak, glm::length(u));
        worst = std::max(worst, glm::length(u - theirs.at(node)));
    }
    INFO("peak " << peak << " mm, worst difference " << worst << " mm");
    CHECK(peak > 0.1);
    CHECK(worst < 1e-5 * peak);
}

}  // namespace

TEST_CASE("CalculiX finds the same displacements, node by node", "[oracle][tissue]") {
    const sim::Head head = head_of_maren();
    sim::fe::ChartSettings settings;
    settings.edge_m = 8.0 * sim::kMm;
    sim::fe::TissueParameters parameters = sim::fe::parameters_for(sim::fe::Laxity::lax);
    parameters.string_spacing_m = 30.0 * sim::kMm;
    sim::fe::TetheredBody body(head, settings, parameters);
    for (const auto load : {sim::fe::DeckLoad::upright, sim::fe::DeckLoad::supine, sim::fe::DeckLoad::thread})
        compare(make_deck(head, body, load), 1);
}

TEST_CASE("CalculiX finds the same displacements on a full-size mesh", "[oracle][tissue][.slow]") {
    const sim::Head head = head_of_maren();
    sim::fe::TetheredBody body(head, {}, sim::fe::parameters_for(sim::fe::Laxity::lax));
    compare(make_deck(head, body, sim::fe::DeckLoad::supine), 2);
}
