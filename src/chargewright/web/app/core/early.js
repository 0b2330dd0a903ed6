// Runs before the first paint, so that a dark or sunlight page never flashes in the other colours.
(function () {
  try {
    const kept = JSON.parse(localStorage.getItem("cw.settings") || "{}");
    document.documentElement.dataset.theme = kept.theme || "auto";
    document.documentElement.lang = kept.language || "en";
  } catch {
    document.documentElement.dataset.theme = "auto";
  }
})();
