// Turns the worn cloak in a page. In: the JSON of #solid (see `solid_data` in html_report.py), a canvas, its buttons.
// Parallel projection and the lights of the pictures. Where WebGL is wanting, the picture behind the canvas stays.
"use strict";
(function () {
  const canvas = document.getElementById("turn"), still = document.getElementById("still");
  const root = document.documentElement;
  const gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) { root.dataset.turn = "picture"; return; }
  const data = JSON.parse(document.getElementById("solid").textContent);

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const wide = gl.getExtension("OES_element_index_uint");

  function shader(kind, text) {
    const made = gl.createShader(kind);
    gl.shaderSource(made, text);
    gl.compileShader(made);
    if (!gl.getShaderParameter(made, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(made));
    return made;
  }
  const program = gl.createProgram();
  gl.attachShader(program, shader(gl.VERTEX_SHADER, `
    attribute vec3 place, normal; attribute vec4 tone; attribute float light;
    uniform mat3 turn; uniform vec3 centre; uniform vec2 scale; uniform float nearer, inset;
    varying vec3 vNormal; varying vec4 vTone; varying float vLight;
    void main() {
      vec3 q = turn * (place - inset * normal - centre);
      gl_Position = vec4(q.x * scale.x, q.y * scale.y, -(q.z + nearer) / 3.0, 1.0);
      vNormal = turn * normal; vTone = tone; vLight = light;
    }`));
  gl.attachShader(program, shader(gl.FRAGMENT_SHADER, `
    precision mediump float;
    uniform vec3 outside, inside, key, fill, adds; uniform float painted, line, within, skyless;
    varying vec3 vNormal; varying vec4 vTone; varying float vLight;
    void main() {
      if (line > 0.5) { gl_FragColor = vec4(outside, 1.0); return; }
      vec3 n = normalize(vNormal) * (within > 0.5 ? -1.0 : 1.0);
      vec3 base = painted > 0.5 ? vTone.rgb : (within > 0.5 ? inside : outside);
      float shade = dot(adds, vec3(1.0, max(dot(n, key), 0.0), max(dot(n, fill), 0.0))) * mix(skyless, 1.0, vLight);
      // Hatched where undecided, as in the pictures.
      bool stroke = painted > 0.5 && vTone.a > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, 9.0) < 2.0;
      gl_FragColor = stroke ? vec4(0.16, 0.14, 0.13, 1.0) : vec4(min(base * shade, 1.0), 1.0);
    }`));
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
  gl.useProgram(program);
  const at = {}, uniform = {};
  for (const name of ["place", "normal", "tone", "light"]) at[name] = gl.getAttribLocation(program, name);
  for (const name of ["turn", "centre", "scale", "nearer", "inset", "within", "outside", "inside", "painted", "line", "key", "fill", "adds", "skyless"]) uniform[name] = gl.getUniformLocation(program, name);

  function buffer(target, values) {
    const made = gl.createBuffer();
    gl.bindBuffer(target, made);
    gl.bufferData(target, values, gl.STATIC_DRAW);
    return made;
  }
  function part(p) {
    const raw = new Int16Array(bytes(p.places).buffer), places = Float32Array.from(raw, (v) => v / 10000);
    const indices = p.wide ? new Uint32Array(bytes(p.index).buffer) : new Uint16Array(bytes(p.index).buffer);
    const ready = { outside: p.outside, inside: p.inside, thickness: p.thickness, count: indices.length, lines: p.lines, wide: p.wide, tones: {} };
    ready.place = buffer(gl.ARRAY_BUFFER, places);
    ready.index = buffer(gl.ELEMENT_ARRAY_BUFFER, indices);
    if (!p.lines) {
      ready.normal = buffer(gl.ARRAY_BUFFER, new Int8Array(bytes(p.normals).buffer));
      ready.light = buffer(gl.ARRAY_BUFFER, bytes(p.light));
      for (const name in p.tones) ready.tones[name] = buffer(gl.ARRAY_BUFFER, bytes(p.tones[name]));
    }
    return ready;
  }
  const fittings = data.map((f) => f.parts.map(part));

  const state = { fitting: 0, azimuth: 0.6, elevation: 0.2, zoom: 1, centre: [0, 0, 0.88], paint: "" };
  const views = { front: [0, 0], left: [1, 0], back: [2, 0], right: [3, 0], above: [0, 0.999] };

  function feed(name, made, size, kind, normalised, stride = 0, offset = 0) {
    if (at[name] < 0) return;
    if (!made) { gl.disableVertexAttribArray(at[name]); gl.vertexAttrib3f(at[name], 0, 0, 0); return; }
    gl.bindBuffer(gl.ARRAY_BUFFER, made);
    gl.enableVertexAttribArray(at[name]);
    gl.vertexAttribPointer(at[name], size, kind, normalised, stride, offset);
  }
  function draw() {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.max(1, Math.round(canvas.clientWidth * ratio)), height = Math.max(1, Math.round(canvas.clientHeight * ratio));
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    gl.viewport(0, 0, width, height);
    gl.clearColor(249 / 255, 247 / 255, 241 / 255, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    const a = state.azimuth, e = state.elevation, ca = Math.cos(a), sa = Math.sin(a), ce = Math.cos(e), se = Math.sin(e);
    const right = [-ca, -sa, 0], up = [sa * se, -ca * se, ce], toward = [-sa * ce, ca * ce, se];
    gl.uniformMatrix3fv(uniform.turn, false, [right[0], up[0], toward[0], right[1], up[1], toward[1], right[2], up[2], toward[2]]);
    gl.uniform3fv(uniform.centre, state.centre);
    const reach = data[state.fitting].reach / state.zoom, aspect = width / height;
    gl.uniform2f(uniform.scale, aspect > 1 ? 1 / (reach * aspect) : 1 / reach, aspect > 1 ? 1 / reach : aspect / reach);
    const lit = data[state.fitting].lit;
    gl.uniform3fv(uniform.key, toward[2] > lit.from_above ? lit.key_from_above : lit.key);
    gl.uniform3fv(uniform.fill, lit.fill);
    gl.uniform3f(uniform.adds, lit.ambient, lit.key_adds, lit.fill_adds);
    gl.uniform1f(uniform.skyless, lit.skyless);
    for (const p of fittings[state.fitting]) {
      if (p.wide && !wide) continue;
      gl.uniform3fv(uniform.outside, p.outside);
      gl.uniform3fv(uniform.inside, p.inside);
      gl.uniform1f(uniform.line, p.lines ? 1 : 0);
      gl.uniform1f(uniform.nearer, p.lines ? 0.0015 : 0);
      gl.uniform1f(uniform.painted, p.tones[state.paint] ? 1 : 0);
      feed("place", p.place, 3, gl.FLOAT, false);
      feed("normal", p.normal, 3, gl.BYTE, true);
      feed("tone", p.tones[state.paint], 4, gl.UNSIGNED_BYTE, true);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, p.index);
      // Both faces of the cloth, each seen only from its own side: edge on, neither shows through the other.
      const faces = p.thickness ? [0, 1] : [0];
      for (const within of faces) {
        feed("light", p.light, 1, gl.UNSIGNED_BYTE, true, faces.length, within);
        gl.uniform1f(uniform.within, within);
        gl.uniform1f(uniform.inset, within * p.thickness);
        if (p.lines) gl.disable(gl.CULL_FACE);
        else { gl.enable(gl.CULL_FACE); gl.cullFace(within ? gl.FRONT : gl.BACK); }
        gl.drawElements(p.lines ? gl.LINES : gl.TRIANGLES, p.count, p.wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT, 0);
      }
    }
  }
  let asked = false;
  function again() {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => { asked = false; draw(); });
  }
  function look(view) {
    const f = data[state.fitting];
    state.zoom = 1;
    state.centre = [0, 0, f.middle];
    if (view === "neck") {
      [state.azimuth, state.elevation, state.zoom, state.centre] = [0, 0.95, f.reach / 0.26, f.neck.slice()];
    } else {
      [state.azimuth, state.elevation] = [views[view][0] * Math.PI / 2, views[view][1] * Math.PI / 2];
    }
    again();
  }
  function tilt(azimuth, elevation) {
    state.azimuth += azimuth;
    state.elevation = Math.max(-0.3, Math.min(1.57, state.elevation + elevation));
    again();
  }
  function zoom(times) { state.zoom = Math.max(0.6, Math.min(14, state.zoom * times)); again(); }

  let held = null;
  canvas.addEventListener("pointerdown", (event) => { held = [event.clientX, event.clientY]; canvas.setPointerCapture(event.pointerId); });
  canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    tilt(-(event.clientX - held[0]) * 0.01, (event.clientY - held[1]) * 0.008);
    held = [event.clientX, event.clientY];
  });
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, () => { held = null; });
  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [0.12, 0], ArrowRight: [-0.12, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[event.key];
    if (step) tilt(step[0], step[1]);
    else if (event.key === "+") zoom(1.2);
    else if (event.key === "-") zoom(1 / 1.2);
    else return;
    event.preventDefault();
  });
  for (const button of document.querySelectorAll("[data-view]")) button.addEventListener("click", () => look(button.dataset.view));
  for (const button of document.querySelectorAll("[data-zoom]")) button.addEventListener("click", () => zoom(Number(button.dataset.zoom)));
  for (const name of ["fitting", "paint"]) {
    const choice = document.getElementById("choose-" + name);
    if (choice) choice.addEventListener("change", () => { state[name] = name === "fitting" ? Number(choice.value) : choice.value; again(); });
  }
  window.addEventListener("resize", again);

  root.classList.add("turns");
  state.centre = [0, 0, data[0].middle];
  draw();
  root.dataset.turn = gl.getError() === gl.NO_ERROR ? "drawn" : "fault";
})();
