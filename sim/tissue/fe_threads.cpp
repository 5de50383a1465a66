#include "sim/tissue/fe_threads.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/core/errors.hpp"
#include "sim/tissue/final_shape.hpp"

namespace sim::fe {

namespace {

constexpr std::size_t kMostKept = 16;  // threads whose columns are kept: 3 MB each at 4 mm
constexpr int kRingPlaces = 8;
constexpr std::size_t kMostHands = 6;  // placings of the hand that are kept: 1.4 MB each, 3.6 where it holds

SparseColumns columns_at(const HexMesh& mesh, const std::vector<ChartPlace>& places,
                         const std::vector<std::pair<Vec3, Vec3>>& barbs) {
    std::vector<Eigen::Triplet<double>> entries;
    for (std::size_t k = 0; k < places.size(); ++k)
        for (const auto& [node, weight] : patch_at(mesh, places[k]).weight)
            for (int r = 0; r < 3; ++r)
                entries.emplace_back(3 * node + r, static_cast<int>(k), weight * barbs[k].second[r]);
    SparseColumns out(mesh.cells.unknowns(), static_cast<int>(places.size()));
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

ChartPlace on_skin(const ChartPlace& place) { return {place.s_m, place.t_m, static_cast<double>(kCellsDeep)}; }

Vec3 outward_at(const HexMesh& mesh, const ChartPlace& place) {
    return glm::normalize(position_m(mesh, on_skin(place)) -
                          position_m(mesh, {place.s_m, place.t_m, static_cast<double>(kCellsDeep - 1)}));
}

/// read() of a patch on the skin from the skin alone.
Vec3 read_skin(const Patch& patch, const Eigen::VectorXd& skin_m) {
    Vec3 sum{};
    for (const auto& [node, weight] : patch.weight) {
        const int column = node / kCellsDeep;  // a skin node is the last of its column's that move
        for (int r = 0; r < 3; ++r) sum[r] += weight * skin_m[3 * column + r];
    }
    return sum;
}

/// Those of the places that lie in the mesh.
std::vector<ChartPlace> located(const HexMesh& mesh, const std::vector<Vec3>& places_m) {
    std::vector<ChartPlace> out;
    for (const Vec3& place_m : places_m)
        if (const auto place = locate(mesh, place_m)) out.push_back(*place);
    return out;
}

std::vector<std::pair<Vec3, Vec3>> barbs_of(const ThreadGrip& grip) {
    std::vector<std::pair<Vec3, Vec3>> out;
    for (const BarbGrip& barb : grip.barbs) out.emplace_back(barb.place_m, barb.towards_entry);
    return out;
}

}  // namespace

FeThreads::FeThreads(std::shared_ptr<TetheredBody> body) : body_(std::move(body)) { SIM_ASSERT(body_ != nullptr); }

FeThreads::Laid* FeThreads::known(const ThreadGrip& grip) {
    const auto barbs = barbs_of(grip);
    const auto found = std::find_if(laid_.begin(), laid_.end(), [&](const auto& laid) { return laid->barbs == barbs; });
    if (found == laid_.end()) return nullptr;
    std::rotate(found, found + 1, laid_.end());
    return laid_.back().get();
}

std::unique_ptr<FeThreads::Laid> FeThreads::laid_out(const ThreadGrip& grip) const {
    const HexMesh& mesh = body_->mesh();
    auto out = std::make_unique<Laid>();
    out->barbs = barbs_of(grip);
    for (const BarbGrip& barb : grip.barbs) {
        const auto place = locate(mesh, barb.place_m);
        if (!place) return nullptr;
        out->places.push_back(*place);
        OverBarb over;
        over.above = patch_at(mesh, on_skin(*place));
        over.outward = outward_at(mesh, *place);
        const ChartMetric metric = metric_at(mesh, on_skin(*place));
        for (int i = 0; i < kRingPlaces; ++i) {
            const double turn = 2.0 * kPi * i / kRingPlaces;
            ChartPlace beside = on_skin(*place);
            beside.s_m += kDimpleRingM * std::cos(turn) / metric.m_per_s;
            beside.t_m += kDimpleRingM * std::sin(turn) / metric.m_per_t;
            over.ring.push_back(patch_at(mesh, beside));
        }
        out->over.push_back(std::move(over));
    }
    out->columns = columns_at(mesh, out->places, out->barbs);
    return out;
}

void FeThreads::solve(Laid& thread, const std::vector<Laid*>& before) {
    std::vector<SparseColumns> transposed;
    for (const Laid* other : before) {
        transposed.emplace_back(other->columns.transpose());
        thread.cross_m_per_n[other->id].resize(other->columns.cols(), thread.columns.cols());
    }
    thread.fields =
        solve_fields(*body_, thread.columns, [&](int first, const Eigen::Ref<const Eigen::MatrixXd>& moved) {
            for (std::size_t k = 0; k < before.size(); ++k)
                thread.cross_m_per_n[before[k]->id].middleCols(first, moved.cols()).noalias() = transposed[k] * moved;
        });
}

/// The request's threads, each with what the ones before it in the request do to it; empty when a barb lies outside.
std::vector<FeThreads::Laid*> FeThreads::lay(const ThreadRequest& request) {
    std::vector<Laid*> out;
    for (const ThreadGrip& grip : request.threads) {
        Laid* thread = known(grip);
        bool fresh = false;
        if (thread == nullptr) {
            auto made = laid_out(grip);
            if (!made) return {};
            made->id = next_id_++;
            thread = laid_.emplace_back(std::move(made)).get();
            fresh = true;
        }
        const bool lacks = std::any_of(out.begin(), out.end(), [&](const Laid* other) {
            return thread->cross_m_per_n.find(other->id) == thread->cross_m_per_n.end();
        });
        if (fresh || lacks) solve(*thread, out);
        out.push_back(thread);
    }
    while (laid_.size() > std::max(kMostKept, out.size())) laid_.erase(laid_.begin());
    return out;
}

const FeThreads::Fingers& FeThreads::fingers_over(Laid& thread, const StrokeGrip& stroke) {
    const auto [at, fresh] = thread.fingers.try_emplace({stroke.first, stroke.last});
    if (!fresh) return at->second;
    const HexMesh& mesh = body_->mesh();
    Eigen::MatrixXd load = Eigen::MatrixXd::Zero(mesh.cells.unknowns(), 1);
    const double each_n = 1.0 / (stroke.last - stroke.first + 1);
    for (int i = stroke.first; i <= stroke.last; ++i) {
        const auto k = static_cast<std::size_t>(i);
        const Vec3& out = thread.over[k].outward;
        Vec3 along = thread.barbs[k].second - glm::dot(thread.barbs[k].second, out) * out;
        const double length = glm::length(along);
        along = length > 1e-3 ? along / length : thread.barbs[k].second;
        for (const auto& [node, weight] : patch_at(mesh, on_skin(thread.places[k]), kFingerSigmaM).weight)
            for (int r = 0; r < 3; ++r) load(3 * node + r, 0) += each_n * weight * along[r];
    }
    at->second.moved_m = body_->response().solve(load);
    at->second.load_n = load;
    return at->second;
}

/// Pads and hold of the hand, solved when it is new there; null where there is none. @pre its pads lie in the mesh
const FeThreads::Hand* FeThreads::hand_of(const HandLoad& load) {
    if (load.pads.empty()) return nullptr;
    const auto found = std::find_if(hands_.begin(), hands_.end(), [&](const auto& hand) {
        return hand->pads == load.pads && hand->holds == load.holds;
    });
    if (found != hands_.end()) {
        std::rotate(found, found + 1, hands_.end());
        return hands_.back().get();
    }
    const HexMesh& mesh = body_->mesh();
    auto made = std::make_unique<Hand>();
    made->pads = load.pads;
    made->holds = load.holds;
    Eigen::MatrixXd unit = Eigen::MatrixXd::Zero(mesh.cells.unknowns(), 1);
    std::vector<Eigen::Triplet<double>> held;
    const std::array<Vec3, 3> axes = load.holds ? hold_axes(load) : std::array<Vec3, 3>{};
    for (std::size_t k = 0; k < load.pads.size(); ++k)
        for (const auto& [node, weight] :
             patch_at(mesh, on_skin(*locate(mesh, load.pads[k].place_m)), kFingerSigmaM).weight)
            for (int r = 0; r < 3; ++r) {
                unit(3 * node + r, 0) += weight * load.pads[k].push[r];
                for (int a = 0; a < 2 && k == 0 && load.holds; ++a)
                    held.emplace_back(3 * node + r, a, weight * axes[static_cast<std::size_t>(a)][r]);
            }
    made->moved_m = body_->response().solve(unit);
    made->load_n = unit;
    if (load.holds) {
        made->hold_columns.resize(mesh.cells.unknowns(), 3);
        made->hold_columns.setFromTriplets(held.begin(), held.end());
        made->hold_moved_m = body_->response().solve(Eigen::MatrixXd(made->hold_columns));
    }
    hands_.push_back(std::move(made));
    while (hands_.size() > kMostHands) hands_.erase(hands_.begin());
    return hands_.back().get();
}

/// Adds to the load what a force on the skin does to strings, hold and barbs. @param moved_m of every unknown for 1 N
void FeThreads::push_along(TetherProblem& problem, const std::vector<Laid*>& threads, const Hand* hand,
                           const Eigen::VectorXd& moved_m, double force_n) const {
    Eigen::Index first = body_->string_columns().cols();
    problem.load_m.head(first) += force_n * (body_->string_columns().transpose() * moved_m);
    if (hand != nullptr && hand->holds) {
        problem.load_m.segment<3>(first) += force_n * (hand->hold_columns.transpose() * moved_m);
        first += 3;
    }
    for (const Laid* thread : threads) {
        problem.load_m.segment(first, thread->columns.cols()) += force_n * (thread->columns.transpose() * moved_m);
        first += thread->columns.cols();
    }
}

/// Fills the three coordinates behind the strings' with the way of the skin under a finger that keeps it at its anchor.
void FeThreads::add_hold(TetherProblem& problem, const std::vector<Laid*>& threads, const Hand& hand,
                         const ThreadRequest& request) const {
    const Eigen::Index strings = body_->string_columns().cols();
    Eigen::MatrixXd& c = problem.compliance_m_per_n;
    const auto couple = [&](Eigen::Index first, const SparseColumns& columns) {
        const Eigen::MatrixXd cross = columns.transpose() * hand.hold_moved_m;
        c.block(first, strings, cross.rows(), 3) = cross;
        c.block(strings, first, 3, cross.rows()) = cross.transpose();
    };
    couple(0, body_->string_columns());
    const Eigen::Matrix3d own = hand.hold_columns.transpose() * hand.hold_moved_m;
    c.block<3, 3>(strings, strings) = 0.5 * (own + own.transpose());
    Eigen::Index first = strings + 3;
    for (const Laid* thread : threads) {
        couple(first, thread->columns);
        first += thread->columns.cols();
    }
    problem.strings.push_back(hold_at(static_cast<int>(strings)));
    const Vec3& g = request.gravity_change_m_per_s2;
    problem.load_m.segment<3>(strings) =
        hand.hold_columns.transpose() * (body_->fields().gravity_field_m * Eigen::Vector3d(g.x, g.y, g.z));
    const std::array<Vec3, 3> axes = hold_axes(request.hand);
    for (int a = 0; a < 3; ++a)
        problem.load_m[strings + a] -= glm::dot(request.hand.anchor_m, axes[static_cast<std::size_t>(a)]);
}

TetherProblem FeThreads::problem_of(const ThreadRequest& request, const std::vector<Laid*>& threads, const Hand* hand,
                                    const Displaced* also) {
    const Eigen::Index strings = body_->string_columns().cols();
    const Eigen::Index holds = hand != nullptr && hand->holds ? 3 : 0;
    Eigen::Index barbs = 0;
    for (const Laid* thread : threads) barbs += thread->columns.cols();
    TetherProblem out;
    for (const StringSite& site : body_->strings()) out.strings.push_back(site.string);
    Eigen::MatrixXd& c = out.compliance_m_per_n;
    c.resize(strings + holds + barbs, strings + holds + barbs);
    c.topLeftCorner(strings, strings) = body_->string_compliance();
    out.load_m.setZero(strings + holds + barbs);
    const Vec3& g = request.gravity_change_m_per_s2;
    out.load_m.head(strings) = body_->gravity_moved_m(g);
    if (holds > 0) add_hold(out, threads, *hand, request);
    Eigen::Index first = strings + holds;
    for (std::size_t k = 0; k < threads.size(); ++k) {
        const Laid& thread = *threads[k];
        const Eigen::Index n = thread.columns.cols();
        c.block(0, first, strings, n) = thread.fields.strings_m_per_n;
        c.block(first, 0, n, strings) = thread.fields.strings_m_per_n.transpose();
        c.block(first, first, n, n) = thread.fields.own_m_per_n;
        Eigen::Index other = strings + holds;
        for (std::size_t j = 0; j < k; ++j) {
            const Eigen::MatrixXd& cross = thread.cross_m_per_n.at(threads[j]->id);
            c.block(other, first, cross.rows(), n) = cross;
            c.block(first, other, n, cross.rows()) = cross.transpose();
            other += cross.rows();
        }
        out.load_m.segment(first, n) = thread.fields.gravity_moved_m * Eigen::Vector3d(g.x, g.y, g.z);
        first += n;
    }
    if (hand != nullptr) {
        const Eigen::VectorXd held = out.load_m.segment(strings, holds);
        push_along(out, threads, hand, hand->moved_m, request.hand.force_n);
        out.load_m.segment(strings, holds) = held;  // a finger goes along with what its own press does
    }
    if (also != nullptr) {
        push_along(out, threads, hand, also->moved_m, 1.0);
        out.load_m.head(strings) += also->strings_m;
    }
    if (request.stroke.thread < 0) return out;
    const Fingers& fingers = fingers_over(*threads[static_cast<std::size_t>(request.stroke.thread)], request.stroke);
    push_along(out, threads, hand, fingers.moved_m, request.stroke.towards_entry_n);
    return out;
}

Eigen::VectorXd FeThreads::skin_of(const ThreadRequest& request, const std::vector<Laid*>& threads, const Hand* hand,
                                   const Eigen::VectorXd& force_n, const Displaced* also) {
    const HexMesh& mesh = body_->mesh();
    Eigen::VectorXd skin_m = body_->gravity_skin_m(request.gravity_change_m_per_s2);
    if (also != nullptr) skin_m += skin_rows(mesh, also->moved_m);
    body_->add_string_skin(force_n, skin_m);
    Eigen::Index next = body_->string_columns().cols();
    const auto add_skin = [&](double scale_n, const auto& moved_m) {
        for (int c = 0; c < mesh.columns(); ++c)
            skin_m.segment<3>(3 * c) += scale_n * moved_m.template segment<3>(3 * mesh.free_node(c, kCellsDeep));
    };
    if (hand != nullptr) add_skin(request.hand.force_n, hand->moved_m);
    if (hand != nullptr && hand->holds)
        for (int r = 0; r < 3; ++r, ++next) add_skin(force_n[next], hand->hold_moved_m.col(r));
    for (const Laid* thread : threads)
        for (Eigen::Index i = 0; i < thread->columns.cols(); ++i, ++next)
            if (force_n[next] != 0.0) skin_m += force_n[next] * thread->fields.skin_m_per_n.col(i).cast<double>();
    if (request.stroke.thread < 0) return skin_m;
    const Fingers& fingers = fingers_over(*threads[static_cast<std::size_t>(request.stroke.thread)], request.stroke);
    add_skin(request.stroke.towards_entry_n, fingers.moved_m);
    return skin_m;
}

void FeThreads::read_dimples(const std::vector<Laid*>& threads, SettledThreads& out) const {
    for (std::size_t k = 0; k < threads.size(); ++k)
        for (const OverBarb& over : threads[k]->over) {
            Vec3 around{};
            for (const Patch& beside : over.ring) around += read_skin(beside, out.skin_m) / double{kRingPlaces};
            const double in_m = -glm::dot(read_skin(over.above, out.skin_m) - around, over.outward);
            out.answer.threads[k].dimple_m = std::max(out.answer.threads[k].dimple_m, in_m);
        }
}

FeThreads::SettledThreads FeThreads::settle(const ThreadRequest& request, const Displaced* also) {
    SIM_ASSERT(also == nullptr || !request.final_shape);
    SettledThreads out;
    out.answer.key = request.key;
    const HexMesh& mesh = body_->mesh();
    const std::vector<Laid*> threads = lay(request);
    const std::vector<ChartPlace> read_at = located(mesh, request.read_m), inside = located(mesh, request.inside_m);
    if (threads.size() != request.threads.size() || read_at.size() != request.read_m.size() ||
        inside.size() != request.inside_m.size() ||
        !std::all_of(request.hand.pads.begin(), request.hand.pads.end(),
                     [&](const HandPad& pad) { return locate(mesh, pad.place_m).has_value(); })) {
        out.answer = no_answer(request, ThreadTrouble::outside_mesh);
        return out;
    }
    const Hand* hand = hand_of(request.hand);
    TetherProblem problem = problem_of(request, threads, hand, also);
    const Eigen::Index coordinates = problem.load_m.size();
    const TetherState state = settle_threads(request, problem, out.answer);
    if (!state.converged) {
        out.answer = quantised(std::move(out.answer));
        return out;
    }
    out.force_n = state.force_n.head(coordinates);
    if (request.hand.holds) out.answer.hand_held_n = out.force_n.segment<3>(body_->string_columns().cols()).norm();
    out.skin_m = skin_of(request, threads, hand, out.force_n, also);
    Eigen::VectorXd whole;
    if (request.final_shape) whole = find_final_shape(request, out);
    for (const ChartPlace& place : read_at)
        out.answer.moved_m.push_back(read_skin(patch_at(mesh, on_skin(place)), out.skin_m));
    if (!inside.empty()) {
        if (whole.size() == 0) whole = whole_m(request, out, also);
        for (const ChartPlace& place : inside) out.answer.moved_m.push_back(read(patch_at(mesh, place), whole));
    }
    read_dimples(threads, out);
    out.answer = quantised(std::move(out.answer));
    return out;
}

/// In place of the linear skin, where it is found. @return displacement of every unknown
Eigen::VectorXd FeThreads::find_final_shape(const ThreadRequest& request, SettledThreads& out) {
    const Eigen::VectorXd load = load_n(request, out);
    const auto solve = [&](const Eigen::VectorXd& f) -> Eigen::VectorXd { return body_->response().solve(f); };
    Eigen::VectorXd whole = solve(load);
    FinalShapeSettings settings;
    settings.most_iterations = kMostShapeSteps;
    FinalShape found = final_shape(body_->finite_strain(), solve, load, whole, settings);
    out.answer.shape = found.converged ? LiftShape::final : LiftShape::no_final_found;
    out.answer.shape_steps = found.iterations;
    if (!found.converged) return whole;
    out.skin_m = skin_rows(body_->mesh(), found.moved_m);
    return std::move(found.moved_m);
}

Eigen::VectorXd FeThreads::load_n(const ThreadRequest& request, const SettledThreads& settled) {
    const std::vector<Laid*> threads = lay(request);
    const Hand* hand = hand_of(request.hand);
    const Vec3& g = request.gravity_change_m_per_s2;
    const Eigen::Index strings = body_->string_columns().cols();
    Eigen::VectorXd load = body_->gravity_loads() * Eigen::Vector3d(g.x, g.y, g.z) +
                           body_->string_columns() * settled.force_n.head(strings);
    Eigen::Index first = strings;
    if (hand != nullptr) load += request.hand.force_n * hand->load_n;
    if (hand != nullptr && hand->holds) {
        load += hand->hold_columns * settled.force_n.segment<3>(first);
        first += 3;
    }
    for (const Laid* thread : threads) {
        load += thread->columns * settled.force_n.segment(first, thread->columns.cols());
        first += thread->columns.cols();
    }
    if (request.stroke.thread >= 0)
        load += request.stroke.towards_entry_n *
                fingers_over(*threads[static_cast<std::size_t>(request.stroke.thread)], request.stroke).load_n;
    return load;
}

Eigen::VectorXd FeThreads::whole_m(const ThreadRequest& request, const SettledThreads& settled, const Displaced* also) {
    Eigen::VectorXd out = body_->response().solve(load_n(request, settled));
    if (also != nullptr) out += also->moved_m;
    return out;
}

}  // namespace sim::fe
