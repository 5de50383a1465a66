#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "engine/files/bytes.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/graded/graded_return.hpp"
#include "engine/graded/station.hpp"
#include "engine/session/prepare.hpp"
#include "engine/session/variant_choice.hpp"
#include "sim/anatomy/head.hpp"
#include "tools/pk/commands.hpp"
#include "tools/pk/graded_records.hpp"

/// Graded sessions from the desk: an instructor issues them and judges what comes back; a station takes in and hands
/// in.

namespace pk {

namespace {

namespace fs = std::filesystem;

constexpr std::uint64_t kMostBytes = 1ULL << 30;
constexpr int kDraws = 60;  // anatomies from which matched ones are chosen

graded::Form form_of(const std::string& name) {
    const fs::path file = files::find_scenario(name);
    const files::LoadedScenario loaded = files::load_scenario(file);
    return {loaded.source, files::load_rubric(files::find_rubric_for(file, loaded.scenario.rubric)).source,
            loaded.patient_source};
}

std::uint64_t drawn() {
    std::random_device device;
    return (std::uint64_t{device()} << 32U) | device();
}

/// Anatomies for a group at one scenario: one, or as many as there are learners, all with about as much room along the
/// plan. A scenario that is about one course keeps it.
std::vector<std::uint64_t> anatomies(const std::string& name, std::size_t learners, bool common) {
    const session::Prepared prepared = session::prepare(name, std::nullopt, show_progress);
    const sim::Scenario& scenario = prepared.loaded.scenario;
    const auto* head = dynamic_cast<const sim::Head*>(prepared.model->anatomy.get());
    const std::uint64_t written = scenario.patient.variant_seed;
    if (head == nullptr || written != 0 || scenario.plan.empty())
        return std::vector<std::uint64_t>(common ? 1 : learners, written);
    if (common) return {drawn()};
    std::vector<std::pair<double, std::uint64_t>> by_room;
    for (std::size_t i = 0; i < std::max<std::size_t>(kDraws, 3 * learners); ++i) {
        const std::uint64_t seed = drawn();
        by_room.emplace_back(session::room_m(head->tissue(), scenario, seed), seed);
    }
    std::sort(by_room.begin(), by_room.end());
    // the middle of the draws: the run of neighbours that differ least
    const std::size_t first = (by_room.size() - learners) / 2;
    std::vector<std::uint64_t> out;
    for (std::size_t i = 0; i < learners; ++i) out.push_back(by_room[first + i].second);
    std::shuffle(out.begin(), out.end(), std::mt19937_64(drawn()));
    fmt::print("{}: matched anatomies leave {:.1f} to {:.1f} mm along the plan; all draws {:.1f} to {:.1f} mm\n", name,
               1e3 * by_room[first].first, 1e3 * by_room[first + learners - 1].first, 1e3 * by_room.front().first,
               1e3 * by_room.back().first);
    return out;
}

std::string safe_name(std::string name) {
    for (char& c : name)
        if (std::isalnum(static_cast<unsigned char>(c)) == 0) c = '_';
    return name;
}

int issue(const std::string& plan_file, const std::string& folder) {
    graded::Plan plan = graded::parse_plan(files::read_bytes(plan_file, files::kDocumentBytes), plan_file);
    std::vector<graded::Form> forms;
    std::vector<std::vector<std::uint64_t>> seeds;
    for (const std::string& name : plan.scenarios) {
        forms.push_back(form_of(name));
        seeds.push_back(anatomies(name, plan.learners.size(), plan.common_form));
    }
    const files::KeyPair key = files::load_or_create_keys();
    const graded::Session session = graded::issue(
        std::move(plan), std::move(forms), [&](std::size_t f, std::size_t l) { return seeds[f][l]; }, key);
    const std::string text = graded::session_text(session, key);
    fs::create_directories(folder);
    const fs::path kept = fs::path(folder) / "issued.session";
    if (fs::exists(kept)) throw files::FileError(kept.string(), "", "there already", "a folder without a session");
    files::write_atomically(kept, text, 0600);
    fmt::print("{}: keep it to yourself, it tells every anatomy\n", kept.string());
    for (const graded::Party& station : session.plan.stations) {
        const fs::path bundle = fs::path(folder) / (safe_name(station.name) + ".bundle");
        files::write_atomically(bundle, graded::bundle_text(text, station.keys.front()));
        fmt::print("{}: for {}\n", bundle.string(), station.name);
    }
    return 0;
}

nlohmann::json json_of(const graded::Session& session, const graded::Judged& one) {
    nlohmann::json faults = nlohmann::json::array();
    for (const graded::Fault& fault : one.faults)
        faults.push_back({{"finding", graded::name_of(fault.what)}, {"detail", fault.detail}});
    return {{"file", one.file},
            {"learner", one.slot != nullptr ? session.learner_of(*one.slot).name : ""},
            {"scenario", one.slot != nullptr ? session.form_of(*one.slot).scenario.id : ""},
            {"accepted", one.accepted()},
            {"verdict", one.verdict},
            {"points", one.points},
            {"of", one.possible},
            {"faults", faults}};
}

void print(const graded::Session& session, const graded::Judged& one) {
    fmt::print("{:<12} {:<24} {:<10} {:6.1f} of {:5.1f}  {}\n",
               one.slot != nullptr ? session.learner_of(*one.slot).name : "?",
               one.slot != nullptr ? session.form_of(*one.slot).scenario.id : one.file, one.verdict, one.points,
               one.possible, one.accepted() ? "accepted" : "not accepted");
    for (const graded::Fault& fault : one.faults) fmt::print("    {}: {}\n", graded::name_of(fault.what), fault.detail);
}

struct Collecting {
    std::string session, out;
    std::vector<std::string> returned;
    bool json = false, into_records = false, new_learners = false, from_records = false, take_away = false;
    RecordsArguments records;
};

/// Something that was handed in, and what it is called.
struct Sealed {
    std::string name, bytes;
};

/// What files hold, then what the store has of this session.
std::vector<Sealed> sealed_of(const Collecting& a, const graded::Session& session) {
    if (a.returned.empty() && !a.from_records)
        throw files::FileError("collect", "", "nothing that was handed in", "files, --from-records, or both");
    std::vector<Sealed> out;
    for (const std::string& file : a.returned) out.push_back({file, files::read_bytes(file, kMostBytes)});
    if (!a.from_records) return out;
    Desk desk = open_desk(a.records);
    for (records::HandedIn& one : desk.store.handed_in(desk.actor, session.id))
        out.push_back({fmt::format("handed in {}, {}", one.at, one.content_hash.substr(0, 12)), std::move(one.bytes)});
    return out;
}

void take_away(const Collecting& a, const graded::Session& session) {
    Desk desk = open_desk(a.records);
    fmt::print(stderr, "{}: {} of what was handed in taken away\n", desk.store.name(),
               desk.store.take_away_handed_in(desk.actor, session.id));
}

int collect(const Collecting& a) {
    const graded::Session session =
        graded::parse_session(files::read_bytes(a.session, files::kAttemptBytes), a.session);
    const files::KeyPair key = files::load_or_create_keys();
    graded::Collected collected;
    std::vector<graded::Judged> all;
    std::vector<Accepted> accepted;
    for (const Sealed& sealed : sealed_of(a, session)) {
        const graded::Return content = graded::open_return(sealed.bytes, sealed.name, key);
        const auto judged = graded::judge(session, content, collected);
        for (std::size_t i = 0; i < judged.size(); ++i) {
            if (!judged[i].accepted()) continue;
            accepted.push_back({judged[i].slot, content.attempts[i].bytes});
            if (a.out.empty()) continue;
            fs::create_directories(a.out);
            files::write_atomically(fs::path(a.out) / (judged[i].file + ".attempt"), content.attempts[i].bytes);
        }
        all.insert(all.end(), judged.begin(), judged.end());
    }
    nlohmann::json list = nlohmann::json::array();
    for (const graded::Judged& one : all) {
        list.push_back(json_of(session, one));
        if (!a.json) print(session, one);
    }
    const auto missing = session.slots.size() - collected.slots.size();
    if (a.json)
        fmt::print("{}\n", nlohmann::json{{"attempts", list}, {"slots_without_attempt", missing}}.dump(2));
    else
        fmt::print(
            "{} handed in, {} of {} slots without an attempt. The result is one input to a supervisor's "
            "decision, never a licence to treat.\n",
            all.size(), missing, session.slots.size());
    const std::size_t not_kept = a.into_records ? keep_in_records(a.records, session, accepted, a.new_learners) : 0;
    const bool clean = accepted.size() == all.size() && not_kept == 0;
    // what somebody may still ask about stays
    if (a.take_away && clean) take_away(a, session);
    return clean ? 0 : 1;
}

int take_in(const std::string& bundle) {
    const graded::Station station = graded::Station::take_in(bundle);
    const graded::Session& session = station.session();
    fmt::print("{}: open from {} to {}, {} learners, {} scenarios{}\n", session.plan.title, session.plan.opens_at,
               session.plan.closes_at, session.plan.learners.size(), session.forms.size(),
               session.plan.minutes > 0.0 ? fmt::format(", {:g} minutes each", session.plan.minutes) : "");
    return 0;
}

struct HandingIn {
    std::string title, out;
    RecordsArguments records;  ///< its place is empty: no store
};

int hand_in(const HandingIn& a) {
    if (a.out.empty() && a.records.place.empty())
        throw files::FileError("hand-in", "", "no place to hand in to", "--out FILE, --records PLACE, or both");
    for (graded::Station& station : graded::Station::all()) {
        if (!a.title.empty() && station.session().plan.title != a.title) continue;
        const std::string sealed = station.hand_in(), &title = station.session().plan.title;
        if (!a.out.empty()) {
            files::write_atomically(a.out, sealed);
            fmt::print("{}: for the instructor who issued \"{}\"\n", a.out, title);
        }
        if (!a.records.place.empty()) {
            Desk desk = open_desk(a.records);
            desk.store.put_handed_in(desk.actor, station.session().id, sealed);
            fmt::print("{}: for the instructor who issued \"{}\"\n", desk.store.name(), title);
        }
        return 0;
    }
    throw files::FileError(a.out.empty() ? a.title : a.out, "", "no such session at this station",
                           "one that was taken in");
}

}  // namespace

Run add_session(CLI::App& app) {
    CLI::App* command = app.add_subcommand("session", "graded sessions: issue, take in at a station, hand in, collect");
    command->require_subcommand(1);
    CLI::App* keys = command->add_subcommand("keys", "public keys of this learner and of this machine as a station");
    const auto plan = std::make_shared<std::string>(), folder = std::make_shared<std::string>();
    CLI::App* issues = command->add_subcommand("issue", "from a plan to sealed bundles, one for each station");
    issues->add_option("plan", *plan, "the plan, JSON")->required();
    issues->add_option("--out", *folder, "folder for the session and its bundles")->required();
    const auto bundle = std::make_shared<std::string>();
    CLI::App* takes = command->add_subcommand("take-in", "at a station: take in a bundle");
    takes->add_option("bundle", *bundle, "the bundle")->required();
    const auto handing = std::make_shared<HandingIn>();
    CLI::App* hands = command->add_subcommand("hand-in", "at a station: everything that has ended, sealed");
    hands->add_option("--title", handing->title, "of the session; otherwise the newest");
    hands->add_option("--out", handing->out, "file for the instructor");
    hands->add_option("--records", handing->records.place, "into this store, a file or postgresql:// URL");
    hands->add_option("--as", handing->records.as, "log in as");
    hands->add_option("--passphrase-file", handing->records.passphrase_file, "of --as; - is standard input");
    const auto a = std::make_shared<Collecting>();
    CLI::App* collects = command->add_subcommand("collect", "judge what stations handed in");
    collects->add_option("session", a->session, "issued.session")->required();
    collects->add_option("returned", a->returned, "what stations handed in, as files");
    collects->add_flag("--from-records", a->from_records, "what stations handed in to a store, too");
    collects->add_flag("--take-away", a->take_away, "out of the store, once nothing speaks against any of it")
        ->needs("--from-records");
    collects->add_option("--out", a->out, "folder for the attempts that are accepted");
    collects->add_flag("--json", a->json, "print findings for programs");
    collects->add_flag("--into-records", a->into_records, "put the session and what is accepted into a store, too");
    collects->add_flag("--new-learners", a->new_learners, "learners whom the store does not know are added");
    collects->add_option("--records", a->records.place, "a file or postgresql:// URL; else that of this user");
    collects->add_option("--as", a->records.as, "log in as");
    collects->add_option("--passphrase-file", a->records.passphrase_file, "of --as; - is standard input");
    return [=] {
        if (keys->parsed()) {
            fmt::print("learner {}\nstation {}\n", files::hex(files::load_or_create_keys().public_key),
                       files::hex(graded::station_key().public_key));
            return 0;
        }
        if (issues->parsed()) return issue(*plan, *folder);
        if (takes->parsed()) return take_in(*bundle);
        if (hands->parsed()) return hand_in(*handing);
        return collect(*a);
    };
}

}  // namespace pk
