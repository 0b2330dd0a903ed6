// A phone the workshop does not know yet types the code that the serving machine shows.
import { html, useState } from "../vendor/ui.js";
import { post } from "../core/api.js";
import { t } from "../core/i18n.js";
import { flush } from "../core/queue.js";
import { Page } from "../parts/frame.js";
import { wordsOf } from "../parts/toast.js";

export function PairPage({ onPaired, code = "" }) {
  const [text, setText] = useState(code);
  const [problem, setProblem] = useState("");
  const send = async (event) => {
    event.preventDefault();
    try {
      await post("/pair", { code: text.trim() });
      flush();
      onPaired();
    } catch (error) {
      setProblem(wordsOf(error));
    }
  };
  return html`<${Page} title=${t("pair.title")}><form class="card stack" onSubmit=${send}>
    <p>${t("pair.where")}</p>
    <label class="field">${t("pair.code")}<input class="code figure" autocomplete="one-time-code" autocapitalize="none" value=${text} onInput=${(e) => setText(e.target.value)} /></label>
    ${problem && html`<p class="mark bad" role="alert">${problem}</p>`}
    <button class="main">${t("pair.do")}</button></form></${Page}>`;
}
