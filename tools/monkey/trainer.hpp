#pragma once

#include <sys/types.h>

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

/// The program under test, as a process of its own.

namespace monkey {

/// Run to its end. @return exit status, -SIGNAL when a signal ended it; its standard output in `words`
int run_program(const std::vector<std::string>& words, std::string& output);

class Trainer {
 public:
    explicit Trainer(std::filesystem::path program) : program_(std::move(program)) {}
    ~Trainer();
    Trainer(const Trainer&) = delete;
    Trainer& operator=(const Trainer&) = delete;

    /// @param errors what it writes to its standard error goes to this file
    void start(const std::vector<std::string>& arguments, const std::filesystem::path& errors);
    /// Exit status once it has ended, -SIGNAL when a signal ended it.
    [[nodiscard]] std::optional<int> ended();
    /// It hangs: end it in a way that a sanitizer answers with the place where it stands.
    void abort();
    /// As when the machine's power goes.
    void kill_now();
    [[nodiscard]] bool running() const { return process_ > 0; }

 private:
    std::filesystem::path program_;
    pid_t process_ = -1;
};

}  // namespace monkey
