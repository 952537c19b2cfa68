// What a fact about goods says, for reading before it is signed. It goes by the fact itself, so that what is read is what is
// written down.

import { t, inPlan } from "./texts.mjs";
import { micrograms, read } from "./picture.mjs";
import { itemTitle, partnerName, statusWord, processWord, placeTitle, goodsOf, clock } from "./offered.mjs";

// sentence is the fact in one line.
export function sentence(kind, f, p) {
  const mass = (m) => read(micrograms(m), p.unit);
  const sum = (list) => read(list.reduce((n, x) => n + micrograms(x.weight.mass), 0n), p.unit);
  const of = (lot, place) => (lot ? lot + " (" + itemTitle(p, p.lot(lot)?.item) + ")" : placeTitle(p, place));
  switch (kind) {
    case "receipt":
      return t("g-s-receipt", mass(f.weight.mass), itemTitle(p, f.item), partnerName(p, f.source), placeTitle(p, f.to), f.lot);
    case "move":
      return t("g-s-move", mass(f.weight.mass), f.lot ? of(f.lot) : itemTitle(p, p.lot(p.meant(f.from)[0])?.item), placeTitle(p, f.from), placeTitle(p, f.to));
    case "process":
      return t("g-s-process", processWord(f.process), placeTitle(p, f.station), sum(f.inputs), sum(f.outputs));
    case "handover":
      return t("g-s-handover", mass(f.weight.mass), of(f.lot, f.from), partnerName(p, f.to), t("g-use-" + f.use));
    case "count":
      return f.found ? t("g-s-count", placeTitle(p, f.station), sum(f.found)) : t("g-s-count-none", placeTitle(p, f.station));
    case "hold":
      return t("g-s-hold", f.lots.join(", "));
    case "purge":
      return t("g-s-purge", mass(f.weight.mass), of(f.lot, f.from), f.stations.map((s) => placeTitle(p, s)).join(", "));
    case "sample":
      return t(f.act === "kept" ? "g-s-sample" : "g-s-sample-out", f.number, f.lot);
  }
  return kind;
}

// rows are the fact's particulars, [name, value].
export function rows(kind, f, p) {
  const out = [];
  const add = (key, value) => value !== undefined && value !== "" && out.push([t(key), String(value)]);
  const yesNo = (v) => v === undefined ? undefined : t(v ? "yes" : "no");
  const instrument = (code) => inPlan(p.offer.instruments.find((i) => i.code === code)?.title ?? code);
  const weight = (w) => [w.mass, w.moisture && t("g-r-moist", w.moisture), w.scale && instrument(w.scale), w.meter && instrument(w.meter)].filter(Boolean).join(" · ");
  const places = (list) => (list ?? []).map((c) => placeTitle(p, c)).join(", ");
  const vehicle = (v = {}) => {
    add("g-r-carrier", v.carrier && partnerName(p, v.carrier));
    add("g-r-vehicle", v.number);
    add("g-r-clean", yesNo(v.clean));
    add("g-r-last-load", v.lastLoad);
    for (const s of v.seals ?? []) add("g-r-seal", (s.papers ?? "–") + " / " + (s.found ?? "–"));
  };
  const made = (x) => {
    add("g-r-out", [x.lot, itemTitle(p, x.item) + ", " + statusWord(x.status), weight(x.weight), placeTitle(p, x.to)].join(" · "));
    add("g-r-bags", x.bags && x.bags + (x.bagNet ? " × " + x.bagNet : ""));
    add("g-r-kiln", x.kilnDate);
    add("g-r-best-by", x.bestBy);
    add("g-r-container", x.container);
  };
  const left = (last) => last && add("g-r-left", t("g-r-nothing"));
  switch (kind) {
    case "receipt":
      add("g-r-lot", f.lot);
      add("g-r-goods", itemTitle(p, f.item) + ", " + statusWord(f.status));
      add("g-r-from", partnerName(p, f.source));
      add("g-r-mass", weight(f.weight));
      add("g-r-theirs", f.theirs);
      add("g-r-to", placeTitle(p, f.to));
      add("g-r-via", places(f.via));
      add("g-r-certificate", f.certificate && (p.documents.get(f.certificate)?.title ?? f.certificate));
      add("g-r-looked-up", f.lookedUp);
      add("g-r-last-certified", f.lastCertified && partnerName(p, f.lastCertified));
      add("g-r-their-lot", f.theirLot);
      vehicle(f.vehicle);
      add("g-r-packaging", f.packaging);
      add("g-r-papers", f.papers?.join(", "));
      add("g-r-released-by", f.releasedBy);
      break;
    case "move":
      add("g-r-lot", f.lot);
      add("g-r-goods", goodsOf(p, f.lot ?? p.meant(f.from)[0]));
      add("g-r-from", placeTitle(p, f.from));
      add("g-r-to", placeTitle(p, f.to));
      add("g-r-via", places(f.via));
      add("g-r-mass", weight(f.weight));
      left(f.last);
      break;
    case "process":
      add("g-r-begun", f.started && clock(p, Date.parse(f.started)));
      for (const x of f.inputs) {
        add("g-r-in", [x.lot, placeTitle(p, x.from), weight(x.weight)].filter(Boolean).join(" · "));
        left(x.last);
      }
      for (const x of f.outputs) made(x);
      add("g-r-via", places(f.via));
      break;
    case "handover":
      add("g-r-lot", f.lot);
      add("g-r-goods", goodsOf(p, f.lot ?? p.meant(f.from)[0]));
      add("g-r-from", placeTitle(p, f.fromHolder ? "@" + f.fromHolder : f.from));
      add("g-r-to", partnerName(p, f.to));
      add("g-r-use", t("g-use-" + f.use));
      add("g-r-mass", weight(f.weight));
      add("g-r-bags", f.bags);
      left(f.last);
      add("g-r-status", f.status && statusWord(f.status));
      add("g-r-label", f.label);
      add("g-r-packaging", f.packaging);
      add("g-r-container", f.container);
      add("g-r-checked", yesNo(f.checked));
      vehicle(f.vehicle);
      add("g-r-via", places(f.via));
      add("g-r-papers", f.papers?.join(", "));
      add("g-r-received-by", f.received?.by ?? t("g-r-unconfirmed"));
      if (f.received) add("g-r-signature", t(f.received.signature ? "g-r-drawn" : "g-r-name-only"));
      break;
    case "count":
      for (const x of f.found ?? []) add("g-r-found", [x.lot, x.weight.mass].filter(Boolean).join(" · "));
      break;
    case "hold":
      add("g-r-why", f.why);
      break;
    case "purge":
      add("g-r-from", placeTitle(p, f.from));
      add("g-r-mass", weight(f.weight));
      made(f.became);
      break;
    case "sample":
      add("g-r-lot", f.lot);
      add("g-r-from", f.from && placeTitle(p, f.from));
      add("g-r-mass", f.mass);
      add("g-r-where", f.where);
      break;
  }
  add("g-r-note", f.note);
  return out;
}

// doubts are what the picture has against a fact. None of it is a refusal: what happened is written down as it was.
export function doubts(kind, f, p) {
  const out = [];
  const draws = { move: [f], process: f.inputs, handover: [f], purge: [f] }[kind] ?? [];
  for (const x of draws) out.push(...drawDoubts(x, p, kind !== "purge"));
  if (kind === "sample" && f.mass) out.push(...drawDoubts({ lot: f.lot, from: f.from, weight: { mass: f.mass } }, p, false));
  const puts = { receipt: [f], process: f.outputs, purge: [f.became] }[kind] ?? [];
  for (const x of puts) out.push(...putDoubts(x, p, x.lot), ...codeDoubts(x, p));
  if (kind === "move") for (const lot of p.meant(f.from, f.lot)) out.push(...putDoubts({ ...f, item: p.lot(lot)?.item, status: p.lot(lot)?.status }, p, lot));
  if (kind === "process") out.push(...together(f, p));
  if (kind === "receipt") {
    if (f.certificate && !p.documents.get(f.certificate)?.holds) out.push(t("g-d-certificate"));
    if (f.status !== "conventional" && !f.certificate) out.push(t("g-d-no-certificate"));
  }
  if (kind === "handover") {
    for (const lot of p.meant(f.fromHolder ? "@" + f.fromHolder : f.from, f.lot)) {
      const l = p.lot(lot);
      if (f.status && rank(f.status) > rank(l?.status)) out.push(t("g-d-raised", lot, statusWord(l?.status), statusWord(f.status)));
      if (l?.bestBy && l.bestBy < p.day() && ["sale", "storage"].includes(f.use)) out.push(t("g-d-best-by", lot, l.bestBy));
    }
  }
  return [...new Set(out)];
}

const rank = (s) => ["conventional", "made-with", "organic", "organic-100"].indexOf(s || "conventional");

function drawDoubts(x, p, minding) {
  const out = [];
  const place = x.fromHolder ? "@" + x.fromHolder : x.from;
  if (minding) for (const lot of p.meant(place, x.lot)) if (p.lot(lot)?.held) out.push(t("g-d-held", lot, p.lot(lot).why ?? ""));
  const there = p.ug(place, x.lot);
  const mass = micrograms(x.weight.mass);
  if (mass > there) out.push(t("g-d-more", read(mass, p.unit), read(there, p.unit), placeTitle(p, place)));
  return out;
}

// The same lot coming to more of itself is no other.
function putDoubts(x, p, lot) {
  const out = [];
  const clash = p.clash(x.to, x.item, x.status).filter((c) => c !== lot);
  if (clash.length) out.push(t("g-d-unlike", placeTitle(p, x.to), clash.join(", ")));
  const most = p.stations.get(x.to)?.capacity;
  const then = p.sum(x.to) + micrograms(x.weight.mass);
  if (most && then > micrograms(most)) out.push(t("g-d-full", placeTitle(p, x.to), most, read(then, p.unit)));
  return out;
}

function codeDoubts(x, p) {
  const l = p.lot(x.lot);
  return l && (l.item !== x.item || l.status !== x.status) ? [t("g-d-code", x.lot)] : [];
}

// together: unlike lots that go into one process.
function together(f, p) {
  const lots = [...new Set(f.inputs.flatMap((x) => p.meant(x.from, x.lot)))];
  const classes = new Set(lots.map((c) => p.classOf(p.lot(c)?.item, p.lot(c)?.status)));
  return classes.size > 1 && f.process !== "downgrading" ? [t("g-d-mixing", lots.join(", "))] : [];
}

