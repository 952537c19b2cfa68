// Lots that stand at a station, as far as this device knows: from the goods it was told of last.

import { kept, keep } from "./store.mjs";

let goods = null;

// lookAtGoods asks what stands where, and keeps the answer for when there is no network.
export async function lookAtGoods() {
  goods ??= await kept("goods").catch(() => null);
  try {
    const res = await fetch("/api/goods", { cache: "no-store", signal: AbortSignal.timeout(10_000) });
    if (!res.ok) return;
    goods = await res.json();
    await keep("goods", goods);
  } catch {
    // what was kept stays
  }
}

// lotsAt are choices for a question.
export function lotsAt(station) {
  const place = goods?.stations?.find((s) => s.code === station);
  return (place?.lots ?? []).map((l) => ({ value: l.lot ?? l.code ?? l, title: l.lot ?? l.code ?? l, note: l.mass }));
}
