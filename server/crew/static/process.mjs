// Processes: goods become other goods. What usually goes in, comes out and where it goes is read off the plant's own records
// (the recipes of the offer); where there are none yet, everything is asked.

import { t } from "./texts.mjs";
import { addMonths, micrograms, written } from "./picture.mjs";
import * as o from "./offered.mjs";

const mostIn = 5;
const mostOut = 4;
export const usualProcesses = ["steeping", "germination", "kilning", "cleaning", "milling", "blending", "bagging"];

// processes are those this plant does, in the order of the trade, then others.
export function processes(p) {
  const done = p.offer.recipes.map((r) => r.process);
  const all = done.length ? [...new Set(done)] : usualProcesses;
  return [...usualProcesses.filter((x) => all.includes(x)), ...all.filter((x) => !usualProcesses.includes(x))];
}

// process is the form of one process; of none yet when its name is left out.
export const process = (name) => ({
  kind: "process",
  title: () => (name ? o.processWord(name) : t("g-process")),
  cautions: (p, station) => {
    const at = new Set(station ? [station] : p.offer.recipes.filter((r) => r.process === name).flatMap((r) => r.stations));
    return [...new Map(p.offer.stations.filter((s) => at.has(s.code)).flatMap((s) => s.cautions ?? []).map((c) => [c.source + c.text.en, c])).values()].slice(0, 4);
  },
  questions: (p, station) => new Form(p, name, station).questions(),
  fact: (a, p, at) => new Form(p, name).fact(a, at),
});

class Form {
  constructor(p, name, station) {
    Object.assign(this, { p, name, station });
  }
  process(a) {
    return this.name ?? a.process;
  }
  inputs(a) {
    const out = [];
    for (let i = 0; i < mostIn && a["in" + i]; i++) {
      out.push("in" + i);
      if (!a["more" + (i + 1)]) break;
    }
    return out;
  }
  lots(a) {
    return this.inputs(a).flatMap((n) => {
      const { place, lot } = o.standingOf(a[n]);
      return this.p.meant(place, lot);
    });
  }
  first(a) {
    return this.p.lot(this.lots(a)[0]);
  }
  // The recipe of what goes in, or of the same process with something else.
  recipe(a) {
    return this.p.offer.recipes.find((r) => r.process === this.process(a) && r.item === this.first(a)?.item);
  }
  like(a) {
    return this.recipe(a) ?? this.p.offer.recipes.find((r) => r.process === this.process(a));
  }
  product(a, k) {
    return this.recipe(a)?.outputs[k];
  }
  outItem(a, k) {
    return this.product(a, k)?.item ?? a["out" + k + "item"];
  }
  stationOf(a) {
    const from = o.standingOf(a.in0).place;
    const usual = this.like(a)?.stations ?? [];
    return usual.includes(from) ? from : usual.length === 1 ? usual[0] : a.station;
  }
  status(a) {
    const all = [...new Set(this.lots(a).map((c) => this.p.lot(c)?.status || "conventional"))];
    return all.length === 1 && this.process(a) !== "downgrading" ? all[0] : a.status;
  }
  outs(a) {
    const out = [0];
    for (let k = 1; k < mostOut; k++) if (this.offered(a, k) && a["out" + k + "has"]) out.push(k);
    return out;
  }
  // offered: whether a further output is asked about: those of the recipe; without one, another after each that did come out.
  offered(a, k) {
    const recipe = this.recipe(a);
    return recipe ? k < recipe.outputs.length : k === 1 || Boolean(a["out" + (k - 1) + "has"]);
  }
  stage(item) {
    return this.p.items.get(item)?.stage;
  }
  bagged(a, k) {
    const x = this.product(a, k);
    return x ? Boolean(x.bags) : this.process(a) === "bagging" && k === 0;
  }
  kilned(a, at = this.p.now()) {
    const inherited = this.lots(a).flatMap((c) => this.p.lot(c)?.kilned ?? []);
    return [...new Set([...inherited, ...(this.process(a) === "kilning" ? [this.p.day(at)] : [])])].sort();
  }
  // bestBy is the last day of the shelf life by the plan's rule, and what it counts from.
  bestBy(a, k, at = this.p.now()) {
    const rule = this.p.items.get(this.outItem(a, k))?.bestBy;
    const from = rule && (rule.kiln ? this.kilned(a, at)[0] : this.p.day(at));
    return from && { day: addMonths(from, rule.months), says: t("g-best-by-rule", rule.months, rule.kiln ? t("g-kiln-date", from) : t("g-made-date")) };
  }
  begun(a) {
    const { place, lot } = o.standingOf(a.in0);
    const since = this.p.here(place).find((x) => !lot || x.lot === lot)?.since;
    return this.stationOf(a) === place ? since : undefined;
  }

  questions() {
    const { p } = this;
    const known = (lot) => p.offer.recipes.some((r) => r.process === this.name && r.item === lot?.item);
    const here = (list) => [...list.filter((c) => o.standingOf(c.value).place === this.station), ...list.filter((c) => o.standingOf(c.value).place !== this.station)];
    const list = [];
    if (!this.name)
      list.push(
        { name: "process", type: "choice", title: t("g-which-process"), choices: [...usualProcesses, "downgrading"].map((x) => ({ value: x, title: o.processWord(x) })).concat({ value: "", title: t("g-other-item") }) },
        { ...o.words("processName", t("g-name-process"), { optional: false }), when: (a) => a.process === "" },
      );
    for (let i = 0; i < mostIn; i++) {
      const n = "in" + i;
      const taken = (a) => this.inputs(a).filter((x) => x !== n && Number(x.slice(2)) < i).map((x) => a[x]);
      const usual = (a) => here(o.standings(p, known, false, taken(a)));
      const reached = (a) => i === 0 || (this.inputs(a).length >= i && a["more" + i]);
      if (i > 0)
        list.push({ name: "more" + i, type: "yesno", title: t("g-more-in"), when: (a) => this.inputs(a).length >= i && ((this.like(a)?.inputs ?? 1) > 1 || ["blending", ""].includes(this.process(a) ?? "")) && (i === 1 || a["more" + (i - 1)]) });
      list.push(
        {
          name: n,
          type: "choice",
          title: t(i ? "g-goes-in-more" : "g-goes-in"),
          when: reached,
          make: (a) => {
            const some = usual(a);
            return some.length ? { choices: [...some, { value: "", title: t("g-everything") }] } : { choices: here(o.standings(p, undefined, false, taken(a))) };
          },
        },
        { name: n + "Any", type: "choice", title: t("g-goes-in"), when: (a) => reached(a) && a[n] === "", make: (a) => ({ choices: here(o.standings(p, (l) => !known(l), false, taken(a))) }) },
        ...o.howMuch(p, n, n + "At", { when: reached }).map((q) => this.aimed(q)),
        { ...o.moisture(n + "wet", t("g-moisture"), { when: reached }), make: (a) => ({ hint: this.moistureHint(this.filled(a), n), over: o.standingLine(p, this.filled(a)[n]) }) },
      );
    }
    list.push(
      { name: "station", type: "choice", title: t("g-station"), when: (a) => !this.stationOf({ ...a, station: undefined }), make: (a) => ({ choices: this.anywhere(a) }) },
      { name: "begun", type: "yesno", when: (a) => Boolean(this.begun(a)), make: (a) => ({ title: t("g-begun-since", o.clock(p, this.begun(a))) }) },
      { name: "minutes", type: "number", title: t("g-minutes"), unit: t("g-min"), min: "0", quiet: true, optional: true, skip: t("g-not-known"), when: (a) => !this.begun(a), wrong: (v) => (/^\d{1,5}$/.test(v) ? "" : t("g-whole")) },
      { name: "status", type: "choice", title: t("g-status-out"), choices: o.statuses(), when: (a) => this.status({ ...a, status: undefined }) === undefined },
    );
    for (let k = 0; k < mostOut; k++) list.push(...this.outputQuestions(k));
    return list.map((q) => this.filling(q));
  }

  // filled is the answers as if what was chosen on a second screen had been chosen on the first.
  filled(a) {
    const out = { ...a };
    for (let i = 0; i < mostIn; i++) if (a["in" + i] === "") out["in" + i] = a["in" + i + "Any"];
    if (a.process === "") out.process = a.processName;
    return out;
  }
  filling(q) {
    if (/^in\d(Any)?$|^process/.test(q.name)) return q;
    return { ...q, when: q.when && ((a) => q.when(this.filled(a))), make: q.make && ((a) => q.make(this.filled(a))) };
  }
  // aimed lets howMuch read the standing from where it is.
  aimed(q) {
    const at = (a) => {
      const all = this.filled(a);
      return { ...all, ...Object.fromEntries(Array.from({ length: mostIn }, (_, i) => ["in" + i + "At", all["in" + i]])) };
    };
    return { ...q, when: q.when && ((a) => q.when(at(a))), make: q.make && ((a) => q.make(at(a))) };
  }
  moistureHint(a, n) {
    const { place, lot } = o.standingOf(a[n]);
    const last = this.p.lot(lot ?? this.p.meant(place)[0])?.moisture;
    return last ? t("g-moisture-last", last) : undefined;
  }
  anywhere(a) {
    const usual = this.like(a)?.stations ?? [];
    const all = [...this.p.stations.keys()];
    return [...new Set([...usual, o.standingOf(a.in0).place, ...all])].filter((c) => this.p.stations.has(c)).map((c) => ({ value: c, title: o.placeTitle(this.p, c) }));
  }

  outputQuestions(k) {
    const { p } = this;
    const n = "out" + k;
    const is = (a) => this.outs(a).includes(k);
    const title = (a) => o.itemTitle(p, this.outItem(a, k));
    const list = [];
    if (k > 0)
      list.push({ name: n + "has", type: "yesno", when: (a) => this.offered(a, k), make: (a) => ({ title: this.product(a, k) ? t("g-came-off", title(a)) : t("g-more-out") }) });
    list.push(
      { name: n + "item", type: "choice", title: t("g-came-out"), when: (a) => is(a) && !this.product(a, k), make: (a) => ({ choices: this.itemChoices(a, k) }) },
      ...o.lotCode(n + "lot", "", (a) => ({ titled: t("g-lot-code-of", title(a)), ...this.codes(a, k) }), { when: is }),
      { name: n + "bags", type: "number", unit: t("g-bag-unit"), min: "1", quiet: true, when: (a) => is(a) && this.bagged(a, k), wrong: whole, make: (a) => ({ title: t("g-bags", title(a)) }) },
      { ...o.mass(p, n + "net", t("g-net")), when: (a) => is(a) && this.bagged(a, k) && Boolean(this.net(a, k)), make: (a) => ({ value: massOf(this.net(a, k)), wrong: (m) => (micrograms(m) === 0n ? t("g-mass-positive") : o.tooMuch(m, a[n + "bags"])) }) },
      { ...o.mass(p, n + "mass", ""), when: (a) => is(a) && !(this.bagged(a, k) && this.net(a, k)), make: (a) => ({ title: t("g-mass-out", title(a)) }) },
      { ...o.moisture(n + "wet", ""), when: is, make: (a) => ({ title: t("g-moisture-out", title(a)) }) },
      { name: n + "best", type: "choice", when: (a) => is(a) && this.bagged(a, k) && Boolean(this.p.items.get(this.outItem(a, k))?.bestBy), make: (a) => ({ title: t("g-best-by", title(a)), choices: this.bestByChoices(a, k) }) },
      { ...o.words(n + "bestday", t("g-type-day"), { optional: false, most: 10, wrong: dayWrong }), when: (a) => is(a) && a[n + "best"] === "other" },
      { ...o.words(n + "box", t("g-container"), { skip: t("g-not-known") }), when: (a) => is(a) && this.stage(this.outItem(a, k)) === "by-product", make: (a) => ({ value: p.lot(o.lotCodeIn(a, n + "lot"))?.container ?? this.product(a, k)?.container }) },
      { name: n + "to", type: "choice", when: is, make: (a) => ({ title: t("g-into-of", title(a)), choices: o.stationsTo(p, this.product(a, k)?.to ?? this.like(a)?.outputs[k]?.to ?? [this.stationOf(a)]) }) },
    );
    return list;
  }
  net(a, k) {
    return this.product(a, k) ? this.product(a, k).bagNet : (this.p.items.get(this.outItem(a, k))?.bagNet ?? "55 lb");
  }
  itemChoices(a, k) {
    const like = this.like(a)?.outputs[k]?.item;
    const rank = (i) => (i.code === this.first(a)?.item && ["bagging", "downgrading"].includes(this.process(a)) ? 0 : i.stage === this.stage(like) ? 1 : k > 0 && i.stage === "by-product" ? 1 : 2);
    return [...this.p.items.values()].sort((x, y) => rank(x) - rank(y)).map((i) => ({ value: i.code, title: o.itemTitle(this.p, i.code) }));
  }
  codes(a, k) {
    const { p } = this;
    const item = this.outItem(a, k);
    const names = this.product(a, k)?.names ?? this.like(a)?.outputs[k]?.names;
    const earlier = this.outs(a).filter((i) => i < k).map((i) => o.lotCodeIn(a, "out" + i + "lot"));
    const next = p.code(names, { item, status: this.status(a), from: this.lots(a), started: a.begun ? this.begun(a) : undefined }, earlier);
    const to = this.product(a, k)?.to ?? [];
    const there = this.stage(item) === "by-product" ? to.flatMap((s) => p.here(s)).filter((x) => p.lot(x.lot)?.item === item && p.lot(x.lot)?.status === this.status(a)).map((x) => x.lot) : [];
    return { next: [next], there: [...new Set(there)].slice(0, 4) };
  }
  bestByChoices(a, k) {
    const best = this.bestBy(a, k);
    return [best && { value: best.day, title: best.day, note: best.says }, { value: "other", title: t("g-best-by-other") }, { value: "", title: t("g-best-by-none") }].filter(Boolean);
  }

  fact(answers, at) {
    const a = this.filled(answers);
    const station = this.stationOf(a);
    const recipe = this.like(a);
    const since = a.begun ? this.begun(a) : a.minutes !== undefined ? at - Number(a.minutes) * 60_000 : undefined;
    return o.tidy({
      process: this.process(a),
      station,
      started: since && new Date(since).toISOString(),
      inputs: this.inputs(a).map((n) => {
        const { place, lot } = o.standingOf(a[n]);
        const how = o.taken(this.p, { ...a, at: a[n] }, n, "at");
        return { lot, from: place, weight: { mass: how.mass, moisture: a[n + "wet"], meter: a[n + "wet"] && recipe?.meter }, last: how.last };
      }),
      outputs: this.outs(a).map((k) => this.output(a, k, at)),
      via: this.p.wayOf(station),
      note: a.note,
    });
  }
  output(a, k, at) {
    const n = "out" + k;
    const x = this.product(a, k) ?? this.like(a)?.outputs[k];
    const item = this.outItem(a, k);
    const bagged = this.bagged(a, k);
    const net = bagged && a[n + "net"] && o.massText(a[n + "net"]);
    const mass = net ? written(micrograms(net) * BigInt(a[n + "bags"]), this.p.unit) : o.massText(a[n + "mass"]);
    const kilned = this.kilned(a, at)[0];
    return {
      lot: o.lotCodeIn(a, n + "lot"),
      item,
      status: this.status(a),
      to: a[n + "to"],
      weight: { mass, moisture: a[n + "wet"], scale: x?.scale, meter: a[n + "wet"] && x?.meter },
      bags: bagged && a[n + "bags"] ? Number(a[n + "bags"]) : undefined,
      bagNet: net || undefined,
      kilnDate: this.stage(item) === "by-product" ? undefined : kilned,
      bestBy: a[n + "best"] === "other" ? a[n + "bestday"] : a[n + "best"],
      container: a[n + "box"],
    };
  }
}

const massOf = (text) => text && { value: text.split(" ")[0], unit: text.split(" ")[1] };
export const whole = (v) => (/^[1-9]\d{0,5}$/.test(v) && Number(v) <= 100_000 ? "" : t("g-whole"));
const dayWrong = (v) => (/^\d{4}-\d\d-\d\d$/.test(v) && !Number.isNaN(Date.parse(v)) && new Date(v).toISOString().startsWith(v) ? "" : t("g-day-wrong"));
