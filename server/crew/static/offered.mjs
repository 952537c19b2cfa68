// What a question about goods can offer, from the picture: choices of stations, lots, partners, and questions that come up
// in more than one form. It draws nothing.
//
// Beside the members every question has (ask.mjs), one made here may have make(answers): members that depend on what was
// answered before.

import { t, inPlan, language } from "./texts.mjs";
import { micrograms, written, read } from "./picture.mjs";

export const yes = (v) => v === true;

export const itemTitle = (p, code) => inPlan(p.items.get(code)?.title ?? String(code ?? ""));
export const partnerName = (p, code) => p.partners.get(code)?.name ?? String(code ?? "");
export const statusWord = (s) => t("g-" + (s || "conventional"));
export const placeTitle = (p, place) => (place?.startsWith("@") ? t("g-with", partnerName(p, place.slice(1))) : inPlan(p.stations.get(place)?.title ?? String(place ?? "")));
export const goodsOf = (p, lot) => (p.lot(lot) ? itemTitle(p, p.lot(lot).item) + ", " + statusWord(p.lot(lot).status) : "");

// processWord is a process as people call it: the trade's words in both languages, any other as the plant writes it.
export const processWord = (name) => (t("g-p-" + name) === "g-p-" + name ? name : t("g-p-" + name));

// clock is a moment as the plant's wall shows it, with the day.
export function clock(p, at) {
  return new Intl.DateTimeFormat(language() === "es" ? "es-US" : "en-US", { timeZone: p.offer.zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(at);
}

const most = 3;
function names(list) {
  return list.slice(0, most).join(", ") + (list.length > most ? " " + t("g-and-more", list.length - most) : "");
}

// stands says what is at a station, in a line.
export function stands(p, place) {
  const here = p.here(place);
  if (!here.length) return t("g-is-empty");
  if (p.mixed(place)) return [t("g-standing", read(p.sum(place), p.unit)), t("g-mixed-of", names(p.meant(place)))].join(" · ");
  return t("g-standing", read(p.sum(place), p.unit)) + " · " + names(here.map((x) => x.lot));
}

// Stations goods can be put into; those the plant usually uses first.
export function stationsTo(p, first = [], but) {
  const all = [...p.stations.values()].filter((s) => s.holds === "separate" || s.holds === "mixed").map((s) => s.code);
  return [...new Set([...first.filter((c) => all.includes(c)), ...all])].filter((c) => c !== but).map((c) => ({ value: c, title: placeTitle(p, c), note: stands(p, c) }));
}

export const stationsFrom = (p) => [...p.stations.values()].filter((s) => s.here.length).map((s) => ({ value: s.code, title: placeTitle(p, s.code), note: stands(p, s.code) }));

// A standing as the value of a choice: place|lot, without the lot where they are mixed.
export const standingOf = (value) => {
  const [place, lot] = (value ?? "|").split("|");
  return { place, lot: lot || undefined };
};

// standings are the choices of what stands somewhere. wanted(lot) says which lots; a mixed station is one choice.
export function standings(p, wanted = () => true, holders = false, taken = []) {
  const out = [];
  const places = [...p.stations.keys(), ...(holders ? [...p.holders.keys()].map((c) => "@" + c) : [])];
  for (const place of places) {
    if (p.mixed(place)) {
      const lots = p.meant(place);
      if (p.here(place).length && lots.some((c) => wanted(p.lot(c), place)))
        out.push({ value: place + "|", title: placeTitle(p, place), note: [goodsOf(p, lots[0]), stands(p, place), ...held(p, lots)].join(" · "), since: Math.max(...p.here(place).map((x) => x.since ?? 0)) });
      continue;
    }
    for (const x of p.here(place)) {
      if (!wanted(p.lot(x.lot), place)) continue;
      out.push({ value: place + "|" + x.lot, title: x.lot, note: [...held(p, [x.lot]), goodsOf(p, x.lot), placeTitle(p, place), read(x.ug, p.unit)].filter(Boolean).join(" · "), since: x.since ?? 0 });
    }
  }
  return out.filter((c) => !taken.includes(c.value)).sort((a, b) => b.since - a.since);
}

const held = (p, lots) => (lots.some((c) => p.lot(c)?.held) ? [t("g-held")] : []);

// Partners of some roles; those usually dealt with first.
export function partnersOf(p, roles, first = []) {
  const all = [...p.partners.values()].filter((x) => !roles.length || x.roles.some((r) => roles.includes(r))).map((x) => x.code);
  return [...new Set([...first.filter((c) => p.partners.has(c)), ...all])].map((c) => ({ value: c, title: partnerName(p, c) }));
}

export const statuses = (first = []) => [...new Set([...first, "organic", "organic-100", "made-with", "conventional"])].map((s) => ({ value: s, title: statusWord(s) }));

const massUnits = (p) => (p.unit === "kg" ? ["kg", "t", "lb"] : ["lb", "ton", "kg"]);

// mass is a question for one. zero: nothing is an answer too.
export const mass = (p, name, title, more = {}) => ({
  name,
  type: "mass",
  title,
  units: massUnits(p),
  min: "0",
  quiet: true,
  wrong: (m) => (micrograms(m) > micrograms("10000 t") ? t("g-mass-most") : micrograms(m) === 0n && !more.zero ? t("g-mass-positive") : ""),
  ...more,
});
// tooMuch says of so many bags of a net mass that nobody weighs that.
export const tooMuch = (net, bags) => (micrograms(net) * BigInt(bags) > micrograms("10000 t") ? t("g-mass-most") : "");
export const massText = (m) => m.value + " " + m.unit;

export const moisture = (name, title, more = {}) => ({ name, type: "number", title, unit: "%", min: "0", max: "100", quiet: true, optional: true, skip: t("g-not-measured"), wrong: percent, ...more });
const percent = (v) => (Number(v) > 100 || Number(v) < 0 ? t("between", "0", "100 %") : "");

export const words = (name, title, more = {}) => ({ name, type: "text", title, optional: true, long: false, most: 60, ...more });

// someone asks who at a partner, by name: its contacts, or anybody typed.
export function someone(p, name, title, who, more = {}) {
  const contacts = (a) => who(a).flatMap((c) => p.partners.get(c)?.contacts ?? []);
  return [
    { name, type: "choice", title, ...more, make: (a) => ({ choices: [...[...new Set(contacts(a))].map((c) => ({ value: c, title: c })), { value: "", title: t("g-somebody-else") }] }) },
    { ...words(name + "Name", t("g-their-name")), optional: false, most: 100, when: (a) => a[name] === "" && (!more.when || more.when(a)) },
  ];
}
export const someoneIn = (a, name) => (a[name] === "" ? a[name + "Name"] : a[name]);

// lotCode asks for a code: suggestions first (make gives {suggest: [codes], there: [codes that are there]}), or one that is typed.
export function lotCode(name, title, suggest, more = {}) {
  return [
    {
      name,
      type: "choice",
      title,
      ...more,
      make: (a) => {
        const { next = [], there = [], titled } = suggest(a);
        return {
          ...(titled && { title: titled }),
          choices: [...next.map((c) => ({ value: c, title: c, note: t("g-suggested") })), ...there.map((c) => ({ value: c, title: c, note: t("g-more-of") })), { value: "", title: t("g-other-code") }],
        };
      },
    },
    { ...words(name + "Code", t("g-type-code"), { optional: false, hint: t("g-code-hint"), wrong: codeWrong }), when: (a) => a[name] === "" && (!more.when || more.when(a)) },
  ];
}
export const lotCodeIn = (a, name) => (a[name] === "" ? a[name + "Code"] : a[name]);

// The GS1 lot alphabet (set 82), at most 20 of it.
export function codeWrong(code) {
  const bad = [...code].find((c) => !/[0-9A-Za-z!"%&'()*+,\-./:;<=>?_]/.test(c));
  return bad ? t("g-code-wrong", bad) : code.length > 20 ? t("g-code-long") : "";
}

// howMuch asks whether all of what stands at a place was taken, or how much. The answers go into name + All and name + Mass.
export function howMuch(p, name, standing, more = {}) {
  const there = (a) => {
    const { place, lot } = standingOf(a[standing]);
    return p.ug(place, lot);
  };
  const asked = (a) => !more.when || more.when(a);
  return [
    {
      name: name + "All",
      type: "choice",
      title: t("g-how-much"),
      when: (a) => asked(a) && there(a) > 0n,
      make: (a) => ({ over: a[standing] && standingLine(p, a[standing]), choices: [{ value: "all", title: t("g-all"), note: t("g-by-records", read(there(a), p.unit)) }, { value: "part", title: t("g-part") }, { value: "weighed", title: t("g-all-weighed") }] }),
    },
    { ...mass(p, name + "Mass", t("g-mass")), when: (a) => asked(a) && (there(a) === 0n || a[name + "All"] !== "all") },
  ];
}

export function standingLine(p, value) {
  const { place, lot } = standingOf(value);
  return [lot, goodsOf(p, lot ?? p.meant(place)[0]), placeTitle(p, place)].filter(Boolean).join(" · ");
}

// taken is what howMuch came to: {weight: {mass}, last}.
export function taken(p, a, name, standing) {
  const { place, lot } = standingOf(a[standing]);
  const ug = p.ug(place, lot);
  const all = ug > 0n && a[name + "All"] !== "part";
  const m = ug > 0n && a[name + "All"] === "all" ? written(ug, p.unit) : massText(a[name + "Mass"]);
  return { mass: m, weighed: ug <= 0n || a[name + "All"] !== "all", last: all };
}

// scales asks what something was weighed on.
export const scale = (p, name, when) => ({
  name,
  type: "choice",
  title: t("g-scale"),
  when: (a) => p.offer.instruments.some((i) => i.is === "scale") && when(a),
  choices: [...p.offer.instruments.filter((i) => i.is === "scale").map((i) => ({ value: i.code, title: inPlan(i.title) })), { value: "", title: t("g-no-scale") }],
});

// tidy takes out of a fact what says nothing, as its canonical form wants it.
export function tidy(fact) {
  if (Array.isArray(fact)) return fact.length ? fact.map(tidy) : undefined;
  if (typeof fact !== "object" || fact === null) return fact === "" || fact === null || fact === false ? undefined : fact;
  const out = {};
  for (const [k, v] of Object.entries(fact)) {
    const kept = typeof v === "boolean" && answers.includes(k) ? v : tidy(v);
    if (kept !== undefined) out[k] = kept;
  }
  return Object.keys(out).length ? out : undefined;
}
const answers = ["clean", "checked"]; // of which no says something else than nothing
