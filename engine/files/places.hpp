#pragma once

#include <filesystem>
#include <string>
#include <vector>

/// Where things lie: what is shipped (assets and scenarios), and what belongs to the user (XDG Base Directory
/// Specification 0.8).

namespace files {

/// The folder that holds assets/ and scenarios/: the environment variable PLANEKEEPER_HOME, folders above the program,
/// the source folder this was built from, /usr/share/planekeeper; the first that has scenarios/drills.
/// @throws FileError naming every place that was searched
[[nodiscard]] std::filesystem::path shipped_folder();

/// Find a shipped file, "shaders/skin.frag" below assets/. @throws FileError naming it when it is not there
[[nodiscard]] std::filesystem::path asset(const std::string& name);

/// A scenario by name ("hold_the_plane", searched in drills and cases) or by path.
/// @throws FileError naming what was searched and the scenarios there are
[[nodiscard]] std::filesystem::path find_scenario(const std::string& name);
[[nodiscard]] std::filesystem::path find_script(const std::string& name);  ///< "hold_the_plane.capable" or a path
[[nodiscard]] std::filesystem::path find_rubric(const std::string& name);
/// The same, in the folder `rubrics` beside the scenario's own first: a case that is being written brings its own.
[[nodiscard]] std::filesystem::path find_rubric_for(const std::filesystem::path& scenario, const std::string& name);
/// Shipped ones, then those published on this machine; drills first, each in alphabetical order.
[[nodiscard]] std::vector<std::string> scenario_names();
/// What was published on this machine, in the same folders as what is shipped; need not exist.
[[nodiscard]] std::filesystem::path own_scenarios_folder();

/// Attempts, keys of the learner who works; made with owner-only rights when asked for.
[[nodiscard]] std::filesystem::path user_data_folder();
[[nodiscard]] std::filesystem::path user_cache_folder();    ///< may be deleted at any time; all learners share it
[[nodiscard]] std::filesystem::path user_config_folder();   ///< settings of the learner; not made by asking
[[nodiscard]] std::filesystem::path ledger_path();          ///< the learner's finished attempts
[[nodiscard]] std::filesystem::path all_learners_folder();  ///< what lies above every learner's own

/// Whose folders user_data_folder(), user_config_folder() and ledger_path() name from here on, like the environment a
/// matter of the whole program. @param learner_id "" for the first learner, else digits
void use_folders_of(const std::string& learner_id);

}  // namespace files
