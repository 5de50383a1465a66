#include "engine/app/input.hpp"

#define SDL_MAIN_HANDLED
#include <SDL.h>

#include <algorithm>

namespace app {

namespace {

void take_button(Input& input, const SDL_MouseButtonEvent& event) {
    const bool down = event.type == SDL_MOUSEBUTTONDOWN;
    input.mouse = {static_cast<float>(event.x), static_cast<float>(event.y)};
    switch (event.button) {
        case SDL_BUTTON_LEFT:
            input.left_held = down;
            if (down) {
                input.left_pressed = true;
                input.pressed_at = input.mouse;
            } else {
                input.left_released = true;
            }
            break;
        case SDL_BUTTON_MIDDLE:
            input.middle_held = down;
            break;
        case SDL_BUTTON_RIGHT:
            input.right_held = down;
            break;
        default:
            break;
    }
}

void take(Input& input, const SDL_Event& event) {
    input.any = true;
    switch (event.type) {
        case SDL_QUIT:
            input.quit = true;
            break;
        case SDL_WINDOWEVENT:
            if (event.window.event == SDL_WINDOWEVENT_SIZE_CHANGED) input.resized = true;
            // keys let go elsewhere would stay held here
            if (event.window.event == SDL_WINDOWEVENT_FOCUS_LOST) {
                input.keys_held.clear();
                input.left_held = input.middle_held = input.right_held = false;
            }
            break;
        case SDL_MOUSEMOTION:
            input.mouse = {static_cast<float>(event.motion.x), static_cast<float>(event.motion.y)};
            input.drag.x += static_cast<float>(event.motion.xrel);
            input.drag.y += static_cast<float>(event.motion.yrel);
            break;
        case SDL_MOUSEBUTTONDOWN:
        case SDL_MOUSEBUTTONUP:
            take_button(input, event.button);
            break;
        case SDL_MOUSEWHEEL:
            input.wheel += static_cast<float>(event.wheel.y);
            break;
        case SDL_TEXTINPUT:
            input.typed += event.text.text;
            break;
        case SDL_KEYDOWN:
            if (event.key.keysym.sym == SDLK_BACKSPACE) ++input.rubbed_out;
            if (event.key.keysym.sym == SDLK_DELETE) ++input.deleted;
            if (event.key.keysym.sym == SDLK_RIGHT) ++input.caret_moves;
            if (event.key.keysym.sym == SDLK_LEFT) --input.caret_moves;
            if (event.key.repeat == 0) {
                input.keys_pressed.push_back(event.key.keysym.sym);
                // let go before this frame: it was held all the same when the key went down
                input.shift = input.shift || (event.key.keysym.mod & KMOD_SHIFT) != 0;
                input.control = input.control || (event.key.keysym.mod & KMOD_CTRL) != 0;
            }
            input.keys_held.insert(event.key.keysym.sym);
            break;
        case SDL_KEYUP:
            input.keys_held.erase(event.key.keysym.sym);
            break;
        default:
            break;
    }
}

}  // namespace

bool Input::pressed(Key key) const {
    return std::find(keys_pressed.begin(), keys_pressed.end(), key) != keys_pressed.end();
}

void poll(Input& input, int wait_ms) {
    input.drag = {};
    input.wheel = 0.0f;
    input.left_pressed = input.left_released = input.resized = input.any = input.shift = input.control = false;
    input.keys_pressed.clear();
    input.typed.clear();
    input.rubbed_out = input.deleted = input.caret_moves = 0;
    SDL_Event event;
    if (wait_ms > 0 && SDL_WaitEventTimeout(&event, wait_ms) != 0) take(input, event);
    while (SDL_PollEvent(&event) != 0) take(input, event);
    const SDL_Keymod mod = SDL_GetModState();
    input.shift = input.shift || (mod & KMOD_SHIFT) != 0;
    input.control = input.control || (mod & KMOD_CTRL) != 0;
}

}  // namespace app
