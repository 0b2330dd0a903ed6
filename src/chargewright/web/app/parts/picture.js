// A slot for a picture the service draws. It is put into the page itself, so that it follows the
// theme; a picture seen once is kept, and what cannot be had says so in words.
import { html, useEffect, useRef, useState } from "../vendor/ui.js";
import { url } from "../core/api.js";
import { t } from "../core/i18n.js";

const seen = new Map(); // path -> text of the picture
const MOST = 60;

export async function fetchPicture(path) {
  let answer;
  try {
    answer = await fetch(url(path), { headers: { Accept: "image/svg+xml" } });
  } catch {
    return seen.get(path) ?? ""; // no network: as it was seen last
  }
  if (!answer.ok) return "";
  const text = await answer.text();
  if (seen.size > MOST) seen.delete(seen.keys().next().value);
  seen.set(path, text);
  return text;
}

/** Return the picture's element without anything that could run or load. */
function cleaned(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (root.nodeName !== "svg") return null;
  for (const node of root.querySelectorAll("script,foreignObject,image,use,a,style")) node.remove();
  for (const node of [root, ...root.querySelectorAll("*")]) {
    for (const { name } of [...node.attributes]) if (name.startsWith("on") || name === "style") node.removeAttribute(name);
  }
  return root;
}

export function Picture({ path, alt, missing }) {
  const box = useRef();
  const [state, setState] = useState("waits");
  useEffect(() => {
    let wanted = true;
    fetchPicture(path).catch(() => "").then((text) => {
      if (!wanted || !box.current) return;
      const picture = text && cleaned(text);
      if (picture) {
        picture.removeAttribute("height");
        if (alt) picture.setAttribute("aria-label", alt);
        box.current.replaceChildren(document.importNode(picture, true));
      }
      setState(picture ? "here" : "none");
    });
    return () => { wanted = false; };
  }, [path]);
  return html`<div>
    <div class="picture" ref=${box} hidden=${state !== "here"}></div>
    ${state === "waits" && html`<div class="picture waits" aria-hidden="true"></div>`}
    ${state === "none" && (missing ?? html`<p class="small soft">${t("picture.none")}</p>`)}
  </div>`;
}

