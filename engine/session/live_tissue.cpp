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
#include "engine/session/ending_threads.hpp"
#include "engine/session/ready_tissue.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/anatomy/parameters.hpp"
#include "sim/core/errors.hpp"
#include "sim/patient/pulse.hpp"
#include "sim/tissue/neck_turn.hpp"
#include "sim/tissue/posture.hpp"
#include "sim/tissue/tip_detail.hpp"

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

}  // namespace

std::string_view name_of(Posture posture) {
    constexpr std::array<std::string_view, kPostures> kNames{"upright", "reclined 40°", "lying"};
    return kNames[static_cast<std::size_t>(posture)];
}

std::string_view name_of(TissueStatus::Shape shape) {
    constexpr std::array<std::string_view, 5> kNames{"at rest", "linear", "refining", "final", "no final shape found"};
    return kNames[static_cast<std::size_t>(shape)];
}

sim::Vec3 gravity_change_m_per_s2(const Position& position) {
    constexpr std::array<double, kPostures> kBackDegrees{0.0, sim::kReclinedDegrees, 90.0};
    const double back = kBackDegrees[static_cast<std::size_t>(position.posture)] * sim::kPi / 180.0;
    const sim::Vec3 change = sim::Vec3(0.0, 1.0 - std::cos(back), -std::sin(back)) * sim::fe::kGravityMPerS2;
    return sim::fe::about_vertical(change, -position.turn_rad());  // the trunk lies back, the head turns on it
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
        // what the fields hang on: patient, code, and whose last bits the processor decides. Ligaments lie alike in all
        // variants.
        const std::string key = "tissue " + build_id() + " " + sim::fe::blas_kernel() + " " + patient_hash;
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
    std::optional<Position> asked;
    std::shared_ptr<const SettledPosture> settled, with_threads;
    std::optional<sim::ThreadRequest> thread_asked;
    std::optional<sim::ThreadAnswer> thread_answer;
    std::string thread_trouble;
    std::shared_ptr<const TissueShape> shape;
    std::optional<RecordedForces> recorded_asked;
    std::shared_ptr<const SettledPosture> recorded;
    std::vector<sim::fe::TipNode> tip_asked, tip_solving;
    std::vector<sim::fe::TipBlock> tip_blocks;
    std::vector<sim::fe::TipNode> details_asked;
    std::optional<sim::fe::TipNode> detail_solving;
    std::vector<sim::fe::TipDetail> tip_details;

    Position position;         ///< asked for last
    bool can_prepare = false;  ///< what a turn needs is not all there, and nothing keeps it from being solved

    Clock::duration rest{};        ///< before a final shape is looked for
    Clock::time_point asked_at{};  ///< when somebody asked last
    bool refining = false;         ///< there is something to look for
    std::shared_ptr<const SettledPosture> refined;

    /// Somebody waits for something.
    [[nodiscard]] bool wanted() const {
        return stop || asked || thread_asked || recorded_asked || !tip_asked.empty() || !details_asked.empty();
    }
    /// What is about to be settled anew is refined no further.
    void settles_anew() {
        refining = false;
        refined.reset();
    }

    // turns of the background thread, which hold the lock but while they compute
    bool next_turn(std::unique_lock<std::mutex>& lock);
    void take_turn(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    void answer_step(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    void solve_for_tip(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    void solve_detail(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    void prepare_turn(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    void refine(std::unique_lock<std::mutex>& lock, ReadyTissue& ready);
    template <class Work>
    void settle(std::unique_lock<std::mutex>& lock, ReadyTissue& ready, Work work,
                std::shared_ptr<const SettledPosture>& to);

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

LiveTissue::LiveTissue(TissueBuilder builder, Followers followers, double rest_s)
    : shared_(std::make_shared<Shared>()) {
    SIM_ASSERT(static_cast<bool>(builder));
    shared_->builder = std::move(builder);
    shared_->followers = std::move(followers);
    shared_->status.what = "waiting";
    shared_->rest = std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(rest_s));
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

void LiveTissue::ask(const Position& position) {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->asked = position;
        shared_->settled.reset();
        shared_->settles_anew();
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
        shared_->settles_anew();
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
    if (!shared_->thread_asked) return shared_->thread_trouble;
    return shared_->thread_asked->final_shape ? "the tissue is finding the shape in which it is left"
                                              : "the tissue is working it out";
}

std::shared_ptr<const SettledPosture> LiveTissue::take_with_threads() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->with_threads, nullptr);
}

void LiveTissue::ask(RecordedForces forces) {
    {
        const std::lock_guard lock(shared_->mutex);
        shared_->recorded_asked = std::move(forces);
        shared_->recorded.reset();
        shared_->settles_anew();
    }
    shared_->wake.notify_all();
}

std::shared_ptr<const SettledPosture> LiveTissue::take_recorded() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->recorded, nullptr);
}

std::shared_ptr<const SettledPosture> LiveTissue::take_refined() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->refined, nullptr);
}

std::shared_ptr<const TissueShape> LiveTissue::shape() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->shape;
}

void LiveTissue::ask(std::vector<sim::fe::TipNode> nodes, std::vector<sim::fe::TipNode> cells) {
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
        std::erase_if(cells, [this](const sim::fe::TipNode& cell) {
            const auto is_it = [&](const sim::fe::TipDetail& detail) { return detail.cell == cell; };
            return shared_->detail_solving == cell ||
                   std::any_of(shared_->tip_details.begin(), shared_->tip_details.end(), is_it);
        });
        shared_->details_asked = std::move(cells);
        shared_->asked_at = Clock::now();
    }
    shared_->wake.notify_all();
}

std::vector<sim::fe::TipBlock> LiveTissue::take_tip_blocks() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->tip_blocks, {});
}

std::vector<sim::fe::TipDetail> LiveTissue::take_tip_details() {
    const std::lock_guard lock(shared_->mutex);
    return std::exchange(shared_->tip_details, {});
}

/// One turn's worth of what a tip needs. Few nodes at once: a step's question that comes meanwhile waits for them.
void LiveTissue::Shared::solve_for_tip(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
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

void LiveTissue::Shared::solve_detail(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
    detail_solving = details_asked.front();
    details_asked.erase(details_asked.begin());
    lock.unlock();
    std::optional<sim::fe::TipDetail> solved;
    std::string trouble;
    try {
        solved = ready.detail(*detail_solving);  // read here alone, written under the lock
    } catch (const std::exception& error) {
        trouble = error.what();
    }
    lock.lock();
    detail_solving.reset();
    status.about_detail = trouble;
    if (solved) tip_details.push_back(std::move(*solved));
}

/// Waits until there is something to do. @return false when nobody wants anything any more
bool LiveTissue::Shared::next_turn(std::unique_lock<std::mutex>& lock) {
    while (!wanted() && !can_prepare) {
        if (!refining)
            wake.wait(lock);
        else if (Clock::now() >= asked_at + rest)
            return true;
        else
            wake.wait_until(lock, asked_at + rest);
    }
    return !stop;
}

/// One step of the search. Whoever asks meanwhile waits for a back-solve or an energy, not for more.
void LiveTissue::Shared::refine(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
    using Shape = TissueStatus::Shape;
    status.shape = Shape::refining;
    lock.unlock();
    const auto give_way = [this] {
        const std::lock_guard inside(mutex);
        return wanted();
    };
    bool more = false;
    std::shared_ptr<const SettledPosture> out;
    try {
        more = ready.refine(give_way);
        if (!more) out = ready.refined();
    } catch (const std::bad_alloc&) {
        more = false;  // for the eye alone: the linear answer stays
    }
    lock.lock();
    if (!refining || more) return;  // something else was asked meanwhile, or there is more to do
    refining = false;
    status.shape = out ? Shape::final : Shape::no_final;
    refined = std::move(out);
}

/// The most urgent of what is asked: steps wait for threads, somebody for a posture, a tip's blocks and details are for
/// later, then the final shape of hands that rest, and a turn that nobody has asked for yet for last.
void LiveTissue::Shared::take_turn(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
    if (thread_asked) {
        answer_step(lock, ready);
        settle(
            lock, ready, [&] { return ready.settle(position); }, with_threads);
    } else if (asked) {
        position = *std::exchange(asked, std::nullopt);
        std::shared_ptr<const SettledPosture> out;
        settle(
            lock, ready, [&] { return ready.settle(position); }, out);
        if (!asked) settled = std::move(out);
    } else if (recorded_asked) {
        const RecordedForces forces = *std::exchange(recorded_asked, std::nullopt);
        std::shared_ptr<const SettledPosture> out;
        settle(
            lock, ready, [&] { return ready.settle(forces); }, out);
        if (!recorded_asked) recorded = std::move(out);
    } else if (!tip_asked.empty()) {
        solve_for_tip(lock, ready);
    } else if (!details_asked.empty()) {
        solve_detail(lock, ready);
    } else {
        if (refining && Clock::now() >= asked_at + rest)
            refine(lock, ready);
        else
            prepare_turn(lock, ready);
    }
}

/// One angle, so that whoever asks for something meanwhile does not wait long.
void LiveTissue::Shared::prepare_turn(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
    lock.unlock();
    std::string trouble;
    try {
        ready.prepare_turn();
    } catch (const std::exception& error) {
        trouble = error.what();
    }
    lock.lock();
    status.about_turn = trouble;
    status.turn_share = ready.turn_share();
    can_prepare = trouble.empty() && status.turn_share < 1.0;
}

void LiveTissue::Shared::answer_step(std::unique_lock<std::mutex>& lock, ReadyTissue& ready) {
    const sim::ThreadRequest request = *thread_asked;
    lock.unlock();
    std::string why;
    sim::ThreadAnswer answer = ready.answer(request, why);
    lock.lock();
    thread_answer = std::move(answer);
    thread_asked.reset();
    thread_trouble = why;
}

/// Something to look at. When it cannot be had that is told, and steps go on asking about threads.
template <class Work>
void LiveTissue::Shared::settle(std::unique_lock<std::mutex>& lock, ReadyTissue& ready, Work work,
                                std::shared_ptr<const SettledPosture>& to) {
    settles_anew();
    lock.unlock();
    std::shared_ptr<const SettledPosture> out;
    std::string trouble;
    try {
        out = work();
    } catch (const std::exception& error) {
        trouble = error.what();
    }
    lock.lock();
    asked_at = Clock::now();
    if (out) {
        to = std::move(out);
        refining = ready.can_refine();
        status.shape = refining ? TissueStatus::Shape::linear : TissueStatus::Shape::at_rest;
    } else {
        status.stage = TissueStatus::Stage::failed;
        status.trouble = trouble;
    }
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
        ReadyTissue ready(std::move(body), shared->followers, [&] { shared->give_up_if_told(); });
        {
            const std::lock_guard lock(shared->mutex);
            shared->status.notes = notes;
            shared->status.fraction = 1.0;
            shared->status.what = "ready";
            shared->status.ready_s = std::chrono::duration<double>(Clock::now() - start).count();
            shared->status.stage = TissueStatus::Stage::ready;
            shared->shape = ready.shape();
            shared->can_prepare = true;
        }
        std::unique_lock lock(shared->mutex);
        while (shared->next_turn(lock)) shared->take_turn(lock, ready);
        return;
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
