#pragma once

#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>

/// What can go wrong between this program and a school's records. Thrown before anything is changed, or with the change
/// taken back whole.

namespace records {

enum class Fault : std::uint8_t {
    cannot_open,      ///< no such place, or no right to it
    not_a_store,      ///< something else lies there
    damaged,          ///< the database itself, or a row that contradicts itself
    newer_schema,     ///< made by a later program
    busy,             ///< others write; trying again helps
    connection_lost,  ///< the server went away; trying again may help
    cannot_write,     ///< disk full, or a file that takes nothing
    no_postgres,      ///< this program was built without PostgreSQL
    denied,           ///< the actor's role does not allow it
    locked_out,       ///< too many wrong tries
    conflict,         ///< it contradicts what is kept
    not_found,
    bad_input,
    bad_archive,
    refused_by_lrs,
    database,  ///< whatever else the database says
};
[[nodiscard]] std::string_view name_of(Fault fault);  ///< "newer schema"

/// what() is one line for people: place, what is wrong, what would be accepted.
class RecordsError : public std::runtime_error {
 public:
    /// @param where    the store (without its pass word), a row, a file and line
    /// @param what     what stands there or happened
    /// @param accepted what would be accepted; empty: nothing to say
    RecordsError(Fault fault, const std::string& where, const std::string& what, const std::string& accepted = {});

    [[nodiscard]] Fault fault() const { return fault_; }
    /// The same may well succeed a moment later.
    [[nodiscard]] bool passing() const { return fault_ == Fault::busy || fault_ == Fault::connection_lost; }

 private:
    Fault fault_;
};

}  // namespace records
