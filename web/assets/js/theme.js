// The reader's choice of light or dark, before the page is drawn.
(() => {
  try {
    const t = localStorage.getItem("np-theme");
    if (t === "dark" || t === "light") document.documentElement.dataset.theme = t;
  } catch { /* no storage: the system's choice stands */ }
})();
