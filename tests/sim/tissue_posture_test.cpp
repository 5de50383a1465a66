#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <limits>

#include "sim/core/errors.hpp"
#include "sim/core/random.hpp"
#include "sim/tissue/held_threads.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::Vec3;
using sim::fe::ChartPlace;
using sim::fe::ChartSettings;
using sim::fe::HexMesh;
using sim::fe::Laxity;
using sim::fe::TetheredBody;

namespace {

const sim::Head& head() { return *support::tissue_head(); }
using support::few_strings;
ChartSettings coarse() { return support::coarse_chart(); }

TetheredBody& body(Laxity laxity) {
    static TetheredBody young(head(), coarse(), few_strings(Laxity::young));
    static TetheredBody lax(head(), coarse(), few_strings(Laxity::lax));
    return laxity == Laxity::young ? young : lax;
}

}  // namespace

TEST_CASE("a place in the chart is found again", "[sim][tissue]") {
    const HexMesh& mesh = body(Laxity::lax).mesh();
    sim::Random random(3);
    for (int k = 0; k < 300; ++k) {
        const ChartPlace place{random.uniform(-0.11, 0.11), random.uniform(0.005, 0.175), random.uniform(0.1, 6.9)};
        const auto found = sim::fe::locate(mesh, position_m(mesh, place));
        REQUIRE(found);
        CHECK(glm::length(position_m(mesh, *found) - position_m(mesh, place)) < 0.02 * kMm);
    }
    CHECK_FALSE(sim::fe::locate(mesh, Vec3(0.3, 0.0, 0.0)));
    CHECK_FALSE(sim::fe::locate(mesh, Vec3(0.0, -0.03, 0.0)));  // the middle of the head
}

TEST_CASE("a patch spreads its force whole and about its place", "[sim][tissue]") {
    const HexMesh& mesh = body(Laxity::lax).mesh();
    const ChartPlace place{0.05, 0.06, 4.5};
    const auto patch = sim::fe::patch_at(mesh, place);
    double sum = patch.held;
    Vec3 centre{};
    for (const auto& [node, weight] : patch.weight) {
        sum += weight;
        const int column = node / sim::fe::kCellsDeep;
        centre +=
            weight * mesh.cells.node_m[static_cast<std::size_t>(mesh.node(column, node % sim::fe::kCellsDeep + 1))];
    }
    CHECK_THAT(sum, WithinRel(1.0, 1e-12));
    CHECK(glm::length(centre - position_m(mesh, place)) < 0.5 * kMm);
}

TEST_CASE("what A does to B, B does to A", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    const sim::fe::SparseColumns some = b.string_columns().leftCols(30);
    const Eigen::MatrixXd c = b.response().cross_compliance(some, some);
    CHECK((c - c.transpose()).cwiseAbs().maxCoeff() < 1e-10 * c.cwiseAbs().maxCoeff());
    CHECK(c.diagonal().minCoeff() > 0.0);
}

TEST_CASE("lying down, the face goes up and back, more so when lax", "[sim][tissue]") {
    const auto shift = [](Laxity laxity) {
        const auto settled = body(laxity).settle({sim::fe::lying_down(), {}});
        REQUIRE(settled.tethers.converged);
        for (const auto& row : posture_read_outs(head(), body(laxity), settled))
            if (row.place == "lower third, mean" && row.side == sim::Side::left) return row.moved_m;
        FAIL("no such row");
        return Vec3{};
    };
    const Vec3 lax = shift(Laxity::lax);
    const Vec3 young = shift(Laxity::young);
    CHECK(lax.y > 0.0);
    CHECK(lax.z < 0.0);
    CHECK(glm::length(lax) > 2.0 * glm::length(young));
    CHECK(glm::length(lax) < 10.0 * kMm);
}

TEST_CASE("the glide space shears as it is told and keeps its volume, however lax", "[sim][tissue]") {
    const sim::fe::TissueParameters p = few_strings(Laxity::lax);
    const HexMesh& mesh = body(Laxity::lax).mesh();
    double least_pa_per_m = 1e9, most_pa_per_m = 0.0, most_deep_pa = 0.0;
    for (std::size_t c = 0; c < mesh.cells.cell.size(); ++c) {
        const sim::fe::Elastic& material = body(Laxity::lax).body().material[c];
        const auto layer = static_cast<sim::fe::CellLayer>(c % sim::fe::kCellsDeep);
        if (layer == sim::fe::CellLayer::deep_fat) most_deep_pa = std::max(most_deep_pa, material.youngs_pa);
        if (layer != sim::fe::CellLayer::glide) continue;
        CHECK_THAT(material.bulk_pa(), WithinRel(p.glide_bulk_pa, 1e-6));
        double thickness_m = 0.0;
        for (std::size_t a = 0; a < 4; ++a)
            thickness_m += 0.25 * mesh.thickness_m(mesh.cells.cell[c][a] / sim::fe::kLevels, layer);
        least_pa_per_m = std::min(least_pa_per_m, material.shear_pa() / thickness_m);
        most_pa_per_m = std::max(most_pa_per_m, material.shear_pa() / thickness_m);
    }
    CHECK_THAT(least_pa_per_m, WithinRel(p.glide_pa_per_m, 1e-6));  // somewhere it glides freely ...
    CHECK_THAT(most_pa_per_m, WithinRel(p.held_pa_per_m, 1e-6));    // ... and somewhere it is bound,
    CHECK_THAT(most_deep_pa, WithinRel(p.held_deep_pa, 1e-6));      // down to the muscle
}

TEST_CASE("no change of load, no change of shape", "[sim][tissue]") {
    const auto settled = body(Laxity::lax).settle({});
    CHECK(settled.tethers.converged);
    CHECK(settled.displacement_m.norm() == 0.0);
}

TEST_CASE("more threads lift more, and each adds less", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    std::vector<double> peak_m;
    for (const int threads : {1, 2, 4}) {
        const auto paths = lifting_paths(head(), b.mesh(), sim::Side::left, threads, 1.0);
        const auto settled = b.settle({{}, paths});
        REQUIRE(settled.tethers.converged);
        // every barb's share adds up to the pull
        peak_m.push_back(lift_read_out(b, settled, paths).peak_m);
    }
    CHECK(peak_m[0] < peak_m[1]);
    CHECK(peak_m[1] < peak_m[2]);
    CHECK(peak_m[2] < 4.0 * peak_m[0]);
}

TEST_CASE("the same patient twice: the same bits", "[sim][tissue]") {
    TetheredBody again(head(), coarse(), few_strings(Laxity::lax));
    const auto paths = lifting_paths(head(), again.mesh(), sim::Side::left, 2, 0.7);
    const auto first = body(Laxity::lax).settle({sim::fe::lying_down(), paths});
    const auto second = again.settle({sim::fe::lying_down(), paths});
    CHECK((first.displacement_m.array() == second.displacement_m.array()).all());
}

TEST_CASE("the reduced answer holds in the whole mesh", "[oracle][tissue]") {
    // forces of strings put onto the full mesh together with gravity: what is left over must vanish, and each string's
    // force must be what its law gives at the full field's displacement
    TetheredBody& b = body(Laxity::lax);
    const auto settled = b.settle({sim::fe::lying_down(), {}});
    const Eigen::VectorXd moved = b.string_columns().transpose() * settled.displacement_m;
    const double scale = settled.displacement_m.cwiseAbs().maxCoeff();
    CHECK((moved - settled.tethers.moved_m).cwiseAbs().maxCoeff() < 1e-8 * scale);
    for (const auto& site : b.strings()) {
        const Vec3 r = site.string.rest_m +
                       Vec3(moved[site.string.first], moved[site.string.first + 1], moved[site.string.first + 2]);
        const double pull = std::max(0.0, site.string.stiffness_n_per_m * (glm::length(r) - site.string.length_m));
        const Vec3 force = -pull / glm::length(r) * r;
        for (int k = 0; k < 3; ++k)
            CHECK_THAT(settled.tethers.force_n[site.string.first + k], WithinAbs(force[k], 1e-8));
    }
}

TEST_CASE("a load that is not accepted is refused by name", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    auto paths = lifting_paths(head(), b.mesh(), sim::Side::left, 1, 1.0);
    paths[0].pull_n = GENERATE(-0.1, 21.0, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS_WITH(b.settle({{}, paths}), Contains("threads[0].pull_n"));
    paths[0].pull_n = 1.0;
    paths[0].barbs = 1;
    CHECK_THROWS_WITH(b.settle({{}, paths}), Contains("threads[0].barbs"));
    CHECK_THROWS(lifting_paths(head(), b.mesh(), sim::Side::left, 0, 1.0));
}

TEST_CASE("a tissue parameter outside its range is refused by name", "[sim][tissue]") {
    sim::fe::TissueParameters p;
    CHECK_NOTHROW(sim::fe::validate(p));
    p.smas_pa = GENERATE(0.0, -1.0, std::numeric_limits<double>::quiet_NaN());
    CHECK_THROWS_WITH(sim::fe::validate(p), Contains("tissue.smas_pa"));
}

TEST_CASE("the skin alone is the skin of the whole", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    const auto whole = b.settle({sim::fe::lying_down(), {}});
    const auto skin = b.settle_skin(sim::fe::lying_down());
    REQUIRE(skin.tethers.converged);
    const Eigen::VectorXd all = b.whole_m(sim::fe::lying_down(), skin.tethers);
    double most = 0.0;
    double off = 0.0;
    for (int c = 0; c < b.mesh().columns(); ++c) {
        const Eigen::Index n = 3 * b.mesh().free_node(c, sim::fe::kCellsDeep);
        most = std::max(most, whole.displacement_m.segment<3>(n).norm());
        off = std::max(off, (whole.displacement_m.segment<3>(n) - skin.skin_m.segment<3>(3 * c)).norm());
    }
    CHECK(most > 1.0 * kMm);
    CHECK(off < 1e-5 * most);  // single precision of the kept columns
    CHECK((all - whole.displacement_m).norm() < 1e-9 * whole.displacement_m.norm());
    // begun from the answer, it is there
    CHECK(b.settle_skin(sim::fe::lying_down(), skin.tethers).tethers.iterations == 0);
}

TEST_CASE("kept fields make the same body to the last bit", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    const std::string bytes = save(b.fields());
    TetheredBody again(head(), coarse(), few_strings(Laxity::lax), {}, sim::fe::load_string_fields(bytes));
    CHECK((again.string_compliance().array() == b.string_compliance().array()).all());
    const auto first = b.settle_skin(sim::fe::lying_down());
    const auto second = again.settle_skin(sim::fe::lying_down());
    CHECK((first.skin_m.array() == second.skin_m.array()).all());

    CHECK_THROWS_WITH(sim::fe::load_string_fields(bytes.substr(0, bytes.size() - 1)), Contains("kept tissue"));
    CHECK_THROWS_WITH(sim::fe::load_string_fields("tissue strings 0"), Contains("kept tissue"));
    CHECK_THROWS_WITH(sim::fe::load_string_fields(bytes + "x"), Contains("kept tissue"));
    // of another body: one string more
    sim::fe::TissueParameters closer = few_strings(Laxity::lax);
    closer.string_spacing_m = 28.0 * kMm;
    CHECK_THROWS_WITH(TetheredBody(head(), coarse(), closer, {}, sim::fe::load_string_fields(bytes)),
                      Contains("kept tissue: compliance"));
}

TEST_CASE("a build tells how far it is, and what is thrown at it ends it", "[sim][tissue]") {
    struct Enough {};
    double last = -1.0;
    const auto until_factored = [&last](double fraction, std::string_view) {
        CHECK(fraction >= last);
        last = fraction;
        if (fraction > 0.0) throw Enough{};
    };
    CHECK_THROWS_AS(TetheredBody(head(), coarse(), few_strings(Laxity::lax), until_factored), Enough);
    CHECK(last > 0.0);
}

TEST_CASE("a mesh with an inverted cell is refused", "[sim][tissue]") {
    HexMesh mesh = body(Laxity::lax).mesh();
    CHECK_NOTHROW(sim::fe::refuse_degenerate(mesh));
    mesh.cells.node_m[static_cast<std::size_t>(mesh.node(mesh.columns() / 2, 3))] += Vec3(0.0, 0.0, 0.05);
    try {
        sim::fe::refuse_degenerate(mesh);
        FAIL("not refused");
    } catch (const sim::fe::FactorError& error) {
        CHECK(error.trouble() == sim::fe::FactorTrouble::degenerate_cells);
        CHECK_THAT(error.what(), Contains("scaled Jacobian"));
    }
}

TEST_CASE("threads pulled step by step end where one pull ends", "[sim][tissue]") {
    TetheredBody& b = body(Laxity::lax);
    sim::fe::HeldThreads threads(b, lifting_paths(head(), b.mesh(), sim::Side::left, 2, 0.0));
    for (const double pull_n : {0.2, 0.5, 1.1, 0.0, 0.4}) {
        const auto stepped = threads.pull({}, std::array{pull_n, 0.5 * pull_n});
        REQUIRE(stepped.settled.tethers.converged);
        auto paths = threads.paths();
        paths[0].pull_n = pull_n, paths[1].pull_n = 0.5 * pull_n;
        const auto at_once = b.settle({{}, paths});
        REQUIRE(at_once.tethers.converged);
        double off = 0.0;
        for (int c = 0; c < b.mesh().columns(); ++c)
            off = std::max(off, (at_once.displacement_m.segment<3>(3 * b.mesh().free_node(c, sim::fe::kCellsDeep)) -
                                 stepped.settled.skin_m.segment<3>(3 * c))
                                    .norm());
        CHECK(off < 1e-8);  // metres; the skin moves by 1 mm or so
    }
}
