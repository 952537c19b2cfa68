// What is to be done at a station: now (overdue first), next, late; then what has no set time, and what was done.

import { h, mark, button, go } from "./screen.mjs";
import { t, inPlan } from "./texts.mjs";
import { today, task, station, person, titleOf, nameOf, when, clock, stateOf, fresh } from "./day.mjs";
import { signOff, correctHere } from "./work.mjs";

const soon = 24 * 3_600_000;

// workList draws it for whoever is here.
export function workList(here) {
  const at = (code) => here.station === "*" || code === here.station;
  const lead = person(here.who)?.role === "lead";
  const mine = (task) => task && (lead || !task.lead);
  const [now, next, late, done] = [[], [], [], []];
  const on = onTheWay(here);
  for (const d of today().duties) {
    if (!at(d.station) || !mine(task(d.task))) continue;
    let ahead = false; // of what comes, the first of each duty is shown; of what was missed, the last
    let missed = null;
    for (const w of d.windows ?? []) {
      const state = stateOf(w);
      const row = { task: d.task, station: d.station, window: w, state };
      const passed = on.find((i) => i.entry.fact.task === d.task && i.entry.fact.station === d.station && i.entry.fact.outcome === "passed" && Date.parse(i.entry.fact.window ?? 0) === w.opens);
      if (passed || ["done", "late", "put-right", "excused"].includes(state)) {
        if (!passed) done.push({ ...row, at: w.signed?.at(-1)?.happened ?? w.due });
      } else if (state === "coming") {
        if (!ahead && w.opens < clock() + soon) next.push({ ...row, at: w.opens });
        ahead = true;
      } else if (clock() <= w.lapses) now.push({ ...row, at: w.due });
      else if (w.signed) done.push({ ...row, at: w.signed.at(-1).happened });
      else missed = { ...row, at: w.due };
    }
    if (missed) late.push(missed);
    for (const s of d.beside ?? []) done.push({ task: d.task, station: d.station, beside: s, windows: d.windows ?? [], state: s.window ? "beside" : s.result, at: s.happened });
  }
  const by = (key) => (a, b) => key(a) - key(b) || a.at - b.at;
  const urgent = (r) => (["overdue", "failed"].includes(r.state) ? 0 : 1);
  now.sort(by(urgent));
  next.sort(by(() => 0));
  late.sort((a, b) => b.at - a.at);
  done.sort((a, b) => b.at - a.at);
  const others = today().tasks.flatMap((task) => task.stations.filter((s) => at(s) && mine(task) && ![...now, ...late].some((r) => r.task === task.code && r.station === s)).map((s) => ({ task: task.code, station: s, state: "" })));
  const wide = here.station === "*";
  const open = (r) => () => signOff(here, r);
  const rows = (list, act) => h("div", { class: "rows" }, list.map((r) => line(r, wide, act?.(r))));
  const part = (key, list, act, none) => (list.length || none) && h("section", { class: "part", id: key }, h("h2", {}, t(key)), list.length ? rows(list, act) : h("p", { class: "empty" }, t(none)));
  return [
    h("h1", {}, wide ? t("whole-plant") : titleOf(station(here.station), here.station)),
    button(t("goods-open"), openGoods(here), { id: "goods" }),
    on.length > 0 && h("section", { class: "part", id: "part-signed" }, h("h2", {}, t("part-signed")), h("div", { class: "rows" }, on.map((i) => signedHere(here, i)))),
    part("part-now", now, open, "nothing-now"),
    part("part-next", next, null, "nothing-next"),
    part("part-late", late, open),
    others.length > 0 && h("details", { class: "part", id: "part-other" }, h("summary", {}, t("part-other")), rows(others, open)),
    done.length > 0 && h("section", { class: "part", id: "part-done" }, h("h2", {}, t("part-done")), h("div", { class: "rows" }, done.slice(0, 40).map((r) => doneLine(here, r, wide)))),
  ].filter(Boolean);
}

// The forms about goods come when they are first wanted, or a little after the page; a phone may have lost the network before that.
const openGoods = (here) => async () => {
  try {
    const { goods } = await import("./goods.mjs");
    await goods(here);
  } catch {
    go(() => [h("h1", {}, t("goods-away")), h("p", {}, t("goods-away-say"))]);
  }
};

// onTheWay are sign-offs that were signed on this device and that the day's data does not know of yet.
function onTheWay(here) {
  const arrived = here.sent.filter((s) => s.position >= today().size);
  return [...arrived.map((s) => ({ ...s, state: "sent" })), ...here.items].filter((i) => i.entry.kind === "signoff" && (here.station === "*" || i.entry.fact.station === here.station));
}

const words = (state) => h("span", { class: "state state-" + state }, mark(state), t("state-" + state));

function line(r, wide, act) {
  const w = r.window;
  const time = w && (r.state === "coming" ? t("opens-due", when(w.opens), when(w.due)) : r.state === "missed" ? t("was-due", when(w.due)) : t("due-by", when(w.due)));
  const inside = [h("span", { class: "what" }, titleOf(task(r.task), r.task), wide && h("span", { class: "note" }, titleOf(station(r.station), r.station))),
    h("span", { class: "when" }, r.state && words(r.state), time && h("span", { class: "due" }, time), task(r.task)?.lead && h("span", { class: "tag" }, t("lead-signs")))];
  return act ? button(inside, act, { class: "row", "data-task": r.task, "data-state": r.state }) : h("p", { class: "row" }, inside);
}

function doneLine(here, r, wide) {
  const last = r.beside ?? r.window.signed?.at(-1);
  const answered = r.beside && answer(r);
  const inside = [h("span", { class: "what" }, titleOf(task(r.task), r.task), wide && h("span", { class: "note" }, titleOf(station(r.station), r.station))),
    h("span", { class: "when" }, words(r.state), last && h("span", {}, t("by-at", nameOf(last.by), when(last.happened)))),
    answered && h("span", { class: "note" }, t("answered-by", nameOf(answered.by), when(answered.happened)))];
  const fix = last && last.by === here.who && fresh && h("a", { class: "button small", href: "/correct/" + last.position }, t("correct"));
  return h("div", { class: "row", "data-task": r.task, "data-state": r.state }, inside, fix || null);
}

// answer is the sign-off that answered the window one beside it was meant for.
const answer = (r) => r.windows.find((w) => w.opens === r.beside.window)?.signed?.at(-1);

function signedHere(here, i) {
  const f = i.entry.fact;
  const state = i.state === "sent" ? "done" : i.state === "refused" ? "failed" : "unsent";
  return h("div", { class: "row", "data-task": f.task, "data-state": state },
    h("span", { class: "what" }, titleOf(task(f.task), f.task), here.station === "*" && h("span", { class: "note" }, titleOf(station(f.station), f.station))),
    h("span", { class: "when" }, h("span", { class: "state state-" + state }, mark(state), t("here-" + i.state)), h("span", {}, t("by-at", nameOf(i.entry.by), when(Date.parse(i.entry.happened))))),
    i.state === "waiting" && i.entry.by === here.who && button(t("correct"), () => correctHere(here, i), { class: "small" }));
}
