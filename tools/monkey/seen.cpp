#include "tools/monkey/seen.hpp"

#include <cstdio>
#include <fstream>
#include <sstream>

namespace monkey {

void Seen::begin(const std::filesystem::path& journal) {
    journal_ = journal;
    read_ = 0;
    rest_.clear();
    screen_.clear();
    detail_.clear();
    spots_.clear();
    frames_ = 0;
}

long Seen::count(const std::string& what) const {
    const auto at = counts_.find(what);
    return at == counts_.end() ? 0 : at->second;
}

int Seen::look() {
    std::ifstream in(journal_, std::ios::binary);
    if (!in) return 0;
    in.seekg(read_);
    std::string gained((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    read_ += static_cast<std::streamoff>(gained.size());
    rest_ += gained;
    int lines = 0;
    std::size_t from = 0;
    for (std::size_t to = 0; (to = rest_.find('\n', from)) != std::string::npos; from = to + 1, ++lines)
        take(rest_.substr(from, to - from));
    rest_.erase(0, from);
    return lines;
}

void Seen::take(const std::string& line) {
    std::istringstream in(line);
    long ms = 0;
    std::string what, rest;
    if (!(in >> ms >> what)) return;
    in.get();
    std::getline(in, rest);
    const std::string first = rest.substr(0, rest.find(' '));
    if (what == "frames") {
        frames_ = std::strtol(rest.c_str(), nullptr, 10);
    } else if (what == "places") {
        spots_.clear();
        std::istringstream words(rest);
        for (std::string word; words >> word;) {
            Spot spot;
            const std::size_t at = word.rfind('=');
            if (at == std::string::npos || std::sscanf(word.c_str() + at + 1, "%d,%d", &spot.x, &spot.y) != 2) continue;
            spot.name = word.substr(0, at);
            spots_.push_back(spot);
        }
    } else if (what == "screen") {
        screen_ = first;
        detail_ = rest.size() > first.size() ? rest.substr(first.size() + 1) : "";
        spots_.clear();
        const bool scenario = screen_ == "practice" || screen_ == "loading";
        ++counts_["screen " + (scenario ? rest : first)];
    } else if (what == "event") {
        ++counts_["event " + rest.substr(0, rest.find(" subject"))];
    } else if (what == "misfit") {
        misfits_.push_back(screen_ + ": " + rest);
    } else if (what != "steps" && what != "focus") {
        ++counts_[what == "settings" || what == "watching" || what == "record" ? what + " " + rest : what];
    }
}

}  // namespace monkey
