#include "engine/records/lrs.hpp"

#include <curl/curl.h>
#include <fmt/format.h>

#include <chrono>
#include <memory>
#include <set>
#include <span>
#include <thread>

#include "engine/records/records_error.hpp"
#include "engine/records/store_core.hpp"

namespace records {

namespace {

constexpr std::size_t kMostAnswerBytes = 1U << 20U;
constexpr std::size_t kShownBytes = 200;

struct Closer {
    void operator()(CURL* handle) const { curl_easy_cleanup(handle); }
    void operator()(curl_slist* list) const { curl_slist_free_all(list); }
};

struct Answer {
    long status = 0;  ///< 0: none came
    std::string text;
};

std::size_t take(char* bytes, std::size_t size, std::size_t count, void* to) {
    std::string& text = *static_cast<std::string*>(to);
    if (text.size() + size * count > kMostAnswerBytes) return 0;
    text.append(bytes, size * count);
    return size * count;
}

/// One endpoint. Connections are kept open between requests.
class Endpoint {
 public:
    explicit Endpoint(const LrsSettings& settings) : settings_(settings), url_(settings.endpoint + "/statements") {
        static const CURLcode started = curl_global_init(CURL_GLOBAL_DEFAULT);
        handle_.reset(started == CURLE_OK ? curl_easy_init() : nullptr);
        if (!handle_) throw RecordsError(Fault::database, "libcurl", "it does not start");
        for (const char* header : {"Content-Type: application/json", "X-Experience-API-Version: 1.0.3", "Expect:"})
            headers_.reset(curl_slist_append(headers_.release(), header));
        CURL* h = handle_.get();
        curl_easy_setopt(h, CURLOPT_URL, url_.c_str());
        curl_easy_setopt(h, CURLOPT_PROTOCOLS_STR, "http,https");
        curl_easy_setopt(h, CURLOPT_FOLLOWLOCATION, 0L);  // credentials go where they were meant to go
        curl_easy_setopt(h, CURLOPT_NOSIGNAL, 1L);
        curl_easy_setopt(h, CURLOPT_TIMEOUT_MS, static_cast<long>(settings.timeout_s * 1000.0));
        curl_easy_setopt(h, CURLOPT_HTTPHEADER, headers_.get());
        curl_easy_setopt(h, CURLOPT_WRITEFUNCTION, take);
        if (!settings.user.empty()) {
            curl_easy_setopt(h, CURLOPT_HTTPAUTH, CURLAUTH_BASIC);
            curl_easy_setopt(h, CURLOPT_USERNAME, settings.user.c_str());
            curl_easy_setopt(h, CURLOPT_PASSWORD, settings.password.c_str());
        }
    }

    /// Post until an answer comes that is not passing. @throws RecordsError (connection_lost), (refused_by_lrs)
    Answer post(const std::string& body, SendReport& report) {
        double wait_s = settings_.first_wait_s;
        std::string trouble;
        for (int i = 0; i < settings_.tries; ++i) {
            if (i > 0) {
                std::this_thread::sleep_for(std::chrono::duration<double>(wait_s));
                wait_s *= settings_.growth;
            }
            ++report.requests;
            const Answer answer = post_once(body, trouble);
            if (answer.status == 401 || answer.status == 403)
                throw RecordsError(Fault::refused_by_lrs, url_,
                                   fmt::format("status {}: user or pass word", answer.status),
                                   "those of an account that may write statements");
            const bool passing =
                answer.status == 0 || answer.status >= 500 || answer.status == 408 || answer.status == 429;
            if (!passing) return answer;
            if (answer.status != 0) trouble = fmt::format("status {}", answer.status);
        }
        throw RecordsError(Fault::connection_lost, url_, fmt::format("{} after {} tries", trouble, settings_.tries),
                           "a store that answers");
    }

 private:
    Answer post_once(const std::string& body, std::string& trouble) {
        Answer answer;
        CURL* h = handle_.get();
        curl_easy_setopt(h, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(body.size()));
        curl_easy_setopt(h, CURLOPT_POSTFIELDS, body.c_str());
        curl_easy_setopt(h, CURLOPT_WRITEDATA, &answer.text);
        const CURLcode code = curl_easy_perform(h);
        if (code == CURLE_URL_MALFORMAT || code == CURLE_UNSUPPORTED_PROTOCOL)
            throw RecordsError(Fault::bad_input, url_, curl_easy_strerror(code), "http://... or https://...");
        if (code != CURLE_OK) {
            trouble = curl_easy_strerror(code);
            return {};
        }
        curl_easy_getinfo(h, CURLINFO_RESPONSE_CODE, &answer.status);
        return answer;
    }

    const LrsSettings& settings_;
    std::string url_;
    std::unique_ptr<CURL, Closer> handle_;
    std::unique_ptr<curl_slist, Closer> headers_;
};

struct Ready {
    std::string id, attempt_id, text;
};

std::string body_of(std::span<const Ready> statements) {
    std::string out = "[";
    for (const Ready& one : statements) out += (out.size() > 1 ? "," : "") + one.text;
    return out + "]";
}

class Sender {
 public:
    Sender(Store& store, const Actor& actor, const LrsSettings& settings, SendReport& report)
        : store_(store), actor_(actor), settings_(settings), endpoint_(settings), report_(report) {}

    void send(std::span<const Ready> statements) {
        const Answer answer = endpoint_.post(body_of(statements), report_);
        if (answer.status == 200 || answer.status == 204) return note(statements);
        if (statements.size() > 1) {
            // one of them it does not take: the others are sent without it
            for (const Ready& one : statements) send({&one, 1});
            return;
        }
        report_.refused.push_back(fmt::format("{} (attempt {}): status {}: {}", statements[0].id,
                                              statements[0].attempt_id, answer.status,
                                              answer.text.substr(0, kShownBytes)));
    }

 private:
    void note(std::span<const Ready> statements) {
        StoreCore& core = store_.core();
        core.write([&] {
            for (const Ready& one : statements)
                core.run(
                    "INSERT INTO sent_statements (lrs, statement_id, attempt_id, sent_at) SELECT $1, $2, id, $4 FROM "
                    "attempts WHERE id = $3 "
                    "ON CONFLICT DO NOTHING",
                    {settings_.endpoint, one.id, one.attempt_id, core.now()});
            core.note(actor_, "statements sent", settings_.endpoint, fmt::format("{} statements", statements.size()));
        });
        report_.sent += static_cast<std::int64_t>(statements.size());
    }

    Store& store_;
    const Actor& actor_;
    const LrsSettings& settings_;
    Endpoint endpoint_;
    SendReport& report_;
};

void need_endpoint(const std::string& endpoint) {
    const bool http = endpoint.starts_with("http://") || endpoint.starts_with("https://");
    if (http && endpoint.find('@') == std::string::npos && endpoint.find_first_of(" \t\r\n?#") == std::string::npos &&
        !endpoint.ends_with('/'))
        return;
    throw RecordsError(Fault::bad_input, "learning record store",
                       endpoint.find('@') == std::string::npos ? endpoint : "an address with a pass word",
                       "http://host/path or https://host/path, without user, query and last slash");
}

}  // namespace

SendReport send_statements(Store& store, const Actor& actor, const AttemptFilter& filter, const XapiSettings& xapi,
                           const LrsSettings& lrs) {
    need_role(actor, Role::instructor, "send statements");
    need_endpoint(lrs.endpoint);
    StoreCore& core = store.core();
    std::set<std::string> before;
    core.read([&] {
        before.clear();
        for (const Row& row : core.run("SELECT statement_id FROM sent_statements WHERE lrs = $1", {lrs.endpoint}))
            before.insert(text_of(row[0], "sent_statements.statement_id"));
    });
    SendReport report;
    std::vector<Ready> waiting;
    for (const AttemptRow& row : store.attempts(actor, filter)) {
        const nlohmann::ordered_json statement = statement_of(row, xapi);
        std::string id = statement["id"].get<std::string>();
        if (before.contains(id))
            ++report.already;
        else
            waiting.push_back({std::move(id), row.facts.id,
                               statement.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)});
    }
    if (waiting.empty()) return report;
    Sender sender(store, actor, lrs, report);
    const std::span<const Ready> all(waiting);
    for (std::size_t from = 0; from < all.size(); from += lrs.batch)
        sender.send(all.subspan(from, std::min(lrs.batch, all.size() - from)));
    return report;
}

}  // namespace records
