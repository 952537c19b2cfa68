// Goes through the forms as a person would and prints what comes of it as JSON: for the test that feeds the facts to the program.
//
//   node forms.mjs OFFER.json day          a day's work, spelled out below
//   node forms.mjs OFFER.json days [[DAY, MONTHS], …]   best-by days, as JSON
//   node forms.mjs OFFER.json random SEED N   N forms with random answers
//
// It prints {entries: [{kind, fact, happened, sentence, doubts}], here: {station: {lot: micrograms}}}.

import { readFileSync } from "node:fs";
import { createHash } from "node:crypto";
import { speak } from "../static/texts.mjs";
import "../static/goodswords.mjs";
import { picture, addMonths } from "../static/picture.mjs";
import { receive } from "../static/receive.mjs";
import { move } from "../static/move.mjs";
import { process as made } from "../static/process.mjs";
import { pickup, dispatch } from "../static/handover.mjs";
import { count, hold, purge, sample } from "../static/smaller.mjs";
import { sentence, rows, doubts } from "../static/says.mjs";
import { walk } from "./walk.mjs";

const [file, what, seed, n] = process.argv.slice(2);
const offer = JSON.parse(readFileSync(file, "utf8"));
globalThis.document = { documentElement: {} };
speak("en");
let now = Date.parse(offer.at) + 60_000;
const p = picture(offer, [], () => now);
const entries = [];

function write(form, answers) {
  const fact = form.fact(answers, p, now);
  const e = { kind: form.kind, fact, happened: new Date(now).toISOString(), sentence: sentence(form.kind, fact, p), doubts: doubts(form.kind, fact, p) };
  for (const lang of ["es", "en"]) {
    speak(lang);
    for (const row of rows(form.kind, fact, p)) if (row.some((x) => typeof x !== "string" || /undefined|\[object|g-r-/.test(x))) throw new Error(JSON.stringify(row));
  }
  entries.push(e);
  p.apply({ ...e, id: String(entries.length) });
  now += 60_000;
}

const drawing = createHash("sha256").update("a drawing").digest("hex");
const lb = (value) => ({ value, unit: "lb" });
const day = [
  [receive, { item: "barley", source: "hollow-ash", status: "organic", lot: "IN260716-B1", mass: lb("40000.5"), scale: "", theirs: lb("40020"), moisture: "12.3", certificate: "hollow-ash-organic", lookedUp: true, lastCertified: "hollow-ash", theirLot: "B-7", carrier: "fell-runner", vehicle: "FR 3", clean: true, lastLoad: "oats", sealPapers: "S1", sealFound: "S1", to: "silo-1", via: ["pit", "conveyor"], packaging: "bulk", papers: "bill 7", releasedBy: "", releasedByName: "Edda Rourke" }],
  [move, { from: "silo-1", howAll: "part", howMass: lb("2000"), scale: "", to: "floor-1", via: ["conveyor"] }],
  [made("kilning"), { in0: "kiln|SM260708-BG", in0All: "all", in0wet: "43.5", begun: true, out0lot: "SM260708-BK", out0mass: lb("16000"), out0wet: "3.7", out0to: "malt-bin-1" }],
  [made("cleaning"), { in0: "malt-bin-1|SM260708-BK", in0All: "all", minutes: "80", out0lot: "SM260708-BM", out0mass: lb("15000"), out0wet: "3.8", out0to: "clean-bin-1", out1has: true, out1lot: "BP260715-B", out1mass: lb("600"), out1wet: "7", out1box: "Bin B-3", out1to: "by-product" }],
  [made("bagging"), { in0: "clean-bin-1|SM260708-BM", in0All: "all", out0lot: "SM260708-B-1", out0bags: "120", out0net: lb("55"), out0best: "2027-01-16", out0to: "warehouse", out1has: true, out1lot: "SM260708-B-2", out1bags: "5", out1mass: lb("8400"), out1best: "2027-01-16", out1to: "warehouse" }],
  [pickup, { what: "by-product|BP260715-B", howAll: "all", to: "hollow-ash", use: "feed", label: "Malt rootlets and husk", container: "Bin B-3", checked: true, carrier: "hollow-ash", receivedBy: "", receivedByName: "Tam Rourke" }],
  [dispatch, { what: "warehouse|SM260708-B-1", howAll: "part", bags: "20", to: "saltgate", use: "storage", status: "organic", packaging: "pallet", carrier: "fell-runner", vehicle: "FR 1", clean: true, seal: "SM1", signs: false }],
  [dispatch, { what: "@saltgate|SM260708-B-1", howAll: "part", bags: "3", to: "owl-still", use: "sale", status: "organic", signs: true, receivedBy: "", receivedByName: "Goods in" }],
  [sample, { act: "kept", what: "warehouse|SM260708-B-2", number: "6", mass: lb("6"), where: "shelf" }],
  [count, { station: "silo-1", empty: "goods", all: lb("37990") }],
  [purge, { stations: ["conveyor", "bagger"], what: "silo-1|", mass: lb("340"), item: "screenings", lot: "SCR260716-1", to: "by-product" }],
  [hold, { where: "warehouse", lots: ["SM260708-B-2"], why: "musty" }],
  [dispatch, { what: "warehouse|SM260708-B-2", howAll: "part", howMass: lb("20000"), scale: "floor-scale", to: "owl-still", use: "sale", status: "organic-100", signs: false }],
];

// A person with no plan in mind: every answer is one that is offered, or typed as it might be.
function wander(form, random) {
  const pick = (list) => list[Math.floor(random() * list.length)];
  const typed = ["x", "SL-7", "Ñandú & <b>sons</b>", "\"quoted\" 'text'", "7 "];
  const number = () => pick(["1", "7", "12.5", "100", "3000", "0.5"]);
  const a = {};
  for (const q of form.questions(p, pick([undefined, ...p.stations.keys()]))) {
    if (q.when && !q.when(a)) continue;
    const now = { ...q, ...q.make?.(a) };
    if (now.optional && random() < 0.3 && now.type !== "many") continue;
    for (let tries = 0; ; tries++) {
      const value = { yesno: () => random() < 0.5, choice: () => pick(now.choices)?.value, many: () => now.choices.filter(() => random() < 0.4).map((c) => c.value), text: () => pick([...typed, "2027-03-31", "L7"]).trim(), number, mass: () => ({ value: number(), unit: pick(now.units ?? ["lb"]) }), signature: () => ({ key: drawing }) }[now.type]();
      if (value === undefined) return null; // there is nothing to choose from
      if (now.type === "many" && !now.optional && !value.length && now.choices.length) continue;
      if (now.type === "many" && !now.optional && !now.choices.length) return null;
      if (now.wrong?.(value)) {
        if (tries > 200) throw new Error(q.name + " takes nothing: " + JSON.stringify(value));
        continue;
      }
      a[q.name] = value;
      break;
    }
  }
  return a;
}

if (what === "days") {
  console.log(JSON.stringify(JSON.parse(seed).map(([day, months]) => addMonths(day, months))));
} else if (what === "day") for (const [form, given] of day) write(form, walk(form, p, given).answers);
else {
  let s = Number(seed);
  const random = () => ((s = (s * 1103515245 + 12345) % 2147483648), s / 2147483648);
  const forms = [receive, receive, move, move, made(), pickup, dispatch, count, hold, purge, sample, ...["steeping", "germination", "kilning", "cleaning", "milling", "blending", "bagging"].map(made)];
  for (let i = 0; i < Number(n); i++) {
    const form = forms[Math.floor(random() * forms.length)];
    const answers = wander(form, random);
    if (answers) write(form, answers);
  }
}
const here = {};
if (what !== "days") for (const s of p.stations.values()) here[s.code] = Object.fromEntries(s.here.map((x) => [x.lot, String(x.ug)]));
for (const x of p.holders.values()) here["@" + x.partner] = Object.fromEntries(x.here.map((y) => [y.lot, String(y.ug)]));
if (what !== "days") console.log(JSON.stringify({ entries, here }));
