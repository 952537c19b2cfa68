// The forms about goods: choosing one, going through it, reading it over, and signing it into the queue. They work on the last
// picture of the plant this device got, moved on by what was signed here since; without a network too.

import { ask } from "./ask.mjs";
import { h, mark, button, go, again, depth } from "./screen.mjs";
import { t } from "./texts.mjs";
import { add, newID, sent, unsent, sendAll } from "./queue.mjs";
import { keep, kept } from "./store.mjs";
import { picture } from "./picture.mjs";
import { clock } from "./offered.mjs";
import { doubts, rows, sentence } from "./says.mjs";
import { receive } from "./receive.mjs";
import { move } from "./move.mjs";
import { process, processes } from "./process.mjs";
import { dispatch, pickup } from "./handover.mjs";
import { count, hold, purge, sample } from "./smaller.mjs";
import "./goodswords.mjs";
import "./signature.mjs";

const address = "/api/goods";

// look gives the picture as it is known here: asked of the server if it answers, else as it was last kept.
export async function look() {
  try {
    const res = await fetch(address, { credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(8000) });
    const offer = res.ok && (await res.json());
    if (offer?.format === 1) await keep(address, offer);
  } catch {
    // no network: what was kept must do
  }
  const offer = await kept(address);
  if (!offer) return null;
  const arrived = (await sent()).filter((x) => x.position >= offer.size).map((x) => x.entry);
  const waiting = (await unsent()).filter((x) => x.state !== "refused").map((x) => x.entry);
  const p = picture(offer, arrived);
  const before = p.moved;
  for (const entry of waiting) p.apply(entry);
  p.notSent = p.moved - before;
  return p;
}

// goods opens the list of forms. who signs {code}; station is where they stand, "" for anywhere; after(entry) is called when one was signed.
export async function goods({ who, station = "", after } = {}) {
  let p = await look();
  const list = () => menu(p, (form) => run(form, p, { who, station, after: async (entry) => ((p = await look()), await after?.(entry), again()) }));
  go(list);
  return depth();
}

function menu(p, open) {
  if (!p) return [h("h1", {}, t("g-goods")), h("p", {}, mark("caution"), t("g-no-picture"))];
  const tile = (title, note, form) => button([h("span", {}, title), h("span", { class: "note" }, note)], () => open(form), { "data-form": form.name });
  const one = (name, form) => tile(form.title(), t("g-" + name + "-note"), { ...form, name });
  return [
    h("p", { class: "over" }, t("g-as-of", clock(p, Date.parse(p.offer.at)))),
    h("h1", {}, t("g-what")),
    p.notSent > 0 && h("p", { class: "note-over" }, mark("unsent"), t("g-not-sent", p.notSent === 1 ? t("g-entry") : t("g-entries", p.notSent))),
    h("div", { class: "answers" }, [
      one("receive", receive),
      one("move", move),
      ...processes(p).map((name) => tile(process(name).title(), t("g-p-note"), { ...process(name), name: "process-" + name })),
      one("pickup", pickup),
      one("dispatch", dispatch),
      one("count", count),
      one("sample", sample),
      one("hold", hold),
      one("purge", purge),
      one("process", process()),
    ]),
  ].filter(Boolean);
}

// run goes through one form and signs what comes of it.
async function run(form, p, { who, station, after }) {
  const id = newID(); // with the form: two taps on "Sign it" are one entry
  let when = ""; // as typed; empty: the moment of signing
  const at = () => (when ? new Date(when).getTime() : Date.now());
  const factOf = (a) => form.fact(a, p, at());
  const against = (a) => {
    try {
      return doubts(form.kind, factOf(a), p);
    } catch {
      return []; // not everything is answered yet
    }
  };
  const doubtful = (a) => h("div", { class: "notice doubts" }, h("p", {}, mark("caution"), t("g-doubt")), h("ul", {}, against(a).map((text) => h("li", {}, text))), h("p", { class: "hint" }, t("g-d-on")));
  const questions = form.questions(p, station || undefined).map(withNothing);
  if (form.kind !== "hold") questions.push({ name: "note", type: "text", title: t("g-note"), optional: true, when: (a) => against(a).length > 0, make: (a) => ({ over: doubtful(a) }) });

  const body = (a) => {
    const fact = factOf(a);
    const wrong = against(a);
    const now = new Date(Date.now() - new Date().getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
    const field = h("input", { type: "datetime-local", id: "when", max: now, onchange: (e) => (when = e.target.value) });
    field.value = when;
    return [
      h("p", { class: "sentence" }, sentence(form.kind, fact, p)),
      wrong.length > 0 && doubtful(a),
      h("dl", { class: "facts" }, rows(form.kind, fact, p).map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
      h("div", { class: "when" }, h("label", { for: "when" }, t("g-when")), field, h("p", { class: "hint" }, t("g-when-hint"))),
    ];
  };
  const act = async (a) => {
    if (at() > Date.now() + 60_000) throw new Error(t("g-when-future"));
    const entry = { id, happened: new Date(at()).toISOString(), by: who, kind: form.kind, fact: factOf(a) };
    await add(entry, form.photos?.(a) ?? []);
    sendAll();
    signed = entry;
  };
  let signed;
  const given = await ask(questions, { title: form.title(), cautions: form.cautions(p, station || undefined).map((c) => ({ text: c.text[document.documentElement.lang] ?? c.text.en, source: c.source })), finish: { title: t("g-check"), body, button: () => t("g-sign-it"), act } });
  if (given && signed) await after(signed);
}

// withNothing says so where there is nothing to choose from.
function withNothing(q) {
  if (q.type !== "choice" || !q.make) return q;
  return { ...q, make: (a) => ((m) => (m.choices?.length === 0 ? { ...m, hint: t("g-nothing-to-choose") } : m))(q.make(a)) };
}
