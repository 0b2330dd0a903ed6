// Pages live behind the #, so a reload without network needs nothing from the server.
import { signal } from "../vendor/ui.js";

function here() {
  const [path, query = ""] = location.hash.replace(/^#/, "").split("?");
  const parts = path.split("/").filter(Boolean).map(decodeURIComponent);
  return { parts, query: Object.fromEntries(new URLSearchParams(query)) };
}

export const route = signal(here());

addEventListener("hashchange", () => {
  const before = route.value.parts;
  route.value = here();
  // a new page starts at its top; a new tab of the same job stays where the eyes are
  if (before[0] !== route.value.parts[0] || before[1] !== route.value.parts[1]) scrollTo(0, 0);
});

export const link = (...parts) => `#/${parts.map(encodeURIComponent).join("/")}`;
export const go = (...parts) => { location.hash = link(...parts); };
export const replace = (...parts) => {
  history.replaceState(null, "", link(...parts));
  route.value = here();
};
