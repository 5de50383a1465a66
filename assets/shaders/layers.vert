layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec2 in_across;  // mm along the two edges, for patterns
layout(location = 3) in vec2 in_texture;

uniform mat4 view_projection;
// What a live tip does to the cut: the skin's way at stations along the box, and how high the skin lies there.
uniform mat3 lift_axes;
uniform vec3 lift_centre, lift_half;
uniform float lift[132];  // four a station
uniform float lift_on;

const float LIFT_STATIONS = 33.0;
const float STILL_DEPTH_MM = 16.0;  // as the shaft is lifted

vec3 lifted(vec3 p) {
    if (lift_on < 0.5) return p;
    vec3 at = transpose(lift_axes) * (p - lift_centre);
    float along = clamp(0.5 * at.x / lift_half.x + 0.5, 0.0, 1.0) * (LIFT_STATIONS - 1.0);
    float f = along - floor(along);
    int a = 4 * int(along), b = 4 * int(min(along + 1.0, LIFT_STATIONS - 1.0));
    vec4 here = mix(vec4(lift[a], lift[a + 1], lift[a + 2], lift[a + 3]),
                    vec4(lift[b], lift[b + 1], lift[b + 2], lift[b + 3]), f);
    return p + here.xyz * max(0.0, 1.0 - (here.w - at.y) / STILL_DEPTH_MM);
}

out vec3 position;
out vec3 normal;
out vec2 across;
out vec2 at;

void main() {
    position = lifted(in_position);
    normal = in_normal;
    across = in_across;
    at = in_texture;
    place_in_cut(in_position);
    gl_Position = view_projection * vec4(position, 1.0);
}
