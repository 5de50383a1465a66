#include <cstdint>
#include <cstdlib>
#include <string>

#include "engine/files/file_error.hpp"
#include "engine/files/places.hpp"
#include "tools/fuzz/mutate.hpp"

/// One reader under libFuzzer, which watches what each input reaches: PK_FUZZ_READER names it. Run by
/// tools/fuzz_readers.

namespace {

const fuzz::Target& target() {
    static const fuzz::Target kTarget = [] {
        const char* const name = std::getenv("PK_FUZZ_READER");
        for (fuzz::Target& one : fuzz::targets((files::shipped_folder() / "scenarios").string()))
            if (name != nullptr && one.name == name) return one;
        std::abort();  // no such reader
    }();
    return kTarget;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string bytes(reinterpret_cast<const char*>(data), size);
    try {
        target().read(bytes);
    } catch (const files::FileError&) {
        // refused with a reason: as it should be. Anything else that is thrown ends the run
    }
    return 0;
}
