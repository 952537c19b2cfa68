// The picture of what stands where: the server's offer (GET /api/goods), moved on by what was signed on this device and is not in
// it yet. It is a rough fold, for choosing from: the journal's own is the server's. It touches no screen.
//
// Masses are whole micrograms as BigInt, so that nothing is rounded on the way.

// Exact by definition: 1 lb is 0.45359237 kg (NIST Handbook 44, Appendix C).
const units = { kg: 1_000_000_000n, g: 1_000_000n, t: 1_000_000_000_000n, lb: 453_592_370n, cwt: 45_359_237_000n, ton: 907_184_740_000n };

// micrograms is a mass {value, unit} or "3000 lb" exactly, to the nearest microgram.
export function micrograms(mass) {
  const [value, unit] = typeof mass === "string" ? mass.split(" ") : [mass.value, mass.unit];
  const [whole, part = ""] = value.split(".");
  const per = 10n ** BigInt(part.length);
  return (BigInt(whole + part) * units[unit] * 2n + per) / (per * 2n);
}

// written is a mass as it is written down: in the plant's unit if that is exact to a tenth, else in kilograms.
export function written(ug, unit) {
  for (const u of [unit, "kg"]) {
    const places = u === "kg" ? 9 : 1;
    const scaled = ug * 10n ** BigInt(places);
    if (scaled % units[u] !== 0n) continue;
    const digits = String(scaled / units[u]).padStart(places + 1, "0");
    const tail = digits.slice(-places).replace(/0+$/, "");
    return digits.slice(0, -places) + (tail && "." + tail) + " " + u;
  }
  throw new Error("a mass that no unit holds");
}

// read is a mass for the eye: the plant's unit, to a tenth.
export function read(ug, unit) {
  const tenths = (ug * 20n + units[unit]) / (units[unit] * 2n);
  const whole = String(tenths / 10n).replace(/\B(?=(\d{3})+$)/g, ",");
  return whole + (tenths % 10n ? "." + (tenths % 10n) : "") + " " + unit;
}

// dayIn is the civil day of a moment in the plant's zone, as 2026-03-09.
export function dayIn(zone, at) {
  return new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" }).format(at);
}

// addMonths is the same day some months later, or the last day of a shorter month: how best-by dates are counted.
export function addMonths(day, months) {
  const [y, m, d] = day.split("-").map(Number);
  const at = y * 12 + m - 1 + months;
  const last = new Date(Date.UTC(Math.floor(at / 12), (at % 12) + 1, 0)).getUTCDate();
  return [String(Math.floor(at / 12)).padStart(4, "0"), String((at % 12) + 1).padStart(2, "0"), String(Math.min(d, last)).padStart(2, "0")].join("-");
}

// picture makes one. pending are entries signed here, oldest first, that the offer may not have yet.
export function picture(offer, pending = [], now = Date.now) {
  const p = new Picture(offer, now);
  for (const entry of pending) p.apply(entry);
  return p;
}

const by = (rows, key = "code") => new Map(rows.map((r) => [r[key], r]));

class Picture {
  constructor(offer, now) {
    this.offer = offer;
    this.now = now;
    this.unit = offer.unit;
    this.stations = by(offer.stations.map((s) => ({ ...s, here: s.here.map(standing), residents: [...(s.residents ?? [])] })));
    this.holders = by(offer.holders.map((x) => ({ ...x, here: x.here.map(standing) })), "partner");
    this.lots = by(offer.lots.map((l) => ({ kilned: [], ...l })));
    this.items = by(offer.items);
    this.partners = by(offer.partners);
    this.documents = by(offer.documents);
    this.known = new Set(offer.recent);
    this.moved = 0; // by how many entries of this device
  }

  day(at = this.now()) {
    return dayIn(this.offer.zone, at);
  }

  // here is what stands at a place: a station's code, or "@" and a partner's.
  here(place) {
    return (place?.startsWith("@") ? this.holders.get(place.slice(1)) : this.stations.get(place))?.here ?? [];
  }
  mixed(place) {
    return this.stations.get(place)?.holds === "mixed";
  }
  sum(place) {
    return this.here(place).reduce((n, x) => n + x.ug, 0n);
  }
  // what stands of a lot at a place; of a mixed station, all of it.
  ug(place, lot) {
    return this.mixed(place) || !lot ? this.sum(place) : (this.here(place).find((x) => x.lot === lot)?.ug ?? 0n);
  }
  lot(code) {
    return this.lots.get(code);
  }
  // The lots a choice of place and lot speaks of: at a mixed station, all that are mixed there.
  meant(place, lot) {
    if (lot && !this.mixed(place)) return [lot];
    const all = this.mixed(place) ? [...this.here(place).map((x) => x.lot), ...this.stations.get(place).residents] : this.here(place).map((x) => x.lot);
    return [...new Set(all)];
  }

  classOf(item, status) {
    return [status || "conventional", ...[...(this.items.get(item)?.allergens ?? [])].sort()].join("+");
  }
  // unlike says whether goods of one class must not simply follow those of another at a station, by the plan's table.
  unlike(from, to, station) {
    if (this.stations.get(station)?.packaged) return false;
    return this.offer.unlike.some((u) => u.from === from && u.to === to && !(u.but ?? []).includes(station));
  }
  // clash names the lots at a station that goods of an item and status are unlike.
  clash(station, item, status) {
    const mine = this.classOf(item, status);
    return this.meant(station).filter((code) => {
      const l = this.lots.get(code);
      const theirs = this.classOf(l?.item, l?.status);
      return this.unlike(theirs, mine, station) || this.unlike(mine, theirs, station);
    });
  }

  way(from, to) {
    return this.offer.ways.find((w) => (w.from ?? "") === (from ?? "") && (w.to ?? "") === (to ?? "") && !w.at)?.via ?? [];
  }
  wayOf(station) {
    return this.offer.ways.find((w) => w.at === station)?.via ?? [];
  }

  // code suggests the next lot code in the plant's manner. names are [{status, manner}], the newest first.
  code(names, { item, status, from = [], at = this.now(), started } = {}, taken = []) {
    const manner = (names?.find((n) => n.status === status) ?? names?.[0])?.manner ?? { is: "none" };
    const used = (c) => this.lots.has(c) || taken.includes(c);
    const free = (make, first) => {
      for (let n = first; ; n++) if (!used(make(n))) return fit(make(n));
    };
    if (manner.is === "tail") {
      const stem = from.find((c) => c.endsWith(manner.drop ?? "")) ?? from[0];
      if (stem) {
        const base = stem.slice(0, stem.length - (stem.endsWith(manner.drop ?? "") ? (manner.drop ?? "").length : 0)) + (manner.add ?? "");
        return used(base) ? free((n) => base + "." + n, 2) : fit(base);
      }
    }
    if (manner.is === "counted") return free((n) => manner.before + String(n).padStart(manner.width, "0") + (manner.after ?? ""), manner.next);
    const [y, m, d] = this.day(manner.started && started ? started : at).split("-");
    if (manner.is === "dated") {
      const day = { YYYYMMDD: y + m + d, YYMMDD: y.slice(2) + m + d, "YYYY-MM-DD": [y, m, d].join("-"), "YY-MM-DD": [y.slice(2), m, d].join("-") }[manner.layout];
      const base = (manner.before ?? "") + day + (manner.middle ?? "");
      if (manner.number) return free((n) => base + n + (manner.after ?? ""), 1);
      return used(base) ? free((n) => base + "." + n, 2) : fit(base);
    }
    const base = (this.items.get(item)?.letters ?? "L") + y.slice(2) + m + d;
    return free((n) => base + "-" + n, 1);
  }

  // apply moves the picture on by an entry, unless the offer has it already.
  apply(entry) {
    const how = moves[entry.kind];
    if (!how || this.known.has(entry.id)) return;
    this.known.add(entry.id);
    how(this, entry.fact, Date.parse(entry.happened));
    this.moved++;
  }

  know(code, rest) {
    if (code) this.lots.set(code, { kilned: [], ...this.lots.get(code), ...rest, code });
  }
  put(place, lot, ug, since) {
    if (this.mixed(place)) this.stations.get(place).residents.push(lot);
    if (ug === 0n) return;
    const here = this.here(place);
    const there = here.find((x) => x.lot === lot);
    if (there) there.ug += ug;
    else here.unshift({ lot, ug, since });
  }
  // take gives what was taken [{lot, ug}]: of the lot, or of all in proportion where they are mixed.
  take(place, lot, ug, last) {
    const here = this.here(place);
    const lots = this.mixed(place) ? this.inside(place) : lot ? [lot] : here.map((x) => x.lot);
    const rows = lots.map((code) => here.find((x) => x.lot === code) ?? { lot: code, ug: 0n });
    if (!rows.length) return lot ? [{ lot, ug }] : [];
    const parts = share(ug, rows.map((x) => x.ug));
    rows.forEach((x, i) => (x.ug = last || x.ug < parts[i] ? 0n : x.ug - parts[i]));
    for (let i = here.length - 1; i >= 0; i--) if (here[i].ug === 0n) here.splice(i, 1);
    return rows.map((x, i) => ({ lot: x.lot, ug: parts[i] }));
  }
  // inside are the lots that are mixed at a station, in the order in which they came.
  inside(place) {
    return [...new Set([...this.stations.get(place).residents, ...this.here(place).map((x) => x.lot)])];
  }
  made(fact, outputs, inputs, at) {
    const kilned = inputs.flatMap((code) => this.lots.get(code)?.kilned ?? []);
    for (const o of outputs) {
      const own = [...new Set([...kilned, ...(o.kilnDate ? [o.kilnDate] : [])])].sort();
      this.know(o.lot, { item: o.item, status: o.status, moisture: o.weight.moisture ?? "", kilned: own, ...(o.bagNet && { bagNet: o.bagNet }), ...(o.bestBy && { bestBy: o.bestBy }), ...(o.container && { container: o.container }) });
      this.put(o.to, o.lot, micrograms(o.weight.mass), at);
    }
  }
}

// share divides a mass in proportion to weights, exactly: what does not divide goes to the largest remainders, of equal ones to the
// first. When all weights are nothing, each is as likely.
export function share(ug, weights) {
  const total = weights.reduce((n, w) => n + w, 0n);
  const [ws, sum] = total > 0n ? [weights, total] : [weights.map(() => 1n), BigInt(weights.length)];
  const out = ws.map((w) => (ug * w) / sum);
  let rest = ug - out.reduce((n, x) => n + x, 0n);
  const order = ws.map((w, i) => [i, (ug * w) % sum]).sort((a, b) => (a[1] > b[1] ? -1 : a[1] < b[1] ? 1 : a[0] - b[0]));
  for (let k = 0; rest > 0n; k++, rest--) out[order[k][0]]++;
  return out;
}

const standing = (x) => ({ ...x, ug: BigInt(x.ug), since: x.since && Date.parse(x.since) });

// How each kind of entry moves the picture on.
const moves = {
  receipt(p, f, at) {
    p.know(f.lot, { item: f.item, status: f.status, moisture: f.weight.moisture ?? "" });
    p.put(f.to, f.lot, micrograms(f.weight.mass), at);
  },
  move(p, f, at) {
    for (const x of p.take(f.from, f.lot, micrograms(f.weight.mass), f.last)) p.put(f.to, x.lot, x.ug, at);
  },
  process(p, f, at) {
    const inputs = f.inputs.flatMap((i) => p.take(i.from, i.lot, micrograms(i.weight.mass), i.last).map((x) => x.lot));
    p.made(f, f.outputs, inputs, at);
  },
  handover(p, f, at) {
    if (f.confirms) return;
    for (const x of p.take(f.fromHolder ? "@" + f.fromHolder : f.from, f.lot, micrograms(f.weight.mass), f.last)) {
      if (f.use === "storage") {
        if (!p.holders.has(f.to)) p.holders.set(f.to, { partner: f.to, here: [] });
        p.put("@" + f.to, x.lot, x.ug, at);
      }
    }
  },
  count(p, f, at) {
    const s = p.stations.get(f.station);
    if (!s) return;
    const found = (f.found ?? []).map((x) => ({ lot: x.lot ?? s.here[0]?.lot, ug: micrograms(x.weight.mass) }));
    const total = found.reduce((n, x) => n + x.ug, 0n);
    if (total === 0n) Object.assign(s, { here: [], residents: [] });
    else if (s.holds === "mixed") {
      const lots = p.inside(f.station);
      const parts = share(total, lots.map((code) => s.here.find((x) => x.lot === code)?.ug ?? 0n));
      s.here = lots.map((lot, i) => ({ lot, ug: parts[i], since: s.here.find((x) => x.lot === lot)?.since ?? at })).filter((x) => x.ug > 0n);
    } else s.here = found.filter((x) => x.lot && x.ug > 0n).map((x) => ({ ...x, since: s.here.find((y) => y.lot === x.lot)?.since ?? at }));
  },
  hold(p, f) {
    for (const code of f.lots) p.know(code, { held: true, why: f.why });
  },
  release(p, f) {
    for (const code of f.lots) p.know(code, { held: Boolean(f.rejected), why: f.rejected ? f.why : "" });
  },
  purge(p, f, at) {
    const inputs = p.take(f.from, f.lot, micrograms(f.weight.mass), f.last).map((x) => x.lot);
    p.made(f, [f.became], inputs, at);
  },
  sample(p, f) {
    if (f.act === "kept" && f.mass) p.take(f.from, f.lot, micrograms(f.mass), false);
  },
};

// fit keeps a code within the 20 characters a barcode's lot field holds.
const fit = (code) => code.slice(0, 20);
