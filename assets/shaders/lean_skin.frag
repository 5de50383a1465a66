// Skin lit at its vertices, times what is finer than the mesh.

in vec3 lit;
in vec3 shine;
in vec4 at;
in vec3 shares;

uniform sampler2D detail;
uniform sampler2D face;
uniform float detail_scale;
uniform float opacity;

out vec4 colour;

void main() {
    float kept = cut_away();
    vec4 fine = texture(detail, at.xy);
#if PAINTED
    vec4 painted = mix(vec4(1.0, 1.0, 1.0, 0.0), texture(face, at.zw), shares.x);
#else
    const vec4 painted = vec4(1.0, 1.0, 1.0, 0.0);
#endif
    vec3 factor = mix(vec3(1.0), fine.rgb * detail_scale, shares.z);
    colour.rgb = lit * factor * painted.rgb * (1.0 - shares.y * fine.a) +
                 shine * (factor.g * factor.g) * (painted.g + 1.2 * painted.a);
    colour.a = opacity * kept;
}
