#include "tools/pk/graded_records.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "engine/files/crypto.hpp"

namespace pk {

namespace {

/// A session's places: each scenario with each anatomy that was issued for it.
using Places = std::map<std::pair<std::size_t, std::uint64_t>, std::int64_t>;

Places places_of(const graded::Session& session, std::vector<records::SessionScenario>& list) {
    Places places;
    for (const graded::Slot& slot : session.slots) places.emplace(std::pair(slot.form, slot.variant_seed), 0);
    for (auto& [what, position] : places) {
        const files::SourceText& scenario = session.forms[what.first].scenario;
        list.push_back({scenario.id, scenario.hash, fmt::format("{}", what.second)});
        position = static_cast<std::int64_t>(list.size());
    }
    return places;
}

/// Learners with one of whose keys attempts were made and whom the store does not know by any of them.
void add_unknown_learners(Desk& desk, const graded::Session& session, const std::vector<Accepted>& accepted) {
    std::set<std::string> known;
    for (const records::Learner& learner : desk.store.learners(desk.actor))
        known.insert(learner.keys.begin(), learner.keys.end());
    std::set<std::size_t> wanted;
    for (const Accepted& one : accepted) wanted.insert(one.slot->learner);
    for (const std::size_t index : wanted) {
        const graded::Party& party = session.plan.learners[index];
        const auto is_known = [&](const files::PublicKey& key) {
            return known.count(records::fingerprint_of(files::hex(key))) > 0;
        };
        if (std::any_of(party.keys.begin(), party.keys.end(), is_known)) continue;
        const std::string id = desk.store.add_learner(desk.actor, party.name);
        for (const files::PublicKey& key : party.keys)
            desk.store.add_key(desk.actor, id, records::fingerprint_of(files::hex(key)));
        fmt::print(stderr, "{}: new learner {} with {} keys\n", desk.store.name(), party.name, party.keys.size());
    }
}

}  // namespace

std::size_t keep_in_records(const RecordsArguments& arguments, const graded::Session& session,
                            const std::vector<Accepted>& accepted, bool new_learners) {
    Desk desk = open_desk(arguments);
    std::vector<records::SessionScenario> scenarios;
    const Places places = places_of(session, scenarios);
    const std::string id = desk.store.add_session(desk.actor, session.plan.title, scenarios, session.id);
    if (new_learners) add_unknown_learners(desk, session, accepted);
    std::size_t kept = 0, there = 0, not_kept = 0;
    for (const Accepted& one : accepted) {
        try {
            const auto put = desk.store.put_attempt(desk.actor, one.bytes, one.slot->id);
            desk.store.add_to_session(desk.actor, id, put.attempt_id,
                                      places.at(std::pair(one.slot->form, one.slot->variant_seed)));
            ++(put.kept == records::Kept::already ? there : kept);
        } catch (const std::exception& error) {
            ++not_kept;  // the others are kept all the same
            fmt::print(stderr, "pk: {}\n", error.what());
        }
    }
    fmt::print(stderr, "{}: session {}, {} attempts kept, {} there already, {} not kept\n", desk.store.name(), id, kept,
               there, not_kept);
    return not_kept;
}

}  // namespace pk
