layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec2 in_across;  // mm along the two edges, for patterns
layout(location = 3) in vec2 in_texture;

uniform mat4 view_projection;

out vec3 position;
out vec3 normal;
out vec2 across;
out vec2 at;

void main() {
    position = in_position;
    normal = in_normal;
    across = in_across;
    at = in_texture;
    place_in_cut(in_position);
    gl_Position = view_projection * vec4(in_position, 1.0);
}
