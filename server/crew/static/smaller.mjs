// The shorter forms: counting a station, stopping lots, purging, samples.

import { t, inPlan } from "./texts.mjs";
import * as o from "./offered.mjs";
import { whole } from "./process.mjs";

const mostLots = 12;
const none = () => [];

export const count = {
  kind: "count",
  title: () => t("g-count"),
  cautions: none,
  questions(p, station) {
    const there = (a) => (p.mixed(a.station) ? [] : p.here(a.station).slice(0, mostLots));
    const goods = (a) => a.empty === "goods";
    const list = [
      { name: "station", type: "choice", title: t("g-what-to-count"), value: station, make: () => ({ choices: o.stationsTo(p, [station].filter(Boolean)) }) },
      { name: "empty", type: "choice", title: t("g-empty"), choices: [{ value: "goods", title: t("g-found-goods") }, { value: "nothing", title: t("g-found-nothing") }], make: (a) => ({ over: o.placeTitle(p, a.station) + ": " + o.stands(p, a.station) }) },
      { ...o.mass(p, "all", t("g-found-all")), when: (a) => goods(a) && p.mixed(a.station) },
    ];
    for (let i = 0; i < mostLots; i++)
      list.push({ ...o.mass(p, "lot" + i, ""), zero: true, optional: true, skip: t("g-found-none-of"), when: (a) => goods(a) && i < there(a).length, make: (a) => ({ title: t("g-found-of", there(a)[i].lot), hint: o.goodsOf(p, there(a)[i].lot) }) });
    list.push(
      { name: "other", type: "yesno", title: t("g-found-more"), when: (a) => goods(a) && !p.mixed(a.station) },
      { ...o.words("otherLot", t("g-type-code"), { optional: false, hint: t("g-code-hint") }), when: (a) => goods(a) && !p.mixed(a.station) && a.other, make: (a) => ({ wrong: (code) => o.codeWrong(code) || (there(a).some((x) => x.lot === code) ? t("g-found-twice", code) : "") }) },
      { ...o.mass(p, "otherMass", t("g-mass")), when: (a) => goods(a) && !p.mixed(a.station) && a.other },
    );
    return list;
  },
  fact(a, p) {
    const found = [];
    if (a.empty === "goods") {
      if (p.mixed(a.station)) found.push({ weight: { mass: o.massText(a.all) } });
      else p.here(a.station).slice(0, mostLots).forEach((x, i) => found.push({ lot: x.lot, weight: { mass: a["lot" + i] ? o.massText(a["lot" + i]) : "0 " + p.unit } }));
      if (a.other && !p.mixed(a.station)) found.push({ lot: a.otherLot, weight: { mass: o.massText(a.otherMass) } });
    }
    return o.tidy({ station: a.station, found, note: a.note });
  },
};

export const hold = {
  kind: "hold",
  title: () => t("g-hold"),
  cautions: none,
  questions(p, station) {
    const where = (a) => a.where;
    return [
      { name: "where", type: "choice", title: t("g-hold-where"), value: station, make: () => ({ choices: [...o.stationsFrom(p), ...[...p.holders.keys()].map((c) => ({ value: "@" + c, title: o.placeTitle(p, "@" + c), note: o.stands(p, "@" + c) }))] }) },
      { name: "lots", type: "many", title: t("g-hold-which"), make: (a) => ({ choices: p.meant(where(a)).map((c) => ({ value: c, title: c, note: [p.lot(c)?.held && t("g-held"), o.goodsOf(p, c)].filter(Boolean).join(" · ") })) }) },
      { name: "why", type: "text", title: t("g-hold-why") },
    ];
  },
  fact: (a) => o.tidy({ lots: a.lots, why: a.why }),
};

export const purge = {
  kind: "purge",
  title: () => t("g-purge"),
  cautions: (p) => [...new Map(p.offer.stations.filter((s) => s.purge).flatMap((s) => s.cautions ?? []).map((c) => [c.source + c.text.en, c])).values()].slice(0, 4),
  questions(p) {
    const passes = [...p.stations.values()].filter((s) => s.holds === "passes");
    const waste = [...p.items.values()].filter((i) => i.stage === "by-product");
    return [
      { name: "stations", type: "many", title: t("g-purged"), choices: passes.map((s) => ({ value: s.code, title: inPlan(s.title), note: s.purge })) },
      { name: "what", type: "choice", title: t("g-purge-with"), make: () => ({ choices: o.standings(p, (l) => p.items.get(l?.item)?.stage !== "by-product") }) },
      o.mass(p, "mass", t("g-mass")),
      { name: "item", type: "choice", title: t("g-purge-became"), choices: waste.map((i) => ({ value: i.code, title: o.itemTitle(p, i.code) })) },
      ...o.lotCode("lot", t("g-lot-code"), (a) => ({ next: [p.code(undefined, { item: a.item })] })),
      o.words("box", t("g-container")),
      { name: "to", type: "choice", title: t("g-into"), make: () => ({ choices: o.stationsTo(p, [...p.stations.values()].filter((s) => /by-product|subproducto/i.test(s.kind + s.code)).map((s) => s.code)) }) },
    ];
  },
  fact(a, p) {
    const { place, lot } = o.standingOf(a.what);
    const mass = o.massText(a.mass);
    return o.tidy({ stations: a.stations, lot, from: place, weight: { mass }, became: { lot: o.lotCodeIn(a, "lot"), item: a.item, status: "conventional", to: a.to, weight: { mass }, container: a.box }, note: a.note });
  },
};

export const sample = {
  kind: "sample",
  title: () => t("g-sample"),
  cautions: none,
  questions(p, station) {
    const kept = (a) => a.act === "kept";
    return [
      { name: "act", type: "choice", title: t("g-sample-act"), choices: [{ value: "kept", title: t("g-kept") }, { value: "discarded", title: t("g-discarded") }] },
      { name: "what", type: "choice", title: t("g-which-lot"), make: (a) => ({ choices: near(lotsOf(p, kept(a)), station) }) },
      { name: "number", type: "number", title: t("g-sample-number"), unit: t("g-sample-unit"), min: "1", quiet: true, wrong: (v) => whole(v) || (Number(v) > 1000 ? t("g-whole") : "") },
      { ...o.mass(p, "mass", t("g-sample-mass")), optional: true, skip: t("g-not-measured"), when: kept },
      o.words("where", t("g-sample-where"), { most: 100, when: kept }),
    ];
  },
  fact(a) {
    const { place, lot } = o.standingOf(a.what);
    const mass = a.act === "kept" && a.mass ? o.massText(a.mass) : undefined;
    return o.tidy({ lot, act: a.act, number: Number(a.number), from: mass && place ? place : undefined, mass, where: a.act === "kept" ? a.where : undefined, note: a.note });
  },
};

// Samples are of one lot: what stands mixed is named by each of its lots. Those thrown out are of lots that may have left.
function lotsOf(p, kept) {
  const out = [];
  for (const s of p.stations.values()) for (const lot of p.meant(s.code)) out.push({ value: s.code + "|" + lot, title: lot, note: [o.goodsOf(p, lot), inPlan(s.title)].join(" · ") });
  if (!kept) for (const l of p.lots.values()) if (!out.some((c) => c.title === l.code)) out.push({ value: "|" + l.code, title: l.code, note: o.goodsOf(p, l.code) });
  return out;
}

const near = (list, station) => [...list.filter((c) => o.standingOf(c.value).place === station), ...list.filter((c) => o.standingOf(c.value).place !== station)];
