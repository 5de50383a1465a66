#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "engine/records/store.hpp"

/// What the parts of Store share: one connection, transactions that are tried again, the audit trail. Of this library
/// alone.

namespace records {

class StoreCore {
 public:
    StoreCore(std::unique_ptr<Database> database, StoreOptions options);

    /// Read one moment of the store. `body` may run more than once.
    void read(const std::function<void()>& body);
    /// Change the store: `body` and what it notes in the trail, whole or not at all. Writers come one after the other.
    /// `body` may run more than once, but only one run of it is kept.
    void write(const std::function<void()>& body);
    /// The same without a trail, beside other writers and without waiting for the disk: for claims, whose work can be
    /// done again.
    void write_beside(const std::function<void()>& body);

    /// A line of the trail, within write().
    /// @param subject,detail ids and figures, never a name, a login or a pass phrase: the trail outlives an erasure
    void note(const Actor& actor, std::string_view deed, const std::string& subject, const std::string& detail = {});

    /// Statement with values, in the back end's dialect.
    Rows run(std::string_view sql, std::initializer_list<Value> values = {});

    [[nodiscard]] Database& database() { return *database_; }
    [[nodiscard]] const StoreOptions& options() const { return options_; }
    [[nodiscard]] std::int64_t now_s() const;
    [[nodiscard]] std::string now() const;  ///< "2026-03-01T10:15:00Z"

 private:
    enum class Trail : std::uint8_t { with, without };
    void attempt_write(const std::function<void()>& body, Trail trail);
    /// Run `body` until it succeeds, fails for good or time is up.
    void with_retries(const std::function<void()>& body);
    void take_head();
    [[nodiscard]] bool was_done();

    std::unique_ptr<Database> database_;
    StoreOptions options_;
    std::string deed_id_;
    bool in_doubt_ = false;  // a commit was sent and its answer lost
    std::int64_t head_seq_ = 0;
    std::string head_hash_;
};

/// "2026-03-01T10:15:00Z" of seconds since 1970 UTC.
[[nodiscard]] std::string moment_text(std::int64_t unix_s);
[[nodiscard]] std::string new_id();  ///< random, in the form of a UUID of version 4 (RFC 4122 4.4)

/// Hash of a trail's row: SHA-256(hash of the row before || JSON array of the row's fields).
/// @param previous 64 hexadecimal digits; the first row's is all zero
[[nodiscard]] std::string audit_hash(const std::string& previous, const AuditRow& row);
[[nodiscard]] AuditRow audit_row_of(const Row& row);

/// @throws RecordsError (denied) unless the role is at least this one
void need_role(const Actor& actor, Role least, std::string_view deed);
/// @throws RecordsError (denied) for a learner who is not this one
void need_own(const Actor& actor, const std::string& learner_id, std::string_view deed);

/// @throws RecordsError (bad_input) for a text that is empty, too long, not UTF-8 or has control characters
void need_text(std::string_view text, std::size_t most_bytes, const std::string& what);

}  // namespace records
