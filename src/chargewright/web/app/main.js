// The app: one signal says which page is on, one says whether this phone may come in.
import { html, render, signal, useEffect } from "./vendor/ui.js";
import { get, post } from "./core/api.js";
import { loadTexts } from "./core/i18n.js";
import { loadQueue } from "./core/queue.js";
import { go, replace, route } from "./core/router.js";
import { Toasts } from "./parts/toast.js";
import { EnergyPage } from "./pages/energy.js";
import { JobPage } from "./pages/job.js";
import { JobsPage } from "./pages/jobs.js";
import { MachinePage, MachinesPage } from "./pages/machines.js";
import { MenuPage, SettingsPage } from "./pages/menu.js";
import { NewPage } from "./pages/new.js";
import { OwnPage } from "./pages/own.js";
import { PairPage } from "./pages/pair.js";
import { UnsentPage } from "./pages/unsent.js";
import { WorkshopPage } from "./pages/workshop.js";
import { WouldPage } from "./pages/would.js";

const PAGES = { jobs: JobsPage, new: NewPage, job: JobPage, machines: MachinesPage, machine: MachinePage, "would-read": WouldPage, energy: EnergyPage, workshop: WorkshopPage, settings: SettingsPage, menu: MenuPage, unsent: UnsentPage };
const paired = signal(true);
const { code: codeInAddress } = route.value.query; // from the picture that the serving machine shows

function App() {
  const { parts } = route.value;
  const [name = "jobs", id, tab] = parts;
  useEffect(() => { if (!parts.length) replace("jobs"); }, [parts.length]);
  if (!paired.value) return html`<${PairPage} code=${codeInAddress} onPaired=${() => { paired.value = true; }} /><${Toasts} />`;
  const View = name === "job" && tab === "own" ? OwnPage : PAGES[name] ?? JobsPage;
  return html`<${View} key=${name === "job" ? `${name}:${id}` : parts.slice(0, 2).join("/")} /><${Toasts} />`;
}

async function start() {
  await loadTexts();
  loadQueue();
  render(html`<${App} />`, document.getElementById("app"));
  document.querySelector(".splash")?.remove();
  try {
    const service = await get("/service");
    if (service.paired === false && codeInAddress) {
      await post("/pair", { code: codeInAddress });
      go("jobs");
    } else paired.value = service.paired !== false;
  } catch (error) {
    if (error.status === 401) paired.value = false;
  }
  // only where the browser allows it: over TLS or on this machine itself
  if ("serviceWorker" in navigator && isSecureContext) navigator.serviceWorker.register("/sw.js").catch(() => {});
}

start();
