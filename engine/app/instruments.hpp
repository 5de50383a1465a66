#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "engine/view/instrument_models.hpp"

namespace app {

/// The shipped models of instruments, and what was refused of them: plain shapes stand in.
struct Instruments {
    std::shared_ptr<const view::InstrumentModels> models = std::make_shared<const view::InstrumentModels>();
    std::string trouble;  ///< empty when all is well
};

/// Never throws for what is on disk. @param folder assets/instruments
[[nodiscard]] Instruments load_instruments(const std::filesystem::path& folder);

}  // namespace app
