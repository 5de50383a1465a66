#include "engine/records/archive_lines.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>

#include "engine/files/crypto.hpp"
#include "engine/records/records_error.hpp"

namespace records {

namespace {

using nlohmann::json;
using nlohmann::ordered_json;

constexpr std::size_t kMostLineBytes = 100ULL << 20;  // the largest attempt in base64 and what stands around it
constexpr const char* kVersionKey = "planekeeper_archive";

constexpr int kBase64 = sodium_base64_VARIANT_ORIGINAL;  // RFC 4648 section 4, with padding

std::string base64_of(const std::string& bytes) {
    std::string out(sodium_base64_encoded_len(bytes.size(), kBase64), '\0');
    sodium_bin2base64(out.data(), out.size(), reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size(),
                      kBase64);
    out.resize(out.size() - 1);  // its own end of text
    return out;
}

ordered_json json_of(const Value& value) {
    if (const auto* whole = std::get_if<std::int64_t>(&value)) return *whole;
    if (const auto* real = std::get_if<double>(&value)) return *real;
    if (const auto* text = std::get_if<std::string>(&value)) return *text;
    if (const auto* blob = std::get_if<Blob>(&value)) return base64_of(blob->bytes);
    return nullptr;
}

/// One archive's lines while they are read.
class Lines {
 public:
    explicit Lines(const std::string& file) : file_(file), stream_(file, std::ios::binary) {
        std::error_code ignored;
        if (!std::filesystem::is_regular_file(file, ignored) || !stream_)
            throw RecordsError(Fault::bad_archive, file, "it cannot be read",
                               "an archive that pk records export wrote");
    }

    [[noreturn]] void refuse(const std::string& what, const std::string& accepted) const {
        throw RecordsError(Fault::bad_archive, fmt::format("{}, line {}", file_, number_), what, accepted);
    }

    /// The next line without its end; what stood before it is hashed.
    [[nodiscard]] const std::string& next() {
        if (number_ > 0) {
            hash_.add(line_);
            hash_.add("\n");
        }
        ++number_;
        line_.clear();
        for (char c = 0; stream_.get(c);) {
            if (c == '\n') return line_;
            line_.push_back(c);
            if (line_.size() > kMostLineBytes) refuse("a longer line", fmt::format("up to {} bytes", kMostLineBytes));
        }
        refuse(line_.empty() ? "the archive ends before its last line" : "a line that is cut short", "a whole archive");
    }
    [[nodiscard]] json next_json() {
        json out = json::parse(next(), nullptr, false);
        if (!out.is_object()) refuse("no JSON object", "a line of an archive");
        return out;
    }
    [[nodiscard]] bool at_end() { return stream_.peek() == std::ifstream::traits_type::eof(); }
    /// Of all lines before the one read last.
    [[nodiscard]] std::string hash() const { return hash_.hex(); }
    [[nodiscard]] std::int64_t number() const { return number_; }

 private:
    std::string file_;
    std::ifstream stream_;
    std::string line_;
    std::int64_t number_ = 0;
    RunningHash hash_;
};

Value value_of(const Lines& lines, const Column& column, const json& value) {
    const auto refuse = [&](const char* accepted) {
        lines.refuse(fmt::format("{}: {}", column.name, value.dump().substr(0, 80)), accepted);
    };
    if (value.is_null() && column.nullable) return std::monostate{};
    switch (column.type) {
        case ColumnType::integer:
            if (!value.is_number_integer() || (value.is_number_unsigned() && value.get<std::uint64_t>() > INT64_MAX))
                refuse("a whole number");
            return value.get<std::int64_t>();
        case ColumnType::real:
            if (!value.is_number()) refuse("a number");
            return value.get<double>();
        case ColumnType::text:
            if (!value.is_string()) refuse("a text");
            return value.get<std::string>();
        case ColumnType::bytes:
            break;
    }
    if (!value.is_string()) refuse("bytes in base64");
    const auto& text = value.get_ref<const std::string&>();
    Blob blob{std::string(text.size() / 4 * 3 + 3, '\0')};
    std::size_t bytes = 0;
    if (sodium_base642bin(reinterpret_cast<unsigned char*>(blob.bytes.data()), blob.bytes.size(), text.data(),
                          text.size(), nullptr, &bytes, nullptr, kBase64) != 0)
        refuse("bytes in base64 (RFC 4648)");
    blob.bytes.resize(bytes);
    return blob;
}

/// The table of a row's line and its values; nothing for the last line.
const Table* row_of(const Lines& lines, const json& line, Row& row) {
    if (line.contains("end")) return nullptr;
    if (line.size() != 2 || !line.contains("table") || !line.contains("row") || !line["table"].is_string() ||
        !line["row"].is_object())
        lines.refuse("neither a row nor the end", "{\"table\":...,\"row\":{...}} or {\"end\":...}");
    const std::string name = line["table"].get<std::string>();
    const auto table =
        std::find_if(tables().begin(), tables().end(), [&](const Table& one) { return one.name == name; });
    if (table == tables().end()) lines.refuse("the table " + name, "a table of this schema");
    const json& values = line["row"];
    if (values.size() != table->columns.size())
        lines.refuse(fmt::format("{} columns of {}", values.size(), name), std::to_string(table->columns.size()));
    row.clear();
    for (const Column& column : table->columns) {
        const auto found = values.find(std::string(column.name));
        if (found == values.end()) lines.refuse(fmt::format("{} without {}", name, column.name), "every column");
        row.push_back(value_of(lines, column, *found));
    }
    return &*table;
}

ArchiveReport first_line(Lines& lines, std::map<std::string, std::int64_t>& counts) {
    ArchiveReport report;
    const json line = lines.next_json();
    const auto whole = [&](const char* key) -> std::int64_t {
        if (!line.contains(key) || !line[key].is_number_integer())
            lines.refuse(fmt::format("no {}", key), "the first line of an archive");
        return line[key].get<std::int64_t>();
    };
    const std::int64_t version = whole(kVersionKey);
    report.schema = whole("schema");
    if (version > kArchiveVersion || report.schema > tables_since())
        throw RecordsError(Fault::newer_schema,
                           fmt::format("an archive of version {}, schema {}", version, report.schema),
                           "made by a later program",
                           fmt::format("version up to {}, schema up to {}", kArchiveVersion, tables_since()));
    if (version != kArchiveVersion || report.schema < oldest_archive())
        lines.refuse(fmt::format("version {}, schema {}", version, report.schema),
                     fmt::format("version {}, schema {} to {}", kArchiveVersion, oldest_archive(), tables_since()));
    const json kind = line.value("kind", json());
    if (kind != "full" && kind != "learner") lines.refuse("kind: " + kind.dump(), "full or learner");
    report.kind = kind == "full" ? ArchiveKind::full : ArchiveKind::learner;
    if (!line.contains("tables") || !line["tables"].is_object())
        lines.refuse("no tables", "the number of rows of each");
    for (const auto& [name, count] : line["tables"].items()) {
        if (!count.is_number_integer()) lines.refuse("tables: " + name, "a number of rows");
        counts[name] = count.get<std::int64_t>();
    }
    return report;
}

}  // namespace

void RunningHash::add(std::string_view bytes) {
    crypto_hash_sha256_update(&state_, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
}

std::string RunningHash::hex() const {
    crypto_hash_sha256_state copy = state_;
    files::Hash hash{};
    crypto_hash_sha256_final(&copy, hash.data());
    return files::hex(hash);
}

ArchiveWriter::ArchiveWriter(std::string out, ArchiveKind kind, const std::map<std::string, std::int64_t>& counts)
    : out_(std::move(out)), whole_(out_ + "." + files::random_id()) {
    std::error_code ignored;
    if (std::filesystem::exists(out_, ignored))
        throw RecordsError(Fault::conflict, out_, "something is there already", "a new file");
    file_ = files::Descriptor(::open(whole_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, S_IRUSR | S_IWUSR));
    if (!file_.open())
        throw RecordsError(Fault::cannot_write, out_, files::words_of_errno(errno), "a folder that can be written");
    report_.kind = kind;
    report_.schema = tables_since();
    ordered_json rows = ordered_json::object();
    for (const Table& table : tables())
        if (const auto count = counts.find(std::string(table.name)); count != counts.end())
            rows[std::string(table.name)] = count->second;
    line(ordered_json{{kVersionKey, kArchiveVersion},
                      {"kind", kind == ArchiveKind::full ? "full" : "learner"},
                      {"schema", report_.schema},
                      {"tables", rows}}
             .dump());
}

ArchiveWriter::~ArchiveWriter() {
    if (!whole_.empty()) ::unlink(whole_.c_str());
}

void ArchiveWriter::line(const std::string& text) {
    int error = files::write_all(file_.number(), text);
    if (error == 0) error = files::write_all(file_.number(), "\n");
    if (error != 0) throw RecordsError(Fault::cannot_write, out_, files::words_of_errno(error), "room on the disk");
    hash_.add(text);
    hash_.add("\n");
}

void ArchiveWriter::row(const Table& table, const Row& row) {
    ordered_json values = ordered_json::object();
    for (std::size_t i = 0; i < row.size(); ++i) values[std::string(table.columns[i].name)] = json_of(row[i]);
    line(ordered_json{{"table", table.name}, {"row", values}}.dump(-1, ' ', false,
                                                                   ordered_json::error_handler_t::replace));
    ++report_.rows;
    if (table.name == "attempts") ++report_.attempts;
}

ArchiveReport ArchiveWriter::finish() {
    report_.sha256 = hash_.hex();
    line(ordered_json{{"end", {{"rows", report_.rows}, {"sha256", report_.sha256}}}}.dump());
    if (::fsync(file_.number()) != 0 || std::rename(whole_.c_str(), out_.c_str()) != 0)
        throw RecordsError(Fault::cannot_write, out_, files::words_of_errno(errno), "a folder that can be written");
    whole_.clear();
    return report_;
}

ArchiveReport read_archive(const std::string& file, const std::function<void(const Table&, const Row&)>& each) {
    Lines lines(file);
    std::map<std::string, std::int64_t> counts;
    ArchiveReport report = first_line(lines, counts);
    Row row;
    while (true) {
        const json line = lines.next_json();
        const Table* table = row_of(lines, line, row);
        if (table == nullptr) {
            const json& end = line["end"];
            report.sha256 = lines.hash();
            if (!end.is_object() || end.value("sha256", json()) != report.sha256)
                lines.refuse("another hash than its lines have", report.sha256);
            if (end.value("rows", json()) != report.rows)
                lines.refuse("another number of rows than there are", std::to_string(report.rows));
            if (!lines.at_end()) lines.refuse("something stands after the end", "nothing");
            break;
        }
        ++report.rows;
        --counts[std::string(table->name)];
        if (table->name == "attempts") ++report.attempts;
        each(*table, row);
    }
    for (const auto& [name, left] : counts)
        if (left != 0)
            lines.refuse(fmt::format("{} rows of {} more or fewer than the first line says", left, name), "as many");
    return report;
}

}  // namespace records
