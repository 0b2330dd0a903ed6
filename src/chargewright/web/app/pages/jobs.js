// The workshop's jobs, the last touched first, with a search that looks while one types.
import { html, useEffect, useState } from "../vendor/ui.js";
import { Unreachable, get } from "../core/api.js";
import { classes, items } from "../core/known.js";
import { t, word } from "../core/i18n.js";
import { keep, kept } from "../core/keep.js";
import { ofJob, reached } from "../core/queue.js";
import { link } from "../core/router.js";
import { when } from "../core/units.js";
import { Page, Waits } from "../parts/frame.js";
import { Icon } from "../parts/icons.js";
import { complain } from "../parts/toast.js";

export function JobsPage() {
  const [jobs, setJobs] = useState(null);
  const [text, setText] = useState("");
  const load = async () => {
    try {
      const found = items(await get(`/jobs?limit=60&search=${encodeURIComponent(text)}`));
      reached.value = true;
      setJobs(found);
      if (!text) keep("jobs", found);
    } catch (error) {
      if (error instanceof Unreachable) reached.value = false;
      else complain(error);
      setJobs((await kept("jobs", [])).filter((one) => JSON.stringify(one).toLowerCase().includes(text.toLowerCase())));
    }
  };
  useEffect(() => {
    const pause = setTimeout(load, text ? 200 : 0);
    return () => clearTimeout(pause);
  }, [text]);
  useEffect(() => {
    const source = new EventSource("/api/v1/events");
    let pause;
    const soon = () => { clearTimeout(pause); pause = setTimeout(load, 400); };
    source.addEventListener("job", soon);
    source.addEventListener("removed", soon);
    return () => { clearTimeout(pause); source.close(); };
  }, [text]);
  return html`<${Page} title=${t("jobs.title")}>
    <div class="stack">
      <div class="row"><label class="grow"><span class="hidden">${t("jobs.search")}</span>
        <input type="search" id="search" placeholder=${t("jobs.search")} value=${text} onInput=${(e) => setText(e.target.value)} /></label>
        <a class="button main" id="new-job" href=${link("new")}><${Icon} name="add" />${t("jobs.new")}</a></div>
      ${jobs === null ? html`<${Waits} />` : jobs.length === 0 ? html`<p class="card">${t(text ? "jobs.no_hit" : "jobs.none")}</p>` : ""}
      <ul class="list jobs">${(jobs ?? []).map((one) => html`<${Line} key=${one.id} one=${one} />`)}</ul>
    </div></${Page}>`;
}

const classTitle = (id) => word("class", id, classes().find((one) => one.id === id)?.title ?? id);

function Line({ one }) {
  const waiting = ofJob(one.id).length;
  const name = one.title || one.machine || one.id;
  const kind = one.decision && word("decision", one.decision, ""); // of a job from before: nothing
  return html`<li><a href=${link("job", one.id)}>
    <span><strong>${name}</strong><br /><span class="small soft">${[one.title && one.machine, classTitle(one.class_id)].filter(Boolean).join(" · ")}</span></span>
    <span class="row small"><span class="soft">${when(one.updated)}</span>${kind && html`<span class="strong">${kind}</span>`}
      <span>${t("jobs.readings", { n: one.reading_count })}</span>
      ${one.confirmed_cause && html`<span class="mark good"><${Icon} name="good" />${t("jobs.confirmed")}</span>`}
      ${waiting > 0 && html`<span class="mark open">${t("line.waiting", { n: waiting })}</span>`}</span></a></li>`;
}
