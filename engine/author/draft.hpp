#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/author/form.hpp"
#include "engine/files/scenario.hpp"

/// A scenario that is being written, with a patient and a rubric of its own, and every state that it was in.

namespace author {

enum class Part { scenario, patient, rubric };
inline constexpr std::array kParts{Part::scenario, Part::patient, Part::rubric};

/// Why something is not accepted, and where. The place is as the readers tell it: "plan[0].length_mm".
struct Trouble {
    Part part = Part::scenario;
    std::string place, words;
};

/// A name that a file may have. @return why it may not, or empty
[[nodiscard]] std::string name_refused(const std::string& name);

class Draft {
 public:
    /// One like another, under a name of its own: its patient and its rubric are copied and bear that name, too.
    /// @param like a scenario by name or path  @param folder below which it is kept
    /// @throws files::FileError where either is not accepted, or the name is taken
    [[nodiscard]] static Draft begin(const std::string& name, const std::string& like,
                                     const std::filesystem::path& folder);
    /// One that was begun. Its documents may be anything that is JSON: what is wrong in them is for troubles().
    /// @throws files::FileError
    [[nodiscard]] static Draft open(const std::string& name, const std::filesystem::path& folder);

    [[nodiscard]] const std::string& name() const { return name_; }
    [[nodiscard]] std::string title() const;
    [[nodiscard]] bool has(Part part) const { return !now_[index(part)].is_null(); }
    [[nodiscard]] const Json& document(Part part) const { return now_[index(part)]; }

    // -- each of these is one step to be undone; a place that is not there changes nothing
    /// @param typing further changes at the same place belong to the same step until anything else is done
    void set(Part part, const Place& at, Json value, bool typing = false);
    void remove(Part part, const Place& at);
    void append(Part part, const Place& list, Json member);
    void duplicate(Part part, const Place& member);  ///< of a list; the copy stands behind it
    void end_typing() { typing_at_.reset(); }

    [[nodiscard]] bool can_undo() const { return !undo_.empty(); }
    [[nodiscard]] bool can_redo() const { return !redo_.empty(); }
    void undo();
    void redo();
    /// Goes up with every change.
    [[nodiscard]] std::size_t version() const { return version_; }

    /// What the readers of the three files refuse, the first of each; empty: it can be played.
    [[nodiscard]] std::vector<Trouble> troubles() const;
    [[nodiscard]] files::SourceText source(Part part) const;
    [[nodiscard]] std::filesystem::path file(Part part) const;

    [[nodiscard]] bool saved() const { return saved_version_ == version_; }
    /// Each file whole or as it was. @throws files::FileError
    void save();

 private:
    using State = std::array<Json, kParts.size()>;

    Draft(std::string name, std::filesystem::path folder, State state)
        : name_(std::move(name)), folder_(std::move(folder)), now_(std::move(state)) {}
    [[nodiscard]] static constexpr std::size_t index(Part part) { return static_cast<std::size_t>(part); }
    [[nodiscard]] bool there(Part part, const Place& at) const;
    [[nodiscard]] bool holds_members(Part part, const Place& at) const;
    void step();

    std::string name_;
    std::filesystem::path folder_;
    State now_;
    std::vector<State> undo_, redo_;
    std::optional<std::pair<Part, Place>> typing_at_;
    std::size_t version_ = 1, saved_version_ = 0;
};

/// Names of the drafts below a folder, in alphabetical order.
[[nodiscard]] std::vector<std::string> drafts_in(const std::filesystem::path& folder);

}  // namespace author
