#pragma once

#include "engine/files/aids.hpp"

/// Aids by number, as the record of an attempt has them.

namespace app {

using enum files::Aid;

}  // namespace app
