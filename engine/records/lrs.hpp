#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "engine/records/store.hpp"
#include "engine/records/xapi.hpp"

/// Sending statements to a learning record store (Experience API 1.0.3, statement resource, POST).

namespace records {

/// Tries and waits are assumed values.
struct LrsSettings {
    std::string endpoint;        ///< "https://host/xapi": what "/statements" is put after
    std::string user, password;  ///< HTTP basic; empty user: none
    std::size_t batch = 50;      ///< statements in one request
    int tries = 6;               ///< of one request, when the network or the server fails
    double first_wait_s = 0.5, growth = 2.0, timeout_s = 30.0;
};

struct SendReport {
    std::int64_t sent = 0;     ///< acknowledged now
    std::int64_t already = 0;  ///< acknowledged by this endpoint before, and not sent again
    std::int64_t requests = 0;
    std::vector<std::string> refused;  ///< statements it did not take, each with its answer
};

/// Send what this endpoint has not acknowledged yet. Instructors and leads.
///
/// A statement keeps its id, so that one whose acknowledgement was lost is not there twice after it was sent again.
/// @throws RecordsError (bad_input) for an endpoint that is none; (refused_by_lrs) for wrong credentials;
///         (connection_lost) when all tries failed: what was acknowledged until then is noted
SendReport send_statements(Store& store, const Actor& actor, const AttemptFilter& filter, const XapiSettings& xapi,
                           const LrsSettings& lrs);

}  // namespace records
