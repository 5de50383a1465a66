#include "engine/language/language.hpp"

#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <unordered_map>
#include <unordered_set>

#include "engine/language/phrases.hpp"
#include "engine/language/words.hpp"

namespace language {

namespace {

/// Read once by each frame of any thread; catalogues are never given back, so that what tr() handed out stays.
std::atomic<const Catalogue*> chosen{nullptr};
std::atomic<std::size_t> chosen_key{0};

const char* find(std::string_view english) {
    const Catalogue* catalogue = chosen.load(std::memory_order_acquire);
    return catalogue == nullptr ? nullptr : catalogue->find(english);
}

std::size_t index_of(std::string_view key) {
    const auto found = std::find_if(kKnown.begin(), kKnown.end(), [key](const Known& one) { return one.key == key; });
    return found == kKnown.end() ? 0 : static_cast<std::size_t>(found - kKnown.begin());
}

/// The catalogue was checked when it was read; should a form be one that this fmt refuses, English it is.
std::string formatted(const char* translated, std::string_view english, fmt::format_args args) {
    if (translated != nullptr) {
        try {
            return fmt::vformat(translated, args);
        } catch (const fmt::format_error&) {
        }
    }
    return fmt::vformat(fmt::string_view(english.data(), english.size()), args);
}

/// What was drawn before, with its translation: most of a frame is what the frame before was.
class ShownWords {
 public:
    bool find(const Catalogue* catalogue, std::string_view english, std::string& out) {
        const std::lock_guard lock(mutex_);
        if (catalogue != catalogue_) {
            catalogue_ = catalogue;
            known_.clear();
            phrases_ = std::make_unique<Phrases>(*catalogue);
            ours_.clear();
            for (const auto& [message, forms] : catalogue->messages()) ours_.insert(forms.begin(), forms.end());
        }
        if (known_.size() > kMostKnown) known_.clear();
        const auto [at, fresh] = known_.try_emplace(std::string(english));
        if (fresh) at->second = translate(english);
        if (!at->second) return false;
        out = *at->second;
        return true;
    }

    std::vector<std::string> missed() {
        const std::lock_guard lock(mutex_);
        std::vector<std::string> out;
        if (phrases_) out.assign(phrases_->missed().begin(), phrases_->missed().end());
        std::sort(out.begin(), out.end());
        return out;
    }

 private:
    static constexpr std::size_t kMostKnown = 8192;

    /// Nothing where it is in this language already.
    std::optional<std::string> translate(std::string_view english) {
        return ours_.contains(english) ? std::nullopt : phrases_->translate(english);
    }

    std::mutex mutex_;
    const Catalogue* catalogue_ = nullptr;
    std::unique_ptr<Phrases> phrases_;
    std::unordered_set<std::string_view> ours_;
    std::unordered_map<std::string, std::optional<std::string>> known_;
};

ShownWords& shown_words() {
    static ShownWords words;
    return words;
}

}  // namespace

std::string_view system_language() {
    for (const char* name : {"LC_ALL", "LC_MESSAGES", "LANG"}) {
        const char* value = std::getenv(name);
        if (value == nullptr || *value == '\0') continue;
        const std::string_view whole(value);
        return kKnown[index_of(whole.substr(0, whole.find_first_of("_.@")))].key;
    }
    return kKnown[0].key;
}

std::filesystem::path catalogue_folder() {
    std::error_code ignored;
    return std::filesystem::read_symlink("/proc/self/exe", ignored).parent_path().parent_path() / "share" / "locale";
}

std::string choose(std::string_view choice, const std::filesystem::path& folder) {
    static std::mutex mutex;
    static std::map<std::string, std::unique_ptr<const Catalogue>, std::less<>> read;
    const std::lock_guard lock(mutex);
    const std::string key(kKnown[index_of(choice == "system" ? system_language() : choice)].key);
    try {
        if (key != kKnown[0].key && !read.contains(key)) {
            const std::filesystem::path file = folder / key / "LC_MESSAGES" / "planekeeper.mo";
            read.emplace(key, std::make_unique<const Catalogue>(read_catalogue_file(file), file.string()));
        }
    } catch (const std::exception& problem) {
        choose(nullptr, kKnown[0].key);
        return problem.what();
    }
    const auto found = read.find(key);
    choose(found == read.end() ? nullptr : found->second.get(), key);
    return {};
}

void choose(const Catalogue* catalogue, std::string_view key) {
    chosen.store(catalogue, std::memory_order_release);
    chosen_key.store(catalogue == nullptr ? 0 : index_of(key));
}

std::string_view now() { return kKnown[chosen_key.load()].key; }

const char* tr(const char* english) {
    const char* found = find(english);
    return found == nullptr ? english : found;
}

std::string_view tr(std::string_view english) {
    const char* found = find(english);
    return found == nullptr ? english : std::string_view(found);
}

std::string tr(const std::string& english) { return std::string(tr(std::string_view(english))); }

const std::string& shown(const std::string& english, std::string& room) {
    const Catalogue* catalogue = chosen.load(std::memory_order_acquire);
    return catalogue != nullptr && shown_words().find(catalogue, english, room) ? room : english;
}

std::string shown(std::string_view english) {
    const Catalogue* catalogue = chosen.load(std::memory_order_acquire);
    std::string out;
    return catalogue != nullptr && shown_words().find(catalogue, english, out) ? out : std::string(english);
}

std::vector<std::string> missed() { return shown_words().missed(); }

namespace detail {

std::string say(std::string_view english, fmt::format_args args) { return formatted(find(english), english, args); }

std::string say_many(std::string_view one, std::string_view many, unsigned long n, fmt::format_args args) {
    const Catalogue* catalogue = chosen.load(std::memory_order_acquire);
    return formatted(catalogue == nullptr ? nullptr : catalogue->find(one, n), n == 1 ? one : many, args);
}

}  // namespace detail

}  // namespace language
