// Bone and metal under three soft lights that go with the camera. One cheap pass: no shadow maps, no
// screen-space effects; what light a hollow gets comes with the vertex.

#import bevy_pbr::forward_io::VertexOutput
#import bevy_pbr::mesh_view_bindings::view

struct Look {
    // How much of the light is reflected as by a mirror, how sharply, opacity, and whether light
    // matters at all.
    shine: f32,
    sharpness: f32,
    opacity: f32,
    lit: f32,
}

@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> look: Look;

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> @location(0) vec4<f32> {
    let own = in.color.rgb;
    let open = in.color.a;
    var n = normalize(in.world_normal);
    if !is_front {
        n = -n;
    }
    let right = view.world_from_view[0].xyz;
    let up = view.world_from_view[1].xyz;
    let back = view.world_from_view[2].xyz;
    let key = normalize(-0.6 * right + 0.9 * up + 0.8 * back);
    let fill = normalize(0.9 * right - 0.5 * up + 0.7 * back);
    let sky = mix(vec3(0.30, 0.29, 0.29), vec3(0.46, 0.47, 0.50), 0.5 + 0.5 * dot(n, up));
    // Lamps reach into a hollow less than onto a plain, and more than the sky does.
    let reach = mix(0.45, 1.0, open);
    let light = sky * open
        + vec3(0.62, 0.595, 0.56) * max(dot(n, key), 0.0) * reach
        + vec3(0.17, 0.185, 0.20) * max(dot(n, fill), 0.0) * reach;
    let to_eye = normalize(view.world_position - in.world_position.xyz);
    let half_way = normalize(key + to_eye);
    let glint = look.shine * pow(max(dot(n, half_way), 0.0), look.sharpness) * reach;
    let shaded = own * light + vec3(glint);
    return vec4(mix(own, shaded, look.lit), look.opacity);
}
