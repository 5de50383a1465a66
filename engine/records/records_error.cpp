#include "engine/records/records_error.hpp"

namespace records {

std::string_view name_of(Fault fault) {
    switch (fault) {
        case Fault::cannot_open:
            return "cannot be opened";
        case Fault::not_a_store:
            return "not a store of records";
        case Fault::damaged:
            return "damaged";
        case Fault::newer_schema:
            return "newer schema";
        case Fault::busy:
            return "busy";
        case Fault::connection_lost:
            return "connection lost";
        case Fault::cannot_write:
            return "cannot be written";
        case Fault::no_postgres:
            return "built without PostgreSQL";
        case Fault::denied:
            return "not allowed";
        case Fault::locked_out:
            return "locked out";
        case Fault::conflict:
            return "conflict";
        case Fault::not_found:
            return "not found";
        case Fault::bad_input:
            return "not accepted";
        case Fault::bad_archive:
            return "not a whole archive";
        case Fault::refused_by_lrs:
            return "refused by the record store";
        case Fault::database:
            return "database error";
    }
    return "error";
}

RecordsError::RecordsError(Fault fault, const std::string& where, const std::string& what, const std::string& accepted)
    : std::runtime_error(where + ": " + std::string(name_of(fault)) + ": " + what +
                         (accepted.empty() ? "" : "; accepted: " + accepted)),
      fault_(fault) {}

}  // namespace records
