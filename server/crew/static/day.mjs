// The day's data: what the server said last, kept on the device, and the clock.

import { kept, keep } from "./store.mjs";
import { inPlan, language, t } from "./texts.mjs";

export const day = new EventTarget(); // "change" when there is another answer
let data = null; // of /api/crew; null while there never was one
let off = 0; // milliseconds this device's clock is ahead of the server's
export let fresh = false; // the last try to ask was answered
let newest = "";
let asked = 0; // when the server was asked last, by this device's clock

export const today = () => data;
export const known = () => Boolean(data?.stations);
export const aheadBy = () => off;
export const newer = (own) => fresh && newest !== "" && newest !== own;

// clock is the time as the server would tell it, as far as this device can know.
export const clock = () => Date.now() - off;
// ownTime is a moment in the time of this device's own clock, as entries carry it; the server takes the difference out again.
export const ownTime = (at) => new Date(at + off).toISOString();

// load takes up what was kept.
export async function load() {
  const had = await kept("day").catch(() => null);
  if (had) ({ data, off } = had);
}

// look asks the server. Without an answer everything stays as it was. Who is not signed in is told of the people only: the work known
// from before stays.
export async function look() {
  try {
    asked = Date.now();
    const res = await fetch("/api/crew", { cache: "no-store", signal: AbortSignal.timeout(10_000) });
    const got = await res.json();
    if (!res.ok || !Array.isArray(got.people)) throw new Error("not ours");
    const here = Date.now();
    off = Math.round((asked + here) / 2 - got.at);
    if (Math.abs(off) < 2000) off = 0;
    data = got.stations ? got : { ...data, ...got };
    [fresh, newest] = [true, got.version];
    await keep("day", { data, off });
  } catch {
    fresh = false;
  }
  day.dispatchEvent(new Event("change"));
  return fresh;
}

// lookAgain asks the server unless it has just been asked.
export const lookAgain = () => (fresh && known() && Date.now() - asked < 20_000 ? Promise.resolve(true) : look());

// signedIn notes whose sign-in this browser carries now.
export function signedIn(code) {
  if (data) data.who = code;
}

const find = (list, code) => data?.[list]?.find((x) => x.code === code);
export const person = (code) => find("people", code);
export const task = (code) => find("tasks", code);
export const agent = (code) => find("agents", code);
export const station = (code) => find("stations", code);
export const nameOf = (code) => person(code)?.name ?? code;
export const titleOf = (thing, code) => (thing ? inPlan(thing.title) : code);

const parts = (at, how) => new Intl.DateTimeFormat(language(), { timeZone: data?.zone ?? "UTC", ...how }).format(at);
const dayOf = (at) => parts(at, { year: "numeric", month: "numeric", day: "numeric" });

// when is a time of the plant's clock, with the day in front unless it is today's.
export function when(at) {
  const time = parts(at, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  if (dayOf(at) === dayOf(clock())) return time;
  return [parts(at, { weekday: "short" }), parts(at, { day: "numeric" }), parts(at, { month: "short" }), time].join(" ");
}

// wall is a moment as an input of type datetime-local takes it, in the plant's zone; fromWall is the way back.
export function wall(at) {
  const f = new Intl.DateTimeFormat("en", { timeZone: data.zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const p = Object.fromEntries(f.formatToParts(at).map((x) => [x.type, x.value]));
  return `${p.year}-${p.month}-${p.day}T${p.hour}:${p.minute}`;
}
export function fromWall(text) {
  const as = Date.parse(text + "Z");
  const ahead = (at) => Date.parse(wall(at) + "Z") - Math.floor(at / 60000) * 60000;
  return as - ahead(as - ahead(as));
}

// span is a length of time in words.
export function span(ms) {
  const minutes = Math.round(Math.abs(ms) / 60000);
  if (minutes < 60) return t("minutes", minutes);
  return minutes % 60 ? t("hours-minutes", Math.floor(minutes / 60), minutes % 60) : t("hours", minutes / 60);
}

// stateOf is how a window stands by the clock: what came in is told by the server, time goes on here.
export function stateOf(w) {
  if (!["coming", "open", "overdue", "missed"].includes(w.result)) return w.result;
  const now = clock();
  return now < w.opens ? "coming" : now <= w.due ? "open" : now <= w.lapses ? "overdue" : "missed";
}
