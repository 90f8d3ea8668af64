// @ts-check
// Upload: files and folders dropped anywhere or chosen, sent some at a time,
// with progress and a stop.

import { refresh } from "./morph.js";
import { count, say } from "./words.js";

/** @typedef {{file: string, design?: {id: string, name: string}, new: boolean, same: string[], error?: string}} Added */

const form = /** @type {HTMLFormElement|null} */ (document.querySelector("[data-upload]"));
const kinds = form?.dataset.upload?.split(", ") ?? []; // extensions of stitch files and of containers
/** @type {AbortController|undefined} */ let going;

document.addEventListener("dragover", (e) => { if (e.dataTransfer?.types.includes("Files")) { e.preventDefault(); document.body.classList.add("dropping"); } });
document.addEventListener("dragleave", (e) => { if (!e.relatedTarget) document.body.classList.remove("dropping"); });
document.addEventListener("drop", async (e) => {
  document.body.classList.remove("dropping");
  if (!e.dataTransfer || !e.dataTransfer.types.includes("Files")) return;
  e.preventDefault();
  const entries = [...e.dataTransfer.items].map((i) => i.webkitGetAsEntry?.()).filter((x) => x !== null && x !== undefined);
  const files = entries.length ? (await Promise.all(entries.map(walk))).flat() : [...e.dataTransfer.files];
  send(files, entries.some((x) => x.isDirectory));
});
document.addEventListener("change", (e) => {
  const el = e.target;
  if (el instanceof HTMLInputElement && el.type === "file" && el.form === form && el.files) { send([...el.files], el.hasAttribute("webkitdirectory")); el.value = ""; }
});

/** All files of a folder. @param {FileSystemEntry} entry @returns {Promise<File[]>} */
async function walk(entry) {
  if (entry.isFile) return new Promise((done) => /** @type {FileSystemFileEntry} */ (entry).file((f) => done([f]), () => done([])));
  const reader = /** @type {FileSystemDirectoryEntry} */ (entry).createReader();
  /** @type {File[]} */ const out = [];
  for (;;) {
    const some = await new Promise((/** @type {(e: FileSystemEntry[]) => void} */ done) => reader.readEntries(done, () => done([])));
    if (some.length === 0) return out;
    for (const e of some) out.push(...await walk(e));
  }
}

/** @param {File[]} files @param {boolean} folder other files in it are passed over */
async function send(files, folder) {
  if (!form || going) return;
  if (folder) files = files.filter((f) => kinds.some((k) => f.name.toLowerCase().endsWith(k)));
  const progress = /** @type {HTMLElement} */ (form.querySelector("[data-progress]")), bar = /** @type {HTMLProgressElement} */ (progress.querySelector("progress"));
  const says = /** @type {HTMLElement} */ (progress.querySelector("[data-count]")), result = /** @type {HTMLElement} */ (form.querySelector("[data-result]"));
  result.hidden = true;
  /** @type {Added[]} */ const added = [];
  let broken = "";
  const mine = going = new AbortController();
  /** @type {HTMLElement} */ (progress.querySelector("[data-cancel]")).onclick = () => mine.abort();
  progress.hidden = files.length === 0;
  try {
    await begin(mine.signal);
    for (let i = 0; i < files.length;) {
      const body = new FormData();
      let bytes = 0, n = 0;
      for (; i + n < files.length && n < 25 && (n === 0 || bytes + files[i + n].size < 8 << 20); n++) { body.append("file", files[i + n], files[i + n].name); bytes += files[i + n].size; }
      says.textContent = say("upload.sent", { n: i, of: count(files.length, "file") });
      bar.value = files.length ? i / files.length : 0;
      const r = await fetch(form.action, { method: "POST", body, signal: mine.signal });
      const answer = await r.json();
      if (answer.added) added.push(...answer.added);
      else throw new Error(answer.error?.text || say("upload.answered", { status: String(r.status) }));
      i += n;
    }
  } catch (err) { broken = mine.signal.aborted ? say("upload.stopped") : say("upload.broke-off", { why: String(err instanceof Error ? err.message : err) }); }
  going = undefined;
  progress.hidden = true;
  const fresh = added.filter((a) => a.design && a.new), known = added.filter((a) => a.design && !a.new), bad = added.filter((a) => !a.design);
  if (added.length === 1 && fresh.length === 1 && !broken) { location.href = `/designs/${fresh[0].design?.id}`; return; }
  if (fresh.length && location.pathname === "/") { location.href = "/designs"; return; }
  if (fresh.length) await refresh(location.pathname + location.search);
  tellAll(/** @type {HTMLElement} */ (form.querySelector("[data-result]")) || result, fresh, known, bad, broken, files.length);
}

// On the first page the questions above the files are answered with them.
let begun = false;
/** @param {AbortSignal} signal */
async function begin(signal) {
  const first = document.querySelector("form[data-begin]");
  if (!(first instanceof HTMLFormElement) || begun) return;
  if (!first.reportValidity()) throw new Error(say("upload.first"));
  const r = await fetch(first.action, { method: "POST", body: new URLSearchParams([...new FormData(first)].map(([k, v]) => [k, String(v)])), signal });
  if (!r.ok) {
    const page = new DOMParser().parseFromString(await r.text(), "text/html");
    throw new Error([...page.querySelectorAll("main [role=alert]")].map((e) => (e.textContent || "").trim()).filter(Boolean).join(" ") || say("upload.answered", { status: String(r.status) }));
  }
  begun = true;
}

/** @param {HTMLElement} box @param {Added[]} fresh @param {Added[]} known @param {Added[]} bad @param {string} broken @param {number} sent */
function tellAll(box, fresh, known, bad, broken, sent) {
  box.replaceChildren();
  box.className = `told${bad.length || broken ? " bad" : ""}`;
  box.setAttribute("role", "status");
  const line = (/** @type {string} */ text) => { const p = document.createElement("p"); p.textContent = text; box.append(p); return p; };
  if (sent === 0) line(say("upload.none"));
  if (fresh.length) line(say("upload.added", { designs: count(fresh.length, "design") }));
  for (const a of known.slice(0, 5)) {
    const p = line(`${say("upload.known", { file: a.file })} `), link = document.createElement("a");
    link.href = `/designs/${a.design?.id}`; link.textContent = a.design?.name || say("upload.the-design"); p.append(link);
  }
  if (known.length > 5) line(say("upload.more-known", { n: known.length - 5 }));
  for (const a of bad.slice(0, 8)) line(`${a.file}: ${a.error}`);
  if (bad.length > 8) line(say("upload.more-bad", { n: bad.length - 8 }));
  if (broken) line(broken);
  box.hidden = false;
}
