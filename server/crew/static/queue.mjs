// The queue of what was signed here and has not arrived yet.
//
// An entry goes in once (its id is made with the form), stays through restarts, and leaves only when the server says that it has
// it. Sending it again is always safe: the id is the same and the journal takes it once. What the server refuses stays
// here with the server's words. An entry is sent only under its signer's own sign-in; the server sees to that (403 with
// "needs"), and the queue remembers whose PIN it waits for.
//
// Events: "change" whenever something in here changed, in this page, another one, or the service worker.

import { within } from "./store.mjs";

export const queue = new EventTarget();

const others = "BroadcastChannel" in globalThis ? new BroadcastChannel("grainward-queue") : null;
if (others) others.onmessage = () => queue.dispatchEvent(new Event("change"));

function changed() {
  queue.dispatchEvent(new Event("change"));
  others?.postMessage("change");
}

// newID makes a UUIDv7 (RFC 9562 section 5.7).
export function newID(now = Date.now(), random = crypto.getRandomValues(new Uint8Array(16))) {
  const b = Uint8Array.from(random);
  for (let i = 5, ms = now; i >= 0; i--, ms = Math.floor(ms / 256)) b[i] = ms % 256;
  b[6] = (b[6] & 0x0f) | 0x70;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = hexOf(b);
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

const hexOf = (bytes) => [...bytes].map((x) => x.toString(16).padStart(2, "0")).join("");

// keyOf is the hex SHA-256 of a blob, under which the server keeps it.
export async function keyOf(blob) {
  return hexOf(new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer())));
}

// secrets are PINs given once more for a signature that asks for it, by entry id: in memory only, so that they die with the page.
const secrets = new Map();

// add puts one entry with its photos [{key, blob}] into the queue. The same id again changes nothing: a double tap. again is the PIN given
// once more, for a signature that asks for it.
export async function add(entry, photos = [], again = "") {
  if (again) secrets.set(entry.id, again);
  await within(["queue", "photos"], "readwrite", (tx) => {
    const there = tx.objectStore("queue").index("id").getKey(entry.id);
    there.onsuccess = () => {
      if (there.result !== undefined) return;
      for (const { key, blob } of photos) tx.objectStore("photos").put(blob, key);
      tx.objectStore("queue").add({ id: entry.id, entry, photos: photos.map((p) => p.key), state: "waiting", added: Date.now() });
    };
  });
  changed();
  remind();
}

// remind asks the browser to wake the service worker when the network is back, where it can.
async function remind() {
  try {
    await (await globalThis.navigator?.serviceWorker?.getRegistration("/crew"))?.sync?.register("send");
  } catch {
    // not offered, or not allowed: the page sends by itself whenever it is open
  }
}

const all = () => within(["queue"], "readonly", (tx) => tx.objectStore("queue").getAll());

// unsent is everything that has not arrived, oldest first: [{id, entry, photos, state, problem, added}]. state is "waiting" or
// "refused"; problem is what the server said (title, detail, errors), when it said something.
export const unsent = () => all();

// retry puts a refused entry back among those that wait.
export async function retry(id) {
  await change(id, (item) => Object.assign(item, { state: "waiting", problem: null }));
}

// confirmWith gives the PIN that a signature asked for once more; it is forgotten after the next try.
export async function confirmWith(id, secret) {
  secrets.set(id, secret);
  await retry(id);
}

async function change(id, how) {
  await within(["queue"], "readwrite", (tx) => {
    const found = tx.objectStore("queue").index("id").get(id);
    found.onsuccess = () => found.result && tx.objectStore("queue").put(how(found.result));
  });
  changed();
}

let underWay = null;
let once = false;

// sendAll sends what waits, in order, and says how it went:
//   {sent: [{id, position, clockOff}], needs: [person codes whose PIN is needed], trouble: "" | "network" | "later", after: seconds}
// While one round is under way, asking again makes another one follow it.
export function sendAll() {
  if (underWay) {
    once = true;
    return underWay;
  }
  underWay = rounds().finally(() => (underWay = null));
  return underWay;
}

async function rounds() {
  let out;
  do {
    once = false;
    out = await locked();
  } while (once && !out.trouble);
  return out;
}

// One round at a time, whichever of our pages and the service worker it is in.
function locked() {
  const locks = globalThis.navigator?.locks;
  return locks ? locks.request("grainward-send", round) : round();
}

async function round() {
  const out = { sent: [], needs: [], trouble: "", after: 0 };
  let last = 0;
  for (;;) {
    const items = await all();
    const stuck = new Set(items.filter((i) => i.state === "refused").map((i) => i.id));
    // A correction of something that is stuck itself would be refused for that reason only: it waits.
    const item = items.find((i) => i.n > last && i.state === "waiting" && !out.needs.includes(i.entry.by) && !stuck.has(i.entry.fact?.target));
    if (!item) return out;
    last = item.n;
    const got = await send(item);
    switch (got.outcome) {
      case "arrived":
        await arrived(item, got.body);
        out.sent.push({ id: item.id, position: got.body.position, clockOff: got.body.clockOff });
        break;
      case "sign in":
        out.needs.push(item.entry.by);
        break;
      case "refused":
        await change(item.id, (i) => Object.assign(i, { state: "refused", problem: got.body }));
        break;
      default:
        return Object.assign(out, { trouble: got.outcome, after: got.after });
    }
  }
}

async function send(item) {
  for (const key of item.photos) {
    const blob = await photo(key);
    if (!blob) continue; // it went with an earlier entry; the server says so if it has not got it
    const got = await exchange("/api/photos/" + key, { method: "PUT", body: blob, headers: { "Content-Type": blob.type } }, (b) => b.key === key);
    if (got.outcome !== "arrived") return got;
  }
  const again = secrets.get(item.id);
  secrets.delete(item.id);
  const body = JSON.stringify({ ...item.entry, ...(again ? { again } : {}), sent: new Date().toISOString() });
  return exchange("/api/entries", { method: "POST", body, headers: { "Content-Type": "application/json" } }, (b) => b.id === item.id);
}

const refusals = [400, 403, 409, 413, 415, 422];

// exchange asks the server and sorts its answer. What does not look like an answer of ours (a guest network's sign-in page, a
// proxy's error) is trouble with the network and never a refusal, and never taken for an arrival.
async function exchange(path, how, ours) {
  let res, body;
  try {
    res = await fetch(path, { ...how, credentials: "same-origin", cache: "no-store", redirect: "error", signal: AbortSignal.timeout(60_000) });
    body = await res.json();
  } catch {
    return { outcome: "network", after: 0 };
  }
  if (res.ok) return ours(body) ? { outcome: "arrived", body } : { outcome: "network", after: 0 };
  if (!/^application\/problem\+json/.test(res.headers.get("Content-Type") ?? "")) return { outcome: "network", after: 0 };
  if (res.status === 401) return { outcome: "sign in", body };
  if (res.status === 403 && body.needs && body.code !== "somebody-gone") return { outcome: "sign in", body };
  if (refusals.includes(res.status)) return { outcome: "refused", body };
  return { outcome: "later", after: Number(res.headers.get("Retry-After")) || 0, body };
}

const remembered = 60;

// arrived takes an entry out and notes where it is in the journal.
async function arrived(item, body) {
  await within(["queue", "photos", "sent"], "readwrite", (tx) => {
    takeOut(tx, item);
    const sent = tx.objectStore("sent");
    sent.add({ id: item.id, position: body.position, clockOff: body.clockOff ?? 0, entry: item.entry, at: Date.now() });
    const keys = sent.getAllKeys();
    keys.onsuccess = () => keys.result.slice(0, -remembered).forEach((n) => sent.delete(n));
  });
  changed();
}

// takeOut deletes an entry, with the photos that no other entry here needs.
function takeOut(tx, item) {
  const store = tx.objectStore("queue");
  store.delete(item.n);
  const rest = store.getAll();
  rest.onsuccess = () => {
    for (const key of item.photos) if (!rest.result.some((i) => i.photos.includes(key))) tx.objectStore("photos").delete(key);
  };
}

// drop takes an entry off the device that was handed over by hand. Nothing else ever does.
export async function drop(id) {
  await within(["queue", "photos"], "readwrite", (tx) => {
    const found = tx.objectStore("queue").index("id").get(id);
    found.onsuccess = () => found.result && takeOut(tx, found.result);
  });
  changed();
}

// photo is one photo that is kept here, or undefined.
export const photo = (key) => within(["photos"], "readonly", (tx) => tx.objectStore("photos").get(key));

// sent is the last entries that arrived from here, oldest first: [{id, position, clockOff, entry, at}].
export const sent = () => within(["sent"], "readonly", (tx) => tx.objectStore("sent").getAll());
