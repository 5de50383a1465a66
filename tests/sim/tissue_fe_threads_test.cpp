#include <catch2/catch.hpp>

#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/read_out.hpp"
#include "tests/support/coarse_tissue.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::ThreadAnswer;
using sim::ThreadGrip;
using sim::ThreadRequest;
using sim::ThreadTrouble;
using sim::Vec3;
using sim::fe::FeThreads;

namespace {

std::shared_ptr<sim::fe::TetheredBody> coarse() {
    return {std::shared_ptr<void>{}, &support::shared_coarse_body()};  // shared by all tests: nobody owns it
}

constexpr int kBarbs = 16;

/// The standard thread of the left lower cheek, beside its usual place by so many millimetres.
ThreadGrip grip(int which, double pull_n, bool opposed = false) {
    const auto paths = sim::fe::lifting_paths(*support::tissue_head(), coarse()->mesh(), sim::Side::left, 2, 1.0);
    const sim::fe::ThreadPath& path = paths[static_cast<std::size_t>(which)];
    const auto at = [&](double f) {
        return position_m(coarse()->mesh(),
                          {path.far_end.s_m + f * (path.near_end.s_m - path.far_end.s_m),
                           path.far_end.t_m + f * (path.near_end.t_m - path.far_end.t_m), path.far_end.level});
    };
    ThreadGrip out;
    out.number = which + 1;
    out.pull_n = pull_n;
    for (int i = 0; i < kBarbs; ++i) {
        const double f = static_cast<double>(i) / (kBarbs - 1), step = 0.5 / (kBarbs - 1);
        const bool near = opposed && i >= kBarbs / 2;
        out.barbs.push_back(
            {at(f), glm::normalize(at(f + step) - at(f - step)), near ? 0.02 : 0.2, near ? 0.2 : 0.02, 0.0});
    }
    return out;
}

ThreadRequest request(std::vector<ThreadGrip> threads) {
    ThreadRequest out;
    out.key = 7;
    out.threads = std::move(threads);
    out.read_m = {sim::fe::compartment_m(*support::tissue_head(), "jowl", sim::Side::left),
                  sim::fe::compartment_m(*support::tissue_head(), "jowl", sim::Side::right)};
    return out;
}

double mm(const Vec3& v) { return glm::length(v) / kMm; }

}  // namespace

TEST_CASE("barbs at places pull as barbs on a straight way of the chart do", "[sim][tissue][thread]") {
    FeThreads threads(coarse());
    const ThreadAnswer answer = threads.answer(request({grip(0, 1.0)}));
    REQUIRE(answer.trouble == ThreadTrouble::none);
    auto paths = sim::fe::lifting_paths(*support::tissue_head(), coarse()->mesh(), sim::Side::left, 2, 1.0);
    paths.resize(1);
    paths[0].barbs = kBarbs;
    sim::fe::HeldThreads straight(*coarse(), paths);
    const std::vector<double> pull_n{1.0};
    const auto pulled = straight.pull({}, pull_n);
    CHECK_THAT(answer.threads[0].tail_out_m, WithinRel(pulled.pulled_in_m[0], 2e-3));  // gaps are not quite even
    double sum = 0.0;
    for (const ThreadAnswer::OfBarb& barb : answer.threads[0].barbs) sum += barb.force_n;
    CHECK_THAT(sum, WithinRel(1.0, 1e-3));
    CHECK(mm(answer.moved_m[0]) > 0.5);
    CHECK(mm(answer.moved_m[1]) < 0.5 * mm(answer.moved_m[0]));  // the skin goes on to the other side
}

TEST_CASE("skin and the whole body tell the same of a thread, a stroke and gravity", "[sim][tissue][thread]") {
    FeThreads threads(coarse());
    ThreadRequest asked = request({grip(0, 0.8, true), grip(1, 0.3)});
    asked.stroke = {0, 0, kBarbs / 2 - 1, 2.0};
    asked.gravity_change_m_per_s2 = 0.3 * sim::fe::lying_down();
    const auto settled = threads.settle(asked);
    REQUIRE(settled.answer.trouble == ThreadTrouble::none);
    const Eigen::VectorXd whole_m = threads.whole_m(asked, settled);
    double most_m = 0.0;
    for (int c = 0; c < coarse()->mesh().columns(); ++c)
        most_m = std::max(most_m, (settled.skin_m.segment<3>(3 * c) -
                                   whole_m.segment<3>(3 * coarse()->mesh().free_node(c, sim::fe::kCellsDeep)))
                                      .norm());
    CHECK(most_m < 1e-3 * kMm);  // what strings and barbs do to the skin is kept in single precision
}

TEST_CASE("a second thread changes what the first one lifts", "[sim][tissue][thread]") {
    FeThreads threads(coarse());
    const ThreadAnswer alone = threads.answer(request({grip(0, 1.0)}));
    const ThreadAnswer beside = threads.answer(request({grip(0, 1.0), grip(1, 1.0)}));
    const ThreadAnswer idle = threads.answer(request({grip(0, 1.0), grip(1, 0.0)}));
    CHECK(mm(beside.moved_m[0]) > 1.2 * mm(alone.moved_m[0]));
    CHECK(beside.threads[0].tail_out_m > 1.02 * alone.threads[0].tail_out_m);  // the tissue it holds has come along
    CHECK(idle.threads[0].tail_out_m < alone.threads[0].tail_out_m);           // and an idle thread stiffens it
}

TEST_CASE("the same question has the same bits whatever was asked before", "[sim][tissue][thread]") {
    const ThreadRequest both = request({grip(0, 0.9, true), grip(1, 0.4)});
    FeThreads fresh(coarse());
    const ThreadAnswer first = fresh.answer(both);
    CHECK(fresh.answer(both) == first);

    FeThreads used(coarse());
    static_cast<void>(used.answer(request({grip(1, 1.5)})));
    static_cast<void>(used.answer(request({grip(1, 0.2), grip(0, 0.7)})));  // laid in the other order
    static_cast<void>(coarse()->settle_skin(sim::fe::lying_down()));
    ThreadRequest stroked = both;
    stroked.stroke = {1, 0, 5, -3.0};
    static_cast<void>(used.answer(stroked));
    CHECK(used.answer(both) == first);
}

TEST_CASE("opposed barbs keep what was drawn in, and past their hold the thread flies out", "[sim][tissue][thread]") {
    FeThreads threads(coarse());
    ThreadRequest asked = request({grip(0, 1.0, true)});
    const ThreadAnswer pulled = threads.answer(asked);
    REQUIRE(pulled.trouble == ThreadTrouble::none);
    asked.threads[0].pull_n = 0.0;
    for (std::size_t i = 0; i < kBarbs; ++i) asked.threads[0].barbs[i].slip_m = pulled.threads[0].barbs[i].slip_m;
    const ThreadAnswer let_go = threads.answer(asked);
    CHECK(mm(let_go.moved_m[0]) > 0.05 * mm(pulled.moved_m[0]));
    CHECK(mm(let_go.moved_m[0]) < mm(pulled.moved_m[0]));
    // eight barbs of 0.2 N and eight of 0.02 N hold 1.76 N
    asked.threads[0].pull_n = 1.9;
    const ThreadAnswer out = threads.answer(asked);
    REQUIRE(out.trouble == ThreadTrouble::none);
    for (const ThreadAnswer::OfBarb& barb : out.threads[0].barbs) CHECK(barb.slip_m > 1.0);
}

TEST_CASE("a barb outside the modelled tissue is said, not moved", "[sim][tissue][thread]") {
    FeThreads threads(coarse());
    ThreadRequest asked = request({grip(0, 1.0)});
    asked.threads[0].barbs[3].place_m = {0.0, 0.3, 0.0};
    const ThreadAnswer answer = threads.answer(asked);
    CHECK(answer.key == 7);
    CHECK(answer.trouble == ThreadTrouble::outside_mesh);
    CHECK(answer.threads.empty());
    CHECK(threads.answer(request({grip(0, 1.0)})).trouble == ThreadTrouble::none);
}

TEST_CASE("the final shape of a question has the same bits whatever was asked before, and tells the rest as it is",
          "[sim][tissue][thread][final]") {
    ThreadRequest asked = request({grip(0, 1.0, true)});
    FeThreads fresh(coarse());
    const ThreadAnswer linear = fresh.answer(asked);
    REQUIRE(linear.trouble == ThreadTrouble::none);
    CHECK(linear.shape == sim::LiftShape::linear);
    asked.final_shape = true;
    const ThreadAnswer final = fresh.answer(asked);
    REQUIRE(final.trouble == ThreadTrouble::none);
    CHECK(final.shape == sim::LiftShape::final);
    CHECK(final.shape_steps > 0);
    // lift under a newton within a few per cent of small strains, as a study of this body found up to 4 N
    CHECK(mm(linear.moved_m[0]) > 0.5);
    CHECK(mm(final.moved_m[0] - linear.moved_m[0]) < 0.05 * mm(linear.moved_m[0]));
    CHECK(mm(final.moved_m[0] - linear.moved_m[0]) > 1e-4 * mm(linear.moved_m[0]));
    CHECK(final.threads[0].barbs == linear.threads[0].barbs);
    CHECK(final.threads[0].tail_out_m == linear.threads[0].tail_out_m);

    FeThreads used(coarse());
    static_cast<void>(used.answer(request({grip(1, 1.5)})));
    static_cast<void>(coarse()->settle_skin(sim::fe::lying_down()));
    CHECK(used.answer(asked) == final);
}
