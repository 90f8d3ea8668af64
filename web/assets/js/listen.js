// @ts-check
// Listening to a run: sound from the microphone or a file goes to the shop in
// pieces, which says how it sounds and where the machine is believed to be.

import { load, stitchesOf } from "./geometry.js";
import { Drawing } from "./drawing.js";
import { Pieces, mostGap, shorts } from "./sound.js";
import { clock, perMinute, say } from "./words.js";

const box = document.querySelector("[data-listen]");
if (box instanceof HTMLElement) listen(box);

/** @param {HTMLElement} box */
function listen(box) {
  const find = (/** @type {string} */ s) => /** @type {HTMLElement} */ (box.querySelector(s));
  const rate = Number(box.dataset.rate), press = /** @type {HTMLButtonElement} */ (find("[data-record]"));
  const file = /** @type {HTMLInputElement} */ (find("[data-file]")), advice = find("[data-advice]");
  let pieces = new Pieces(), id = "", next = 0, wait = 500, sending = false, over = false;
  /** @type {(() => void) | null} */ let stop = null;
  /** @type {Drawing | undefined} */ let drawing;
  /** @type {import("./geometry.js").Geometry | undefined} */ let g;
  /** @type {number[]} */ let jumps = [];

  const can = isSecureContext && !!navigator.mediaDevices?.getUserMedia && "audioWorklet" in AudioContext.prototype;
  find("[data-nomic]").hidden = can;
  press.hidden = !can;

  /** What a page that was loaded anew needs to go on with a recording. */
  const key = `np-recording ${box.dataset.design} ${box.dataset.machine}`;
  /** @type {{id: string, since: number} | null} */ let left = null;
  const keep = () => { if (pieces.since !== undefined) sessionStorage.setItem(key, JSON.stringify({ id, since: pieces.since })); };
  (async () => {
    const was = sessionStorage.getItem(key);
    if (!was) return;
    const at = JSON.parse(was), r = await fetch(`/api/v1/recordings/${at.id}`);
    const s = r.ok ? await r.json() : null;
    if (!s || s.ended || !s.next) { sessionStorage.removeItem(key); return; }
    if (id || Date.now() / 1000 > at.since + s.seconds + mostGap) return;
    left = at;
    advice.textContent = say("hearing.left", { time: clock(s.seconds) });
    hearable(at.id);
  })().catch(told);

  async function begin() {
    const s = left && await (await fetch(`/api/v1/recordings/${left.id}`)).json();
    if (left && s.next && !s.ended) { // it goes on: what was not heard meanwhile is silence
      id = left.id; next = s.next; over = false; pieces = new Pieces(next, left.since, rate);
    } else await anew();
    left = null;
    find("[data-hear]").hidden = true;
    find("[data-live]").hidden = false;
    if (drawing) return;
    drawing = new Drawing(find(".cloth"));
    const about = { seconds: Number(box.dataset.seconds), low: Number(box.dataset.low), high: Number(box.dataset.high) };
    jumps = (box.dataset.jumps || "").split(" ").filter(Boolean).map(Number);
    load(box.dataset.url || "", about, (all) => { g = all; drawing?.set(all); drawing?.at(0); }).catch((err) => { advice.textContent = String(err.message || err); });
  }

  async function anew() {
    const body = JSON.stringify({ design: box.dataset.design, machine: box.dataset.machine, speed: Number(box.dataset.speed) || undefined, job: box.dataset.job || undefined });
    const r = await fetch("/api/v1/recordings", { method: "POST", headers: { "Content-Type": "application/json" }, body });
    if (!r.ok) throw new Error((await r.json()).error?.text || String(r.status));
    id = (await r.json()).id; next = 0; over = false; pieces = new Pieces();
  }

  press.addEventListener("click", async () => {
    if (stop) { stop(); return; }
    press.disabled = true;
    try {
      const from = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } })
        .catch(() => { throw new Error(say("hearing.denied")); });
      await begin();
      const context = new AudioContext();
      await context.audioWorklet.addModule("/assets/js/microphone.js");
      const node = new AudioWorkletNode(context, "np-microphone", { numberOfOutputs: 0, processorOptions: { rate } });
      node.port.onmessage = (e) => { pieces.hear(e.data, rate); keep(); send(); };
      context.createMediaStreamSource(from).connect(node);
      /** @type {WakeLockSentinel | null | undefined} */ let lock;
      const awake = async () => { // a page that is seen again: what was taken from it while it was not is asked for anew
        if (document.hidden) return;
        if (context.state !== "running") context.resume().catch(() => {});
        if (!lock || lock.released) lock = await navigator.wakeLock?.request("screen").catch(() => null);
      };
      await awake();
      document.addEventListener("visibilitychange", awake);
      addEventListener("beforeunload", stays);
      stop = () => {
        stop = null;
        document.removeEventListener("visibilitychange", awake);
        for (const t of from.getTracks()) t.stop();
        context.close(); lock?.release(); ended();
      };
      for (const t of from.getTracks()) t.onended = () => stop?.(); // another program took the microphone
      find("[data-does]").textContent = say("hearing.stop");
      find("[data-hint]").textContent = say("hearing.hint-stop");
      press.dataset.next = "restart";
      file.disabled = true;
    } catch (err) { told(err); }
    press.disabled = false;
  });

  file.addEventListener("change", async () => {
    const chosen = file.files?.[0];
    if (!chosen) return;
    file.disabled = press.disabled = true;
    advice.textContent = say("hearing.reading");
    try {
      const bytes = await chosen.arrayBuffer();
      // A context of the wanted rate brings what it decodes to it.
      const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes).catch(() => { throw new Error(say("hearing.not-sound")); });
      left = null; // a file is the whole run
      await begin();
      const mixed = new Float32Array(sound.length);
      for (let c = 0; c < sound.numberOfChannels; c++) {
        const one = sound.getChannelData(c);
        for (let i = 0; i < mixed.length; i++) mixed[i] += one[i] / sound.numberOfChannels;
      }
      pieces.add(shorts(mixed));
      ended();
    } catch (err) { told(err); file.disabled = press.disabled = false; file.value = ""; }
  });

  /** Asks before what the shop does not have yet is thrown away. @param {Event} e */
  function stays(e) { if (stop || pieces.taken > next) e.preventDefault(); }

  /** @param {unknown} err */
  function told(err) { advice.textContent = err instanceof Error ? err.message : String(err); }

  function ended() {
    over = true;
    press.disabled = file.disabled = true;
    find("[data-does]").textContent = say("hearing.ended");
    find("[data-hint]").textContent = "";
    const save = find("[data-save]");
    save.hidden = false;
    send();
  }
  find("[data-save]").addEventListener("click", () => {
    const a = document.createElement("a");
    a.href = URL.createObjectURL(pieces.wav(rate));
    a.download = "recording.wav";
    a.click();
    setTimeout(() => URL.revokeObjectURL(a.href), 10000);
  });

  async function send() {
    if (sending) return;
    sending = true;
    for (;;) {
      const piece = pieces.from(next, rate * 20);
      if (!piece) break;
      try {
        const r = await fetch(`/api/v1/recordings/${id}/sound?from=${next}`, { method: "PUT", headers: { "Content-Type": "application/octet-stream" }, body: /** @type {BodyInit} */ (piece.buffer) });
        if (r.status === 409) { // the shop has more or less than was thought
          const s = await (await fetch(`/api/v1/recordings/${id}`)).json();
          if (!s.ended && s.next !== next && s.next <= pieces.taken) { next = s.next; continue; }
        }
        if (!r.ok && r.status < 500 && r.status !== 429) { // it is not taken: said, and what was recorded can still be kept
          advice.textContent = (await r.json()).error?.text || String(r.status); find("[data-save]").hidden = false; stop?.(); sending = false; return;
        }
        if (!r.ok) throw new Error(String(r.status));
        const s = await r.json();
        next = s.next; wait = 500;
        show(s);
      } catch { advice.textContent = say("hearing.lost"); await new Promise((done) => setTimeout(done, wait)); wait = Math.min(wait * 2, 15000); }
    }
    sending = false;
    if (over) {
      sessionStorage.removeItem(key);
      hearable(id);
      /** @type {HTMLButtonElement} */ (find("[data-hear] button")).focus();
    }
  }

  /** @param {string} id */
  function hearable(id) {
    const form = /** @type {HTMLFormElement} */ (find("[data-hear]"));
    form.action = `/recordings/${id}/hear`;
    form.hidden = false;
  }

  /** @param {import("./sound.js").Heard} s */
  function show(s) {
    find("[data-elapsed]").textContent = clock(s.seconds);
    advice.textContent = pieces.missing >= 1 ? `${s.advice} ${say("hearing.missing", { time: clock(pieces.missing) })}` : s.advice;
    box.dataset.signal = s.signal;
    find("[data-level]").style.width = `${Math.max(0, Math.min(100, (s.level + 64) / 0.64))}%`;
    const of = s.stitches;
    find("[data-where]").textContent = s.stitch < 1 ? say("hearing.before") : s.sewing ? say("hearing.where", { n: s.stitch, of, speed: perMinute(s.speed) }) : say("hearing.at-rest", { n: s.stitch, of });
    /** @type {HTMLElement} */ (find("[data-strip]").firstElementChild).style.width = `${100 * s.stitch / Math.max(of, 1)}%`;
    if (!g || !drawing) return;
    let lo = 0, hi = g.n; // the revolution that sews it
    while (lo < hi) { const m = (lo + hi) >> 1; if (stitchesOf(jumps, m + 1) >= s.stitch) hi = m; else lo = m + 1; }
    drawing.at(s.stitch < 1 ? 0 : g.start[Math.min(lo, g.n - 1)] + 1e-4);
  }
}
