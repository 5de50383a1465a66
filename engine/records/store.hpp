#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/records/attempt_facts.hpp"
#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

/// A school's learners, accounts, attempts and what was decided about them, in SQLite or PostgreSQL.
///
/// Every function takes who acts and throws RecordsError: `denied` when their role does not allow it, `not_found`,
/// `conflict`, `bad_input`; and what the database does (busy, connection_lost, cannot_write, damaged). A change is made
/// whole, with its line in the audit trail, or not at all; one that returned is on the disk. What is passing (busy, a
/// server that restarts) is tried again within StoreOptions::retry, and nothing is done twice by that.

namespace records {

enum class Role : std::uint8_t { learner, instructor, lead };
[[nodiscard]] std::string_view name_of(Role role);
[[nodiscard]] Role role_named(std::string_view name);  ///< @throws RecordsError (bad_input)

/// Who acts. From Store::log_in, or the desk.
struct Actor {
    std::string account_id;
    Role role = Role::learner;
    std::string learner_id;  ///< whose results a learner may see; "" for others
};
/// Whoever may open the database itself, as `pk records` without a log-in: a lead.
[[nodiscard]] Actor desk_actor();

/// Locking out after wrong pass phrases. Assumed values.
struct LockoutRules {
    std::int64_t free_tries = 5;     ///< wrong tries in a row until the account waits
    std::int64_t first_wait_s = 30;  ///< after that many
    std::int64_t growth = 2;         ///< each further wrong try: so many times the wait before
    std::int64_t longest_wait_s = 3600;
};

/// Argon2id by libsodium (crypto_pwhash_str); its own INTERACTIVE limits. Least length: NIST SP 800-63B 5.1.1.2 asks
/// for 8 characters or more (from memory); 12 is assumed.
struct PassphraseRules {
    std::size_t least_bytes = 12, most_bytes = 1024;
    unsigned long long operations = 2;      ///< crypto_pwhash_OPSLIMIT_INTERACTIVE
    std::size_t memory_bytes = 64U << 20U;  ///< crypto_pwhash_MEMLIMIT_INTERACTIVE
};

/// How long something passing is tried again. Assumed values.
struct RetryRules {
    double longest_s = 60.0, first_wait_s = 0.05, growth = 2.0, longest_wait_s = 2.0;
};

struct StoreOptions {
    std::function<std::int64_t()> now_s;  ///< seconds since 1970-01-01 UTC; empty: the system's clock
    LockoutRules lockout;
    PassphraseRules passphrase;
    RetryRules retry;
};

struct Learner {
    std::string id, name, added_at;
    std::vector<std::string> keys;  ///< fingerprints
};

struct Account {
    std::string id, login;
    Role role = Role::learner;
    std::string learner_id;
    std::int64_t wrong_tries = 0, locked_until_s = 0;
    std::string added_at;
};

struct AuditRow {
    std::int64_t seq = 0;
    std::string at, actor, role, deed, subject, detail, deed_id, hash;
};

struct AttemptRow {
    AttemptFacts facts;
    std::string learner_id, added_at;
};

struct AttemptFilter {
    std::string learner_id{}, scenario{}, mode{};  ///< "": any
    std::string from{}, to{};                      ///< moments, from <= started_at < to; "": no bound
    bool finished_only = false;
};

enum class Kept : std::uint8_t {
    kept,     ///< new
    already,  ///< the same bytes were there
    grew,     ///< takes the place of the same attempt's earlier, unfinished part
};
struct PutResult {
    Kept kept = Kept::kept;
    std::string attempt_id, learner_id;
};

/// One thing wrong with a store.
struct StoreFault {
    std::string where;  ///< "audit row 12", "attempt 0f3a...", "database"
    std::string what;
};
struct CheckReport {
    std::vector<StoreFault> faults;
    std::int64_t schema = 0, learners = 0, attempts = 0, audit_rows = 0;
    std::string audit_head;  ///< "SEQ:HASH": written down elsewhere, it shows later that the trail still holds it
};

/// A graded session: scenarios in order, each with the seed of its variant.
struct SessionScenario {
    std::string scenario, scenario_hash, seed;
};
struct GradedSession {
    std::string id, title, opened_at, opened_by;
    std::vector<SessionScenario> scenarios;
};
/// What a station handed in of a graded session: sealed for the instructor who issued it.
struct HandedIn {
    std::string content_hash;  ///< SHA-256, hexadecimal
    std::string session_id, at, by, bytes;
};
struct Rating {
    std::string id{}, attempt_id{}, rater_id{}, item{};
    std::optional<std::int64_t> point{};  ///< 1 to 5; none for a mere comment
    std::optional<double> moment_s{};     ///< of the attempt, >= 0
    std::string comment{}, rated_at{};
};
/// A dated decision; a scenario's newest version holds.
struct PassMark {
    std::string scenario{}, scenario_hash{};
    std::int64_t version = 0;
    double mark = 0.0;  ///< share of the points, 0 to 1
    std::string reason{}, decided_at{}, decided_by{};
};

/// Of work that several programs share.
struct NextWork {
    bool taken = false;              ///< the result that was given
    std::vector<std::string> items;  ///< claimed next
};

class StoreCore;

class Store {
 public:
    /// @param place a file or a postgresql:// URL
    /// @throws RecordsError (conflict) where a store is already
    static Store create(const std::string& place, StoreOptions options = {});
    /// An older store is brought to this program's schema. @throws RecordsError (newer_schema), (not_a_store) ...
    static Store open(const std::string& place, StoreOptions options = {});
    Store(Store&&) noexcept;
    Store& operator=(Store&&) noexcept;
    ~Store();

    [[nodiscard]] const std::string& name() const;
    [[nodiscard]] Place::Kind kind() const;

    // learners: instructors and leads; a learner sees themselves
    /// @param name 1 to 200 bytes of UTF-8 without control characters; two learners may share one
    std::string add_learner(const Actor& actor, const std::string& name);  ///< @return their id
    void add_key(const Actor& actor, const std::string& learner_id, const std::string& fingerprint);
    [[nodiscard]] std::vector<Learner> learners(const Actor& actor);  ///< (N) by name, then id
    /// By id, or by a name that only one has. @throws RecordsError (not_found), (conflict)
    [[nodiscard]] Learner learner(const Actor& actor, const std::string& id_or_name);

    // accounts: leads; everybody changes their own pass phrase
    /// @param login 1 to 64 letters, digits and ._-
    /// @param learner_id of a learner's account; "" for the other roles
    std::string add_account(const Actor& actor, const std::string& login, Role role, const std::string& learner_id,
                            const std::string& passphrase);
    [[nodiscard]] std::vector<Account> accounts(const Actor& actor);
    /// @throws RecordsError (denied) for a wrong login or pass phrase, without saying which; (locked_out) with the wait
    [[nodiscard]] Actor log_in(const std::string& login, const std::string& passphrase);
    void set_passphrase(const Actor& actor, const std::string& login, const std::string& passphrase);
    void unlock(const Actor& actor, const std::string& login);
    void set_role(const Actor& actor, const std::string& login, Role role);  ///< between instructor and lead
    void remove_account(const Actor& actor, const std::string& login);

    // attempts: a learner puts in and sees their own
    /// Keep an attempt. The same bytes twice are one.
    /// @param bytes      the whole file, as it is
    /// @param name       stands for it in messages
    /// @param learner_id whose it is; "": whose key signed it
    /// @throws RecordsError (bad_input) when it is not intact; (not_found) when nobody has its key;
    ///         (conflict) when its key is another's, or another attempt with its id is kept
    PutResult put_attempt(const Actor& actor, std::string_view bytes, const std::string& name,
                          const std::string& learner_id = {});
    [[nodiscard]] std::vector<AttemptRow> attempts(const Actor& actor, const AttemptFilter& filter);  ///< oldest first
    [[nodiscard]] AttemptRow attempt(const Actor& actor, const std::string& id);
    [[nodiscard]] std::string attempt_bytes(const Actor& actor, const std::string& id);
    /// Remove a learner with all that is theirs. The audit trail keeps that it was done, without the name.
    /// @return attempts that went with them
    std::int64_t erase_learner(const Actor& actor, const std::string& learner_id);

    // what teaching adds: instructors and leads
    /// @param id 32 hexadecimal digits of one that was issued elsewhere, "": drawn. The same session again is left
    /// alone
    /// @return its id @throws RecordsError (conflict) where another session has it
    std::string add_session(const Actor& actor, const std::string& title, const std::vector<SessionScenario>& scenarios,
                            const std::string& id = {});
    void add_to_session(const Actor& actor, const std::string& session_id, const std::string& attempt_id,
                        std::int64_t position);
    [[nodiscard]] std::vector<GradedSession> sessions(const Actor& actor);
    /// Keep what a station handed in until it is collected; any role may, and none can read it but by the issuer's key.
    /// @param session_id as it was issued  @return false: the same is there
    bool put_handed_in(const Actor& actor, const std::string& session_id, std::string_view bytes);
    [[nodiscard]] std::vector<HandedIn> handed_in(const Actor& actor, const std::string& session_id);  ///< oldest first
    /// It holds attempts of learners, sealed: gone before one of them is erased for good. @return how many
    std::int64_t take_away_handed_in(const Actor& actor, const std::string& session_id);
    std::string add_rating(const Actor& actor, Rating rating);  ///< fills in id, rater and moment
    [[nodiscard]] std::vector<Rating> ratings(const Actor& actor, const std::string& attempt_id);
    PassMark add_pass_mark(const Actor& actor, PassMark mark);  ///< leads; fills in version, moment and who
    [[nodiscard]] std::vector<PassMark> pass_marks(const Actor& actor);

    // work that several programs share: each item is handed to one at a time
    std::int64_t add_work(const Actor& actor, const std::string& job, const std::vector<std::string>& items);
    /// Up to `most` items that wait, or whose lease ran out; they are `who`'s until the lease ends.
    [[nodiscard]] std::vector<std::string> claim_work(const Actor& actor, const std::string& job,
                                                      const std::string& who, std::int64_t most, std::int64_t lease_s);
    /// @throws RecordsError (conflict) when the item is not `who`'s any more
    void finish_work(const Actor& actor, const std::string& job, const std::string& item, const std::string& who,
                     const std::string& result);
    /// Both in one transaction. An item that is not `who`'s any more is told, not thrown.
    [[nodiscard]] NextWork finish_and_claim(const Actor& actor, const std::string& job, const std::string& item,
                                            const std::string& who, const std::string& result, std::int64_t most,
                                            std::int64_t lease_s);
    [[nodiscard]] std::int64_t work_left(const Actor& actor, const std::string& job);

    // the trail: leads
    [[nodiscard]] std::vector<AuditRow> audit(const Actor& actor, std::int64_t from_seq = 1, std::int64_t most = 1000);
    /// @param audit_head "SEQ:HASH" of an earlier check, which the trail must still hold; "": none
    [[nodiscard]] CheckReport check(const Actor& actor, const std::string& audit_head = {});

    [[nodiscard]] StoreCore& core() { return *core_; }  ///< for this library's own parts

 private:
    explicit Store(std::unique_ptr<StoreCore> core);
    std::unique_ptr<StoreCore> core_;
};

}  // namespace records
