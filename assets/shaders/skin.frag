// Skin: colour from the optical density of its melanin and blood, light wrapped by channel, a thin gloss.

in vec3 position;
in vec3 normal;
in vec3 rest;
in vec4 paint;
in vec4 shade;

uniform vec3 eye;
uniform vec4 tone;  // melanin, blood, beard, opacity
uniform sampler2D detail;
uniform sampler2D face;
uniform sampler2D relief;
uniform vec4 face_window;  // low x, low y, side, mm; last: 1 where there is a face to paint

out vec4 colour;

const float DETAIL_TILE_MM = 24.0;

vec4 painted_face(vec3 n, out vec4 lines) {
    vec2 at = (rest.xy - face_window.xy) / face_window.z;
    // laid on from the front: it fades where the face turns away, and nothing is painted behind it
    float seen = face_window.w * smoothstep(0.05, 0.28, n.z) * step(40.0, rest.z) * step(abs(at.x - 0.5), 0.5) *
                 step(abs(at.y - 0.5), 0.5);
    lines = mix(vec4(0.5, 0.5, 0.0, 0.0), texture(relief, at), seen);
    return texture(face, at) * seen;
}

void main() {
    float kept = cut_away();
    vec3 smooth_n = normalize(normal);
    vec3 n = smooth_n;
    vec3 v = normalize(eye - position);

    vec3 weight = max(abs(n) - 0.35, 0.0);
    weight /= weight.x + weight.y + weight.z;
    vec3 at = rest / DETAIL_TILE_MM;
    vec4 tx = texture(detail, at.zy, -0.8), ty = texture(detail, at.xz, -0.8), tz = texture(detail, at.xy, -0.8);
    vec4 fine = tx * weight.x + ty * weight.y + tz * weight.z;
    vec4 lines;
    vec4 painted = painted_face(n, lines);

    float pores = shade.z, wet = max(paint.w, painted.a);
    vec3 slope = vec3(0.0, tx.g - 0.5, tx.r - 0.5) * weight.x + vec3(ty.r - 0.5, 0.0, ty.g - 0.5) * weight.y +
                 vec3(tz.r - 0.5, tz.g - 0.5, 0.0) * weight.z;
    slope *= (0.75 + 1.2 * pores) * (1.0 - 0.8 * wet);
    slope += vec3(lines.xy - 0.5, 0.0) * 1.0;
    n = normalize(n - (slope - n * dot(slope, n)));

    float mottling = fine.b - 0.5;
    float melanin = tone.x + (paint.y + painted.b * 0.5) * (0.35 + 0.65 * (1.0 - tone.x)) + mottling * 0.05;
    float blood = tone.y * 0.55 + (paint.x * 0.55 + painted.g / 0.6) * (1.0 - 0.45 * tone.x) + mottling * 0.22;
    vec3 albedo = exp(-(BASE_DENSITY + melanin * MELANIN_DENSITY + blood * BLOOD_DENSITY + shade.w * IODINE_DENSITY));

    // shaved hair shows through as a cool shadow with dots, brows and lashes as hair
    float beard = paint.z;
    vec3 dark_hair = mix(vec3(0.060, 0.034, 0.020), vec3(0.010, 0.008, 0.007), smoothstep(0.08, 0.5, tone.x));
    vec3 hair = mix(dark_hair, vec3(0.42, 0.41, 0.40), lines.a);
    albedo = mix(albedo, albedo * vec3(0.46, 0.52, 0.60), beard * 0.75);
    albedo = mix(albedo, dark_hair, beard * fine.a * 0.62);
    albedo = mix(albedo, hair, painted.r);

    float curved = clamp(shade.y * 6.0 + 0.25, 0.0, 1.0);
    vec3 wrap = mix(vec3(0.19, 0.09, 0.07), vec3(0.50, 0.22, 0.15), curved);
    float open = shade.x;
    vec3 open_by_channel = pow(vec3(open), mix(vec3(0.90, 1.02, 1.05), vec3(1.0), tone.x));
    vec3 light = wrapped(dot(n, WINDOW_FROM), wrap) * WINDOW_LIGHT + wrapped(dot(n, FILL_FROM), wrap) * FILL_LIGHT +
                 wrapped(dot(n, RIM_FROM), wrap) * RIM_LIGHT + wrapped(dot(n, v), wrap) * VIEWER_LIGHT +
                 ambient_light(n);
    vec3 seen = albedo * light * open_by_channel;

    float shine = clamp(open * 1.5 - 0.4, 0.0, 1.0) * (1.0 - 0.7 * painted.r) * (1.0 - 0.4 * beard);
    float roughness = 0.47 - 0.07 * pores - 0.14 * wet;
    seen += shine * (gloss(n, WINDOW_FROM, v, roughness, 0.028) * 1.7 * WINDOW_LIGHT +
                     gloss(n, FILL_FROM, v, roughness, 0.028) * 1.6 * FILL_LIGHT +
                     gloss(n, RIM_FROM, v, roughness, 0.028) * 1.4 * RIM_LIGHT);
    float grazing = 1.0 - max(dot(smooth_n, v), 0.0);
    seen += shine * (albedo * 0.20 + 0.03) * pow(grazing, 4.0);
    colour = vec4(to_screen(seen), tone.w * kept);
}
