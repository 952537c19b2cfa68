// The service worker: the store, and the queue for when the network comes back while no page is open.

import "./cache.mjs";
import { sendAll } from "./queue.mjs";

addEventListener("sync", (event) => {
  if (event.tag !== "send") return;
  event.waitUntil(
    sendAll().then((got) => {
      if (got.trouble) throw new Error(got.trouble); // the browser tries again later
    }),
  );
});
