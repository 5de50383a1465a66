#include "tools/monkey/hands.hpp"

#include <X11/Xlib.h>
#include <X11/Xutil.h>
#include <X11/extensions/XTest.h>

#include <stdexcept>

namespace monkey {

namespace {

/// A window may end between a look and a deed.
int pass_over(Display*, XErrorEvent*) { return 0; }

unsigned long window_named(Display* display, unsigned long under, const std::string& title) {
    unsigned long root = 0, parent = 0, found = 0;
    unsigned long* children = nullptr;
    unsigned count = 0;
    if (XQueryTree(display, under, &root, &parent, &children, &count) == 0) return 0;
    for (unsigned i = 0; i < count && found == 0; ++i) {
        char* name = nullptr;
        XWindowAttributes is{};
        if (XFetchName(display, children[i], &name) != 0 && name != nullptr) {
            if (title == name && XGetWindowAttributes(display, children[i], &is) != 0 && is.map_state == IsViewable)
                found = children[i];
            XFree(name);
        }
        if (found == 0) found = window_named(display, children[i], title);
    }
    if (children != nullptr) XFree(children);
    return found;
}

}  // namespace

Hands::Hands() : display_(XOpenDisplay(nullptr)) {
    if (display_ == nullptr) throw std::runtime_error("no display: DISPLAY names none that answers");
    int event = 0, error = 0, major = 0, minor = 0;
    if (XTestQueryExtension(display_, &event, &error, &major, &minor) == 0) {
        XCloseDisplay(display_);
        throw std::runtime_error("the display takes no test events (XTEST)");
    }
    XSetErrorHandler(pass_over);
}

Hands::~Hands() { XCloseDisplay(display_); }

int Hands::screen_width() const { return XDisplayWidth(display_, XDefaultScreen(display_)); }
int Hands::screen_height() const { return XDisplayHeight(display_, XDefaultScreen(display_)); }

bool Hands::find_window(const std::string& title) {
    window_ = window_named(display_, XDefaultRootWindow(display_), title);
    if (window_ == 0) return false;
    XMoveWindow(display_, window_, 0, 0);
    XSetInputFocus(display_, window_, RevertToPointerRoot, CurrentTime);
    XSync(display_, 0);
    return true;
}

Hands::Size Hands::window_size() const {
    XWindowAttributes is{};
    if (window_ == 0 || XGetWindowAttributes(display_, window_, &is) == 0) return {};
    return {is.width, is.height};
}

/// As the cross of a window's frame does it.
void Hands::close_window() {
    XEvent event{};
    event.xclient.type = ClientMessage;
    event.xclient.window = window_;
    event.xclient.message_type = XInternAtom(display_, "WM_PROTOCOLS", 0);
    event.xclient.format = 32;
    event.xclient.data.l[0] = static_cast<long>(XInternAtom(display_, "WM_DELETE_WINDOW", 0));
    XSendEvent(display_, window_, 0, NoEventMask, &event);
}

void Hands::send(const Deed& deed) {
    const auto key = [&](bool down) {
        const KeyCode code = XKeysymToKeycode(display_, XStringToKeysym(deed.word.c_str()));
        if (code != 0) XTestFakeKeyEvent(display_, code, down ? 1 : 0, CurrentTime);
    };
    switch (deed.what) {
        case Do::start:
        case Do::kill:
            break;
        case Do::move:
            XTestFakeMotionEvent(display_, -1, deed.x, deed.y, CurrentTime);
            break;
        case Do::button_down:
        case Do::button_up:
            XTestFakeButtonEvent(display_, static_cast<unsigned>(deed.x), deed.what == Do::button_down ? 1 : 0,
                                 CurrentTime);
            break;
        case Do::key_down:
        case Do::key_up:
            key(deed.what == Do::key_down);
            break;
        case Do::resize:
            if (window_ != 0)
                XResizeWindow(display_, window_, static_cast<unsigned>(deed.x), static_cast<unsigned>(deed.y));
            break;
        case Do::focus:
            if (window_ != 0) XSetInputFocus(display_, window_, RevertToPointerRoot, CurrentTime);
            break;
        case Do::blur:
            XSetInputFocus(display_, XDefaultRootWindow(display_), RevertToPointerRoot, CurrentTime);
            break;
        case Do::close:
            if (window_ != 0) close_window();
            break;
    }
    XSync(display_, 0);
}

}  // namespace monkey
