// Cloth lit at its vertices, with a weave.

in vec3 lit;
in vec4 at;

uniform sampler2D detail;
uniform float detail_scale;

out vec4 colour;

void main() {
    float kept = cut_away();
    float weave = texture(detail, at.xy).g * detail_scale;
    colour = vec4(lit * (0.55 + 0.45 * weave), kept);
}
