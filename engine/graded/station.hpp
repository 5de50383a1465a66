#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/graded/graded_return.hpp"
#include "engine/graded/graded_session.hpp"
#include "engine/graded/station_journal.hpp"

/// A machine that learners sit at: keeps the bundle, the journal and the attempts of each session in a folder of its
/// own, `stations/SESSION` in the data folder above all learners.

namespace graded {

/// The key of this machine, made on first use. @throws files::FileError as files::load_or_create_keys()
[[nodiscard]] files::KeyPair station_key();

enum class SlotStage : std::uint8_t { open, begun, ended };

class Station {
 public:
    /// Take in a bundle; the same one again goes on where it stood.
    /// @throws files::FileError when it is not for this station, or its folder cannot be used
    [[nodiscard]] static Station take_in(const std::filesystem::path& bundle);
    /// Those taken in before, newest first. What cannot be read is left out, and why is added to `trouble`.
    [[nodiscard]] static std::vector<Station> all(std::vector<std::string>* trouble = nullptr);

    [[nodiscard]] const Session& session() const { return session_; }
    /// Slots of whoever signs with this key, in the order of the plan.
    [[nodiscard]] std::vector<const Slot*> slots_of(const files::PublicKey& learner) const;
    [[nodiscard]] SlotStage stage_of(const Slot& slot) const;
    [[nodiscard]] std::filesystem::path attempt_file(const Slot& slot) const;

    /// Empty when the attempt may begin now; else why not, in words.
    [[nodiscard]] std::string refusal(const Slot& slot, std::int64_t now_s) const;
    /// Of the time that the attempt may take, by the wall clock from its beginning; nothing where there is no limit.
    [[nodiscard]] std::optional<double> left_s(const Slot& slot, std::int64_t now_s) const;
    /// The journal tells that it begins. @throws files::FileError where it cannot be written
    void begin(const Slot& slot);
    /// The journal counter-signs the end of the attempt's file. @throws files::FileError
    void end(const Slot& slot);
    /// Everything that has ended, for the issuer's eyes; what is damaged is handed in as it is, what is gone left out.
    /// @throws files::FileError where the journal cannot be written
    [[nodiscard]] std::string hand_in();

 private:
    Station(std::filesystem::path folder, Session session, files::KeyPair key);
    void note(StationDeed deed, const Slot* slot = nullptr, const std::string& hash = {});

    std::filesystem::path folder_;
    Session session_;
    files::KeyPair key_;
    std::vector<JournalEntry> entries_;  ///< of the journal, which screens ask about in every frame
};

}  // namespace graded
