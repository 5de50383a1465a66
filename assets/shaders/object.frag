// Steel, plastic, vessels, pen: a little of the room is mirrored in proportion to the gloss.

in vec3 position;
in vec3 normal;
in vec3 dye;
in float shine;

uniform vec3 eye;

out vec4 colour;

void main() {
    float kept = cut_away();
    vec3 n = normalize(normal), v = normalize(eye - position), wrap = vec3(0.10);
    vec3 seen = dye * (wrapped(dot(n, WINDOW_FROM), wrap) * WINDOW_LIGHT * 0.8 +
                       wrapped(dot(n, FILL_FROM), wrap) * FILL_LIGHT + wrapped(dot(n, RIM_FROM), wrap) * RIM_LIGHT +
                       ambient_light(n) * 1.1 + max(dot(n, v), 0.0) * VIEWER_LIGHT);
    float window = smoothstep(-0.2, 0.9, dot(reflect(-v, n), vec3(0.1961, 0.5883, 0.7845)));
    seen += shine * (window * 0.45 + gloss(n, WINDOW_FROM, v, 0.25, 0.5) * 1.2);
    colour = vec4(to_screen(seen), kept);
}
