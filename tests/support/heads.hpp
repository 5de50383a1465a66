#pragma once

#include <functional>
#include <memory>
#include <thread>
#include <vector>

#include "sim/anatomy/head.hpp"
#include "tests/support/patients.hpp"

/// The tissue of the four invented patients, built once a test program on two threads.

namespace support {

inline void on_two_threads(int count, const std::function<void(int)>& body) {
    const auto every_other = [&](int first) {
        for (int i = first; i < count; i += 2) body(i);
    };
    std::thread other(every_other, 1);
    every_other(0);
    other.join();
}

inline const sim::HeadTissue& patient_tissue(std::size_t patient) {
    static std::vector<std::shared_ptr<const sim::HeadTissue>> built(4);
    if (!built[patient]) built[patient] = sim::build_head_tissue(patients()[patient].head, on_two_threads, {});
    return *built[patient];
}

}  // namespace support
