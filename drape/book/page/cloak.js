// The cloak on the figure, drawn as it is sent: positions from the server, turned under the hand.
import * as THREE from "./three/three.module.js";

const MOVING = 1, RESTING = 2, FIGURE = 3, LAID_OVER = 4;
const still = matchMedia("(prefers-reduced-motion: reduce)");
const PAPER = 0xfffdf6, INK = 0x241f1a, OUTSIDE = 0x44648c, INSIDE = 0xcf9a45, LINEN = 0xe6dcc6, OUTLINE = 0x8c2a1f;

export class Cloak {
  constructor(canvas) {
    this.canvas = canvas;
    this.scene = new THREE.Scene();
    this.scene.background = new THREE.Color(PAPER);
    this.camera = new THREE.PerspectiveCamera(24, 1, 0.1, 30);
    this.camera.up.set(0, 0, 1);
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0xb9a98a, 1.9));
    const sun = new THREE.DirectionalLight(0xffffff, 1.9);
    this.sun = sun;
    this.scene.add(sun, sun.target);
    this.turn = 0.45; this.tilt = 0.08; this.reach = 4.9; this.centre = new THREE.Vector3(0, 0, 0.88);
    this.figure = this.solid(LINEN);
    this.cloth = this.solid(OUTSIDE, INSIDE);
    this.laid = this.solid(OUTLINE);
    this.laid.group.visible = false;
    this.mark = this.pin();
    this.frames = 0;
    try {
      this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
    } catch {
      document.getElementById("plate-words").textContent = "This browser draws no solids (WebGL). The pictures of the entries are below.";
      return;
    }
    this.hold();
    new ResizeObserver(() => this.draw()).observe(canvas);
    this.draw();
  }

  solid(outside, inside) {
    const group = new THREE.Group(), geometry = new THREE.BufferGeometry();
    const isFigure = outside === LINEN; // a hair behind cloth that lies on it
    const front = new THREE.MeshLambertMaterial({ color: outside, side: THREE.FrontSide, polygonOffset: isFigure, polygonOffsetFactor: 2, polygonOffsetUnits: 8 });
    group.add(new THREE.Mesh(geometry, front));
    if (inside !== undefined) { // a little within the outside, so that neither shows through the other
      const back = new THREE.MeshLambertMaterial({ color: inside, side: THREE.BackSide });
      back.onBeforeCompile = (shader) => { shader.vertexShader = shader.vertexShader.replace("#include <begin_vertex>", "vec3 transformed = position - normal * 0.003;"); };
      group.add(new THREE.Mesh(geometry, back));
    }
    const edges = new THREE.BufferGeometry();
    const lines = new THREE.LineSegments(edges, new THREE.LineBasicMaterial({ color: outside === OUTLINE ? OUTLINE : INK }));
    group.add(lines);
    this.scene.add(group);
    return { group, geometry, edges, lines };
  }

  pin() {
    const group = new THREE.Group();
    const ring = new THREE.Mesh(new THREE.TorusGeometry(0.035, 0.005, 8, 40), new THREE.MeshBasicMaterial({ color: OUTLINE, depthTest: false }));
    ring.renderOrder = 9;
    group.add(ring);
    group.visible = false;
    this.scene.add(group);
    return group;
  }

  take(data) {
    const [kind, , points, triangles, lines] = new Uint32Array(data, 0, 5);
    const places = new Float32Array(data, 20, 3 * points);
    const solid = { [MOVING]: this.cloth, [RESTING]: this.cloth, [FIGURE]: this.figure, [LAID_OVER]: this.laid }[kind];
    if (!solid) return;
    if (triangles) {
      const index = new Uint32Array(data, 20 + 12 * points, 3 * triangles);
      const attribute = new THREE.BufferAttribute(places, 3);
      solid.geometry.setAttribute("position", attribute);
      solid.geometry.setIndex(new THREE.BufferAttribute(index, 1));
      solid.edges.setAttribute("position", attribute);
      solid.edges.setIndex(new THREE.BufferAttribute(new Uint32Array(data, 20 + 12 * points + 12 * triangles, 2 * lines), 1));
    } else {
      const attribute = solid.geometry.getAttribute("position");
      if (!attribute || attribute.count !== points) return;
      attribute.array.set(places);
      attribute.needsUpdate = true;
    }
    solid.geometry.computeVertexNormals();
    solid.geometry.computeBoundingSphere();
    solid.edges.boundingSphere = solid.geometry.boundingSphere;
    if (kind === LAID_OVER) this.outlined();
    if (kind === MOVING) { this.mark.visible = false; this.showLaid(false); }
    if (kind === MOVING) this.frames += 1;
    this.canvas.dataset.frames = this.frames;
    this.canvas.dataset.shown = { [MOVING]: "moving", [RESTING]: "rest" }[kind] ?? this.canvas.dataset.shown ?? "";
    this.draw();
  }

  outlined() { // another entry's cloak as an outline: its silhouette from wherever it is seen, and its cut edges
    const { group } = this.laid;
    if (!this.hull) {
      const shell = new THREE.MeshBasicMaterial({ color: OUTLINE, side: THREE.BackSide });
      shell.onBeforeCompile = (shader) => { shader.vertexShader = shader.vertexShader.replace("#include <begin_vertex>", "vec3 transformed = position + normal * 0.004;"); };
      this.hull = new THREE.Mesh(this.laid.geometry, shell);
      const mask = new THREE.MeshBasicMaterial({ colorWrite: false, side: THREE.DoubleSide });
      group.children[0].material = mask; // hides what of the outline lies within the silhouette
      group.children[0].renderOrder = 3;
      this.hull.renderOrder = 4;
      this.laid.lines.renderOrder = 5;
      this.laid.lines.material.depthTest = false;
      group.add(this.hull);
    }
    this.showLaid(true);
  }

  laidOver(isLaid) {
    if (!isLaid) this.showLaid(false);
  }

  showLaid(isShown) {
    this.laid.group.visible = isShown;
    this.canvas.dataset.laid = isShown;
    this.draw();
  }

  // --- turning ------------------------------------------------------------------------------------

  hold() {
    const at = new Map();
    let apart = 0;
    this.canvas.addEventListener("pointerdown", (event) => {
      at.set(event.pointerId, [event.clientX, event.clientY]);
      this.canvas.setPointerCapture(event.pointerId);
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (!at.has(event.pointerId)) return;
      const [x, y] = at.get(event.pointerId);
      at.set(event.pointerId, [event.clientX, event.clientY]);
      if (at.size === 1) {
        this.turn -= (event.clientX - x) * 0.008;
        this.tilt = Math.min(1.2, Math.max(-0.5, this.tilt + (event.clientY - y) * 0.006));
      } else {
        const [[ax, ay], [bx, by]] = [...at.values()];
        const now = Math.hypot(ax - bx, ay - by);
        if (apart) this.nearer(apart / now);
        apart = now;
      }
      this.draw();
    });
    const gone = (event) => { at.delete(event.pointerId); apart = 0; };
    this.canvas.addEventListener("pointerup", gone);
    this.canvas.addEventListener("pointercancel", gone);
    this.canvas.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      this.nearer(1 + event.deltaY * 0.001);
      this.draw();
    }, { passive: false });
    this.canvas.addEventListener("keydown", (event) => {
      const by = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, 0.08], ArrowDown: [0, -0.08] }[event.key];
      if (by) { this.turn += by[0]; this.tilt = Math.min(1.2, Math.max(-0.5, this.tilt + by[1])); }
      else if (event.key === "+" || event.key === "=") this.nearer(0.9);
      else if (event.key === "-") this.nearer(1.1);
      else return;
      event.preventDefault();
      this.draw();
    });
  }

  nearer(by) { this.reach = Math.min(7, Math.max(0.8, this.reach * by)); }

  turnTo(degrees) { this.glide({ turn: degrees * Math.PI / 180, tilt: 0.04, reach: 4.9, centre: new THREE.Vector3(0, 0, 0.88) }); }

  near() { this.glide({ turn: this.turn, tilt: 0.35, reach: 1.6, centre: new THREE.Vector3(0, 0, 1.48) }); }

  goTo(place, number) {
    const [x, y, z] = place;
    this.mark.position.set(x, y, z);
    this.mark.visible = true;
    this.canvas.setAttribute("aria-description", `Turned to fault ${number}, which is ringed.`);
    this.glide({ turn: Math.atan2(-x, y), tilt: z > 1.2 ? 0.35 : 0.05, reach: 1.9, centre: new THREE.Vector3(x * 0.5, y * 0.5, z) });
  }

  glide(to) {
    const from = { turn: this.turn, tilt: this.tilt, reach: this.reach, centre: this.centre.clone() };
    const way = Math.atan2(Math.sin(to.turn - from.turn), Math.cos(to.turn - from.turn));
    const began = performance.now(), seconds = still.matches ? 0 : 0.6;
    const step = (now) => {
      const t = seconds ? Math.min(1, (now - began) / 1000 / seconds) : 1, s = t * t * (3 - 2 * t);
      this.turn = from.turn + s * way;
      this.tilt = from.tilt + s * (to.tilt - from.tilt);
      this.reach = from.reach + s * (to.reach - from.reach);
      this.centre.lerpVectors(from.centre, to.centre, s);
      this.draw();
      if (t < 1) requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  look(camera) {
    const flat = Math.cos(this.tilt) * this.reach;
    camera.position.set(this.centre.x - Math.sin(this.turn) * flat, this.centre.y + Math.cos(this.turn) * flat, this.centre.z + Math.sin(this.tilt) * this.reach);
    camera.lookAt(this.centre);
    this.sun.position.copy(camera.position).add(new THREE.Vector3(Math.cos(this.turn) * 2.5, Math.sin(this.turn) * 2.5, 2.5));
    this.sun.target.position.copy(this.centre);
    this.mark.quaternion.copy(camera.quaternion);
  }

  // The same view onto another canvas, so that two heights [m] fall on two lines of it [pixels].
  still(pen, canvas, lines, heights) {
    const perMetre = (lines[1] - lines[0]) / (heights[0] - heights[1]);
    if (!this.renderer || !Number.isFinite(perMetre) || Math.abs(perMetre) < 1) return;
    const wide = canvas.clientWidth, high = canvas.clientHeight;
    const camera = new THREE.OrthographicCamera(-wide / 2 / perMetre, wide / 2 / perMetre, high / 2 / perMetre, -high / 2 / perMetre, 0.1, 30);
    camera.up.set(0, 0, 1);
    const centre = heights[0] - (high / 2 - lines[0]) / perMetre;
    camera.position.set(-Math.sin(this.turn) * 6, Math.cos(this.turn) * 6, centre);
    camera.lookAt(0, 0, centre);
    this.renderer.setSize(wide, high, false);
    this.renderer.render(this.scene, camera);
    pen.drawImage(this.renderer.domElement, 0, 0, wide, high);
    this.draw();
  }

  draw() {
    if (this.due || !this.renderer) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      const { clientWidth: wide, clientHeight: high } = this.canvas;
      if (!wide || !high) return;
      this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
      this.renderer.setSize(wide, high, false);
      this.camera.aspect = wide / high;
      this.camera.fov = Math.max(23, (360 / Math.PI) * Math.atan((0.66 * high) / (4.9 * wide))); // the cloak's width stays in
      this.camera.updateProjectionMatrix();
      this.look(this.camera);
      this.renderer.render(this.scene, this.camera);
    });
  }
}
