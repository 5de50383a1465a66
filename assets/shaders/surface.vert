// Skin and cloth: placed in the head frame, raised where a tip tents the skin.

layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec3 in_rest;
layout(location = 3) in vec4 in_paint;
layout(location = 4) in vec4 in_shade;

uniform mat4 view_projection;
uniform vec4 tent_at;       // centre, mm; height, mm
uniform vec4 tent_outward;  // unit; full width at half height, mm

// skin is drawn twice when it is see-through, and must fall on the same depth
invariant gl_Position;

out vec3 position;
out vec3 normal;
out vec3 rest;
out vec4 paint;
out vec4 shade;

void main() {
    vec3 away = in_position - tent_at.xyz;
    vec3 flat_away = away - tent_outward.xyz * dot(away, tent_outward.xyz);
    float width = tent_outward.w;
    // far below or above the tip's own sheet of skin nothing moves
    float near = step(abs(dot(away, tent_outward.xyz)), 3.0 * width + 6.0);
    float rise = near * tent_at.w * exp(-2.7726 * dot(flat_away, flat_away) / (width * width));
    position = in_position + tent_outward.xyz * rise;
    normal = in_normal + flat_away * (2.0 * 2.7726 * rise / (width * width));
    rest = in_rest;
    paint = in_paint;
    shade = in_shade;
    gl_Position = view_projection * vec4(position, 1.0);
}
