#include "engine/session/ready_tissue.hpp"

#include <algorithm>
#include <utility>

#include "engine/session/thread_answers.hpp"
#include "sim/state.hpp"

namespace session {

namespace {

[[noreturn]] void no_rest(const std::string& of, int iterations) {
    throw sim::fe::FactorError(sim::fe::FactorTrouble::other,
                               "tissue: " + of + ": no rest found in " + std::to_string(iterations) + " steps");
}

}  // namespace

RecordedForces recorded_forces(const sim::State& state) {
    RecordedForces out;
    for (const sim::HeldThread& thread : state.threads) {
        if (thread.out) continue;
        for (const sim::HeldBarb& barb : thread.barbs)
            if (barb.force_n != 0.0) out.barbs.push_back({barb.place_m, barb.towards_entry * barb.force_n});
        const bool fingers = state.stroke && state.stroke->thread == thread.number && state.stroke->pushed &&
                             !state.stroke->let_go && !thread.barbs.empty();
        if (!fingers) continue;
        // towards the centre is towards the entry in the half far from it
        const auto [first, last] = thread.half(state.stroke->half);
        const double each_n =
            (state.stroke->half == 1 ? 1.0 : -1.0) * state.stroke->force_n / std::max(1, last - first + 1);
        for (int i = first; i <= last; ++i) {
            const sim::HeldBarb& barb = thread.barbs[static_cast<std::size_t>(i)];
            out.fingers.push_back({barb.place_m, barb.towards_entry * each_n});
        }
    }
    // a hand that holds the skin back is not in: only what it pushes with is known
    if (state.hand.asked && state.hand.settled_n > 0.0)
        for (const sim::HandPad& pad : state.hand.asked->pads)
            out.fingers.push_back({pad.place_m, pad.push * state.hand.settled_n});
    return out;
}

ReadyTissue::ReadyTissue(std::unique_ptr<sim::fe::TetheredBody> body, const Followers& followers,
                         const std::function<void()>& between)
    : body_(std::move(body)),
      threads_(body_),
      turn_(*body_, body_->neck()),
      tip_(body_->mesh(), body_->body(), body_->response()),
      followers_(followers) {
    auto shape = std::make_shared<TissueShape>();
    shape->mesh = std::make_shared<const sim::fe::HexMesh>(body_->mesh());
    for (const Followers::OnSkin& part : followers.on_skin) {
        between();
        const auto places = part.with_trunk ? std::span<const sim::Vec3>{} : std::span(part.place_m);
        shape->on_skin.push_back(sim::fe::follow_skin(body_->mesh(), places, part.far_m));
    }
    shape_ = std::move(shape);
    between();
    lattice_ = std::make_shared<const sim::fe::ChartLattice>(body_->mesh());
    for (const sim::Vec3& mark : followers.marks_m) marks_.push_back(sim::fe::locate(body_->mesh(), mark));
}

std::shared_ptr<const SettledPosture> ReadyTissue::settle(const Position& position) {
    auto out = std::make_shared<SettledPosture>();
    out->position = position;
    search_.reset();
    unrefined_ = {position, {}, {}};
    Eigen::VectorXd skin_m, whole_m;
    if (pulled_)
        settle_with_threads(*out, skin_m, whole_m);
    else if (position.turn_degrees != 0)
        settle_turned(*out, skin_m, whole_m);
    else
        settle_alone(*out, skin_m, whole_m);
    if (position.turn_degrees == 0) unrefined_.moved_m = whole_m;
    follow(*out, skin_m, std::move(whole_m));
    return out;
}

std::shared_ptr<const SettledPosture> ReadyTissue::settle(const RecordedForces& forces) {
    if (recorded_.strings.empty()) {
        recorded_.compliance_m_per_n = body_->string_compliance();
        for (const sim::fe::StringSite& site : body_->strings()) recorded_.strings.push_back(site.string);
    }
    search_.reset();
    unrefined_ = {};
    Eigen::VectorXd load_n = load_of(forces);
    const Eigen::VectorXd alone_m = body_->response().solve(load_n);
    recorded_.load_m = body_->string_columns().transpose() * alone_m;
    const sim::fe::TetherState state = solve_tethers(recorded_, last_recorded_.force_n);
    if (!state.converged) no_rest("recorded threads", state.iterations);
    last_recorded_ = state;
    auto out = std::make_shared<SettledPosture>();
    out->iterations = state.iterations;
    out->taut_strings = state.taut;
    load_n += body_->string_columns() * state.force_n;
    unrefined_.moved_m = body_->response().solve(load_n);
    unrefined_.load_n = std::move(load_n);
    follow(*out, skin_rows(body_->mesh(), unrefined_.moved_m), unrefined_.moved_m);
    return out;
}

bool ReadyTissue::refine(const std::function<bool()>& give_way) {
    // for the view alone, and nobody waits: more than a stage's answer may take, for a turned head needs some
    constexpr int kMostSteps = 3 * sim::fe::kMostShapeSteps;
    if (!search_)
        search_.emplace(
            body_->finite_strain(),
            [this](const Eigen::VectorXd& force_n) -> Eigen::VectorXd { return body_->response().solve(force_n); },
            unrefined_.load_n, unrefined_.moved_m, sim::fe::FinalShapeSettings{1e-3, kMostSteps},
            unrefined_.position.turn_degrees == 0
                ? nullptr
                : std::make_shared<const sim::fe::CellsGoneRound>(body_->mesh().cells, turn_.neck(),
                                                                  unrefined_.position.turn_rad()));
    return search_->step(give_way);
}

std::shared_ptr<const SettledPosture> ReadyTissue::refined() const {
    const sim::fe::FinalShape& found = search_->found();
    if (!found.converged) return nullptr;
    auto out = std::make_shared<SettledPosture>();
    out->position = unrefined_.position;
    out->iterations = found.iterations;
    out->final_shape = true;
    Eigen::VectorXd whole_m = found.moved_m;
    if (out->position.turn_degrees != 0) turn_.turn_whole(out->position.turn_rad(), whole_m);
    follow(*out, skin_rows(body_->mesh(), whole_m), whole_m);
    return out;
}

/// On every unknown. What lies outside the mesh is left out: a step was told so when it asked.
Eigen::VectorXd ReadyTissue::load_of(const RecordedForces& forces) const {
    const sim::fe::HexMesh& mesh = body_->mesh();
    Eigen::VectorXd load_n = Eigen::VectorXd::Zero(mesh.cells.unknowns());
    const auto add = [&](const RecordedForces::At& at, bool on_skin, double sigma_m) {
        auto place = sim::fe::locate(mesh, at.place_m);
        if (!place) return;
        if (on_skin) place->level = sim::fe::kCellsDeep;
        for (const auto& [node, weight] : sim::fe::patch_at(mesh, *place, sigma_m).weight)
            for (int r = 0; r < 3; ++r) load_n[3 * node + r] += weight * at.force_n[r];
    };
    for (const RecordedForces::At& barb : forces.barbs) add(barb, false, sim::fe::kPatchSigmaM);
    for (const RecordedForces::At& finger : forces.fingers) add(finger, true, sim::kFingerSigmaM);
    return load_n;
}

void ReadyTissue::follow(SettledPosture& out, const Eigen::VectorXd& skin_m, Eigen::VectorXd whole_m) const {
    const sim::fe::NeckTurn round{turn_.neck(), out.position.turn_rad()};
    for (std::size_t k = 0; k < followers_.on_skin.size(); ++k) {
        std::vector<glm::vec3>& moves = out.on_skin_mm.emplace_back();
        shape_->on_skin[k].moved_mm(skin_m, moves);
        if (round.turn_rad == 0.0) continue;
        const Followers::OnSkin& part = followers_.on_skin[k];
        moves.resize(part.place_m.size(), glm::vec3(0.0f));
        for (std::size_t i = 0; i < moves.size(); ++i)
            moves[i] += glm::vec3(
                (part.with_trunk ? round.with_trunk_m(part.place_m[i]) : round.moved_m(part.place_m[i])) / sim::kMm);
    }
    for (const auto& place : marks_) out.marks_shift_m.push_back(shift_m(place, whole_m));
    out.body = std::make_shared<const sim::fe::MovedBody>(lattice_, std::move(whole_m), round);
    for (const auto& places : followers_.inside) {
        std::vector<glm::vec3>& moves = out.inside_mm.emplace_back();
        moves.reserve(places.size());
        for (const sim::Vec3& p : places) moves.emplace_back(out.body->moved_m(p) / sim::kMm);
    }
}

sim::ThreadAnswer ReadyTissue::answer(const sim::ThreadRequest& request, std::string& trouble) {
    sim::ThreadAnswer out = answer_or_trouble(threads_, request, trouble);
    if (out.trouble == sim::ThreadTrouble::none) {
        pulled_ = request;
        pulled_->final_shape = false;  // what is shown comes to it by itself
    }
    return out;
}

std::vector<sim::fe::TipBlock> ReadyTissue::blocks(const std::vector<sim::fe::TipNode>& nodes) {
    return tip_.blocks(nodes);
}

void ReadyTissue::settle_turned(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m) {
    const sim::Vec3 change = gravity_change_m_per_s2(out.position);
    sim::fe::SkinSettled skin = turn_.settle_skin(out.position.turn_rad(), change, last_);
    last_ = skin.tethers;
    out.iterations = skin.tethers.iterations;
    out.taut_strings = skin.tethers.taut;
    unrefined_.load_n = turn_.load_n(out.position.turn_rad(), change, skin.tethers);
    unrefined_.moved_m = turn_.beside_m(out.position.turn_rad(), change, skin.tethers);
    whole_m = unrefined_.moved_m;
    turn_.turn_whole(out.position.turn_rad(), whole_m);
    skin_m = std::move(skin.skin_m);
}

void ReadyTissue::settle_alone(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m) {
    const sim::Vec3 change = gravity_change_m_per_s2(out.position);
    sim::fe::SkinSettled skin = body_->settle_skin(change, last_);
    if (!skin.tethers.converged) no_rest(std::string(name_of(out.position.posture)), skin.tethers.iterations);
    last_ = skin.tethers;
    out.iterations = skin.tethers.iterations;
    out.taut_strings = skin.tethers.taut;
    unrefined_.load_n = body_->load_n(change, skin.tethers);
    whole_m = body_->response().solve(unrefined_.load_n);
    skin_m = std::move(skin.skin_m);
}

/// As the last question about threads left them: what slid then slides the same way here.
void ReadyTissue::settle_with_threads(SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m) {
    sim::ThreadRequest request = *pulled_;
    const sim::Vec3 change = gravity_change_m_per_s2(out.position);
    request.gravity_change_m_per_s2 = change;
    const double turn_rad = out.position.turn_rad();
    std::optional<sim::fe::FeThreads::Displaced> turned;
    if (turn_rad != 0.0) {
        turned.emplace();
        // gravity as it pulls on a head that is not turned is in already
        turned->moved_m = turn_.slack_m(turn_rad, change) -
                          body_->fields().gravity_field_m * Eigen::Vector3d(change.x, change.y, change.z);
        turned->strings_m = turn_.string_twist_m(turn_rad);
    }
    auto settled = threads_.settle(request, turned ? &*turned : nullptr);
    if (settled.answer.trouble != sim::ThreadTrouble::none)
        no_rest(std::string(name_of(out.position.posture)), settled.answer.iterations);
    out.iterations = settled.answer.iterations;
    unrefined_.load_n = threads_.load_n(request, settled);
    whole_m = body_->response().solve(unrefined_.load_n);
    if (turned) whole_m += turned->moved_m;
    skin_m = std::move(settled.skin_m);
    if (!turned) return;
    // what going round strains is no load to the search, and gravity pulls on a neck that has gone round
    unrefined_.load_n += turn_.weight_n(turn_rad, change) - turn_.weight_n(0.0, change);
    unrefined_.moved_m = whole_m;
    turn_.turn_whole(turn_rad, whole_m);
    turn_.turn_skin(turn_rad, skin_m);
}

/// Skin against the top of muscle or deep fascia right beneath.
sim::Vec3 ReadyTissue::shift_m(const std::optional<sim::fe::ChartPlace>& place, const Eigen::VectorXd& whole_m) const {
    constexpr double kDeepFascia = 1.0;  // level
    if (!place) return {};
    const auto at = [&](double level) {
        return read(patch_at(body_->mesh(), {place->s_m, place->t_m, level}), whole_m);
    };
    return at(sim::fe::kCellsDeep) - at(kDeepFascia);
}

}  // namespace session
