layout(location = 0) in vec2 in_corner;
out float height;
void main() {
    height = in_corner.y * 0.5 + 0.5;
    gl_Position = vec4(in_corner, 0.9999, 1.0);
}
