// A warm off-white wall, a little darker towards the floor.
in float height;
out vec4 colour;
void main() {
    colour = vec4(mix(vec3(0.905, 0.887, 0.853), vec3(0.968, 0.957, 0.937), smoothstep(0.0, 1.0, height)), 1.0);
}
