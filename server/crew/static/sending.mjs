// When the queue goes out: at once, when the network comes back, when somebody looks at the page, and again and again with longer
// and longer waits while there is trouble.

import { queue, sendAll, unsent } from "./queue.mjs";
import { look, fresh } from "./day.mjs";

export const sending = new EventTarget(); // "change" when what is known of it changed
export let needs = []; // whose PIN is waited for
export let trouble = "";
const [shortest, longest] = [4_000, 300_000];
let wait = shortest;
let timer = 0;

// send tries now.
export async function send() {
  clearTimeout(timer);
  const got = await sendAll();
  ({ needs, trouble } = got);
  if (got.sent.length || (!trouble && !fresh)) await look();
  wait = trouble ? Math.min(wait * 2, longest) : shortest;
  if (trouble && (await unsent()).length) timer = setTimeout(send, Math.max(wait, got.after * 1000));
  sending.dispatchEvent(new Event("change"));
  return got;
}

// start sends whenever there is reason to hope.
export function start() {
  const hope = () => {
    wait = shortest;
    send();
  };
  setInterval(() => document.visibilityState === "visible" && !fresh && hope(), 15_000);
  addEventListener("online", hope);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && hope());
  queue.addEventListener("change", () => sending.dispatchEvent(new Event("change")));
  hope();
}
