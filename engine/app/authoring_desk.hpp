#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "engine/app/authoring_head.hpp"
#include "engine/app/job.hpp"
#include "engine/app/library.hpp"
#include "engine/app/ui.hpp"
#include "engine/author/draft.hpp"
#include "engine/session/publishing.hpp"

/// Where an instructor writes a case: its patient on the screen, every field explained, and scripted hands to try it.

namespace app {

/// A part of a case that has a page of its own.
struct AuthoringSection {
    const char* label;
    author::Part part;
    const char* place;              ///< in the document
    std::vector<std::string> keys;  ///< of these members alone; empty: of all
};
/// In the order in which a case is thought through.
[[nodiscard]] const std::vector<AuthoringSection>& authoring_sections();

class AuthoringDesk {
 public:
    /// @param folder of the drafts  @param entries scenarios that one may begin with
    /// @throws files::FileError when the schemas that are shipped cannot be read
    AuthoringDesk(std::filesystem::path folder, std::vector<Entry> entries);
    ~AuthoringDesk();  ///< keeps what was not kept yet

    /// A draft, begun like a scenario where there is none of this name. Says so where it cannot be.
    void open(const std::string& name, const std::string& like = "");
    void choose_section(std::size_t section);

    /// @return the picture changed
    bool advance(double elapsed_s);
    [[nodiscard]] bool busy() const;
    /// Where the patient is shown; no room where it is not.
    [[nodiscard]] Rect patient_rect(const Ui& ui) const;
    [[nodiscard]] view::DrawList draw_list(double aspect) const { return head_.draw_list(aspect); }
    /// @return what was asked for: back to where one came from
    [[nodiscard]] bool draw_screen(Ui& ui, const Settings& settings);
    /// What a journal is told since the last time.
    [[nodiscard]] std::vector<std::string> take_notes() { return std::exchange(notes_, {}); }
    /// Whether something was published since the last time: the list of scenarios is longer.
    [[nodiscard]] bool take_published() { return std::exchange(published_, false); }

 private:
    struct Tried {
        session::Tryout tryout;
        std::string published;  ///< where it lies now; empty: it does not
    };
    enum class Page { sections, form, head };  ///< where there is little room

    // -- what is written
    [[nodiscard]] const AuthoringSection& section() const { return authoring_sections()[section_]; }
    [[nodiscard]] bool on_trial_page() const { return section_ >= authoring_sections().size(); }
    [[nodiscard]] const author::Form& form() const { return forms_[static_cast<std::size_t>(section().part)]; }
    void go(std::size_t section);
    void enter(const author::Place& place);
    void keep();
    void close();
    void changed();
    void try_out(bool publish);
    void take_tried();
    void undo();
    void redo();

    // -- the list of drafts
    bool draw_drafts(Ui& ui);
    float draw_draft_row(Ui& ui, float x, float y, float w, const std::string& name);
    float draw_begin(Ui& ui, float x, float y, float w);

    // -- around the form
    void draw_sections(Ui& ui, const Rect& where);
    void draw_actions(Ui& ui, const Rect& where);
    [[nodiscard]] float actions_height(const Ui& ui) const;
    void draw_trial(Ui& ui, const Rect& where);
    void heed_keys(const Input& input);
    [[nodiscard]] const author::Trouble* trouble_of(const AuthoringSection& section) const;

    // -- the form
    void draw_form(Ui& ui, const Rect& where);
    float draw_crumbs(Ui& ui, float x, float y, float w);
    float draw_field(Ui& ui, float x, float y, float w, const author::Field& field, bool member);
    float draw_holder(Ui& ui, float x, float y, float w, const author::Field& field, bool member);
    float draw_label(Ui& ui, float x, float y, float w, const author::Field& field, bool member);
    float draw_options(Ui& ui, float x, float y, float w, const author::Field& field);
    float draw_choices(Ui& ui, float x, float y, float w, const author::Field& field);
    float draw_typed(Ui& ui, float x, float y, float w, const author::Field& field);
    void draw_bar(Ui& ui, const Rect& bar, const author::Field& field);
    float draw_refusal(Ui& ui, float x, float y, float w, const author::Field& field);
    void set(const author::Field& field, const std::string& typed);

    // -- on the head
    void draw_on_head(Ui& ui, const Rect& picture, const Settings& settings);
    void draw_vector(Ui& ui, const Rect& picture, std::size_t vector);
    [[nodiscard]] std::optional<std::pair<std::size_t, bool>> end_under(Point at, const Rect& picture) const;
    void put_end(std::size_t vector, bool entry, const sim::Vec3& place_m);
    [[nodiscard]] std::optional<sim::Vec3> planned_m(std::size_t vector, bool entry) const;
    [[nodiscard]] std::size_t vectors() const;

    std::filesystem::path folder_;
    std::vector<Entry> entries_;
    std::vector<author::Form> forms_;  ///< by author::Part
    std::optional<author::Draft> draft_;
    std::vector<author::Trouble> troubles_;
    std::size_t heeded_version_ = 0;  ///< of the draft, to which troubles and head belong
    double unkept_s_ = 0.0;
    std::string trouble_;  ///< of files, in words

    std::size_t section_ = 0;
    author::Place at_;
    std::map<std::string, std::string> typed_;  ///< by place: what is being typed, accepted or not
    Page page_ = Page::sections;

    std::string new_name_, like_;
    AuthoringHead head_;
    std::map<std::size_t, std::pair<std::string, std::vector<view::SkinSpot>>> ways_;  ///< of vectors, by their places
    std::vector<Point> numbers_;                           ///< of vectors, where they stand in this picture
    std::optional<std::pair<std::size_t, bool>> dragged_;  ///< vector; its entry, or else its end

    std::unique_ptr<Job<Tried>> trying_;
    std::optional<Tried> tried_;
    std::size_t tried_version_ = 0;
    std::string tried_trouble_;
    bool published_ = false, again_ = false;  ///< again: what was drawn is of before a press
    std::vector<std::string> notes_;
};

/// Where drafts are kept.
[[nodiscard]] std::filesystem::path drafts_folder();

}  // namespace app
