// @ts-check
// Browser: as much of a browser as the modules ask for when they are loaded.

/** The page's root element. */
export const root = { lang: "en", dataset: /** @type {Record<string, string>} */ ({}) };

/** An element that has a size and forgets what it is told. */
export const element = (w = 0, h = 0) => ({
  clientWidth: w, clientHeight: h, addEventListener() {}, setPointerCapture() {}, matches: () => false,
  getBoundingClientRect: () => ({ left: 0, top: 0, right: w, bottom: h, width: w, height: h }),
});

Object.assign(globalThis, {
  document: { documentElement: root, addEventListener() {}, querySelector: () => null },
  ResizeObserver: class { observe() {} },
});
