// What has not arrived: shown, explained, sent again, handed over. Nothing leaves this list by itself but by arriving.

import { h, mark, button, go, back, depth } from "./screen.mjs";
import { t } from "./texts.mjs";
import { retry, confirmWith, drop, photo } from "./queue.mjs";
import { send } from "./sending.mjs";
import { task, station, titleOf, nameOf, person, when } from "./day.mjs";
import { askSecret } from "./pin.mjs";

// counted says in words how much is not sent.
export function counted(items) {
  const photos = new Set(items.flatMap((i) => i.photos)).size;
  const n = items.length;
  const entries = n === 1 ? t("one-entry") : t("n-entries", n);
  if (!photos) return t(n === 1 ? "is-unsent" : "are-unsent", entries);
  return t("are-unsent", t("and", entries, photos === 1 ? t("one-photo") : t("n-photos", photos)));
}

// titled says what an entry is.
export function titled(entry) {
  const f = entry.fact;
  if (entry.kind === "signoff") return titleOf(task(f.task), f.task) + " · " + titleOf(station(f.station), f.station);
  return t("kind-" + entry.kind) + (f.lots ? " " + f.lots.join(", ") : f.lot ? " " + f.lot : "");
}

// showUnsent lists it. The list follows the queue.
export function showUnsent(here) {
  go(() => [h("h1", {}, t("not-sent")), here.items.length === 0 && h("p", { class: "empty" }, t("all-sent")), h("div", { class: "rows" }, here.items.map((i) => one(here, i))),
    here.items.some((i) => i.state === "waiting") && button(t("send-now"), send, { class: "main", id: "send-now" })].filter(Boolean), { live: true });
}

function one(here, i) {
  const p = i.problem;
  const secret = p?.code?.startsWith("secret-");
  const parts = [h("p", { class: "what" }, titled(i.entry)), h("p", {}, t("by-at", nameOf(i.entry.by), when(Date.parse(i.entry.happened))), i.photos.length > 0 && " · " + t(i.photos.length === 1 ? "one-photo" : "n-photos", i.photos.length))];
  if (i.state === "waiting") parts.push(h("p", { class: "state" }, mark("unsent"), person(i.entry.by) ? t("waits") : t("pin-gone", i.entry.by)));
  else {
    parts.push(h("p", { class: "state state-failed" }, mark("failed"), t("needs-look")), h("p", {}, p?.detail || p?.title || ""));
    const faults = (p?.errors ?? []).map((e) => (typeof e === "string" ? e : [e.field, e.given, e.want].filter(Boolean).join(": ")));
    if (faults.length) parts.push(h("ul", { class: "lines" }, faults.map((f) => h("li", {}, f))));
  }
  const doing = h("div", { class: "doing" });
  if (secret) doing.append(button(t("give-pin", nameOf(i.entry.by)), () => againFor(i)));
  else if (i.state === "refused") doing.append(button(t("send-again"), async () => (await retry(i.id), send())));
  if (i.state === "refused" || !person(i.entry.by)) doing.append(button(t("hand-over"), () => handOver(i)));
  return h("div", { class: "item", "data-id": i.id, "data-state": i.state }, parts, doing);
}

function againFor(i) {
  const base = depth();
  askSecret({ title: t("pin-again"), over: titled(i.entry), hint: t("pin-again-hint"), take: async (secret) => (await confirmWith(i.id, secret), await back(base), await send(), "") });
}

// handOver shows an entry as text and gives it as a file, for the lead to look at.
async function handOver(i) {
  const text = JSON.stringify({ entry: i.entry, problem: i.problem, photos: i.photos }, null, 1);
  const base = depth();
  const file = (blob, name, says) => h("a", { class: "button", download: "grainward-" + name, href: URL.createObjectURL(blob) }, says);
  const photos = (await Promise.all(i.photos.map(photo))).map((blob, n) => blob && file(blob, i.id + "-" + (n + 1) + ".jpg", t("photo-n", n + 1)));
  go(() => [h("h1", {}, t("hand-over")), h("p", {}, t("hand-over-say")), h("pre", { class: "raw", tabindex: 0, "aria-label": t("hand-over") }, text), file(new Blob([text], { type: "application/json" }), i.id + ".json", t("as-file")), ...photos.filter(Boolean),
    button(t("take-off"), () => go(() => [h("h1", {}, t("take-off")), h("p", {}, t("take-off-say", titled(i.entry))), button(t("take-off-yes"), async () => (await drop(i.id), back(base)), { id: "take-off" })])),
  ]);
}
