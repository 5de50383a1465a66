#include "engine/session/machine.hpp"

#include <cstdlib>
#include <fstream>
#include <string>

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

double load_average() {
    double one = 0.0;
    return getloadavg(&one, 1) == 1 ? one : -1.0;
}

}  // namespace session
