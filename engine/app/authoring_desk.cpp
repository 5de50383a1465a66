#include "engine/app/authoring_desk.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/files/file_error.hpp"
#include "engine/files/keys.hpp"
#include "engine/files/places.hpp"
#include "engine/session/prepare.hpp"

/// What is done to a draft; how it looks is drawn in authoring_screen.cpp and authoring_form.cpp.

namespace app {

namespace {

constexpr double kKeepAfterS = 1.0;  // a killed program loses no more than this of what was typed

std::vector<author::Form> shipped_forms() {
    const std::filesystem::path folder = files::shipped_folder() / "scenarios/schema";
    std::vector<author::Form> out;
    for (const char* name : {"scenario", "patient", "rubric"})  // in the order of author::Part
        out.push_back(author::Form::load(folder / (std::string(name) + ".schema.json")));
    return out;
}

}  // namespace

const std::vector<AuthoringSection>& authoring_sections() {
    using author::Part;
    static const std::vector<AuthoringSection> kSections{
        {"Words and level", Part::scenario, "", {"title", "goal", "kind", "level", "order", "headings", "source"}},
        {"Patient", Part::patient, "", {}},
        {"Anatomy", Part::scenario, "/patient", {}},
        {"Vectors", Part::scenario, "/plan", {}},
        {"Tray", Part::scenario, "/tray", {}},
        {"Aids and lesson", Part::scenario, "", {"ultrasound", "mechanics", "aids", "lesson"}},
        {"Visit", Part::scenario, "/visit", {}},
        {"Points and curves", Part::rubric, "/items", {}},
        {"Target band", Part::rubric, "/bands", {}},
        {"Critical faults", Part::rubric, "/critical", {}},
        {"Passing", Part::rubric, "", {"title", "pass_share", "heading_share", "source"}},
    };
    return kSections;
}

std::filesystem::path drafts_folder() { return files::all_learners_folder() / "drafts"; }

AuthoringDesk::AuthoringDesk(std::filesystem::path folder, std::vector<Entry> entries)
    : folder_(std::move(folder)), entries_(std::move(entries)), forms_(shipped_forms()) {
    std::erase_if(entries_, [](const Entry& entry) { return !entry.trouble.empty(); });
    if (!entries_.empty()) like_ = entries_.front().id;
}

AuthoringDesk::~AuthoringDesk() { keep(); }

void AuthoringDesk::open(const std::string& name, const std::string& like) {
    trouble_.clear();
    try {
        const std::vector<std::string> there = author::drafts_in(folder_);
        if (std::find(there.begin(), there.end(), name) != there.end())
            draft_ = author::Draft::open(name, folder_);
        else
            draft_ = author::Draft::begin(name, like, folder_);
        heeded_version_ = 0;
        tried_.reset();
        tried_trouble_.clear();
        go(0);
        page_ = Page::sections;
        changed();
        notes_.push_back("draft " + name);
    } catch (const std::exception& error) {
        draft_.reset();
        trouble_ = error.what();
        notes_.push_back("trouble " + trouble_);
    }
}

void AuthoringDesk::choose_section(std::size_t section) {
    if (draft_) go(std::min(section, authoring_sections().size()));
}

void AuthoringDesk::go(std::size_t section) {
    section_ = section;
    if (!on_trial_page()) at_ = author::Place(authoring_sections()[section].place);
    enter(at_);
    page_ = Page::form;
    notes_.push_back(on_trial_page() ? "section trial" : fmt::format("section {}", section + 1));
}

void AuthoringDesk::enter(const author::Place& place) {
    at_ = place;
    again_ = true;
    typed_.clear();
    if (draft_) draft_->end_typing();
    // a vector is looked at from its own side
    if (on_trial_page() || section().label != std::string("Vectors") || at_.to_string() == "/plan") return;
    const author::Json& plan = draft_->document(author::Part::scenario).at(author::Place("/plan"));
    const std::size_t vector = std::stoul(at_.to_string().substr(6));
    if (plan.is_array() && vector < plan.size() && plan[vector].is_object())
        head_.look_at_side(plan[vector].value("side", "left") != "right");
}

/// Troubles and the patient follow what is written.
void AuthoringDesk::changed() {
    if (!draft_ || heeded_version_ == draft_->version()) return;
    heeded_version_ = draft_->version();
    again_ = true;
    unkept_s_ = 0.0;
    troubles_ = draft_->troubles();
    if (!draft_->has(author::Part::patient)) {
        head_.show(std::nullopt);
        return;
    }
    const bool patient_good = std::none_of(troubles_.begin(), troubles_.end(), [](const author::Trouble& trouble) {
        return trouble.part == author::Part::patient;
    });
    if (patient_good) head_.show(files::parse_patient(draft_->source(author::Part::patient), draft_->name()));
}

void AuthoringDesk::keep() {
    if (!draft_ || draft_->saved()) return;
    try {
        draft_->save();
        trouble_.clear();
        notes_.push_back(fmt::format("kept {}", draft_->version()));
    } catch (const std::exception& error) {
        trouble_ = error.what();
        unkept_s_ = 0.0;  // again in a while
    }
}

void AuthoringDesk::close() {
    keep();
    if (!draft_->saved()) return;  // it says why
    again_ = true;
    draft_.reset();
    trying_.reset();
    head_.show(std::nullopt);
    ways_.clear();
    dragged_.reset();
}

bool AuthoringDesk::busy() const { return head_.busy() || trying_; }

bool AuthoringDesk::advance(double elapsed_s) {
    const bool moved = head_.advance(elapsed_s);
    if (moved) ways_.clear();
    bool different = std::exchange(again_, false) || moved;
    if (draft_ && !draft_->saved()) {
        unkept_s_ += elapsed_s;
        if (unkept_s_ >= kKeepAfterS) {
            keep();
            different = true;
        }
    }
    if (trying_) {
        different = true;
        if (trying_->done()) take_tried();
    }
    return different;
}

void AuthoringDesk::undo() {
    draft_->undo();
    typed_.clear();
    changed();
}

void AuthoringDesk::redo() {
    draft_->redo();
    typed_.clear();
    changed();
}

/// Both hands of the performers, then to where the trainer finds it if that was asked for and it is fit.
void AuthoringDesk::try_out(bool publish) {
    keep();
    go(authoring_sections().size());
    if (!draft_->saved() || !troubles_.empty() || trying_) return;
    tried_.reset();
    tried_trouble_.clear();
    tried_version_ = draft_->version();
    const std::filesystem::path file = draft_->file(author::Part::scenario);
    trying_ = std::make_unique<Job<Tried>>([file, publish](const auto& tell) {
        tell(0.0, "preparing the patient");
        const session::Prepared prepared = session::prepare(
            file.string(), std::nullopt, [&tell](double done, std::string_view what) { tell(0.5 * done, what); });
        tell(0.5, "capable and careless hands try it");
        Tried out{session::try_out(prepared), ""};
        if (!publish || !out.tryout.refused.empty()) return out;
        const files::KeyPair key = files::load_or_create_keys();
        const auto publication = session::publication_of(prepared, out.tryout.well, out.tryout.badly, key);
        out.published =
            session::publish(file, prepared, publication, out.tryout.capable, out.tryout.careless, key).string();
        return out;
    });
    notes_.push_back(publish ? "trying to publish" : "trying");
}

void AuthoringDesk::take_tried() {
    try {
        tried_ = std::exchange(trying_, nullptr)->take();
        published_ = published_ || !tried_->published.empty();
        notes_.push_back(fmt::format("tried {} {} {}", tried_->tryout.well.verdict, tried_->tryout.badly.verdict,
                                     tried_->published.empty() ? "kept back" : "published"));
    } catch (const std::exception& error) {
        tried_trouble_ = error.what();
        notes_.push_back("tried trouble " + tried_trouble_);
    }
}

}  // namespace app
