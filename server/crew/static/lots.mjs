// Lots that stand at a station, as far as this device knows: from the goods it was told of last.

import { kept, keep } from "./store.mjs";
import { inPlan } from "./texts.mjs";

let goods = null;
const restAfter = 4000; // the forms about goods are fetched, and kept by the service worker, when the page has long been there

// lookAtGoods asks what stands where, and keeps the answer for when there is no network.
export async function lookAtGoods() {
  goods ??= await kept("goods").catch(() => null);
  try {
    const res = await fetch("/api/goods", { cache: "no-store", signal: AbortSignal.timeout(10_000) });
    if (!res.ok) return;
    goods = await res.json();
    await keep("goods", goods);
    setTimeout(() => import("./goods.mjs").catch(() => {}), restAfter);
  } catch {
    // what was kept stays
  }
}

// lotsAt are choices for a question: what stands at a station, each lot as it would be ticked.
export function lotsAt(station) {
  const place = goods?.stations?.find((s) => s.code === station);
  const codes = [...new Set([...(place?.here ?? []).map((x) => x.lot), ...(place?.residents ?? [])])];
  return codes.map((code) => {
    const item = goods.items?.find((i) => i.code === goods.lots?.find((l) => l.code === code)?.item);
    return { value: code, title: code, note: item && inPlan(item.title) };
  });
}
