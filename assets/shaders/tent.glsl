// Raised where a tip tents the skin.
uniform vec4 tent_at;       // centre, mm; height, mm
uniform vec4 tent_outward;  // unit; full width at half height, mm

void raise_tent(inout vec3 p, inout vec3 n) {
    vec3 away = p - tent_at.xyz;
    vec3 flat_away = away - tent_outward.xyz * dot(away, tent_outward.xyz);
    float width = tent_outward.w;
    // far below or above the tip's own sheet of skin nothing moves
    float near = step(abs(dot(away, tent_outward.xyz)), 3.0 * width + 6.0);
    float rise = near * tent_at.w * exp(-2.7726 * dot(flat_away, flat_away) / (width * width));
    p += tent_outward.xyz * rise;
    n += flat_away * (2.0 * 2.7726 * rise / (width * width));
}
