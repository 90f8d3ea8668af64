// @ts-check
// Stitches by WebGL2: one instanced draw call, four corners a stitch, the
// speed looked up in the colour scale on the way.

import { cividis } from "./cividis.js";

const vertex = `#version 300 es
precision highp float;
in ivec4 seg; in float speed; in int layer;
uniform vec2 centre, size; uniform float k, thread, low, high; uniform int only; uniform float pale;
out vec2 at; out float len, half_; out float level, alpha;
void main() {
  vec2 a = (vec2(seg.xy) - centre) * k, b = (vec2(seg.zw) - centre) * k;
  vec2 d = b - a; float l = length(d); vec2 u = l > 1e-4 ? d / l : vec2(1.0, 0.0), v = vec2(-u.y, u.x);
  float w = max(thread * k * 0.5, 0.55), r = w + 0.75;
  bool far = (gl_VertexID & 1) == 1, up = gl_VertexID > 1;
  at = vec2(far ? l + r : -r, up ? r : -r);
  len = l; half_ = w;
  level = clamp((speed - low) / max(high - low, 1.0), 0.0, 1.0);
  alpha = pale * (only >= 0 && layer != only ? 0.14 : 1.0) * min(1.0, max(thread * k, 0.35) / 1.1 + 0.25);
  gl_Position = vec4((a + u * at.x + v * at.y) * 2.0 / size, 0.0, 1.0);
}`;
const fragment = `#version 300 es
precision highp float;
in vec2 at; in float len, half_; in float level, alpha;
uniform sampler2D scale; uniform vec4 ink;
out vec4 colour;
void main() {
  float d = length(vec2(at.x - clamp(at.x, 0.0, len), at.y));
  float edge = clamp(half_ + 0.5 - d, 0.0, 1.0);
  if (edge <= 0.0) discard;
  vec3 c = mix(texture(scale, vec2((level * 255.0 + 0.5) / 256.0, 0.5)).rgb, ink.rgb, ink.a);
  float round_ = half_ > 1.5 ? sqrt(max(0.0, 1.0 - d * d / (half_ * half_ + 0.01))) : 1.0;
  colour = vec4(c * (0.62 + 0.38 * round_), 1.0) * edge * alpha;
}`;

export class GLStitches {
  /** @param {HTMLCanvasElement} canvas */
  constructor(canvas) {
    const gl = canvas.getContext("webgl2", { alpha: true, antialias: false, preserveDrawingBuffer: true, powerPreference: "high-performance" });
    if (!gl) throw new Error("no WebGL2");
    this.canvas = canvas; this.gl = gl; this.n = 0;
    /** @type {number[][] | null} what it colours by now */ this.kinds = null;
    const p = gl.createProgram();
    for (const [type, source] of /** @type {[number, string][]} */ ([[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]])) {
      const s = /** @type {WebGLShader} */ (gl.createShader(type));
      gl.shaderSource(s, source); gl.compileShader(s);
      if (!gl.getShaderParameter(s, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(s) || "shader");
      gl.attachShader(p, s);
    }
    gl.bindAttribLocation(p, 0, "seg"); gl.bindAttribLocation(p, 1, "speed"); gl.bindAttribLocation(p, 2, "layer");
    gl.linkProgram(p);
    if (!gl.getProgramParameter(p, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(p) || "link");
    gl.useProgram(p);
    /** @type {Record<string, WebGLUniformLocation | null>} */ this.u = {};
    for (const name of ["centre", "size", "k", "thread", "low", "high", "only", "pale", "ink"]) this.u[name] = gl.getUniformLocation(p, name);
    this.buffers = [0, 1, 2].map(() => gl.createBuffer());
    for (let i = 0; i < 3; i++) { gl.enableVertexAttribArray(i); gl.vertexAttribDivisor(i, 1); }
    gl.enable(gl.BLEND); gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
    this.#scale(cividis);
    for (const f of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, f, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  }
  /** @param {Uint8Array} rgb 256 colours */
  #scale(rgb) { const gl = this.gl; gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB8, 256, 1, 0, gl.RGB, gl.UNSIGNED_BYTE, rgb); }
  /** Colours by kind of stitches, or by speed. @param {number[][] | null} kinds */
  #by(kinds) {
    const gl = this.gl, g = this.g;
    if (!g || this.kinds === kinds) return;
    this.kinds = kinds;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[1]);
    gl.bufferData(gl.ARRAY_BUFFER, kinds ? Float32Array.from(g.kind) : g.speed, gl.STATIC_DRAW);
    this.#scale(kinds ? Uint8Array.from({ length: 768 }, (_, i) => (kinds[Math.floor(i / 3)] || [0, 0, 0])[i % 3]) : cividis);
  }
  /** @param {import("./geometry.js").Geometry} g */
  set(g) {
    const gl = this.gl;
    if (this.kinds) this.#scale(cividis);
    this.kinds = null; // until the next drawing
    [g.xy, g.speed, g.layer].forEach((data, i) => { gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[i]); gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW); });
    this.g = g; this.n = g.n;
  }
  /** @param {number} i first stitch */
  #from(i) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[0]); gl.vertexAttribIPointer(0, 4, gl.INT, 0, 16 * i);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[1]); gl.vertexAttribPointer(1, 1, gl.FLOAT, false, 0, 4 * i);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[2]); gl.vertexAttribIPointer(2, 1, gl.INT, 0, 4 * i);
  }
  /** Milliseconds to draw a thousand stitches: a card takes next to none, a
   * processor that computes WebGL2 some twenty. @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s */
  pace(v, s) {
    const gl = this.gl, all = this.n, pixel = new Uint8Array(4);
    const timed = (/** @type {number} */ n) => {
      const began = performance.now();
      this.n = Math.min(n, all);
      this.draw(v, { ...s, sewn: this.n, from: 0, to: 0 });
      gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel); // waits until it is drawn
      return performance.now() - began;
    };
    timed(1); // the shaders are made ready
    const ms = timed(2000) / 2;
    this.n = all;
    return ms;
  }
  /** @param {import("./view.js").View} v @param {import("./drawing.js").Shown} s */
  draw(v, s, _now = false) {
    const gl = this.gl, dpr = s.dpr, u = this.u;
    const w = Math.round(v.w * dpr), h = Math.round(v.h * dpr);
    if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; }
    gl.viewport(0, 0, w, h);
    gl.clearColor(s.cloth[0], s.cloth[1], s.cloth[2], 1); gl.clear(gl.COLOR_BUFFER_BIT);
    if (!this.g || this.n === 0) return;
    gl.uniform2f(u.centre, v.x, v.y); gl.uniform2f(u.size, w, h); gl.uniform1f(u.k, v.k * dpr);
    gl.uniform1f(u.thread, s.thread); this.#by(s.kinds);
    gl.uniform1f(u.low, s.kinds ? 0 : this.g.low); gl.uniform1f(u.high, s.kinds ? 255 : this.g.high);
    gl.uniform1i(u.only, s.only); gl.uniform4f(u.ink, 0, 0, 0, 0);
    const pass = (/** @type {number} */ from, /** @type {number} */ n, /** @type {number} */ pale) => { if (n <= 0) return; this.#from(from); gl.uniform1f(u.pale, pale); gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, n); };
    const paleAll = s.to > s.from ? 0.3 : 1;
    if (s.sewn < this.n || s.past > s.first) pass(0, this.n, 0.13);
    if (s.past > s.first) pass(s.first, Math.min(s.sewn, s.past) - s.first, paleAll); else pass(0, s.sewn, paleAll);
    if (s.to > s.from) { gl.uniform4f(u.ink, s.mark[0], s.mark[1], s.mark[2], 1); gl.uniform1i(u.only, -1); pass(s.from, s.to - s.from, 1); }
  }
}
