#pragma once

#include <fcntl.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "tests/support/scratch.hpp"

/// A real PostgreSQL of a test's own: Debian's programs, a temporary folder, a private Unix socket and no network. It
/// refuses to run as root; then it runs as the user nobody.

namespace support {

class PostgresServer {
 public:
    /// Where Debian's package puts its programs, the newest version; empty: the package postgresql is not installed.
    [[nodiscard]] static std::filesystem::path programs() {
        std::vector<std::filesystem::path> found;
        std::error_code none;
        for (const auto& entry : std::filesystem::directory_iterator("/usr/lib/postgresql", none))
            if (std::filesystem::exists(entry.path() / "bin/initdb", none)) found.push_back(entry.path() / "bin");
        return found.empty() ? std::filesystem::path() : *std::max_element(found.begin(), found.end());
    }

    PostgresServer() {
        std::filesystem::permissions(scratch_.folder(), std::filesystem::perms::all);  // nobody works in it
        std::filesystem::create_directory(sockets());
        if (geteuid() == 0 && chown(sockets().c_str(), user().pw_uid, user().pw_gid) != 0)
            throw std::runtime_error("the server's folder cannot be handed over");
        const int status = wait_for(start({(programs() / "initdb").string(), "-D", data(), "-U", "school", "-A",
                                           "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"}));
        if (status != 0) throw std::runtime_error("initdb failed: " + log());
        serve();
    }
    ~PostgresServer() {
        stop(SIGQUIT);
        // what nobody made is removed by whoever may
    }
    PostgresServer(const PostgresServer&) = delete;
    PostgresServer& operator=(const PostgresServer&) = delete;

    void serve() {
        // after a kill its memory is still in use until its last child has noticed; then the next try succeeds
        for (int i = 0; i < 1200; ++i) {
            if (server_ <= 0)
                server_ =
                    start({(programs() / "postgres").string(), "-D", data(), "-k", sockets().string(), "-c",
                           "listen_addresses=", "-c", "max_connections=80", "-c", "unix_socket_permissions=0777"});
            if (wait_for(start({(programs() / "pg_isready").string(), "-q", "-h", sockets().string()})) == 0) return;
            if (waitpid(server_, nullptr, WNOHANG) == server_) server_ = -1;
            std::this_thread::sleep_for(std::chrono::milliseconds(50));
        }
        throw std::runtime_error("the server does not start: " + log());
    }

    /// SIGKILL: nothing is put in order. Its children notice that it is gone and end.
    void kill_hard() { stop(SIGKILL); }

    [[nodiscard]] std::string url(const std::string& database) const {
        return "postgresql:///" + database + "?host=" + sockets().string() + "&user=school";
    }

 private:
    [[nodiscard]] std::string data() const { return (sockets() / "data").string(); }
    [[nodiscard]] std::filesystem::path sockets() const { return scratch_.folder() / "pg"; }
    [[nodiscard]] std::string log() const {
        std::ostringstream out;
        out << std::ifstream(scratch_.path("log")).rdbuf();
        return out.str();
    }

    [[nodiscard]] static const passwd& user() {
        const passwd* nobody = getpwnam("nobody");
        if (nobody == nullptr) throw std::runtime_error("there is no user nobody");
        return *nobody;
    }

    [[nodiscard]] pid_t start(const std::vector<std::string>& words) const {
        std::vector<char*> arguments;
        for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
        arguments.push_back(nullptr);
        const bool root = geteuid() == 0;
        const passwd* as = root ? &user() : nullptr;
        const std::string log_file = scratch_.path("log");
        const pid_t child = fork();
        if (child != 0) return child;
        const int out = open(log_file.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0666);
        dup2(out, STDOUT_FILENO);
        dup2(out, STDERR_FILENO);
        if (root && (setgid(as->pw_gid) != 0 || setuid(as->pw_uid) != 0)) _exit(126);
        prctl(PR_SET_PDEATHSIG, SIGQUIT);  // a test that is killed leaves no server behind
        if (chdir("/") != 0) _exit(126);
        execv(arguments[0], arguments.data());
        _exit(127);
    }

    static int wait_for(pid_t child) {
        int status = -1;
        waitpid(child, &status, 0);
        return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    }

    void stop(int signal) {
        if (server_ <= 0) return;
        kill(server_, signal);
        wait_for(server_);
        server_ = -1;
    }

    Scratch scratch_{Scratch::in_memory()};
    pid_t server_ = -1;
};

}  // namespace support
