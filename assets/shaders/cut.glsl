// Leave out what lies in the box that is cut away.
#if CUT
uniform mat3 cut_axes;
uniform vec3 cut_centre;
uniform vec3 cut_half;
void cut_away(vec3 p) {
    if (all(lessThan(abs(transpose(cut_axes) * (p - cut_centre)), cut_half))) discard;
}
#else
void cut_away(vec3 p) {}
#endif
