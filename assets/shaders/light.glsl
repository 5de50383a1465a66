// The room: daylight from a window, a fill from the other side, a rim from behind, and a little from the viewer.
// Directions in the head frame. Colours and strengths assumed, chosen by eye.

const float PI = 3.14159265;
const vec3 WINDOW_FROM = vec3(0.4029, 0.5552, 0.7276);
const vec3 FILL_FROM = vec3(-0.8575, 0.1009, 0.5044);
const vec3 RIM_FROM = vec3(0.1942, 0.5341, -0.8228);
const vec3 WINDOW_LIGHT = vec3(1.220, 1.165, 1.092);
const vec3 FILL_LIGHT = vec3(0.258, 0.276, 0.300);
const vec3 RIM_LIGHT = vec3(0.280, 0.274, 0.266);
const vec3 VIEWER_LIGHT = vec3(0.150, 0.160, 0.170);

// Optical density of pale skin, and what melanin and blood add to red, green and blue. Assumed, by eye.
const vec3 BASE_DENSITY = vec3(0.30, 0.70, 1.02);
const vec3 MELANIN_DENSITY = vec3(1.95, 2.30, 2.62);
const vec3 BLOOD_DENSITY = vec3(0.12, 0.62, 0.52);
// And a coat of povidone-iodine on it.
const vec3 IODINE_DENSITY = vec3(0.16, 0.42, 1.05);

vec3 ambient_light(vec3 n) {
    return mix(vec3(0.170, 0.155, 0.145), vec3(0.285, 0.295, 0.305), 0.5 + 0.5 * dot(n, vec3(0.0, 0.6, 0.8)));
}

// Light that has wandered under the surface reaches past the terminator, red furthest.
vec3 wrapped(float facing, vec3 wrap) {
    return clamp((vec3(facing) + wrap) / ((1.0 + wrap) * (1.0 + wrap)), 0.0, 1.0);
}

// Microfacet gloss: Trowbridge-Reitz distribution, Smith shadowing, Schlick's Fresnel. All vectors are units, so that what
// lies half-way between light and eye need not be set up.
float gloss(vec3 n, vec3 l, vec3 v, float roughness, float f0) {
    float lv = dot(l, v), facing_light = dot(n, l), facing_eye = dot(n, v);
    float per_length = inversesqrt(max(2.0 + 2.0 * lv, 1e-6));  // of l + v
    float nh = max((facing_light + facing_eye) * per_length, 0.0), nv = max(facing_eye, 1e-3), nl = max(facing_light, 0.0);
    float a = roughness * roughness, a2 = a * a;
    float d = nh * nh * (a2 - 1.0) + 1.0;
    float k = (roughness + 1.0) * (roughness + 1.0) / 8.0;
    float x = 1.0 - max((1.0 + lv) * per_length, 0.0), x2 = x * x;
    float fresnel = f0 + (1.0 - f0) * x2 * x2 * x;
    return a2 * fresnel * nl / (4.0 * PI * d * d * (nv * (1.0 - k) + k) * (nl * (1.0 - k) + k));
}

// Filmic curve (Narkowicz 2015, fit of a film response), then the screen's gamma.
vec3 to_screen(vec3 c) {
    c = 1.05 * c * (2.51 * c + 0.03) / (c * (2.43 * c + 0.59) + 0.14);
    return pow(clamp(c, 0.0, 1.0), vec3(1.0 / 2.2));
}
