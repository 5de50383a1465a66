// Where skin is, for drawing it half transparent without its own far parts.
out vec4 colour;
void main() {
    cut_away();
    colour = vec4(0.0);
}
