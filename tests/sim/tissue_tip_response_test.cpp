#include "sim/tissue/tip_response.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "tests/support/coarse_tissue.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using sim::Vec3;
using sim::fe::ChartPlace;
using sim::fe::HexMesh;
using sim::fe::kCellsDeep;
using sim::fe::TipNode;
using sim::fe::TipResponse;

namespace {

struct Solved {
    const HexMesh& mesh;
    sim::fe::Response& response;
};

Solved coarse() { return {support::shared_coarse_body().mesh(), support::shared_coarse_body().response()}; }
const HexMesh& mesh() { return coarse().mesh; }
sim::fe::Response& response() { return coarse().response; }

/// The same force solved for directly at the place itself.
Eigen::VectorXd direct_skin_m(const Solved& on, const ChartPlace& tip, const Vec3& force_n) {
    Eigen::VectorXd load = Eigen::VectorXd::Zero(on.mesh.cells.unknowns());
    for (const auto& [node, weight] : sim::fe::patch_at(on.mesh, tip).weight)
        for (int r = 0; r < 3; ++r) load[3 * node + r] = weight * force_n[r];
    const Eigen::VectorXd moved = on.response.solve(load);
    Eigen::VectorXd skin(3 * on.mesh.columns());
    for (int c = 0; c < on.mesh.columns(); ++c)
        skin.segment<3>(3 * c) = moved.segment<3>(3 * on.mesh.free_node(c, kCellsDeep));
    return skin;
}

double peak(const Eigen::VectorXd& skin_m) {
    double most = 0.0;
    for (Eigen::Index c = 0; c < skin_m.size() / 3; ++c) most = std::max(most, skin_m.segment<3>(3 * c).norm());
    return most;
}

/// Largest difference between blocks and a direct solve over the peak of the latter.
double off(const Solved& on, TipResponse& tips, const ChartPlace& tip, const Vec3& force_n) {
    for (auto& block : solve_tip_blocks(on.mesh, on.response, tips.missing(std::array{tip}, 16))) tips.keep(block);
    Eigen::VectorXd skin;
    REQUIRE(tips.skin_m(tip, force_n, skin));
    const Eigen::VectorXd direct = direct_skin_m(on, tip, force_n);
    return peak(skin - direct) / peak(direct);
}

/// The worst of random places in the left cheek and jaw, and forces every way.
double worst_off(const Solved& on, int places) {
    TipResponse tips(on.mesh);
    sim::Random random(5);
    double worst = 0.0;
    for (int k = 0; k < places; ++k) {
        const ChartPlace tip{random.uniform(0.02, 0.10), random.uniform(0.02, 0.15), random.uniform(2.0, 6.0)};
        worst = std::max(worst, off(on, tips, tip, Vec3(random.normal(), random.normal(), random.normal())));
    }
    return worst;
}

ChartPlace at(int i, int j, double level) {
    return {mesh().chart.s_m[static_cast<std::size_t>(i)], mesh().chart.t_m[static_cast<std::size_t>(j)], level};
}

}  // namespace

TEST_CASE("a tip's blocks give what a direct solve gives, at nodes and along columns", "[sim][tissue]") {
    TipResponse tips(mesh());
    const auto [level, tolerance] =
        GENERATE(table<double, double>({{3.0, 1e-6}, {7.0, 1e-6}, {0.4, 1e-3}, {4.3, 1e-3}, {5.5, 1e-3}}));
    const ChartPlace tip = at(mesh().chart.left + 18, mesh().chart.top + 10, level);
    CHECK(off(coarse(), tips, tip, Vec3(0.1, -0.2, 0.3)) < tolerance);
}

TEST_CASE("between columns the skin under a tip is near a direct solve", "[sim][tissue]") {
    const double worst = worst_off(coarse(), 6);
    INFO("cells of 8 mm: worst difference over the peak " << worst);
    CHECK(worst < 0.08);
}

TEST_CASE("between columns of a full-size mesh the skin under a tip is nearer", "[sim][tissue][.slow]") {
    const sim::HeadTissue& tissue = support::tissue_head()->tissue();
    const HexMesh fine = sim::fe::build_mesh(tissue, {});
    const auto body = make_body(fine, tissue, sim::fe::parameters_for(sim::fe::Laxity::lax));
    sim::fe::Response solver(fine, body);
    const double worst = worst_off({fine, solver}, 40);
    INFO("cells of 4 mm: worst difference over the peak " << worst);
    CHECK(worst < 0.06);
}

TEST_CASE("what a tip does to the skin, the skin does to the tip", "[sim][tissue]") {
    const TipNode deep{static_cast<int>(mesh().chart.at(mesh().chart.left + 17, mesh().chart.top + 9)), 4};
    const TipNode top{static_cast<int>(mesh().chart.at(mesh().chart.left + 18, mesh().chart.top + 11)), kCellsDeep};
    const auto blocks = sim::fe::solve_tip_blocks(mesh(), response(), std::array{deep, top});
    const auto patch = [](const TipNode& node) {
        return sim::fe::patch_at(mesh(), at(node.column % mesh().chart.wide, node.column / mesh().chart.wide,
                                            static_cast<double>(node.level)));
    };
    for (int q = 0; q < 3; ++q) {
        // read at the skin under a force at depth
        const Eigen::VectorXd skin = blocks[0].skin_m_per_n.col(q).cast<double>();
        Vec3 skin_by_tip{};
        for (const auto& [node, weight] : patch(top).weight)
            for (int r = 0; r < 3; ++r) skin_by_tip[r] += weight * skin[3 * (node / kCellsDeep) + r];
        // read at depth under forces on the skin
        for (int r = 0; r < 3; ++r) {
            Eigen::VectorXd load = Eigen::VectorXd::Zero(mesh().cells.unknowns());
            for (const auto& [node, weight] : patch(top).weight) load[3 * node + r] = weight;
            const Vec3 tip_by_skin = sim::fe::read(patch(deep), response().solve(load));
            CHECK(std::abs(skin_by_tip[r] - tip_by_skin[q]) < 1e-6 * glm::length(skin_by_tip));
        }
    }
}

TEST_CASE("a tip's blocks keep to their memory, and the longest unread go first", "[sim][tissue]") {
    const std::size_t block_bytes = 9 * sizeof(float) * static_cast<std::size_t>(mesh().columns());
    CHECK_THROWS_WITH(TipResponse(mesh(), 8 * block_bytes - 1), Contains("tip response: most_bytes"));
    TipResponse tips(mesh(), 10 * block_bytes + 5);
    const auto block = [](const TipNode& node) {
        sim::fe::TipBlock out{node, {}};
        out.skin_m_per_n.setConstant(3 * mesh().columns(), 3, 1.0F);
        return out;
    };
    const ChartPlace first = at(12, 12, 3.0);
    const TipNode first_node = tips.nodes_of(first).front();
    tips.keep(block(first_node));
    Eigen::VectorXd skin;
    for (int k = 0; k < 25; ++k) {
        tips.keep(block({k, 1}));
        CHECK(tips.bytes() <= 10 * block_bytes + 5);
        REQUIRE(tips.skin_m(first, Vec3(1.0, 0.0, 0.0), skin));  // read each time, so it stays
    }
    CHECK(tips.blocks() == 10);
    CHECK(tips.missing(std::array{at(14, 0, 1.0)}, 9).size() == 1);  // column 14, kept eleven blocks ago
    CHECK(tips.missing(std::array{at(20, 0, 1.0)}, 9).empty());
}

TEST_CASE("a tip's skin waits for its blocks", "[sim][tissue]") {
    TipResponse tips(mesh());
    const std::array way{ChartPlace{0.051, 0.062, 4.5}, ChartPlace{0.059, 0.062, 4.5}};
    Eigen::VectorXd skin = Eigen::VectorXd::Constant(1, 7.0);
    CHECK_FALSE(tips.skin_m(way[0], Vec3(1.0), skin));
    CHECK(skin[0] == 7.0);
    CHECK(tips.nodes_of(way[0]).size() == 8);
    const auto nodes = tips.missing(way, 100);
    CHECK(nodes.size() == 12);  // two cells side by side share four
    CHECK(tips.missing(way, 5) == std::vector<TipNode>(nodes.begin(), nodes.begin() + 5));
    CHECK(tips.nodes_of({0.051, 0.062, 0.0}).empty());  // on the floor
}

TEST_CASE("a tip outside the mesh is refused by name", "[sim][tissue]") {
    TipResponse tips(mesh());
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto [tip, field] = GENERATE_COPY(table<ChartPlace, const char*>({{{0.5, 0.05, 4.0}, "tip.s_m"},
                                                                            {{nan, 0.05, 4.0}, "tip.s_m"},
                                                                            {{0.05, -0.2, 4.0}, "tip.t_m"},
                                                                            {{0.05, 0.05, 7.1}, "tip.level"},
                                                                            {{0.05, 0.05, -0.1}, "tip.level"}}));
    Eigen::VectorXd skin;
    CHECK_THROWS_WITH(tips.skin_m(tip, Vec3(1.0), skin), Contains(field));
    CHECK_THROWS_WITH(tips.missing(std::array{tip}, 3), Contains(field));
}
