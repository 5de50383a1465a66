#include "engine/session/live_tissue.hpp"

#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <iterator>
#include <mutex>
#include <new>
#include <optional>
#include <utility>

#include "engine/files/cache.hpp"
#include "engine/session/resimulate.hpp"
#include "engine/session/thread_answers.hpp"
#include "sim/anatomy/parameters.hpp"
#include "sim/core/errors.hpp"
#include "sim/tissue/fe_threads.hpp"
#include "sim/tissue/moved_body.hpp"
#include "sim/tissue/posture.hpp"
#include "sim/tissue/tip_response.hpp"

namespace session {

namespace {

using Clock = std::chrono::steady_clock;

/// Thrown by the progress of a build that is given up.
struct GivenUp {};

/// Hands and pictures come before a build: its thread takes what they leave.
void work_in_the_background() {
    constexpr int kNice = 10;
    setpriority(PRIO_PROCESS, static_cast<id_t>(syscall(SYS_gettid)), kNice);
}

/// Threads that were told to end and have not yet: a factor that is being made cannot be cut short.
class EndingThreads {
 public:
    ~EndingThreads() { wait(); }
    void add(std::thread thread) {
        const std::lock_guard lock(mutex_);
        threads_.push_back(std::move(thread));
    }
    void wait() {
        std::vector<std::thread> threads;
        {
            const std::lock_guard lock(mutex_);
            threads.swap(threads_);
        }
        for (std::thread& thread : threads)
            if (thread.get_id() != std::this_thread::get_id())
                thread.join();
            else
                add(std::move(thread));  // told to end before it began: it cannot wait for itself
    }

 private:
    std::mutex mutex_;
    std::vector<std::thread> threads_;
};

EndingThreads& ending_threads() {
    static EndingThreads threads;
    return threads;
}

/// The body and what hangs on it, on the thread that may use it.
class Ready {
 public:
    Ready(std::unique_ptr<sim::fe::TetheredBody> body, const Followers& followers, const std::function<void()>& between)
        : body_(std::move(body)), threads_(body_), followers_(followers) {
        auto shape = std::make_shared<TissueShape>();
        shape->mesh = std::make_shared<const sim::fe::HexMesh>(body_->mesh());
        for (const Followers::OnSkin& part : followers.on_skin) {
            between();
            shape->on_skin.push_back(sim::fe::follow_skin(body_->mesh(), part.place_m, part.far_m));
        }
        shape_ = std::move(shape);
        between();
        lattice_ = std::make_shared<const sim::fe::ChartLattice>(body_->mesh());
        for (const sim::Vec3& mark : followers.marks_m) marks_.push_back(sim::fe::locate(body_->mesh(), mark));
    }

    [[nodiscard]] std::shared_ptr<const TissueShape> shape() const { return shape_; }

    std::vector<sim::fe::TipBlock> blocks(const std::vector<sim::fe::TipNode>& nodes) {
        return solve_tip_blocks(body_->mesh(), body_->response(), nodes);
    }

    /// @throws sim::fe::FactorError when the strings find no rest
    std::shared_ptr<const SettledPosture> settle(Posture posture) {
        auto out = std::make_shared<SettledPosture>();
        out->posture = posture;
        Eigen::VectorXd skin_m, whole_m;
        if (pulled_)
            settle_with_threads(posture, *out, skin_m, whole_m);
        else
            settle_alone(posture, *out, skin_m, whole_m);
        for (const auto& weights : shape_->on_skin) weights.moved_mm(skin_m, out->on_skin_mm.emplace_back());
        for (const auto& place : marks_) out->marks_shift_m.push_back(shift_m(place, whole_m));
        out->body = std::make_shared<const sim::fe::MovedBody>(lattice_, whole_m);
        for (const auto& places : followers_.inside) {
            std::vector<glm::vec3>& moves = out->inside_mm.emplace_back();
            moves.reserve(places.size());
            for (const sim::Vec3& p : places) moves.emplace_back(out->body->moved_m(p) / sim::kMm);
        }
        return out;
    }

    sim::ThreadAnswer answer(const sim::ThreadRequest& request, std::string& trouble) {
        sim::ThreadAnswer out = answer_or_trouble(threads_, request, trouble);
        if (out.trouble == sim::ThreadTrouble::none) pulled_ = request;
        return out;
    }

 private:
    [[noreturn]] static void no_rest(Posture posture, int iterations) {
        throw sim::fe::FactorError(
            sim::fe::FactorTrouble::other,
            "tissue: " + std::string(name_of(posture)) + ": no rest found in " + std::to_string(iterations) + " steps");
    }

    void settle_alone(Posture posture, SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m) {
        const sim::Vec3 change = gravity_change_m_per_s2(posture);
        sim::fe::SkinSettled skin = body_->settle_skin(change, last_);
        if (!skin.tethers.converged) no_rest(posture, skin.tethers.iterations);
        last_ = skin.tethers;
        out.iterations = skin.tethers.iterations;
        out.taut_strings = skin.tethers.taut;
        whole_m = body_->whole_m(change, skin.tethers);
        skin_m = std::move(skin.skin_m);
    }

    /// As the last question about threads left them: what slid then slides the same way here.
    void settle_with_threads(Posture posture, SettledPosture& out, Eigen::VectorXd& skin_m, Eigen::VectorXd& whole_m) {
        sim::ThreadRequest request = *pulled_;
        request.gravity_change_m_per_s2 = gravity_change_m_per_s2(posture);
        auto settled = threads_.settle(request);
        if (settled.answer.trouble != sim::ThreadTrouble::none) no_rest(posture, settled.answer.iterations);
        out.iterations = settled.answer.iterations;
        whole_m = threads_.whole_m(request, settled);
        skin_m = std::move(settled.skin_m);
    }

    /// Skin against the top of muscle or deep fascia right beneath.
    [[nodiscard]] sim::Vec3 shift_m(const std::optional<sim::fe::ChartPlace>& place,
                                    const Eigen::VectorXd& whole_m) const {
        constexpr double kDeepFascia = 1.0;  // level
        if (!place) return {};
        const auto at = [&](double level) {
            return read(patch_at(body_->mesh(), {place->s_m, place->t_m, level}), whole_m);
        };
        return at(sim::fe::kCellsDeep) - at(kDeepFascia);
    }

    std::shared_ptr<sim::fe::TetheredBody> body_;
    sim::fe::FeThreads threads_;
    std::optional<sim::ThreadRequest> pulled_;  ///< the last question about threads that had an answer
    const Followers& followers_;
    std::shared_ptr<const TissueShape> shape_;
    std::shared_ptr<const sim::fe::ChartLattice> lattice_;
    std::vector<std::optional<sim::fe::ChartPlace>> marks_;
    sim::fe::TetherState last_;
};

}  // namespace

std::string_view name_of(Posture posture) {
    constexpr std::array<std::string_view, kPostures> kNames{"upright", "reclined 40°", "lying"};
    return kNames[static_cast<std::size_t>(posture)];
}

sim::Vec3 gravity_change_m_per_s2(Posture posture) {
    // treated reclined about 30 to 45 degrees: common practice, no source
    constexpr std::array<double, kPostures> kBackDegrees{0.0, 40.0, 90.0};
    const double back = kBackDegrees[static_cast<std::size_t>(posture)] * sim::kPi / 180.0;
    return sim::Vec3(0.0, 1.0 - std::cos(back), -std::sin(back)) * sim::fe::kGravityMPerS2;
}

sim::fe::TissueParameters tissue_parameters(const sim::Head& head) {
    const sim::HeadParameters& p = head.tissue().parameters();
    return sim::fe::parameters_for(sim::fe::laxity_class(0.5 * (p.laxity_left + p.laxity_right)));
}

TissueBuilder tissue_builder(const std::shared_ptr<const sim::Model>& model, const std::string& patient_hash,
                             bool use_cache) {
    if (std::dynamic_pointer_cast<const sim::Head>(model->anatomy) == nullptr) return {};
    return [model, patient_hash, use_cache](const sim::Progress& progress, TissueNotes& notes) {
        const auto& head = dynamic_cast<const sim::Head&>(*model->anatomy);
        // what the fields hang on: patient, where ligaments lie, code, and whose last bits the processor decides
        const std::string key = "tissue " + build_id() + " " + sim::fe::blas_kernel() + " " + patient_hash + " " +
                                std::to_string(model->scenario.patient.variant_seed);
        const sim::fe::ChartSettings settings;
        const sim::fe::TissueParameters parameters = tissue_parameters(head);
        std::optional<sim::fe::StringFields> kept;
        try {
            if (use_cache)
                if (const auto bytes = files::cached(key, &notes.cache)) kept = sim::fe::load_string_fields(*bytes);
            if (kept) {
                auto body = std::make_unique<sim::fe::TetheredBody>(head, settings, parameters, progress,
                                                                    std::exchange(kept, std::nullopt));
                notes.from_cache = true;
                return body;
            }
        } catch (const sim::InputError& error) {
            notes.cache = std::string("kept tissue not used: ") + error.what();
        }
        auto body = std::make_unique<sim::fe::TetheredBody>(head, settings, parameters, progress);
        if (use_cache) files::keep_in_cache(key, sim::fe::save(body->fields()), &notes.cache);
        return body;
    };
}

struct LiveTissue::Shared {
    TissueBuilder builder;
    Followers followers;

    mutable std::mutex mutex;
    std::condition_variable wake;
    TissueStatus status;
    bool stop = false, cancel = false;
    bool over = false;  ///< nobody answers any more
    std::optional<Posture> asked;
    std::shared_ptr<const SettledPosture> settled, with_threads;
    std::optional<sim::ThreadRequest> thread_asked;
    std::optional<sim::ThreadAnswer> thread_answer;
    std::string thread_trouble;
    std::shared_ptr<const TissueShape> shape;
    std::vector<sim::fe::TipNode> tip_asked, tip_solving;
    std::vector<sim::fe::TipBlock> tip_blocks;

    void solve_for_tip(std::unique_lock<std::mutex>& lock, Ready& ready);
    void give_up_if_told() const {
        const std::lock_guard lock(mutex);
        if (stop || cancel) throw GivenUp{};
    }
    void tell(double fraction, std::string_view what) {
        give_up_if_told();
        const std::lock_guard lock(mutex);
        status.fraction = fraction;
        status.what = what;
    }
    void end(TissueStatus::Stage stage, const std::string& trouble) {
        const std::lock_guard lock(mutex);
        over = true;
        status.stage = stage;
        status.trouble = trouble;
    }
};

LiveTissue::LiveTissue(TissueBuilder builder, Followers followers) : shared_(std::make_shared<Shared>()) {
    SIM_ASSERT(static_cast<bool>(builder));
    shared_->builder = std::move(builder);
    shared_->followers = std::move(followers);
    shared_->status.what = "waiting";
    static_cast<void>(ending_threads());  // there before the thread, gone after it
    thread_ = std::thread([shared = shared_] { run(shared); });
}

LiveTissue::~LiveTissue() {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->stop = true;
    }
    shared_->wake.notify_all();
    ending_threads().add(std::move(thread_));
}

TissueStatus LiveTissue::status() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->status;
}

void LiveTissue::cancel() {
    const std::lock_guard lock(shared_->mutex);
    shared_->cancel = true;
}

void LiveTissue::ask(Posture posture) {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->asked = posture;
        shared_->settled.reset();
    }
    shared_->wake.notify_all();
}

std::shared_ptr<const SettledPosture> LiveTissue::take() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->settled, nullptr);
}

void LiveTissue::ask(const sim::ThreadRequest& request) {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->thread_asked = request;
    }
    shared_->wake.notify_all();
}

std::optional<sim::ThreadAnswer> LiveTissue::take(const sim::ThreadRequest& request) {
    const std::lock_guard lock(shared_->mutex);
    if (shared_->thread_answer && shared_->thread_answer->key == request.key)
        return std::exchange(shared_->thread_answer, std::nullopt);
    if (!shared_->over) return std::nullopt;
    return sim::no_answer(request, sim::ThreadTrouble::no_body);
}

std::string LiveTissue::about_threads() const {
    const std::lock_guard lock(shared_->mutex);
    const TissueStatus& status = shared_->status;
    if (shared_->over)
        return status.stage == TissueStatus::Stage::cancelled ? "the tissue was given up" : status.trouble;
    if (status.stage == TissueStatus::Stage::building)
        return "the tissue is not there yet: " + std::to_string(static_cast<int>(100.0 * status.fraction)) + " %";
    return shared_->thread_asked ? "the tissue is working it out" : shared_->thread_trouble;
}

std::shared_ptr<const SettledPosture> LiveTissue::take_with_threads() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->with_threads, nullptr);
}

std::shared_ptr<const TissueShape> LiveTissue::shape() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->shape;
}

void LiveTissue::ask(std::vector<sim::fe::TipNode> nodes) {
    {
        const std::lock_guard lock(shared_->mutex);
        const auto on_its_way = [this](const sim::fe::TipNode& node) {
            const auto is_it = [&](const sim::fe::TipBlock& block) { return block.node == node; };
            return std::find(shared_->tip_solving.begin(), shared_->tip_solving.end(), node) !=
                       shared_->tip_solving.end() ||
                   std::any_of(shared_->tip_blocks.begin(), shared_->tip_blocks.end(), is_it);
        };
        std::erase_if(nodes, on_its_way);
        shared_->tip_asked = std::move(nodes);
    }
    shared_->wake.notify_all();
}

std::vector<sim::fe::TipBlock> LiveTissue::take_tip_blocks() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->tip_blocks, {});
}

/// One turn's worth of what a tip needs. Few nodes at once: a step's question that comes meanwhile waits for them.
void LiveTissue::Shared::solve_for_tip(std::unique_lock<std::mutex>& lock, Ready& ready) {
    constexpr std::size_t kNodesATurn = 8;  // a place's own
    const auto end = tip_asked.begin() + static_cast<std::ptrdiff_t>(std::min(kNodesATurn, tip_asked.size()));
    tip_solving.assign(tip_asked.begin(), end);
    tip_asked.erase(tip_asked.begin(), end);
    lock.unlock();
    std::vector<sim::fe::TipBlock> solved;
    try {
        solved = ready.blocks(tip_solving);  // read here alone, written under the lock
    } catch (const std::exception& error) {
        lock.lock();
        status.about_tip = error.what();
        tip_solving.clear();
        return;
    }
    lock.lock();
    tip_solving.clear();
    std::move(solved.begin(), solved.end(), std::back_inserter(tip_blocks));
}

void LiveTissue::run(const std::shared_ptr<Shared>& shared) {
    work_in_the_background();
    const auto start = Clock::now();
    std::string trouble;
    try {
        ending_threads().wait();  // two bodies at once would take twice the memory
        shared->give_up_if_told();
        TissueNotes notes;
        constexpr double kBodyShare = 0.95;
        auto body = shared->builder(
            [&](double fraction, std::string_view what) { shared->tell(kBodyShare * fraction, what); }, notes);
        shared->tell(kBodyShare, "tying the skin to the tissue");
        Ready ready(std::move(body), shared->followers, [&] { shared->give_up_if_told(); });
        {
            const std::lock_guard lock(shared->mutex);
            shared->status.notes = notes;
            shared->status.fraction = 1.0;
            shared->status.what = "ready";
            shared->status.ready_s = std::chrono::duration<double>(Clock::now() - start).count();
            shared->status.stage = TissueStatus::Stage::ready;
            shared->shape = ready.shape();
        }
        Posture posture = Posture::upright;
        for (;;) {
            std::optional<sim::ThreadRequest> about_threads;
            {
                std::unique_lock lock(shared->mutex);
                shared->wake.wait(lock, [&] {
                    return shared->stop || shared->asked || shared->thread_asked || !shared->tip_asked.empty();
                });
                if (shared->stop) return;
                about_threads = shared->thread_asked;
                if (!about_threads && !shared->asked) {
                    shared->solve_for_tip(lock, ready);
                    continue;
                }
                if (!about_threads) posture = *std::exchange(shared->asked, std::nullopt);
            }
            if (about_threads) {
                std::string why;
                sim::ThreadAnswer answer = ready.answer(*about_threads, why);
                const std::lock_guard lock(shared->mutex);
                shared->thread_answer = std::move(answer);
                shared->thread_asked.reset();
                shared->thread_trouble = why;
            }
            std::shared_ptr<const SettledPosture> settled;
            try {
                settled = ready.settle(posture);
            } catch (const std::exception& error) {
                // nothing to look at, but steps go on asking about threads
                const std::lock_guard lock(shared->mutex);
                shared->status.stage = TissueStatus::Stage::failed;
                shared->status.trouble = error.what();
                continue;
            }
            const std::lock_guard lock(shared->mutex);
            if (about_threads)
                shared->with_threads = std::move(settled);
            else if (!shared->asked)
                shared->settled = std::move(settled);
        }
    } catch (const GivenUp&) {
        return shared->end(TissueStatus::Stage::cancelled, "");
    } catch (const std::bad_alloc&) {
        trouble = "not enough memory for the tissue";
    } catch (const std::exception& error) {
        trouble = error.what();
    }
    shared->end(TissueStatus::Stage::failed, trouble);
}

}  // namespace session
