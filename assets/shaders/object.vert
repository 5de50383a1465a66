layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec3 in_colour;
layout(location = 3) in float in_gloss;

uniform mat4 view_projection;

out vec3 position;
out vec3 normal;
out vec3 dye;
out float shine;

void main() {
    position = in_position;
    normal = in_normal;
    dye = in_colour;
    shine = in_gloss;
    place_in_cut(in_position);
    gl_Position = view_projection * vec4(in_position, 1.0);
}
