// Where skin is, for drawing it half transparent without its own far parts.
in vec3 position;
in vec3 normal;
in vec3 rest;
in vec4 paint;
in vec4 shade;
out vec4 colour;
void main() {
    cut_away(position);
    colour = vec4(0.0);
}
