#include <fcntl.h>
#include <fmt/format.h>

#include <cerrno>
#include <chrono>
#include <filesystem>

#include "engine/files/bytes.hpp"
#include "engine/files/csv.hpp"
#include "engine/files/file_error.hpp"
#include "engine/records/regrade.hpp"
#include "engine/report/score_text.hpp"
#include "engine/session/resimulate.hpp"
#include "sim/scoring/rubric.hpp"
#include "tools/pk/records.hpp"

/// pk records regrade: what is kept, scored anew by as many programs and machines as there are.

namespace pk {

namespace {

using nlohmann::ordered_json;
using records::Regraded;
using Fields = std::vector<std::string>;

Fields csv_header() {
    Fields out{"attempt", "scenario", "mode",      "finished", "kept_verdict", "kept_points", "kept_of",
               "verdict", "points",   "points_of", "same",     "differences",  "trouble",     "program"};
    for (int i = 0; i < sim::kHeadings; ++i) {
        const std::string key(sim::key_of(static_cast<sim::Heading>(i)));
        out.push_back(key);
        out.push_back(key + "_of");
    }
    return out;
}

Fields csv_row(const Regraded& one) {
    std::string differences;
    for (const std::string& what : one.differences) differences += (differences.empty() ? "" : "; ") + what;
    const bool scored = one.trouble.empty();
    const auto figure = [&](double value) { return scored ? fmt::format("{}", value) : std::string(); };
    Fields out{one.attempt_id,
               one.scenario,
               one.mode,
               one.finished ? "1" : "0",
               one.kept_verdict,
               fmt::format("{}", one.kept_points),
               fmt::format("{}", one.kept_of),
               one.verdict,
               figure(one.points),
               figure(one.of),
               one.same() ? "1" : "0",
               differences,
               one.trouble,
               one.program};
    for (int i = 0; i < sim::kHeadings; ++i) {
        const auto found = std::find_if(one.headings.begin(), one.headings.end(), [&](const auto& heading) {
            return heading.heading == sim::key_of(static_cast<sim::Heading>(i));
        });
        out.push_back(found == one.headings.end() ? "" : fmt::format("{}", found->points));  // not measured
        out.push_back(found == one.headings.end() ? "" : fmt::format("{}", found->of));
    }
    return out;
}

std::string json_line(const Regraded& one) {
    ordered_json headings = ordered_json::object();
    for (const auto& heading : one.headings) headings[heading.heading] = {heading.points, heading.of};
    ordered_json line{{"attempt", one.attempt_id},
                      {"scenario", one.scenario},
                      {"mode", one.mode},
                      {"finished", one.finished},
                      {"kept", {{"verdict", one.kept_verdict}, {"points", one.kept_points}, {"of", one.kept_of}}}};
    if (one.trouble.empty())
        line["now"] = {{"verdict", one.verdict}, {"points", one.points}, {"of", one.of}, {"headings", headings}};
    else
        line["trouble"] = one.trouble;
    line["same"] = one.same();
    line["differences"] = one.differences;
    line["program"] = one.program;
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

/// One line an attempt, as CSV where the file's name ends so, else as JSON; under its own name when it is whole.
class ResultFile {
 public:
    explicit ResultFile(std::string out) : out_(std::move(out)), csv_(out_.ends_with(".csv")) {
        if (out_.empty()) return;
        file_ = files::Descriptor(::open(part().c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600));
        if (!file_.open()) refuse(errno);
    }

    void add(const Regraded& one) {
        if (out_.empty()) return;
        std::string text = csv_ ? files::csv_text(csv_header(), std::vector<Fields>{csv_row(one)}) : json_line(one);
        if (csv_ && !first_) text.erase(0, text.find("\r\n") + 2);  // the header stands there
        first_ = false;
        if (const int error = files::write_all(file_.number(), text); error != 0) refuse(error);
    }

    void finish() {
        if (out_.empty()) return;
        if (csv_ && first_) {
            const std::string text = files::csv_text(csv_header(), std::vector<Fields>{});
            if (const int error = files::write_all(file_.number(), text); error != 0) refuse(error);
        }
        std::error_code error;
        std::filesystem::rename(part(), out_, error);
        if (error) refuse(error.value());
    }

 private:
    [[nodiscard]] std::string part() const { return out_ + ".part"; }
    [[noreturn]] void refuse(int error) const {
        throw files::FileError(out_, "", files::words_of_errno(error), "a file that can be written");
    }

    std::string out_;
    bool csv_, first_ = true;
    files::Descriptor file_;
};

struct Sums {
    std::int64_t scored = 0, same = 0, differ = 0, other_verdict = 0, trouble = 0;
    void add(const Regraded& one) {
        ++scored;
        same += one.same() ? 1 : 0;
        trouble += one.trouble.empty() ? 0 : 1;
        differ += one.trouble.empty() && !one.same() ? 1 : 0;
        other_verdict += one.trouble.empty() && one.verdict != one.kept_verdict ? 1 : 0;
    }
};

int regrade(const RecordsArguments& a) {
    ResultFile file(a.out);  // before the work: whoever cannot write need not wait for it
    Desk desk = open_desk(a);
    records::RegradeSettings settings;
    settings.program = session::program_version() + " " + session::build_id();
    settings.job = a.job.empty() ? "regrade " + settings.program : a.job;
    settings.jobs = a.jobs;
    settings.lease_s = a.lease_s;
    const auto start = std::chrono::steady_clock::now();
    const records::RegradeReport report =
        records::regrade(place_or_default(a), desk.actor, settings, [](std::int64_t done, std::int64_t all) {
            show_progress(static_cast<double>(done) / static_cast<double>(std::max<std::int64_t>(all, 1)),
                          fmt::format("{} of {}", done, all));
        });
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    Sums sums;
    records::each_result(desk.store, desk.actor, settings.job, [&](const Regraded& one) {
        sums.add(one);
        file.add(one);
        if (!a.json && !one.same())
            fmt::print("{}: {}\n", one.attempt_id, one.trouble.empty() ? one.differences.front() : one.trouble);
    });
    file.finish();
    if (a.json)
        fmt::print("{}\n", ordered_json{{"job", settings.job},
                                        {"attempts", sums.scored},
                                        {"same", sums.same},
                                        {"differ", sums.differ},
                                        {"other_verdict", sums.other_verdict},
                                        {"trouble", sums.trouble},
                                        {"before", report.before},
                                        {"here", report.here},
                                        {"late", report.late},
                                        {"seconds", took.count()}}
                               .dump());
    else
        fmt::print(
            "{}: {} attempts, {} as they are kept, {} differ ({} in their verdict), {} in trouble; nothing was "
            "changed\n{} done before, {} here in {:.1f} s on {} threads, {} by others\n{}\n",
            settings.job, sums.scored, sums.same, sums.differ, sums.other_verdict, sums.trouble, report.before,
            report.here, took.count(), a.jobs, std::max<std::int64_t>(report.all - report.before - report.here, 0),
            report::caution_text());
    return sums.same == sums.scored ? 0 : 1;
}

}  // namespace

void add_records_regrade(const AddPart& add, const std::shared_ptr<RecordsArguments>& a) {
    CLI::App* part = add("regrade",
                         "score every attempt anew and tell what differs; many machines may share it, a run that was "
                         "stopped is gone on with",
                         regrade);
    part->add_option("--jobs", a->jobs, "threads, 1 to 64")->check(CLI::Range(1, 64));
    part->add_option("--job", a->job, "its name, which those who share it give; by default this program's version");
    part->add_option("--lease", a->lease_s, "seconds until others take over what a stopped program had begun")
        ->check(CLI::Range(1, 86400));
    part->add_option("--out", a->out, "a new table of results, .csv or JSON Lines");
}

}  // namespace pk
