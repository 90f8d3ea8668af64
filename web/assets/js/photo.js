// @ts-check
// Photographs of a kind that the shop does not read, as phones make them (HEIC), are sent as
// JPEG where this browser reads them. Where it does not they are sent as they are, and the
// shop says what to do.

const foreign = /\.(heic|heif|avif|tiff?|gif|bmp)$/i;
const longest = 1640; // px: the shop keeps half of that
/** @type {Promise<void> | undefined} */ let under;

/** A photograph as JPEG, upright and without what the camera wrote beside it; else the file. @param {File} file */
async function asJPEG(file) {
  try {
    const img = await createImageBitmap(file), k = Math.min(1, longest / Math.max(img.width, img.height));
    const paper = document.createElement("canvas"), by = paper.getContext("2d");
    paper.width = Math.max(1, Math.round(k * img.width));
    paper.height = Math.max(1, Math.round(k * img.height));
    if (!by) return file;
    by.fillStyle = "#fff"; // under what can be seen through
    by.fillRect(0, 0, paper.width, paper.height);
    by.drawImage(img, 0, 0, paper.width, paper.height);
    img.close();
    const b = await new Promise((/** @type {BlobCallback} */ done) => paper.toBlob(done, "image/jpeg", 0.9));
    return b ? new File([b], file.name.replace(foreign, ".jpg"), { type: b.type, lastModified: file.lastModified }) : file;
  } catch { return file; }
}

/** @param {HTMLInputElement} el */
async function turn(el) {
  const chosen = [...el.files || []], list = new DataTransfer();
  for (const f of chosen) {
    const as = foreign.test(f.name) ? await asJPEG(f) : f;
    list.items.add(chosen.some((o) => o !== f && o.name === as.name) ? f : as); // no two of one name
  }
  if (el.files?.length === chosen.length && chosen.every((f, i) => el.files?.[i] === f)) el.files = list.files; // no others were chosen meanwhile
}

document.addEventListener("change", (e) => {
  const el = e.target;
  if (!(el instanceof HTMLInputElement) || el.type !== "file" || ![...el.files || []].some((f) => foreign.test(f.name))) return;
  const mine = under = turn(el).finally(() => { if (under === mine) under = undefined; });
});
document.addEventListener("submit", (e) => {
  if (!under || e.defaultPrevented) return;
  const form = /** @type {HTMLFormElement} */ (e.target), by = /** @type {SubmitEvent} */ (e).submitter;
  e.preventDefault();
  e.stopImmediatePropagation(); // it is not sent yet
  under.then(() => form.requestSubmit(by));
}, true);
