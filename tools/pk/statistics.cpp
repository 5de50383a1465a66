#include "tools/pk/statistics.hpp"

#include <fmt/format.h>

#include <memory>
#include <vector>

#include "engine/files/file_error.hpp"
#include "tools/pk/commands.hpp"

/// pk statistics: figures for a school from tables of marks, grades and passes.

namespace pk {

namespace {

using Request = StatisticsRequest;
using Sheet = StatisticsSheet (*)(const Request&);

struct Kind {
    const char *name, *meaning;
    Sheet sheet;
    void (*options)(CLI::App&, Request&);
    bool has_intervals = true;
    bool has_plot = false;
};

void no_options(CLI::App&, Request&) {}

void kappa_options(CLI::App& app, Request& r) {
    app.add_option("--weights", r.weights, "none, linear or quadratic (the default)")
        ->check(CLI::IsMember({"none", "linear", "quadratic"}));
    app.add_option("--grades", r.grades, "grades run from 1 to this (5)")->check(CLI::Range(2, 50));
}

void gstudy_options(CLI::App& app, Request& r) {
    app.add_flag("--nested", r.nested, "each case has raters of its own");
    app.add_option("--raters", r.raters, "decide by so many raters")->check(CLI::Range(1, 1000));
    app.add_option("--cases", r.cases, "decide by so many cases")->check(CLI::Range(1, 1000));
    app.add_option("--cut", r.cut, "a pass mark: how far can it be relied on?");
}

void items_options(CLI::App& app, Request& r) {
    app.add_option("--maximum", r.maximum, "most points of an item (1)")->check(CLI::PositiveNumber);
}

void bias_options(CLI::App& app, Request& r) {
    app.add_option("--group", r.group, "the group that is asked about")->required();
}

void borderline_options(CLI::App& app, Request& r) {
    app.add_option("--borderline", r.borderline, "the grade that is neither a pass nor a fail")->required();
    app.add_option("--seed", r.seed, "of the resampling (1)");
    app.add_option("--resamples", r.resamples, "how often attempts are drawn again (2000)")
        ->check(CLI::Range(0, 100000));
}

void hofstee_options(CLI::App& app, Request& r) {
    app.add_option("--scores", r.scores, "a second table, with the column score")->required();
}

void lccusum_options(CLI::App& app, Request& r) {
    app.add_option("--adequate", r.adequate, "adequate rate of failing (0.10)");
    app.add_option("--inadequate", r.inadequate, "inadequate rate of failing (0.20)");
    app.add_option("--limit", r.limit, "limit h, instead of choosing it");
    app.add_option("--false-pass", r.false_pass, "share of inadequate learners that may be signalled (0.05)");
    app.add_option("--within", r.within, "in so many attempts (50)")->check(CLI::Range(1, 2000));
    app.add_option("--charts", r.charts, "charts watched at once, any of which would count (1)")
        ->check(CLI::Range(1, 1000));
    app.add_option("--runs", r.runs, "simulated learners (20000)")->check(CLI::Range(100, 1000000));
    app.add_option("--seed", r.seed, "of the simulation (1)");
}

void cusum_options(CLI::App& app, Request& r) {
    app.add_option("--acceptable", r.acceptable, "acceptable rate of failing (0.10)");
    app.add_option("--unacceptable", r.unacceptable, "unacceptable rate of failing (0.20)");
    app.add_option("--alpha", r.alpha, "error of a false alarm (0.10)");
    app.add_option("--beta", r.beta, "error of a missed one (0.10)");
}

void curve_options(CLI::App& app, Request& r) {
    app.add_option("--shape", r.shape, "exponential (the default) or power")
        ->check(CLI::IsMember({"exponential", "power"}));
    app.add_option("--mark", r.mark, "how many attempts to this mark?");
    app.add_option("--in-a-row", r.in_a_row, "reached so often in a row (1)")->check(CLI::Range(1, 1000));
    app.add_flag("--falling", r.falling, "less is better: the mark is reached from above");
}

const Kind kKinds[] = {
    {"icc", "do raters agree? columns: a name, then one for each judge", icc_sheet, no_options},
    {"kappa", "do two raters' grades agree? columns: first, second", kappa_sheet, kappa_options},
    {"gstudy", "where does the spread of marks come from? columns: person, rater, mark, perhaps case", gstudy_sheet,
     gstudy_options, true, true},
    {"items", "how do items do? columns: a name, then one for each item", items_sheet, items_options},
    {"bias", "is a group judged otherwise? columns: group, pass and or score, perhaps stratum", bias_sheet,
     bias_options},
    {"borderline", "pass mark by borderline regression; columns: grade, score", borderline_sheet, borderline_options,
     true, true},
    {"angoff", "pass mark by Angoff; columns: a judge's name, then a share for each item", angoff_sheet, no_options},
    {"hofstee", "pass mark by Hofstee; columns: judge, least_cut, most_cut, least_fail, most_fail", hofstee_sheet,
     hofstee_options, false},
    {"lccusum", "has competence been reached? columns: learner, attempt, pass", lccusum_sheet, lccusum_options, false,
     true},
    {"cusum", "is a rate of failing kept? columns: learner, attempt, pass", cusum_sheet, cusum_options, false, true},
    {"curve", "learning curves and attempts to a mark; columns: learner, attempt, score", curve_sheet, curve_options,
     true, true},
};

}  // namespace

Run add_statistics(CLI::App& app) {
    const auto request = std::make_shared<Request>();
    CLI::App* command = app.add_subcommand("statistics", "figures for a school from a CSV table");
    command->require_subcommand(1);
    for (const Kind& kind : kKinds) {
        CLI::App* sub = command->add_subcommand(kind.name, kind.meaning);
        sub->add_option("file", request->file, "table, RFC 4180, with a header line")->required();
        if (kind.has_intervals)
            sub->add_option("--confidence", request->confidence, "share of intervals that hold the truth (0.95)");
        sub->add_flag("--json", request->json, "print figures for programs");
        if (kind.has_plot)
            sub->add_option("--plot", request->plot, "where to draw it: a name that ends in .svg or .pdf")
                ->check(CLI::Validator(
                    [](const std::string& name) {
                        return name.ends_with(".svg") || name.ends_with(".pdf")
                                   ? ""
                                   : name + " ends in neither .svg nor .pdf";
                    },
                    "FILE.svg or FILE.pdf"));
        kind.options(*sub, *request);
        sub->callback([request, name = kind.name] { request->kind = name; });
    }
    return [request] {
        for (const Kind& kind : kKinds) {
            if (request->kind != kind.name) continue;
            try {
                const StatisticsSheet sheet = kind.sheet(*request);
                fmt::print("{}\n", request->json ? sheet.json() : sheet.text());
            } catch (const sim::InputError& error) {
                // what the figures refuse is told with the file it came from
                throw files::FileError(request->file, error.place(), error.value(), error.accepted());
            }
        }
        return 0;
    };
}

}  // namespace pk
