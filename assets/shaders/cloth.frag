// Cap, drape and pillow: matt, with a weave and a soft edge.

in vec3 position;
in vec3 normal;
in vec3 rest;
in vec4 paint;
in vec4 shade;

uniform vec3 eye;
uniform vec3 dye;
uniform sampler2D detail;

out vec4 colour;

const float WEAVE_MM = 11.0;

void main() {
    float kept = cut_away();
    vec3 n = normalize(normal), v = normalize(eye - position);
    vec3 weight = abs(n) / (abs(n.x) + abs(n.y) + abs(n.z));
    vec3 at = rest / WEAVE_MM;
    float weave = texture(detail, at.zy).b * weight.x + texture(detail, at.xz).b * weight.y +
                  texture(detail, at.xy).b * weight.z;
    vec3 albedo = dye * (0.94 + 0.12 * weave), wrap = vec3(0.22);
    vec3 light = wrapped(dot(n, WINDOW_FROM), wrap) * WINDOW_LIGHT + wrapped(dot(n, FILL_FROM), wrap) * FILL_LIGHT +
                 wrapped(dot(n, RIM_FROM), wrap) * RIM_LIGHT + ambient_light(n);
    vec3 seen = albedo * light * mix(1.0, shade.x, 0.95);
    float grazing = 1.0 - max(dot(n, v), 0.0);
    seen += shade.x * albedo * 0.14 * pow(grazing, 3.0);
    colour = vec4(to_screen(seen), kept);
}
