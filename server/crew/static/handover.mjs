// Goods that change hands across the fence: by-product a farm picks up, and dispatch to customers and warehouses. We release, in
// the name of who is signed in; the other party signs with a name and, if they like, a finger.

import { t } from "./texts.mjs";
import { micrograms, written } from "./picture.mjs";
import * as o from "./offered.mjs";
import { whole } from "./process.mjs";

const stage = (p) => (lot) => p.items.get(lot?.item)?.stage;

// outlet is how an item usually goes to a use.
const outlet = (p, a, uses) => {
  const item = o.standingOf(a.what).lot ? p.lot(o.standingOf(a.what).lot)?.item : p.lot(p.meant(o.standingOf(a.what).place)[0])?.item;
  return p.offer.outlets.find((x) => x.item === item && (uses ? uses.includes(x.use) : x.use === a.use));
};

// sign asks for the other party's name and drawing.
const sign = (p, who, when) => [
  ...o.someone(p, "receivedBy", t("g-received-by"), who, { when }),
  { name: "signature", type: "signature", optional: true, skip: t("g-name-only"), when, hint: t("g-sign-hint"), make: (a) => ({ title: t("g-sign", o.someoneIn(a, "receivedBy")) }) },
];

const received = (a, at) => (o.someoneIn(a, "receivedBy") ? { by: o.someoneIn(a, "receivedBy"), at: new Date(at).toISOString(), signature: a.signature?.key } : undefined);
const photos = (a) => (a.signature ? [a.signature] : []);

const cautions = (p, station) => [...new Map(p.offer.stations.filter((s) => s.code === station || (!station && s.packaged)).flatMap((s) => s.cautions ?? []).map((c) => [c.source + c.text.en, c])).values()].slice(0, 4);

const lotOf = (a) => o.standingOf(a.what).lot;

export const pickup = {
  kind: "handover",
  title: () => t("g-pickup"),
  cautions,
  photos,
  questions(p, station) {
    const wanted = (lot) => stage(p)(lot) === "by-product";
    const feed = ["feed", "compost", "landfill"];
    const usual = (a) => outlet(p, a, feed);
    return [
      { name: "what", type: "choice", title: t("g-which-lot"), make: () => ({ choices: near(o.standings(p, wanted), station) }) },
      ...o.howMuch(p, "how", "what"),
      o.scale(p, "scale", (a) => a.howAll !== "all"),
      { name: "to", type: "choice", title: t("g-to-whom"), make: (a) => ({ choices: o.partnersOf(p, ["feed-farm"], usual(a)?.to) }) },
      { name: "use", type: "choice", title: t("g-use"), choices: feed.map((u) => ({ value: u, title: t("g-use-" + u) })) },
      { ...o.words("label", t("g-label"), { most: 200, when: (a) => a.use === "feed" }), make: (a) => ({ value: usual(a)?.label ?? o.itemTitle(p, p.lot(lotOf(a))?.item) }) },
      { ...o.words("container", t("g-container"), { skip: t("g-not-known") }), make: (a) => ({ value: p.lot(lotOf(a))?.container }) },
      { name: "checked", type: "yesno", title: t("g-checked"), optional: true, skip: t("g-not-looked") },
      { name: "carrier", type: "choice", title: t("g-carrier-out"), optional: true, skip: t("g-not-known"), make: (a) => ({ choices: o.partnersOf(p, ["carrier"], [a.to, ...(usual(a)?.carriers ?? [])]) }) },
      o.words("vehicle", t("g-vehicle"), { skip: t("g-not-known") }),
      o.words("lastLoad", t("g-last-load"), { most: 200, skip: t("g-not-known"), when: (a) => a.vehicle !== undefined }),
      o.words("papers", t("g-papers"), { most: 100 }),
      ...sign(p, (a) => [a.to, a.carrier].filter(Boolean)),
    ];
  },
  fact(a, p, at) {
    const { place, lot } = o.standingOf(a.what);
    const how = o.taken(p, a, "how", "what");
    return o.tidy({
      lot,
      from: place,
      to: a.to,
      use: a.use,
      weight: { mass: how.mass, scale: how.weighed ? a.scale : undefined },
      last: how.last,
      status: p.lot(lot ?? p.meant(place)[0])?.status,
      label: a.label,
      container: a.container,
      checked: a.checked,
      vehicle: { carrier: a.carrier, number: a.vehicle, clean: a.checked, lastLoad: a.lastLoad },
      papers: a.papers ? [a.papers] : [],
      received: received(a, at),
      note: a.note,
    });
  },
};

export const dispatch = {
  kind: "handover",
  title: () => t("g-dispatch"),
  cautions,
  photos,
  questions(p, station) {
    const wanted = (lot) => stage(p)(lot) !== "by-product";
    const ours = (a) => a.what && !a.what.startsWith("@");
    const finished = (c) => stage(p)(p.lot(o.standingOf(c.value).lot)) === "finished" && p.stations.get(o.standingOf(c.value).place)?.packaged;
    const choices = () => {
      const all = near(o.standings(p, wanted, true), station);
      return [...all.filter(finished), ...all.filter((c) => !finished(c))];
    };
    const bags = (a) => p.lot(lotOf(a))?.bagNet;
    const there = (a) => p.ug(o.standingOf(a.what).place, lotOf(a));
    const stores = (a) => p.partners.get(a.to)?.roles.includes("warehouse");
    const usual = (a) => outlet(p, { ...a, use: a.use ?? "sale" }) ?? outlet(p, a, ["sale", "storage"]);
    const byBag = (a) => Boolean(bags(a)) && a.howAll !== "all";
    return [
      { name: "what", type: "choice", title: t("g-which-lot"), make: () => ({ choices: choices() }) },
      ...o.howMuch(p, "how", "what").map((q) => (q.name === "howAll" ? { ...q, make: (a) => withBags(q.make(a), bags(a), there(a)) } : { ...q, when: (a) => q.when(a) && !byBag(a) })),
      { name: "bags", type: "number", title: t("g-bags-out"), unit: t("g-bag-unit"), min: "1", quiet: true, when: byBag, make: (a) => ({ over: o.standingLine(p, a.what), hint: bags(a), wrong: (v) => whole(v) || o.tooMuch(bags(a), v) }) },
      o.scale(p, "scale", (a) => a.howAll !== "all" && !bags(a)),
      { name: "to", type: "choice", title: t("g-to-whom"), make: (a) => ({ choices: o.partnersOf(p, ["customer", "warehouse"], outlet(p, a, ["sale", "storage"])?.to).filter((c) => "@" + c.value !== o.standingOf(a.what).place) }) },
      { name: "use", type: "choice", title: t("g-use"), make: (a) => ({ choices: (stores(a) ? ["storage", "sale", "return", "sample"] : ["sale", "sample", "return"]).map((u) => ({ value: u, title: t("g-use-" + u) })) }) },
      { name: "status", type: "choice", title: t("g-status-sold"), make: (a) => ({ choices: o.statuses([p.lot(lotOf(a))?.status].filter(Boolean)) }) },
      { ...o.words("packaging", t("g-packaging"), { most: 100 }), make: (a) => ({ value: usual(a)?.packaging }) },
      { name: "carrier", type: "choice", title: t("g-carrier-out"), optional: true, skip: t("g-not-known"), make: (a) => ({ choices: o.partnersOf(p, ["carrier"], [...(usual(a)?.carriers ?? []), a.to]) }) },
      o.words("vehicle", t("g-vehicle"), { skip: t("g-not-known") }),
      { name: "clean", type: "yesno", title: t("g-clean"), optional: true, skip: t("g-not-looked"), when: ours },
      o.words("lastLoad", t("g-last-load"), { most: 200, skip: t("g-not-known"), when: (a) => ours(a) && a.vehicle !== undefined }),
      o.words("seal", t("g-seal-papers"), { skip: t("g-no-seal"), when: ours }),
      o.words("papers", t("g-papers"), { most: 100 }),
      { name: "signs", type: "yesno", title: t("g-signs-here") },
      ...sign(p, (a) => [a.to, a.carrier].filter(Boolean), (a) => a.signs === true),
    ];
  },
  fact(a, p, at) {
    const { place, lot } = o.standingOf(a.what);
    const net = p.lot(lot)?.bagNet;
    const there = p.ug(place, lot);
    const byBag = net && a.bags && a.howAll !== "all";
    const how = byBag ? { mass: written(micrograms(net) * BigInt(a.bags), p.unit), last: a.howAll === "weighed" } : o.taken(p, a, "how", "what");
    const bags = byBag ? Number(a.bags) : net && how.last && micrograms(net) > 0n && there % micrograms(net) === 0n ? Number(there / micrograms(net)) : undefined;
    const holder = place.startsWith("@") ? place.slice(1) : undefined;
    return o.tidy({
      lot,
      from: holder ? undefined : place,
      fromHolder: holder,
      to: a.to,
      use: a.use,
      weight: { mass: how.mass, scale: how.weighed ? a.scale : undefined },
      bags,
      last: how.last,
      via: holder ? [] : p.way(place, ""),
      status: a.status,
      packaging: a.packaging,
      checked: a.clean,
      vehicle: { carrier: a.carrier, number: a.vehicle, clean: a.clean, lastLoad: a.lastLoad, seals: a.seal ? [{ papers: a.seal }] : [] },
      papers: a.papers ? [a.papers] : [],
      received: a.signs ? received(a, at) : undefined,
      note: a.note,
    });
  },
};

const near = (list, station) => [...list.filter((c) => o.standingOf(c.value).place === station), ...list.filter((c) => o.standingOf(c.value).place !== station)];

// withBags says of a lot in bags how many there are.
function withBags(made, net, ug) {
  const n = net && micrograms(net) > 0n && ug % micrograms(net) === 0n ? ug / micrograms(net) : 0n;
  if (!n) return made;
  return { ...made, choices: made.choices.map((c) => (c.value === "all" ? { ...c, note: n + " " + t("g-bag-unit") + " · " + c.note } : c)) };
}
