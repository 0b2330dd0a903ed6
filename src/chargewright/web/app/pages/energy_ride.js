// A ride in three figures: minutes at idle, in town, at cruise, as samples of engine speed.
import { typed } from "../core/units.js";

const STEP_S = 5;

export function rideSamples(form, machine) {
  const idle = machine?.speeds?.idle_rpm ?? 1200;
  const mid = machine?.speeds?.mid_rpm ?? 2750;
  const high = machine?.speeds?.high_rpm ?? 5000;
  // town is a mean between idling at lights and mid speed: half of its time at each end
  const legs = [[typed(form.ride_idle), [idle]], [typed(form.ride_town), [idle * 1.15, mid, mid, (mid + high) / 2]], [typed(form.ride_cruise), [(mid + high) / 2, high]]];
  const rpm = [];
  for (const [minutes, speeds] of legs) {
    const count = Math.round(((minutes ?? 0) * 60) / STEP_S);
    for (let i = 0; i < count; i += 1) rpm.push(Math.round(speeds[Math.floor(i / 4) % speeds.length]));
  }
  return { time_s: rpm.map((_, i) => i * STEP_S), rpm };
}
