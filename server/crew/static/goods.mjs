// The forms about goods: choosing one, going through it, reading it over, and signing it into the queue. They work on the last
// picture of the plant this device got, moved on by what was signed here since; without a network too.

import { ask } from "./ask.mjs";
import { h, mark, button, go, back, again, depth } from "./screen.mjs";
import { t, inPlan } from "./texts.mjs";
import { add, newID, queue, sent, unsent } from "./queue.mjs";
import { kept } from "./store.mjs";
import { send } from "./sending.mjs";
import { clock, fromWall, nameOf, ownTime, wall, when } from "./day.mjs";
import { lookAtGoods } from "./lots.mjs";
import { askSecret } from "./pin.mjs";
import { picture } from "./picture.mjs";
import { doubts, rows, sentence } from "./says.mjs";
import { receive } from "./receive.mjs";
import { move } from "./move.mjs";
import { process, processes } from "./process.mjs";
import { dispatch, pickup } from "./handover.mjs";
import { count, hold, purge, sample } from "./smaller.mjs";
import "./goodswords.mjs";
import "./signature.mjs";

// look gives the picture as it is known here. What arrived and is not in the server's picture, or waits here, has moved it on.
async function look() {
  const offer = await kept("goods");
  if (offer?.format !== 1) return null;
  // Those that wait are read first: one that arrives between the two readings is then in both, and never in neither.
  const waited = (await unsent()).filter((x) => x.state === "waiting");
  const there = await sent();
  const arrived = there.filter((x) => x.position >= offer.size);
  const waiting = waited.filter((x) => !there.some((s) => s.id === x.id));
  const p = picture(offer, arrived.map((x) => x.entry), clock);
  const before = p.moved;
  for (const x of waiting) p.apply(x.entry);
  p.notSent = p.moved - before;
  return p;
}

// goods opens the list of forms for whoever is here {who, station, said}.
export async function goods(here) {
  let p = await look();
  let drawn; // the picture that the list shows
  let turn = 0;
  // The list is drawn anew only when something in it is another: nothing moves under a finger. Of two looks at once the later counts.
  const changed = async () => {
    const mine = ++turn;
    const now = await look();
    if (mine !== turn) return;
    p = now;
    if (shown.isConnected && (drawn?.offer.size !== p?.offer.size || drawn?.notSent !== p?.notSent)) again();
  };
  let shown = h("div");
  queue.addEventListener("change", changed);
  let first; // the forms that stand first, as they were when the list came: nothing moves under a finger
  // A form begins with what is known when it is chosen: an entry of a moment ago may not have been looked at yet.
  const open = async (form) => run(form, (p = await look()), here);
  const list = () => ((drawn = p), (shown = menu(p, (first ??= p && fitting(p, here.station)), open)));
  go(list, { gone: () => queue.removeEventListener("change", changed) });
  lookAtGoods().then(changed); // the list does not wait for a network that may not be there
}

function menu(p, first, open) {
  if (!p) return h("div", {}, h("h1", {}, t("g-goods")), h("p", { class: "notice" }, mark("caution"), t("g-no-picture")));
  const forms = [
    ["receive", receive], ["move", move], ...processes(p).map((name) => [name, process(name)]), ["pickup", pickup], ["dispatch", dispatch],
    ["sample", sample], ["count", count], ["hold", hold], ["purge", purge], ["process", process()],
  ];
  const fits = ([name]) => first.includes(name);
  const tile = ([name, form]) => {
    const made = processes(p).includes(name);
    return button([h("span", { class: "what" }, form.title()), h("span", { class: "note" }, t(made ? "g-p-note" : "g-" + name + "-note"))], () => open(form), { class: "row", "data-form": made ? "process-" + name : name });
  };
  return h("div", {},
    h("h1", {}, t("g-what")),
    h("p", { class: "hint" }, t("g-as-of", when(Date.parse(p.offer.at)))),
    h("div", { class: "rows" }, [...forms.filter(fits), ...forms.filter((f) => !fits(f))].map(tile)),
    p.notSent > 0 && h("p", { class: "unsent", id: "moved" }, mark("unsent"), t("g-not-sent", p.notSent === 1 ? t("g-entry") : t("g-entries", p.notSent))));
}

// fitting are the forms that belong to a station, by what stands there and what is usually done there: they come first.
function fitting(p, station) {
  const s = p.stations.get(station);
  if (!s) return [];
  const stages = p.here(station).map((x) => p.items.get(p.lot(x.lot)?.item)?.stage);
  const out = p.offer.recipes.filter((r) => r.stations.includes(station)).map((r) => r.process);
  if (p.offer.ways.some((w) => !w.from && w.via.includes(station)) || p.offer.intakes.some((x) => x.to.includes(station) && s.holds === "mixed")) out.push("receive");
  if (stages.includes("by-product")) out.push("pickup");
  if (stages.includes("finished") && s.packaged) out.push("dispatch");
  if (stages.length) out.push("move");
  return out;
}

// run goes through one form and signs what comes of it.
async function run(form, p, here) {
  const id = newID(); // with the form: however often the last button is tapped, it is the same entry
  const station = p.stations.has(here.station) ? here.station : undefined;
  let field; // of the time, on the last screen
  const typed = () => field?.value ?? "";
  const at = () => (typed() ? fromWall(typed()) : clock());
  const factOf = (a) => form.fact(a, p, at());
  const against = (a) => {
    try {
      return doubts(form.kind, factOf(a), p);
    } catch {
      return []; // not everything is answered yet
    }
  };
  const doubtful = (list) => h("div", { class: "notice doubts" }, h("h2", {}, mark("caution"), t("g-doubt")), h("ul", { class: "lines" }, list.map((text) => h("li", {}, text))), h("p", { class: "hint" }, t("g-d-on")));
  const questions = form.questions(p, station).map(withNothing);
  if (form.kind !== "hold") questions.push({ name: "note", type: "text", title: t("g-note"), optional: true, when: (a) => against(a).length > 0, make: (a) => ({ over: doubtful(against(a)) }) });

  const body = (a) => {
    const fact = factOf(a);
    const list = against(a);
    field = h("input", { type: "datetime-local", id: "when", max: wall(clock()), value: typed() });
    return [
      h("p", { class: "sentence" }, sentence(form.kind, fact, p)),
      list.length > 0 && doubtful(list),
      h("dl", { class: "facts" }, rows(form.kind, fact, p).map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
      h("details", { class: "more" }, h("summary", {}, t("g-earlier")), h("label", { for: "when" }, t("g-when")), h("p", { class: "hint" }, t("g-when-hint")), field),
    ].filter(Boolean);
  };
  const act = async (a) => {
    if (at() > clock() + 60_000) throw new Error(t("g-when-future"));
    const [fact, happened] = [factOf(a), ownTime(at())];
    const secret = form.kind === "handover" ? await pinAgain(here.who, sentence(form.kind, fact, p)) : "";
    try {
      await add({ id, happened, by: here.who, kind: form.kind, fact }, form.photos?.(a) ?? [], secret);
    } catch (e) {
      throw new Error(t("not-kept", e.message));
    }
    here.said = t("signed-said", sentence(form.kind, fact, p));
  };
  here.said = "";
  const cautions = form.cautions(p, station).map((c) => ({ text: inPlan(c.text), source: c.source }));
  if (await ask(questions, { title: form.title(), cautions, finish: { title: t("g-check"), body, button: () => t("sign-as", nameOf(here.who)), act } })) {
    again();
    send();
  }
}

// pinAgain asks for the signer's PIN: releasing goods across the fence asks for it as an approval does (21 CFR 11.200 as the model).
function pinAgain(who, over) {
  const base = depth();
  return new Promise((resolve, reject) => {
    let given;
    askSecret({
      title: t("pin-again"),
      over: nameOf(who) + " · " + over,
      hint: t("pin-again-hint"),
      take: async (secret) => ((given = secret), await back(base), ""),
      gone: () => (given ? resolve(given) : reject(new Error(t("g-not-signed")))),
    });
  });
}

// withNothing says so where there is nothing to choose from.
function withNothing(q) {
  if (!q.make || !["choice", "many"].includes(q.type)) return q;
  return { ...q, make: (a) => ((m) => (m.choices?.length === 0 ? { ...m, hint: t("g-nothing-to-choose") } : m))(q.make(a)) };
}
