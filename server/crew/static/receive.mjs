// Receiving: the particulars of 21 CFR 1.337(a), and what organic rules want on top. What nobody knows may be left out: the
// record then shows that it is missing.

import { t, inPlan } from "./texts.mjs";
import * as o from "./offered.mjs";

export const receive = {
  kind: "receipt",
  title: () => t("g-receive"),
  cautions: (p) => p.offer.stations.filter((s) => /receiv|recep/i.test(s.kind)).flatMap((s) => s.cautions ?? []),
  questions,
  fact,
};

const itemOf = (a) => a.itemOther ?? a.item;
const intakeOf = (p, a) => p.offer.intakes.find((x) => x.item === itemOf(a));

function questions(p) {
  const usual = p.offer.intakes.map((x) => x.item);
  const choice = (c) => ({ value: c, title: o.itemTitle(p, c) });
  const raw = p.offer.items.filter((i) => i.stage === "raw").map((i) => i.code);
  const first = [...new Set([...usual, ...raw])].filter((c) => p.items.has(c));
  const rest = [...p.items.keys()].filter((c) => !first.includes(c));
  const organic = (a) => a.status && a.status !== "conventional";
  const intake = (a) => intakeOf(p, a);
  const driven = (a) => a.carrier !== undefined || a.vehicle !== undefined;
  return [
    { name: "item", type: "choice", title: t("g-item"), choices: [...first.map(choice), ...(rest.length ? [{ value: "", title: t("g-other-item") }] : [])] },
    { name: "itemOther", type: "choice", title: t("g-item-other"), when: (a) => a.item === "", choices: rest.map(choice) },
    { name: "source", type: "choice", title: t("g-source"), make: (a) => ({ choices: o.partnersOf(p, ["supplier"], intake(a)?.sources) }) },
    { name: "status", type: "choice", title: t("g-status"), make: (a) => ({ choices: o.statuses(intake(a)?.statuses) }) },
    ...o.lotCode("lot", t("g-lot-code"), (a) => ({ next: [p.code(intake(a)?.names ?? p.offer.intakes[0]?.names, { item: itemOf(a), status: a.status })] })),
    o.mass(p, "mass", t("g-mass")),
    o.scale(p, "scale", () => true),
    { ...o.mass(p, "theirs", t("g-theirs")), optional: true, skip: t("g-not-known") },
    o.moisture("moisture", t("g-moisture")),
    { name: "certificate", type: "choice", title: t("g-certificate"), when: organic, make: (a) => ({ choices: [...certificates(p, a.source), { value: "", title: t("g-no-certificate") }] }) },
    { name: "lookedUp", type: "yesno", title: t("g-looked-up"), when: (a) => organic(a) && a.certificate },
    { name: "lastCertified", type: "choice", title: t("g-last-certified"), when: organic, optional: true, skip: t("g-not-known"), make: (a) => ({ choices: o.partnersOf(p, ["supplier"], [a.source]) }) },
    o.words("theirLot", t("g-their-lot"), { skip: t("g-not-known") }),
    { name: "carrier", type: "choice", title: t("g-carrier"), optional: true, skip: t("g-not-known"), make: (a) => ({ choices: o.partnersOf(p, ["carrier"], [...(intake(a)?.carriers ?? []), a.source]) }) },
    o.words("vehicle", t("g-vehicle"), { skip: t("g-not-known") }),
    { name: "clean", type: "yesno", title: t("g-clean"), optional: true, skip: t("g-not-looked") },
    o.words("lastLoad", t("g-last-load"), { most: 200, skip: t("g-not-known"), when: driven }),
    o.words("sealPapers", t("g-seal-papers"), { skip: t("g-no-seal"), when: driven }),
    o.words("sealFound", t("g-seal-found"), { skip: t("g-no-seal"), when: driven }),
    { name: "to", type: "choice", title: t("g-into"), make: (a) => ({ choices: o.stationsTo(p, intake(a)?.to) }) },
    via(p, () => "", (a) => a.to),
    { ...o.words("packaging", t("g-packaging"), { most: 100 }), make: (a) => ({ value: intake(a)?.packaging }) },
    o.words("papers", t("g-papers"), { most: 100 }),
    ...o.someone(p, "releasedBy", t("g-released-by"), (a) => [a.source, a.carrier].filter(Boolean), { optional: true, skip: t("g-nobody-signed") }),
  ];
}

// via asks what goods ran through; what is usual between the two places is ticked.
export function via(p, from, to) {
  const passes = [...p.stations.values()].filter((s) => s.holds === "passes");
  return {
    name: "via",
    type: "many",
    title: t("g-via"),
    optional: true,
    when: () => passes.length > 0,
    make: (a) => ({ value: p.way(from(a), to(a)), choices: passes.map((s) => ({ value: s.code, title: inPlan(s.title) })) }),
  };
}

// inOrder puts what was ticked in the order in which it is usually run through.
export const inOrder = (way, chosen = []) => [...way.filter((c) => chosen.includes(c)), ...chosen.filter((c) => !way.includes(c))];

function certificates(p, source) {
  const codes = p.partners.get(source)?.certificates ?? [];
  return codes.map((code) => {
    const d = p.documents.get(code);
    const note = !d ? t("g-not-on-file") : d.holds ? (d.to ? t("g-holds-to", d.to) : t("g-holds")) : d.to ? t("g-ran-out", d.to) : t("g-not-on-file");
    return { value: code, title: d?.title ?? code, note };
  });
}

function fact(a, p, at) {
  const intake = intakeOf(p, a);
  return o.tidy({
    lot: o.lotCodeIn(a, "lot"),
    item: itemOf(a),
    status: a.status,
    weight: { mass: o.massText(a.mass), moisture: a.moisture, scale: a.scale, meter: a.moisture && intake?.meter },
    theirs: a.theirs && o.massText(a.theirs),
    to: a.to,
    via: inOrder(p.way("", a.to), a.via),
    source: a.source,
    theirLot: a.theirLot,
    packaging: a.packaging,
    lastCertified: a.lastCertified,
    certificate: a.certificate,
    lookedUp: a.lookedUp && p.day(at),
    vehicle: { carrier: a.carrier, number: a.vehicle, clean: a.clean, lastLoad: a.lastLoad, seals: a.sealPapers || a.sealFound ? [{ papers: a.sealPapers, found: a.sealFound }] : [] },
    papers: a.papers ? [a.papers] : [],
    releasedBy: o.someoneIn(a, "releasedBy"),
    note: a.note,
  });
}
