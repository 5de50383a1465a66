#include "engine/app/patient_posture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <chrono>
#include <thread>
#include <utility>

namespace app {

namespace {

constexpr double kMoveS = 0.8;                  // a patient is not thrown back
constexpr double kThreadMoveS = 0.12;           // skin follows a hand at once, but without jumps
constexpr double kSettleS = 0.6;                // the last few hundredths of a way, which nobody's hand moves
constexpr double kClothFarM = 10.0 * sim::kMm;  // cap and drape go along where they lie on the skin; by eye
constexpr std::size_t kSkin = 0, kPillow = 3;   // of a head's surfaces

template <class Vertices>
std::vector<sim::Vec3> places_of(const Vertices& vertices) {
    std::vector<sim::Vec3> out;
    out.reserve(vertices.size());
    for (const auto& vertex : vertices) out.emplace_back(sim::Vec3(vertex.position_mm) * sim::kMm);
    return out;
}

session::Followers followers_of(const view::Scene& scene) {
    const view::SceneParts parts = scene.parts();
    session::Followers out;
    for (std::size_t i = 0; i < parts.surfaces.size(); ++i) {
        session::Followers::OnSkin& part = out.on_skin.emplace_back();
        part.far_m = i == kSkin ? session::kSkinFarM : kClothFarM;
        part.place_m = places_of(parts.surfaces[i]->vertices);
        part.with_trunk = i == kPillow;
    }
    for (const auto& mesh : parts.on_skin) {
        session::Followers::OnSkin& part = out.on_skin.emplace_back();
        part.far_m = session::kSkinFarM;
        if (mesh) part.place_m = places_of(mesh->vertices);
    }
    for (const auto& mesh : parts.inside)
        out.inside.push_back(mesh ? places_of(mesh->vertices) : std::vector<sim::Vec3>{});
    const sim::Model& model = scene.model();
    for (const sim::PlannedVector& vector : model.scenario.plan)
        for (const sim::Vec3& p : {vector.entry_m, vector.end_m})
            out.marks_m.push_back(model.anatomy->nearest_skin(p).position_m);
    return out;
}

std::shared_ptr<const view::PatientMoves> moves_of(const session::SettledPosture& settled,
                                                   const view::SceneParts& parts) {
    auto out = std::make_shared<view::PatientMoves>();
    out->body = settled.body;
    const auto first_on_skin = settled.on_skin_mm.begin() + static_cast<std::ptrdiff_t>(parts.surfaces.size());
    out->surfaces_mm.assign(settled.on_skin_mm.begin(), first_on_skin);
    out->on_skin_mm.assign(first_on_skin, settled.on_skin_mm.end());
    out->inside_mm = settled.inside_mm;
    const std::size_t turns =
        settled.position.turn_degrees == 0 ? 1 : parts.surfaces.size();  // cloth: when it goes round
    for (std::size_t i = 0; i < turns; ++i)
        out->surface_turns.push_back(view::turns_of(*parts.surfaces[i], out->surfaces_mm[i]));
    return out;
}

}  // namespace

PatientPosture::PatientPosture(session::TissueBuilder builder, const view::Scene& scene) {
    if (builder) tissue_ = std::make_shared<session::LiveTissue>(std::move(builder), followers_of(scene));
}

PatientPosture::PatientPosture(std::shared_ptr<session::LiveTissue> tissue) : tissue_(std::move(tissue)) {}

void PatientPosture::follow(const sim::State& state) {
    if (!ready()) return;
    session::RecordedForces forces = session::recorded_forces(state);
    if (forces == followed_) return;
    followed_ = std::move(forces);
    following_ = true;
    tissue_->ask(followed_);
}

void PatientPosture::ask(const session::Position& position) {
    // also while the skin still moves: the answer waits until it lies still
    if (!ready() || asked_ || position == shown_) return;
    asked_ = position;
    tissue_->ask(position);
}

void PatientPosture::take(view::Scene& scene) {
    if (share_ < 1.0) return;  // what comes while the skin still moves waits for its turn: no jump
    if (const auto recorded = tissue_->take_recorded()) {
        following_ = false;
        threads_ = !followed_.none();
        go_to(*recorded, kThreadMoveS, scene);
        return;
    }
    if (const auto held = tissue_->take_with_threads()) {
        threads_ = true;
        go_to(*held, kThreadMoveS, scene);
        return;
    }
    const auto settled = tissue_->take();
    if (settled && asked_) {
        shown_ = *std::exchange(asked_, std::nullopt);
        go_to(*settled, kMoveS, scene);
        marks_shift_m_ = settled->marks_shift_m;
        return;
    }
    if (asked_ || following_) return;  // and so no longer of what is shown
    const auto refined = tissue_->take_refined();
    if (!refined) return;
    go_to(*refined, kSettleS, scene);
    marks_shift_m_ = refined->marks_shift_m;
}

void PatientPosture::go_to(const session::SettledPosture& settled, double way_s, view::Scene& scene) {
    from_ = to_;
    from_turn_rad_ = std::exchange(to_turn_rad_, settled.position.turn_rad());
    const bool at_rest = settled.position.at_rest() && !threads_;
    to_ = at_rest ? nullptr : moves_of(settled, scene.parts());
    share_ = 0.0;
    way_s_ = way_s;
}

/// What cannot be settled any more goes back to the shape that needs no settling.
void PatientPosture::sit_up() {
    asked_.reset();
    if (shown_.at_rest()) return;
    shown_ = {};
    from_turn_rad_ = std::exchange(to_turn_rad_, 0.0);
    from_ = std::exchange(to_, nullptr);
    share_ = 0.0;
    way_s_ = kMoveS;
}

bool PatientPosture::advance(double elapsed_s, bool at_once, view::Scene& scene) {
    if (!tissue_) return false;
    const auto stage = status_.stage;
    const auto shape = status_.shape;
    status_ = tissue_->status();
    if (status_.stage == session::TissueStatus::Stage::failed) sit_up();
    take(scene);
    if (!(share_ < 1.0)) return stage != status_.stage || shape != status_.shape;
    share_ = at_once ? 1.0 : std::min(1.0, share_ + elapsed_s / way_s_);
    const double way = share_ * share_ * (3.0 - 2.0 * share_);
    turn_rad_ = from_turn_rad_ + way * (to_turn_rad_ - from_turn_rad_);
    scene.pose(from_, to_, static_cast<float>(way));
    if (share_ >= 1.0) from_ = nullptr;
    return true;
}

void PatientPosture::wait(const session::Position& position, view::Scene& scene) {
    if (!tissue_) return;
    const auto rest = [] { std::this_thread::sleep_for(std::chrono::milliseconds(5)); };
    using Stage = session::TissueStatus::Stage;
    for (; status_.stage == Stage::building; rest()) advance(0.0, true, scene);
    ask(position);
    for (; asked_ && ready(); rest()) advance(0.0, true, scene);
}

void PatientPosture::wait_for_replay(const sim::State& state, view::Scene& scene) {
    if (!tissue_) return;
    using Stage = session::TissueStatus::Stage;
    do {
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
        advance(0.0, true, scene);
        follow(state);
    } while (status_.stage == Stage::building || (following_ && ready()));
}

void PatientPosture::wait_for_threads(view::Scene& scene) {
    constexpr int kRests = 40;  // the skin of an answer follows it by some tens of milliseconds
    for (int i = 0; tissue_ && i < kRests; ++i) {
        advance(0.0, true, scene);
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
}

void PatientPosture::wait_for_final_shape(view::Scene& scene) {
    using Shape = session::TissueStatus::Shape;
    if (!tissue_) return;
    do {
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
        advance(0.0, true, scene);
    } while (ready() && (status_.shape == Shape::linear || status_.shape == Shape::refining));
}

std::string PatientPosture::name() const {
    std::string out(name_of(shown_.posture));
    out.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(out.front())));
    return out;
}

std::string PatientPosture::label() const {
    using Stage = session::TissueStatus::Stage;
    using Shape = session::TissueStatus::Shape;
    switch (status_.stage) {
        case Stage::building:
            return fmt::format("Tissue {:.0f} %", 100.0 * status_.fraction);
        case Stage::ready:
            if (status_.shape == Shape::refining) return name() + ", settling";
            if (status_.shape == Shape::final) return name() + ", settled";
            return name();
        case Stage::failed:
        case Stage::cancelled:
            break;
    }
    return "No posture";
}

std::string PatientPosture::turn_label() const {
    if (!status_.about_turn.empty()) return "No turn";
    if (shown_.turn_degrees != 0) return turn_words(shown_.turn_degrees);
    return status_.turn_share < 1.0 ? fmt::format("Turn {:.0f} %", 100.0 * status_.turn_share) : "Head straight";
}

std::string turn_words(int degrees) {
    if (degrees == 0) return "Head straight";
    return fmt::format("Head {}° {}", std::abs(degrees), degrees > 0 ? "left" : "right");
}

std::string PatientPosture::words() const {
    using Stage = session::TissueStatus::Stage;
    if (status_.stage == Stage::failed)
        return "The patient cannot be laid back: " + status_.trouble + ". Practice goes on without it.";
    if (status_.stage == Stage::cancelled) return "The patient cannot be laid back: the build was given up.";
    if (!status_.about_turn.empty()) return "The head cannot be turned: " + status_.about_turn + ".";
    std::string rough;
    if (!status_.about_detail.empty())
        rough = "Under a moving tip the skin follows coarse cells only: " + status_.about_detail + ".";
    if (status_.shape == session::TissueStatus::Shape::no_final)
        rough += (rough.empty() ? "" : " ") +
                 std::string("The skin is shown as small strains have it: its final shape was not found.");
    if (shown_.at_rest() || marks_shift_m_.empty()) return rough;
    return (rough.empty() ? "" : rough + " ") +
           fmt::format("Against the deep fascia marks have moved {}. They shift when the patient {}: mark upright.",
                       shift_words(marks_shift_m_),
                       shown_.turn_degrees == 0                      ? "lies back"
                       : shown_.posture == session::Posture::upright ? "turns the head"
                                                                     : "lies back and turns the head");
}

std::string shift_words(const std::vector<sim::Vec3>& shifts_m) {
    constexpr double kSayShare = 0.4;  // of the whole shift: a direction with less is not named
    double least = 1e30;
    double most = 0.0;
    sim::Vec3 sum{};
    for (const sim::Vec3& shift : shifts_m) {
        least = std::min(least, glm::length(shift) / sim::kMm);
        most = std::max(most, glm::length(shift) / sim::kMm);
        sum += shift;
    }
    const std::string low = fmt::format("{:.1f}", least);
    const std::string high = fmt::format("{:.1f}", most);
    std::string where;
    const auto add = [&](bool so, const char* direction) {
        if (so) where += (where.empty() ? " " : " and ") + std::string(direction);
    };
    const double named = kSayShare * glm::length(sum);
    add(sum.y > named, "up");
    add(sum.y < -named, "down");
    add(sum.z < -named, "back");
    add(sum.z > named, "forward");
    return (low == high ? low : low + " to " + high) + " mm" + where;
}

}  // namespace app
