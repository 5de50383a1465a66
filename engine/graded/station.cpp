#include "engine/graded/station.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/files/bytes.hpp"
#include "engine/files/file_error.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "sim/scoring/rubric.hpp"

namespace graded {

namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t kMostBundleBytes = 256U << 20U;

/// A record that cannot be read goes in with no score: what is wrong with it is the issuer's to find.
std::optional<HandedIn> handed_in(const fs::path& path, const std::string& slot, const files::SourceText& rubric) {
    HandedIn out{slot, "", "", 0.0};
    try {
        out.bytes = files::read_bytes(path, files::kAttemptBytes);
        const files::LoadedAttempt attempt = files::read_attempt(path);
        const sim::Score score = sim::score(attempt.recording, files::parse_rubric(rubric, path.string()).rubric);
        out.told_verdict = sim::name_of(score.verdict);
        out.told_points = score.total_points;
    } catch (const std::exception&) {
        if (out.bytes.empty()) return std::nullopt;
    }
    return out;
}

fs::path stations_folder() { return files::all_learners_folder() / "stations"; }

}  // namespace

files::KeyPair station_key() { return files::load_or_create_keys(files::all_learners_folder() / "station.key"); }

Station::Station(fs::path folder, Session session, files::KeyPair key)
    : folder_(std::move(folder)), session_(std::move(session)), key_(key) {}

Station Station::take_in(const fs::path& bundle) {
    const std::string text = files::read_bytes(bundle, kMostBundleBytes);
    const files::KeyPair key = station_key();
    Session session = open_bundle(text, bundle.string(), key);
    const fs::path folder = stations_folder() / session.id;
    std::error_code error;
    fs::create_directories(folder / "attempts", error);
    if (error) throw files::FileError(folder.string(), "", error.message(), "a folder that can be written");
    Station station(folder, std::move(session), key);
    if (!fs::exists(folder / "journal")) {
        files::write_atomically(folder / "bundle", text, 0600);
        station.note(StationDeed::opened);
    } else {
        const fs::path journal = folder / "journal";
        station.entries_ = read_journal(files::read_bytes(journal, files::kAttemptBytes), journal.string()).entries;
    }
    return station;
}

std::vector<Station> Station::all(std::vector<std::string>* trouble) {
    std::vector<Station> out;
    std::error_code none;
    for (const fs::directory_entry& entry : fs::directory_iterator(stations_folder(), none)) {
        try {
            out.push_back(take_in(entry.path() / "bundle"));
        } catch (const files::FileError& error) {
            if (trouble != nullptr) trouble->push_back(error.what());
        }
    }
    std::sort(out.begin(), out.end(),
              [](const Station& a, const Station& b) { return a.session().issued_at > b.session().issued_at; });
    return out;
}

std::vector<const Slot*> Station::slots_of(const files::PublicKey& learner) const {
    std::vector<const Slot*> out;
    for (const Slot& slot : session_.slots) {
        const auto& keys = session_.learner_of(slot).keys;
        if (std::find(keys.begin(), keys.end(), learner) != keys.end()) out.push_back(&slot);
    }
    return out;
}

fs::path Station::attempt_file(const Slot& slot) const { return folder_ / "attempts" / (slot.id + ".attempt"); }

SlotStage Station::stage_of(const Slot& slot) const {
    SlotStage stage = SlotStage::open;
    for (const JournalEntry& entry : entries_) {
        if (entry.slot != slot.id) continue;
        if (entry.deed == StationDeed::ended) return SlotStage::ended;
        if (entry.deed == StationDeed::started) stage = SlotStage::begun;
    }
    return stage;
}

std::string Station::refusal(const Slot& slot, std::int64_t now_s) const {
    if (now_s < *seconds_of(session_.plan.opens_at)) return "The session opens at " + session_.plan.opens_at + ".";
    if (now_s > *seconds_of(session_.plan.closes_at)) return "The session closed at " + session_.plan.closes_at + ".";
    // begun is begun: it can be gone on with, not begun anew
    if (stage_of(slot) == SlotStage::ended) return "This attempt has been made.";
    return "";
}

std::optional<double> Station::left_s(const Slot& slot, std::int64_t now_s) const {
    if (!(session_.plan.minutes > 0.0)) return std::nullopt;
    std::int64_t began_s = now_s;
    for (const JournalEntry& entry : entries_)
        if (entry.deed == StationDeed::started && entry.slot == slot.id) began_s = entry.at.wall_s;
    return 60.0 * session_.plan.minutes - static_cast<double>(now_s - began_s);
}

void Station::begin(const Slot& slot) {
    if (stage_of(slot) == SlotStage::open) note(StationDeed::started, &slot);
}

void Station::end(const Slot& slot) {
    if (stage_of(slot) == SlotStage::ended) return;
    note(StationDeed::ended, &slot, files::hex(files::verify(attempt_file(slot)).last_hash));
}

std::string Station::hand_in() {
    Return out;
    out.session = session_.id;
    out.station = key_.public_key;
    for (const Slot& slot : session_.slots) {
        if (stage_of(slot) != SlotStage::ended) continue;
        if (auto in = handed_in(attempt_file(slot), slot.id, session_.form_of(slot).rubric))
            out.attempts.push_back(std::move(*in));
    }
    note(StationDeed::returned);
    out.journal = files::read_bytes(folder_ / "journal", files::kAttemptBytes);
    return return_text(out, session_.issuer, key_);
}

void Station::note(StationDeed deed, const Slot* slot, const std::string& hash) {
    const JournalEntry entry{deed, clocks_now(), slot == nullptr ? "" : slot->id, hash};
    JournalWriter(folder_ / "journal", session_.id, key_).note(deed, entry.slot, hash, entry.at);
    entries_.push_back(entry);
}

}  // namespace graded
