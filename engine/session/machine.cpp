#include "engine/session/machine.hpp"

#include <cstdlib>
#include <fstream>
#include <string>

#if defined(__GLIBC__)  // which the headers above tell
#include <malloc.h>
#endif

namespace session {

double resident_mb() {
    std::ifstream status("/proc/self/status");
    std::string word;
    while (status >> word) {
        if (word != "VmRSS:") continue;
        double kb = 0.0;
        status >> kb;
        return kb / 1024.0;
    }
    return 0.0;
}

void keep_freed_memory() {
#if defined(__GLIBC__)
    constexpr int kOwnMappingBytes = 32 << 20;  // the most that the library accepts
    constexpr int kTrimBytes = 256 << 20;
    mallopt(M_MMAP_THRESHOLD, kOwnMappingBytes);
    mallopt(M_TRIM_THRESHOLD, kTrimBytes);
#endif
}

double load_average() {
    double one = 0.0;
    return getloadavg(&one, 1) == 1 ? one : -1.0;
}

}  // namespace session
