#pragma once

#include <cairo.h>

#include <memory>
#include <stdexcept>
#include <string>

namespace report {

struct FreeSurface {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
using Surface = std::unique_ptr<cairo_surface_t, FreeSurface>;

struct FreeCairo {
    void operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
};
using Cairo = std::unique_ptr<cairo_t, FreeCairo>;

/// What Cairo writes a page to: a std::string.
inline cairo_status_t append_bytes(void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

/// End a surface's writing. @param status of what was drawn @throws std::runtime_error, begun with `what`
inline void finish_surface(cairo_surface_t* surface, cairo_status_t status, const std::string& what) {
    cairo_surface_finish(surface);
    if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface);
    if (status != CAIRO_STATUS_SUCCESS) throw std::runtime_error(what + ": " + cairo_status_to_string(status));
}

}  // namespace report
