#include "sim/tissue/held_threads.hpp"

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

SparseColumns side_by_side(const std::vector<SparseColumns>& parts) {
    std::vector<Eigen::Triplet<double>> entries;
    int first = 0;
    for (const SparseColumns& part : parts) {
        for (int k = 0; k < part.cols(); ++k)
            for (SparseColumns::InnerIterator it(part, k); it; ++it)
                entries.emplace_back(it.row(), first + k, it.value());
        first += static_cast<int>(part.cols());
    }
    SparseColumns out(parts.front().rows(), first);
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

std::string place_of(std::size_t thread) { return "threads[" + std::to_string(thread) + "]"; }

}  // namespace

HeldThreads::HeldThreads(TetheredBody& body, std::vector<ThreadPath> paths)
    : body_(body), paths_(std::move(paths)), strings_(body.string_columns().cols()) {
    std::vector<SparseColumns> parts{body.string_columns()};
    std::vector<ThreadLine> lines;
    for (std::size_t k = 0; k < paths_.size(); ++k) {
        const ThreadPath& path = paths_[k];
        if (!(path.barbs >= 2 && path.barbs <= 200)) throw InputError(place_of(k) + ".barbs", path.barbs, "2 to 200");
        ThreadLine line;
        for (int i = 0; i < path.barbs; ++i) line.tissue.push_back(static_cast<int>(strings_ + barbs_) + i);
        line.spacing_m = glm::length(position_m(body.mesh(), path.near_end) - position_m(body.mesh(), path.far_end)) /
                         (path.barbs - 1);
        lines.push_back(line);
        parts.push_back(barb_columns(body.mesh(), path));
        barbs_ += path.barbs;
    }
    columns_ = side_by_side(parts);
    for (const StringSite& site : body.strings()) problem_.strings.push_back(site.string);
    problem_.compliance_m_per_n = body.string_compliance();
    gravity_moved_.resize(0, 3);
    if (barbs_ > 0) solve_columns();
    problem_.load_m = Eigen::VectorXd::Zero(columns_.cols());
    start_ = Eigen::VectorXd::Zero(columns_.cols());
    for (const ThreadLine& line : lines) threads_.push_back(add_thread(problem_, line, 0.0, start_));
    pull_n_.assign(paths_.size(), 0.0);
}

ColumnFields solve_fields(TetheredBody& body, const SparseColumns& columns,
                          const std::function<void(int, const Eigen::Ref<const Eigen::MatrixXd>&)>& also) {
    const HexMesh& mesh = body.mesh();
    const SparseColumns strings = body.string_columns().transpose(), transposed = columns.transpose();
    ColumnFields out;
    out.strings_m_per_n.resize(strings.rows(), columns.cols());
    out.own_m_per_n.resize(columns.cols(), columns.cols());
    out.skin_m_per_n.resize(3 * mesh.columns(), columns.cols());
    body.response().each_batch(columns, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
        out.strings_m_per_n.middleCols(first, moved.cols()).noalias() = strings * moved;
        out.own_m_per_n.middleCols(first, moved.cols()).noalias() = transposed * moved;
        for (int c = 0; c < mesh.columns(); ++c)
            out.skin_m_per_n.block(3 * c, first, 3, moved.cols()) =
                moved.middleRows(3 * mesh.free_node(c, kCellsDeep), 3).cast<float>();
        if (also) also(first, moved);
    });
    out.own_m_per_n = (0.5 * (out.own_m_per_n + out.own_m_per_n.transpose())).eval();
    out.gravity_moved_m = transposed * body.fields().gravity_field_m;
    return out;
}

void HeldThreads::solve_columns() {
    const SparseColumns only = columns_.rightCols(barbs_);
    ColumnFields fields = solve_fields(body_, only);
    Eigen::MatrixXd& c = problem_.compliance_m_per_n;
    c.conservativeResize(columns_.cols(), columns_.cols());
    c.topRightCorner(strings_, barbs_) = fields.strings_m_per_n;
    c.bottomLeftCorner(barbs_, strings_) = fields.strings_m_per_n.transpose();
    c.bottomRightCorner(barbs_, barbs_) = fields.own_m_per_n;
    gravity_moved_ = std::move(fields.gravity_moved_m);
    skin_m_per_n_ = std::move(fields.skin_m_per_n);
}

HeldThreads::Pulled HeldThreads::pull(const Vec3& gravity_change, std::span<const double> pull_n) {
    SIM_ASSERT(pull_n.size() == paths_.size());
    for (std::size_t k = 0; k < pull_n.size(); ++k)
        if (!(pull_n[k] >= 0.0 && pull_n[k] <= 20.0)) throw InputError(place_of(k) + ".pull_n", pull_n[k], "0 to 20");
    const Eigen::Vector3d g(gravity_change.x, gravity_change.y, gravity_change.z);
    problem_.load_m.head(strings_) = body_.gravity_moved_m(gravity_change);
    problem_.load_m.segment(strings_, barbs_) = gravity_moved_ * g;
    for (std::size_t k = 0; k < threads_.size(); ++k) {
        pull_thread(problem_, threads_[k], pull_n_[k], pull_n[k], start_);
        pull_n_[k] = pull_n[k];
    }
    Pulled out;
    out.settled.tethers = solve_tethers(problem_, start_);
    const Eigen::VectorXd& force = out.settled.tethers.force_n;
    if (out.settled.tethers.converged) start_ = force;
    out.settled.skin_m = body_.gravity_skin_m(gravity_change);
    body_.add_string_skin(force, out.settled.skin_m);
    for (Eigen::Index i = 0; i < barbs_; ++i)
        if (force[strings_ + i] != 0.0) out.settled.skin_m += force[strings_ + i] * skin_m_per_n_.col(i).cast<double>();
    for (const ThreadInProblem& thread : threads_) {
        const auto last = thread.first_node + static_cast<Eigen::Index>(thread.tissue.size()) - 1;
        out.pulled_in_m.push_back(out.settled.tethers.moved_m[last]);
    }
    return out;
}

}  // namespace sim::fe
