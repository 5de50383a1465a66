// A cut through the tissue: natural colours, and a pattern for each layer so that it can be read in grey.

in vec3 position;
in vec3 normal;
in vec2 across;
in vec2 at;

uniform vec3 eye;
uniform vec4 tone;
uniform sampler2D layer;
uniform sampler2D detail;

out vec4 colour;

const float SKIN = 1.0, SUPERFICIAL_FAT = 2.0, SMAS = 3.0, DEEP_FAT = 4.0, MUSCLE = 5.0;  // bottoms

float cell_noise(vec2 p) {
    vec2 i = floor(p), f = fract(p);
    f = f * f * (3.0 - 2.0 * f);
    vec4 corners = vec4(dot(i, vec2(127.1, 311.7))) + vec4(0.0, 127.1, 311.7, 438.8);
    vec4 r = fract(sin(corners) * 43758.5453);
    return mix(mix(r.x, r.y, f.x), mix(r.z, r.w, f.x), f.y);
}

// Lobules: the nearest of scattered centres, with septa between them.
float lobules(vec2 p) {
    vec2 i = floor(p);
    float first = 9.0, second = 9.0;
    for (int y = -1; y <= 1; ++y)
        for (int x = -1; x <= 1; ++x) {
            vec2 c = i + vec2(x, y);
            vec2 jitter = fract(sin(vec2(dot(c, vec2(127.1, 311.7)), dot(c, vec2(269.5, 183.3)))) * 43758.5453);
            float d = length(c + 0.15 + 0.7 * jitter - p);
            second = min(second, max(first, d));
            first = min(first, d);
        }
    return second - first;
}

void main() {
    cut_away(position);
    vec2 found = texture(layer, at).rg;
    float c = found.x;
    if (c < 0.0) discard;
    float blur = clamp(fwidth(c), 0.01, 0.5);

    vec3 dermis = mix(vec3(0.78, 0.50, 0.44),
                      exp(-(vec3(0.30, 0.64, 0.86) + tone.x * vec3(1.95, 2.30, 2.62))), 0.35);
    dermis *= 0.94 + 0.10 * cell_noise(across * vec2(3.5, 1.2));
    float septa = smoothstep(0.16, 0.02, lobules(across / 1.5));
    vec3 fat = mix(vec3(0.93, 0.78, 0.46), vec3(0.80, 0.60, 0.30), 0.75 * septa);
    float dashes = step(0.55, fract(across.x / 2.6)) * smoothstep(0.16, 0.05, abs(fract((c - 2.0) * 2.0) - 0.5));
    vec3 fascia = vec3(0.74, 0.68, 0.60) * (1.0 - 0.30 * dashes);
    float big_septa = smoothstep(0.14, 0.02, lobules(across / 2.4 + 7.0));
    vec3 deep_fat = mix(vec3(0.84, 0.63, 0.33), vec3(0.66, 0.45, 0.20), 0.8 * big_septa);
    float fibres = 0.5 + 0.5 * sin(across.y * 5.0 + across.x * 1.6 + 2.5 * cell_noise(across * 0.35));
    vec3 muscle = mix(vec3(0.50, 0.15, 0.13), vec3(0.63, 0.24, 0.20), smoothstep(0.3, 0.7, fibres));
    vec3 bone = mix(vec3(0.80, 0.74, 0.62), vec3(0.90, 0.85, 0.75), cell_noise(across * 1.6));
    bone *= 1.0 - 0.22 * smoothstep(0.72, 0.9, cell_noise(across * 2.3 + 31.0));
    vec3 lining = vec3(0.70, 0.36, 0.34), deep_fascia = vec3(0.72, 0.66, 0.58);
    vec3 floor_colour = found.y < 0.25 ? bone : found.y < 0.75 ? lining : deep_fascia;

    vec3 seen = dermis;
    seen = mix(seen, fat, smoothstep(SKIN - blur, SKIN + blur, c));
    seen = mix(seen, fascia, smoothstep(SUPERFICIAL_FAT - blur, SUPERFICIAL_FAT + blur, c));
    seen = mix(seen, deep_fat, smoothstep(SMAS - blur, SMAS + blur, c));
    seen = mix(seen, muscle, smoothstep(DEEP_FAT - blur, DEEP_FAT + blur, c));
    seen = mix(seen, floor_colour, smoothstep(MUSCLE - blur, MUSCLE + blur, c));
    seen = mix(seen, seen * vec3(0.62, 0.46, 0.42), smoothstep(0.22 + blur, 0.22 - blur, c));  // epidermis
    for (int k = 1; k <= 5; ++k) seen *= 1.0 - 0.30 * smoothstep(1.4 * blur, 0.0, abs(c - float(k)));

    vec3 n = normalize(normal);
    float light = 0.84 + 0.22 * max(dot(n, WINDOW_FROM), 0.0) + 0.10 * max(dot(n, normalize(eye - position)), 0.0);
    seen = pow(mix(seen, vec3(dot(seen, vec3(0.33))), 0.08), vec3(1.6)) * light;
    colour = vec4(to_screen(seen * mix(1.05, 0.80, smoothstep(4.0, 6.5, c))), 1.0);
}
