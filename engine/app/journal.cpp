#include "engine/app/journal.hpp"

#include <stdexcept>

namespace app {

Journal::Journal(const std::filesystem::path& file) {
    if (file.empty()) return;
    out_.open(file, std::ios::trunc);
    if (!out_) throw std::runtime_error(file.string() + ": the journal cannot be written there");
}

void Journal::note(const std::string& what, const std::string& detail) {
    if (!out_.is_open()) return;
    const auto ms =
        std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - start_).count();
    out_ << ms << ' ' << what;
    if (!detail.empty()) out_ << ' ' << detail;
    out_ << std::endl;
}

}  // namespace app
