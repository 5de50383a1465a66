#ifndef PK_WITH_POSTGRES

#include "engine/records/database.hpp"
#include "engine/records/records_error.hpp"

namespace records {

bool postgres_built_in() { return false; }

std::unique_ptr<Database> open_postgres(const Place& place) {
    throw RecordsError(Fault::no_postgres, place.shown, "this program was built without libpqxx",
                       "a file, or a program built with it");
}

}  // namespace records

#endif
