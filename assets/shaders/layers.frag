// A cut through the tissue: natural colours, and a pattern for each layer so that it can be read in grey.

in vec3 position;
in vec3 normal;
in vec2 across;
in vec2 at;

uniform vec3 eye;
uniform vec4 tone;
uniform sampler2D layer;    // layer coordinate, floor, distance to a structure in mm, its kind
uniform sampler2D pattern;  // small septa, large septa, fibres, noise

out vec4 colour;

const float SKIN = 1.0, SUPERFICIAL_FAT = 2.0, SMAS = 3.0, DEEP_FAT = 4.0, MUSCLE = 5.0;  // bottoms
const float PATTERN_MM = 24.0;
const float ARTERY = 0.0, VEIN = 1.0, NERVE = 2.0, DUCT = 3.0, GLAND = 4.0;

// A structure that is cut through: its wall in one colour, what it holds in another.
vec3 section(float kind, float depth, vec4 fine, out float rim) {
    rim = kind < DUCT + 0.5 ? 1.0 : 0.35;
    if (kind < ARTERY + 0.5) return mix(vec3(0.80, 0.30, 0.24), vec3(0.46, 0.03, 0.03), smoothstep(0.20, 0.35, depth));
    if (kind < VEIN + 0.5) return mix(vec3(0.36, 0.42, 0.62), vec3(0.13, 0.15, 0.34), smoothstep(0.10, 0.22, depth));
    if (kind < NERVE + 0.5) return mix(vec3(0.88, 0.80, 0.34), vec3(0.96, 0.92, 0.62), smoothstep(0.08, 0.2, depth));
    if (kind < DUCT + 0.5) return mix(vec3(0.86, 0.84, 0.70), vec3(0.50, 0.50, 0.38), smoothstep(0.30, 0.45, depth));
    if (kind < GLAND + 0.5) return mix(vec3(0.80, 0.55, 0.42), vec3(0.60, 0.36, 0.27), 0.8 * fine.r);
    return mix(vec3(0.90, 0.87, 0.80), vec3(0.66, 0.62, 0.55), smoothstep(0.3, 0.7, fine.b));
}

void main() {
    float kept = cut_away();
    vec4 found = texture(layer, at);
    float c = found.x, width = max(fwidth(c), 1e-4);
    if (c < -0.5 * width) discard;
    kept *= clamp(c / width + 0.5, 0.0, 1.0);
    float blur = clamp(width, 0.01, 0.5);
    vec4 fine = texture(pattern, across / PATTERN_MM);

    vec3 dermis = mix(vec3(0.78, 0.50, 0.44),
                      exp(-(vec3(0.30, 0.64, 0.86) + tone.x * vec3(1.95, 2.30, 2.62))), 0.35);
    float ticks = smoothstep(0.30, 0.12, abs(fract(across.x / 1.6) - 0.5)) * smoothstep(0.25, 0.4, c);
    dermis *= 0.96 + 0.08 * fine.a - 0.13 * ticks;
    vec3 fat = mix(vec3(0.93, 0.78, 0.46), vec3(0.80, 0.60, 0.30), 0.75 * fine.r);
    float dashes = step(0.45, fract(across.x / 2.6)) * smoothstep(0.16, 0.05, abs(fract((c - 2.0) * 2.0) - 0.5));
    vec3 fascia = vec3(0.62, 0.57, 0.52) * (1.0 - 0.42 * dashes);
    vec3 deep_fat = mix(vec3(0.84, 0.63, 0.33), vec3(0.60, 0.40, 0.16), 0.85 * fine.g);
    vec3 muscle = mix(vec3(0.50, 0.15, 0.13), vec3(0.63, 0.24, 0.20), smoothstep(0.3, 0.7, fine.b));
    vec3 bone = mix(vec3(0.80, 0.74, 0.62), vec3(0.90, 0.85, 0.75), fine.a);
    vec3 lining = vec3(0.70, 0.36, 0.34), deep_fascia = vec3(0.72, 0.66, 0.58);
    vec3 floor_colour = found.y < 0.25 ? bone : found.y < 0.75 ? lining : deep_fascia;

    vec3 seen = dermis;
    seen = mix(seen, fat, smoothstep(SKIN - blur, SKIN + blur, c));
    seen = mix(seen, fascia, smoothstep(SUPERFICIAL_FAT - blur, SUPERFICIAL_FAT + blur, c));
    seen = mix(seen, deep_fat, smoothstep(SMAS - blur, SMAS + blur, c));
    seen = mix(seen, muscle, smoothstep(DEEP_FAT - blur, DEEP_FAT + blur, c));
    seen = mix(seen, floor_colour, smoothstep(MUSCLE - blur, MUSCLE + blur, c));
    seen = mix(seen, seen * vec3(0.62, 0.46, 0.42), smoothstep(0.22 + blur, 0.22 - blur, c));  // epidermis
    float to_border = abs(c - clamp(floor(c + 0.5), 1.0, 5.0));
    seen *= 1.0 - 0.30 * smoothstep(1.4 * blur, 0.0, to_border);

    // the kind belongs to one sample and must not be blended with its neighbours'
    ivec2 size = textureSize(layer, 0);
    float kind = texelFetch(layer, clamp(ivec2(at * vec2(size)), ivec2(0), size - 1), 0).a;
    float mm = found.z, edge = max(fwidth(across.x), fwidth(across.y)) * 0.7 + 0.02, rim = 1.0;
    vec3 cut_through = section(kind, -mm, fine, rim);
    seen = mix(seen, cut_through, smoothstep(edge, -edge, mm));
    seen *= 1.0 - 0.55 * rim * smoothstep(2.0 * edge, 0.5 * edge, abs(mm + 0.5 * edge));

    vec3 n = normalize(normal);
    float light = 0.84 + 0.22 * max(dot(n, WINDOW_FROM), 0.0) + 0.10 * max(dot(n, normalize(eye - position)), 0.0);
    seen = pow(mix(seen, vec3(dot(seen, vec3(0.33))), 0.08), vec3(1.6)) * light;
    colour = vec4(to_screen(seen * mix(1.05, 0.80, smoothstep(4.0, 6.5, c))), kept);
}
