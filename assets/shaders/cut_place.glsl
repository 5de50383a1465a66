// Where a vertex lies in the box that is cut away: -1 to 1 along its three edges. The box is bent along its first.
#if CUT
const int CUT_STATIONS = 33;
uniform mat3 cut_axes;
uniform vec3 cut_centre;
uniform vec3 cut_half;
uniform float cut_bend[CUT_STATIONS];
out vec3 cut_at;
void place_in_cut(vec3 p) {
    vec3 q = transpose(cut_axes) * (p - cut_centre);
    float station = clamp((0.5 + 0.5 * q.x / cut_half.x) * float(CUT_STATIONS - 1), 0.0, float(CUT_STATIONS - 1) - 1e-3);
    int first = int(station);
    q.z -= mix(cut_bend[first], cut_bend[first + 1], station - float(first));
    cut_at = q / cut_half;
}
#else
void place_in_cut(vec3 p) {}
#endif
