// A sheet over the page, made of the browser's own dialog: it traps the keyboard and Escape closes it.
import { html, useEffect, useRef } from "../vendor/ui.js";
import { t } from "../core/i18n.js";
import { Icon } from "./icons.js";

let count = 0;

export function Sheet({ title, onClose, children, id }) {
  const sheet = useRef();
  const label = useRef(`sheet-${++count}`);
  useEffect(() => {
    const node = sheet.current;
    if (!node.open) node.showModal();
    return () => node.open && node.close();
  }, []);
  return html`<dialog ref=${sheet} id=${id} aria-labelledby=${label.current}
      onCancel=${(event) => { event.preventDefault(); onClose(); }}
      onClick=${(event) => event.target === sheet.current && onClose()}>
    <div class="inside stack">
      <div class="row apart"><h2 id=${label.current} class="grow">${title}</h2>
        <button class="plain" onClick=${onClose} aria-label=${t("do.close")}><${Icon} name="bad" /></button></div>
      ${children}
    </div>
  </dialog>`;
}
