// Leave out what lies in the box that is cut away. The border is softened where a pixel has several samples.
#if CUT
in vec3 cut_at;
float cut_away() {
    vec3 inside = (1.0 - abs(cut_at)) / max(fwidth(cut_at), vec3(1e-6));
    float in_box = clamp(min(min(inside.x, inside.y), inside.z) + 0.5, 0.0, 1.0);
    if (in_box >= 1.0) discard;
    return 1.0 - in_box;
}
#else
float cut_away() { return 1.0; }
#endif
