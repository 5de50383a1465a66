#include "tools/monkey/trainer.hpp"

#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <stdexcept>
#include <thread>

namespace monkey {

namespace {

constexpr int kCannotRun = 127;  // as shells have it

int status_of(int wait_status) { return WIFEXITED(wait_status) ? WEXITSTATUS(wait_status) : -WTERMSIG(wait_status); }

[[noreturn]] void become(const std::vector<std::string>& words) {
    std::vector<char*> arguments;
    for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    execv(arguments[0], arguments.data());
    _exit(kCannotRun);
}

}  // namespace

int run_program(const std::vector<std::string>& words, std::string& output) {
    int ends[2];
    if (pipe(ends) != 0) throw std::runtime_error("no pipe for " + words.front());
    const pid_t process = fork();
    if (process < 0) throw std::runtime_error("no process for " + words.front());
    if (process == 0) {
        dup2(ends[1], STDOUT_FILENO);
        dup2(ends[1], STDERR_FILENO);
        close(ends[0]);
        close(ends[1]);
        become(words);
    }
    close(ends[1]);
    std::array<char, 4096> part{};
    for (ssize_t got = 0; (got = read(ends[0], part.data(), part.size())) > 0 || (got < 0 && errno == EINTR);)
        if (got > 0) output.append(part.data(), static_cast<std::size_t>(got));
    close(ends[0]);
    int status = 0;
    while (waitpid(process, &status, 0) < 0 && errno == EINTR) {
    }
    return status_of(status);
}

Trainer::~Trainer() { kill_now(); }

void Trainer::kill_now() {
    if (process_ <= 0) return;
    kill(process_, SIGKILL);
    waitpid(process_, nullptr, 0);
    process_ = -1;
}

void Trainer::start(const std::vector<std::string>& arguments, const std::filesystem::path& errors) {
    std::vector<std::string> words{program_.string()};
    words.insert(words.end(), arguments.begin(), arguments.end());
    process_ = fork();
    if (process_ < 0) throw std::runtime_error("no process for " + program_.string());
    if (process_ > 0) return;
    const int to = open(errors.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
    if (to >= 0) dup2(to, STDERR_FILENO);
    become(words);
}

std::optional<int> Trainer::ended() {
    int status = 0;
    if (process_ <= 0 || waitpid(process_, &status, WNOHANG) != process_) return std::nullopt;
    process_ = -1;
    return status_of(status);
}

void Trainer::abort() {
    kill(process_, SIGABRT);
    for (int i = 0; i < 200 && !ended(); ++i) std::this_thread::sleep_for(std::chrono::milliseconds(100));
}

}  // namespace monkey
