// Moving goods from one station to another: loading a floor or the kiln is a move too.

import { t } from "./texts.mjs";
import * as o from "./offered.mjs";
import { via, inOrder } from "./receive.mjs";

export const move = {
  kind: "move",
  title: () => t("g-move"),
  cautions: (p, station) => [...new Map(p.offer.stations.filter((s) => (station ? s.code === station : s.holds === "mixed")).flatMap((s) => s.cautions ?? []).map((c) => [c.source + c.text.en, c])).values()].slice(0, 4),
  questions,
  fact,
};

function questions(p, station) {
  const from = station && p.here(station).length ? station : undefined;
  const usual = (a) => p.offer.ways.filter((w) => w.from === a.from && w.to && !w.at).map((w) => w.to);
  const apart = (a) => !p.mixed(a.from) && p.here(a.from).length > 1;
  return [
    { name: "from", type: "choice", title: t("g-from"), value: from, make: () => ({ choices: first(o.stationsFrom(p), from) }) },
    { name: "lot", type: "choice", title: t("g-which-lot"), when: apart, make: (a) => ({ choices: o.standings(p, (_, place) => place === a.from) }) },
    ...o.howMuch(p, "how", "lot").map((q) => aimed(p, q)),
    o.scale(p, "scale", (a) => a.howAll !== "all"),
    { name: "to", type: "choice", title: t("g-into"), make: (a) => ({ choices: o.stationsTo(p, usual(a), a.from) }) },
    via(p, (a) => a.from, (a) => a.to),
  ];
}

const first = (choices, code) => [...choices.filter((c) => c.value === code), ...choices.filter((c) => c.value !== code)];

// whole is the answers with the lot that was meant: where only one stands, or all are mixed, nobody is asked which.
const whole = (p, a) => ({ ...a, lot: !p.mixed(a.from) && p.here(a.from).length > 1 ? a.lot : a.from + "|" + (p.mixed(a.from) ? "" : (p.here(a.from)[0]?.lot ?? "")) });

const aimed = (p, q) => ({ ...q, when: q.when && ((a) => q.when(whole(p, a))), make: q.make && ((a) => q.make(whole(p, a))) });

function fact(a, p) {
  const all = whole(p, a);
  const how = o.taken(p, all, "how", "lot");
  return o.tidy({
    lot: o.standingOf(all.lot).lot,
    from: a.from,
    to: a.to,
    via: inOrder(p.way(a.from, a.to), a.via),
    weight: { mass: how.mass, scale: how.weighed ? a.scale : undefined },
    last: how.last,
    note: a.note,
  });
}
