#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

/// Those who practise on this machine under one account. Each has attempts, keys, ledger and settings of their own.
///
/// The list is `learners.json` in the data folder; the first learner's records lie in that folder itself, the others'
/// in `learners/ID` below it. It keeps records apart and is no lock: who owns the account can read them all.

namespace files {

inline constexpr std::size_t kMostLearners = 200, kMostNameBytes = 60;

struct Learner {
    std::string id;  ///< "" for the first, else digits
    std::string name;
    friend bool operator==(const Learner&, const Learner&) = default;
};

/// The list of another data folder, as it is on the disk now. @param now_id gets the id of who works there; may be null
/// @throws FileError for one that cannot be used
[[nodiscard]] std::vector<Learner> read_learners(const std::filesystem::path& list, std::string* now_id = nullptr);

class LearnerList {
 public:
    /// Read it. A list that cannot be used is left as it is: there is the first learner alone, trouble() says why, and
    /// nobody can be added.
    LearnerList();

    [[nodiscard]] const std::vector<Learner>& all() const { return all_; }
    [[nodiscard]] const Learner& now() const { return all_[now_]; }
    [[nodiscard]] const std::string& trouble() const { return trouble_; }

    /// Empty when a learner may have this name; else what is wrong with it, in words.
    [[nodiscard]] std::string refusal(std::string_view name) const;

    /// Add and work as them. @throws FileError for a name that is refused, or a list that cannot be written
    void add(const std::string& name);
    /// @throws FileError for a name that is refused, or a list that cannot be written
    void rename_now(const std::string& name);
    /// From here on the user's folders are theirs; where the list cannot be written, until the program ends.
    /// @throws FileError where there is none of this id
    void work_as(const std::string& id);

 private:
    void write() const;

    std::vector<Learner> all_;
    std::size_t now_ = 0;
    std::string trouble_;
};

}  // namespace files
