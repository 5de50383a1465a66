// Skin and cloth, to be lit pixel by pixel.

layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec3 in_rest;
layout(location = 3) in vec4 in_paint;
layout(location = 4) in vec4 in_shade;

uniform mat4 view_projection;

// skin is drawn twice when it is see-through, and must fall on the same depth
invariant gl_Position;

out vec3 position;
out vec3 normal;
out vec3 rest;
out vec4 paint;
out vec4 shade;

void main() {
    position = in_position;
    normal = in_normal;
    raise_tent(position, normal);
    rest = in_rest;
    paint = in_paint;
    shade = in_shade;
    place_in_cut(position);
    gl_Position = view_projection * vec4(position, 1.0);
}
