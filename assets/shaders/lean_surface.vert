// Skin and cloth lit at their vertices, for drawing without a graphics card. The same light and colours as skin.frag and
// cloth.frag, already brought to the screen's scale; the fragment stage multiplies by what is finer than the mesh.

layout(location = 0) in vec3 in_position;
layout(location = 1) in vec3 in_normal;
layout(location = 2) in vec3 in_rest;
layout(location = 3) in vec4 in_paint;
layout(location = 4) in vec4 in_shade;

uniform mat4 view_projection;
uniform vec3 eye;
uniform vec4 tone;         // melanin, blood, beard, opacity
uniform vec3 dye;          // of cloth
uniform vec4 face_window;  // low x, low y, side, mm; last: 1 where there is a face to paint

invariant gl_Position;

out vec3 lit;
out vec3 shine;
out vec4 at;      // detail, face
out vec3 shares;  // of the painted face, of shaved hair, of fine detail

const float DETAIL_TILE_MM = 24.0;
const float HEAD_RADIUS_MM = 76.0;  // of the cylinder around which detail is wrapped

vec3 light_on(vec3 n, vec3 v, vec3 wrap) {
    return wrapped(dot(n, WINDOW_FROM), wrap) * WINDOW_LIGHT + wrapped(dot(n, FILL_FROM), wrap) * FILL_LIGHT +
           wrapped(dot(n, RIM_FROM), wrap) * RIM_LIGHT + ambient_light(n);
}

#if CLOTH
void shade_surface(vec3 n, vec3 v) {
    vec3 seen = dye * light_on(n, v, vec3(0.22)) * mix(1.0, in_shade.x, 0.95);
    seen += in_shade.x * dye * 0.14 * pow(1.0 - max(dot(n, v), 0.0), 3.0);
    lit = to_screen(seen);
    shine = vec3(0.0);
}
#else
void shade_surface(vec3 n, vec3 v) {
    float melanin = tone.x + in_paint.y * (0.35 + 0.65 * (1.0 - tone.x));
    float blood = tone.y * 0.55 + in_paint.x * 0.55 * (1.0 - 0.45 * tone.x);
    vec3 albedo =
        exp(-(BASE_DENSITY + melanin * MELANIN_DENSITY + blood * BLOOD_DENSITY + in_shade.w * IODINE_DENSITY));
    float beard = in_paint.z, open = in_shade.x, pores = in_shade.z, wet = in_paint.w;
    albedo = mix(albedo, albedo * vec3(0.46, 0.52, 0.60), beard * 0.75);
    float curved = clamp(in_shade.y * 6.0 + 0.25, 0.0, 1.0);
    vec3 wrap = mix(vec3(0.19, 0.09, 0.07), vec3(0.50, 0.22, 0.15), curved);
    vec3 open_by_channel = pow(vec3(open), mix(vec3(0.90, 1.02, 1.05), vec3(1.0), tone.x));
    vec3 seen = albedo * (light_on(n, v, wrap) + wrapped(dot(n, v), wrap) * VIEWER_LIGHT) * open_by_channel;

    float shows = clamp(open * 1.5 - 0.4, 0.0, 1.0) * (1.0 - 0.4 * beard);
    seen += shows * albedo * 0.20 * pow(1.0 - max(dot(n, v), 0.0), 4.0);
    float roughness = 0.47 - 0.07 * pores - 0.14 * wet;
    vec3 glossy = shows * (gloss(n, WINDOW_FROM, v, roughness, 0.028) * 1.7 * WINDOW_LIGHT +
                           gloss(n, FILL_FROM, v, roughness, 0.028) * 1.6 * FILL_LIGHT +
                           gloss(n, RIM_FROM, v, roughness, 0.028) * 1.4 * RIM_LIGHT +
                           vec3(0.03) * pow(1.0 - max(dot(n, v), 0.0), 4.0));
    lit = to_screen(seen);
    shine = to_screen(seen + glossy) - lit;
}
#endif

void main() {
    vec3 position = in_position, normal = in_normal;
    raise_tent(position, normal);
    vec3 n = normalize(normal), v = normalize(eye - position);
    shade_surface(n, v);
    // around the head, and from the face under the chin without a break
    at.xy = vec2(HEAD_RADIUS_MM * atan(in_rest.x, in_rest.z + 20.0), in_rest.y - 0.6 * in_rest.z) / DETAIL_TILE_MM;
    at.zw = (in_rest.xy - face_window.xy) / face_window.z;
    // along this way detail does not change: where the skin runs with it, it would be drawn out into streaks
    vec2 radial = normalize(vec2(in_rest.x, in_rest.z + 20.0));
    vec3 unchanged = normalize(vec3(radial.x, 0.6 * radial.y, radial.y));
    shares.z = smoothstep(0.12, 0.45, abs(dot(normalize(in_normal), unchanged)));
    // laid on from the front: it fades where the face turns away, and nothing is painted behind it
    shares.x = face_window.w * smoothstep(0.05, 0.28, n.z) * step(40.0, in_rest.z);
    shares.y = in_paint.z * 0.5;
    place_in_cut(position);
    gl_Position = view_projection * vec4(position, 1.0);
}
