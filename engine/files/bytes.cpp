#include "engine/files/bytes.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <system_error>

#include "engine/files/file_error.hpp"

namespace files {

namespace {

constexpr std::size_t kPiece = 64 * 1024;

void refuse_what_is_no_file(const std::filesystem::path& path, const struct stat& about, std::uint64_t most_bytes) {
    const std::string name = path.string();
    if (S_ISDIR(about.st_mode)) throw FileError(name, "", "a directory", "a file");
    if (!S_ISREG(about.st_mode)) throw FileError(name, "", "a device, pipe or socket", "a regular file");
    if (static_cast<std::uint64_t>(about.st_size) > most_bytes)
        throw FileError(name, "", fmt::format("a size of {} bytes", about.st_size),
                        fmt::format("at most {} bytes", most_bytes));
}

}  // namespace

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
    if (this == &other) return *this;
    if (number_ >= 0) ::close(number_);
    number_ = other.release();
    return *this;
}

Descriptor::~Descriptor() {
    if (number_ >= 0) ::close(number_);
}

std::string words_of_errno(int error) { return std::generic_category().message(error); }

std::string read_bytes(const std::filesystem::path& path, std::uint64_t most_bytes) {
    // O_NONBLOCK: opening a pipe that nobody writes to would wait for ever
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    if (!file.open()) throw FileError(path.string(), "", words_of_errno(errno), "a file that can be read");
    struct stat about {};
    if (::fstat(file.number(), &about) != 0)
        throw FileError(path.string(), "", words_of_errno(errno), "a file that can be read");
    refuse_what_is_no_file(path, about, most_bytes);

    std::string bytes;
    bytes.reserve(static_cast<std::size_t>(about.st_size));
    std::array<char, kPiece> piece{};
    while (true) {
        const ssize_t got = ::read(file.number(), piece.data(), piece.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) throw FileError(path.string(), "", words_of_errno(errno), "a file that can be read");
        if (got == 0) return bytes;
        bytes.append(piece.data(), static_cast<std::size_t>(got));
        // it may grow while it is read
        if (bytes.size() > most_bytes)
            throw FileError(path.string(), "", "a growing file", fmt::format("at most {} bytes", most_bytes));
    }
}

namespace {

/// A file at its size limit raises a signal whose default is to end the program; the error number says it as well.
void survive_size_limit() {
    static const bool done = [] {
        struct sigaction action {};
        if (::sigaction(SIGXFSZ, nullptr, &action) == 0 && action.sa_handler == SIG_DFL) std::signal(SIGXFSZ, SIG_IGN);
        return true;
    }();
    static_cast<void>(done);
}

template <typename Write>
int write_pieces(std::string_view bytes, Write write) {
    survive_size_limit();
    while (!bytes.empty()) {
        const ssize_t put = write(bytes);
        if (put < 0 && errno == EINTR) continue;
        if (put < 0) return errno;
        if (put == 0) return ENOSPC;
        bytes.remove_prefix(static_cast<std::size_t>(put));
    }
    return 0;
}

}  // namespace

int write_all(int descriptor, std::string_view bytes) {
    return write_pieces(bytes, [&](std::string_view rest) { return ::write(descriptor, rest.data(), rest.size()); });
}

int write_all_at(int descriptor, std::string_view bytes, std::uint64_t offset) {
    const std::uint64_t end = offset + bytes.size();
    return write_pieces(bytes, [&](std::string_view rest) {
        return ::pwrite(descriptor, rest.data(), rest.size(), static_cast<off_t>(end - rest.size()));
    });
}

void write_atomically(const std::filesystem::path& path, std::string_view bytes, unsigned mode) {
    std::string temporary = path.string() + ".XXXXXX";
    Descriptor file(::mkostemp(temporary.data(), O_CLOEXEC));
    if (!file.open()) throw FileError(path.string(), "", words_of_errno(errno), "a folder that can be written");
    int error = write_all(file.number(), bytes);
    if (error == 0 && ::fchmod(file.number(), mode) != 0) error = errno;
    if (error == 0 && ::fsync(file.number()) != 0) error = errno;
    if (error == 0 && ::close(file.release()) != 0) error = errno;
    if (error == 0 && ::rename(temporary.c_str(), path.c_str()) != 0) error = errno;
    if (error == 0) return;
    ::unlink(temporary.c_str());
    throw FileError(path.string(), "", words_of_errno(error), "room and permission to write it");
}

std::size_t first_bad_utf8(std::string_view text) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
    const auto within = [](unsigned value, unsigned low, unsigned high) { return value >= low && value <= high; };
    for (std::size_t i = 0; i < text.size();) {
        const unsigned lead = byte(i);
        if (lead < 0x80U) {
            ++i;
            continue;
        }
        // RFC 3629 section 4: the second byte's range shuts out overlong forms, surrogates and what is past U+10FFFF
        const unsigned low = lead == 0xE0U ? 0xA0U : lead == 0xF0U ? 0x90U : 0x80U;
        const unsigned high = lead == 0xEDU ? 0x9FU : lead == 0xF4U ? 0x8FU : 0xBFU;
        const std::size_t length = within(lead, 0xC2U, 0xDFU)   ? 2
                                   : within(lead, 0xE0U, 0xEFU) ? 3
                                   : within(lead, 0xF0U, 0xF4U) ? 4
                                                                : 0;
        if (length == 0 || !within(byte(i + 1), low, high)) return i;
        for (std::size_t k = 2; k < length; ++k)
            if (!within(byte(i + k), 0x80U, 0xBFU)) return i;
        i += length;
    }
    return std::string_view::npos;
}

}  // namespace files
