#include <Eigen/LU>
#include <catch2/catch.hpp>

#include "sim/core/random.hpp"
#include "sim/tissue/tethers.hpp"

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using sim::kMm;
using sim::Random;
using sim::Vec3;
using sim::fe::Barb;
using sim::fe::String;
using sim::fe::TetherProblem;
using sim::fe::TetherState;
using sim::fe::ThreadLine;

namespace {

Vec3 random_direction(Random& random) {
    return glm::normalize(Vec3(random.normal(), random.normal(), random.normal()));
}

/// A body of random springs with strings and threads on it: soft, of the sizes that a face has.
struct RandomCase {
    TetherProblem problem;
    Eigen::VectorXd start;
    int tissue = 0;        ///< coordinates of the body
    Eigen::MatrixXd body;  ///< its stiffness, the inverse of the compliance
    std::vector<ThreadLine> threads;
    std::vector<double> pull_n;
};

/// Barbs that face either way, each in a layer of its own, that have slid before, at uneven distances.
void make_uneven(Random& random, ThreadLine& line) {
    for (std::size_t b = 0; b < line.tissue.size(); ++b) {
        const double firm_n = random.uniform() < 0.2 ? 0.0 : random.uniform(0.02, 0.3), easy_n = 0.1 * firm_n;
        const bool forwards = b < line.tissue.size() / 2;
        line.hold.push_back({forwards ? firm_n : easy_n, forwards ? easy_n : firm_n, random.normal(0.0, 0.5 * kMm)});
        if (b > 0) line.gap_m.push_back(random.uniform(1.0, 4.0) * kMm);
    }
}

RandomCase random_case(std::uint64_t seed, int strings, int threads, double most_pull_n, bool uneven = false) {
    Random random(seed);
    RandomCase out;
    constexpr int kBarbs = 8;
    out.tissue = 3 * strings + threads * kBarbs;
    Eigen::MatrixXd a(out.tissue, out.tissue);
    for (int j = 0; j < out.tissue; ++j)
        for (int i = 0; i < out.tissue; ++i) a(i, j) = random.normal();
    // compliances of 0.5 to 20 mm/N, coupled
    out.problem.compliance_m_per_n = 2e-3 / out.tissue * (a * a.transpose());
    out.problem.compliance_m_per_n.diagonal().array() += 0.5e-3;
    out.body = out.problem.compliance_m_per_n.inverse();
    out.problem.load_m.resize(out.tissue);
    for (int i = 0; i < out.tissue; ++i) out.problem.load_m[i] = random.normal(0.0, 3.0 * kMm);
    for (int i = 0; i < strings; ++i) {
        String s;
        s.first = 3 * i;
        s.rest_m = random.uniform(1.0, 8.0) * kMm * random_direction(random);
        s.length_m = glm::length(s.rest_m) * random.uniform(0.9, 1.4);
        s.stiffness_n_per_m = std::exp(random.uniform(std::log(50.0), std::log(2000.0)));
        s.parted = random.uniform() < 0.05;
        out.problem.strings.push_back(s);
    }
    out.start = Eigen::VectorXd::Zero(out.tissue);
    for (int k = 0; k < threads; ++k) {
        ThreadLine line;
        for (int b = 0; b < kBarbs; ++b) line.tissue.push_back(3 * strings + k * kBarbs + b);
        line.spacing_m = 3.0 * kMm;
        line.capacity_n = random.uniform(0.02, 0.3);
        line.barb_n_per_m = random.uniform(200.0, 3000.0);
        line.axial_n = random.uniform(20.0, 200.0);
        out.pull_n.push_back(random.uniform(0.0, most_pull_n));
        if (uneven) make_uneven(random, line);
        add_thread(out.problem, line, out.pull_n.back(), out.start);
        out.threads.push_back(line);
    }
    return out;
}

/// The same problem with every string and barb in the large matrix of body and threads, by Newton's method from a
/// state nearby: written from the definitions, not from the code under test.
Eigen::VectorXd solved_directly(const RandomCase& c, Eigen::VectorXd q) {
    const auto n = q.size();
    Eigen::MatrixXd k = Eigen::MatrixXd::Zero(n, n);
    k.topLeftCorner(c.tissue, c.tissue) = c.body;
    Eigen::VectorXd f = Eigen::VectorXd::Zero(n);
    f.head(c.tissue) = c.body * c.problem.load_m.head(c.tissue);
    Eigen::Index node = c.tissue;
    for (std::size_t t = 0; t < c.threads.size(); ++t) {
        const auto count = static_cast<Eigen::Index>(c.threads[t].tissue.size());
        for (Eigen::Index i = 0; i < count; ++i) {
            k(node + i, node + i) += 1e-2 / static_cast<double>(count);  // the ground that add_thread documents
            if (i + 1 == count) continue;
            const ThreadLine& line = c.threads[t];
            const double link =
                line.axial_n / (line.gap_m.empty() ? line.spacing_m : line.gap_m[static_cast<std::size_t>(i)]);
            k(node + i, node + i) += link, k(node + i + 1, node + i + 1) += link;
            k(node + i, node + i + 1) -= link, k(node + i + 1, node + i) -= link;
        }
        f[node + count - 1] += c.pull_n[t];
        node += count;
    }
    for (int round = 0; round < 12; ++round) {
        Eigen::MatrixXd tangent = k;
        Eigen::VectorXd residual = k * q - f;
        for (const String& s : c.problem.strings) {
            if (s.parted) continue;
            const Eigen::Vector3d rest(s.rest_m.x, s.rest_m.y, s.rest_m.z);
            const double rest_pull = std::max(0.0, s.stiffness_n_per_m * (rest.norm() - s.length_m));
            const Eigen::Vector3d r = rest + q.segment<3>(s.first);
            const double pull = std::max(0.0, s.stiffness_n_per_m * (r.norm() - s.length_m));
            residual.segment<3>(s.first) += pull * r.normalized() - rest_pull * rest.normalized();
            if (pull <= 0.0) continue;
            const Eigen::Matrix3d along = r.normalized() * r.normalized().transpose();
            tangent.block<3, 3>(s.first, s.first) +=
                s.stiffness_n_per_m * along + pull / r.norm() * (Eigen::Matrix3d::Identity() - along);
        }
        for (const Barb& b : c.problem.barbs) {
            const double elastic = b.stiffness_n_per_m * (q[b.thread] - q[b.tissue] - b.slipped_m);
            const double force = std::clamp(elastic, -b.reverse_n, b.capacity_n);
            residual[b.thread] += force, residual[b.tissue] -= force;
            if (force != elastic) continue;
            tangent(b.thread, b.thread) += b.stiffness_n_per_m, tangent(b.tissue, b.tissue) += b.stiffness_n_per_m;
            tangent(b.thread, b.tissue) -= b.stiffness_n_per_m, tangent(b.tissue, b.thread) -= b.stiffness_n_per_m;
        }
        q -= tangent.partialPivLu().solve(residual);
    }
    return q;
}

}  // namespace

TEST_CASE("one string, worked by hand", "[sim][tissue]") {
    // body 1 mm/N in each direction, pushed 6 mm along x; string along x, 4 mm at rest, slack until 7 mm, 1000 N/m:
    // q = 6 - 1 * T, T = 1 * (4 + q - 7) => q = 4.5 mm, T = 1.5 N
    TetherProblem problem;
    problem.compliance_m_per_n = 1e-3 * Eigen::Matrix3d::Identity();
    problem.load_m = Eigen::Vector3d(6.0 * kMm, 0.0, 0.0);
    problem.strings.push_back({0, Vec3(4.0 * kMm, 0, 0), 7.0 * kMm, 1000.0, false});
    TetherState state = sim::fe::solve_tethers(problem, {});
    REQUIRE(state.converged);
    CHECK(state.taut == 1);
    CHECK_THAT(state.moved_m[0], WithinRel(4.5 * kMm, 1e-10));
    CHECK_THAT(sim::fe::string_force_n(problem.strings[0], state.moved_m), WithinRel(1.5, 1e-10));
    // pushed the other way it goes slack, parted it never holds
    problem.load_m = Eigen::Vector3d(-6.0 * kMm, 0.0, 0.0);
    CHECK_THAT(sim::fe::solve_tethers(problem, {}).moved_m[0], WithinRel(-6.0 * kMm, 1e-12));
    problem.load_m = Eigen::Vector3d(6.0 * kMm, 0.0, 0.0);
    problem.strings[0].parted = true;
    CHECK_THAT(sim::fe::solve_tethers(problem, {}).moved_m[0], WithinRel(6.0 * kMm, 1e-12));
}

TEST_CASE("a string that is taut at rest moves nothing at rest", "[sim][tissue]") {
    TetherProblem problem;
    problem.compliance_m_per_n = 1e-3 * Eigen::Matrix3d::Identity();
    problem.load_m = Eigen::Vector3d::Zero();
    problem.strings.push_back({0, Vec3(4.0 * kMm, 0, 0), 3.9 * kMm, 1000.0, false});
    const TetherState state = sim::fe::solve_tethers(problem, {});
    CHECK(state.converged);
    CHECK(state.moved_m.norm() == 0.0);
}

TEST_CASE("a thread shares its pull among barbs, and comes out past their capacity", "[sim][tissue]") {
    const auto pulled = [](double pull_n) {
        TetherProblem problem;
        problem.compliance_m_per_n = 5e-3 * Eigen::MatrixXd::Identity(10, 10);
        problem.load_m = Eigen::VectorXd::Zero(10);
        ThreadLine line;
        for (int i = 0; i < 10; ++i) line.tissue.push_back(i);
        line.spacing_m = 3.0 * kMm;
        Eigen::VectorXd start = Eigen::VectorXd::Zero(10);
        sim::fe::add_thread(problem, line, pull_n, start);
        const TetherState state = sim::fe::solve_tethers(problem, start);
        REQUIRE(state.converged);
        double sum = 0.0;
        double most = 0.0;
        for (const Barb& b : problem.barbs) {
            const double force = sim::fe::barb_force_n(b, state.moved_m);
            sum += force;
            most = std::max(most, force);
        }
        return std::tuple(sum, most, state.moved_m[19], state.slipping);
    };
    const auto [sum, most, drawn, slipping] = pulled(1.0);
    CHECK_THAT(sum, WithinRel(1.0, 1e-3));  // the ground takes the rest: 1e-5 N/mm
    CHECK(most <= 0.2);
    CHECK(drawn < 5.0 * kMm);
    CHECK(slipping == 0);
    // ten barbs of 0.2 N hold 2 N, not 2.5: the thread leaves, which is said by how far it went, not by a failure
    const auto [held, highest, gone, all] = pulled(2.5);
    CHECK_THAT(held, WithinRel(2.0, 1e-6));
    CHECK_THAT(highest, WithinRel(0.2, 1e-9));
    CHECK(gone > 1.0);
    CHECK(all == 10);
}

TEST_CASE("strings, barbs and threads agree with a direct solve", "[oracle][tissue]") {
    int compared = 0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        const bool uneven = seed % 2 == 0;
        const RandomCase c = random_case(seed, 12, static_cast<int>(seed % 3), uneven ? 0.3 : 1.0, uneven);
        const TetherState state = sim::fe::solve_tethers(c.problem, c.start);
        REQUIRE(state.converged);
        // from a place a thousandth off
        const Eigen::VectorXd direct = solved_directly(c, 1.001 * state.moved_m);
        const double scale = state.moved_m.head(c.tissue).norm();
        CHECK((direct - state.moved_m).head(c.tissue).norm() < 1e-8 * scale);
        ++compared;
    }
    CHECK(compared == 40);
}

TEST_CASE("a thousand random cases settle, wherever they start", "[sim][tissue]") {
    int failed = 0;
    int most_iterations = 0;
    for (std::uint64_t seed = 1; seed <= 1000; ++seed) {
        // up to three times what the barbs can hold
        const RandomCase c =
            random_case(1000 + seed, 6 + static_cast<int>(seed % 8), static_cast<int>(seed % 4), 3.0, seed % 5 == 0);
        const TetherState state = sim::fe::solve_tethers(c.problem, c.start);
        failed += !state.converged;
        most_iterations = std::max(most_iterations, state.iterations);
        if (seed % 20 != 0) continue;
        Random random(seed);
        Eigen::VectorXd start = c.start;
        for (Eigen::Index i = 0; i < start.size(); ++i) start[i] += random.normal(0.0, 0.05);
        const TetherState other = sim::fe::solve_tethers(c.problem, start);
        failed += !other.converged;
        const double scale = 1e-6 + state.moved_m.head(c.tissue).norm();
        CHECK((other.moved_m - state.moved_m).head(c.tissue).norm() < 1e-6 * scale);
    }
    CHECK(failed == 0);
    INFO("most iterations " << most_iterations);
    CHECK(most_iterations < 200);
}
