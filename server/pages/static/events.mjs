// Refreshes a page by itself when somebody has written something down. Without it the page says the same when it is loaded
// again. It never touches what is being typed.
const line = document.getElementById("live");
let source = null;
let waiting = null; // till the connection counts as lost, or is tried again
let newest = Number(line.dataset.size);
let busy = false;
let over = false;

function say(state, text) {
  line.dataset.state = state;
  if (line.textContent !== text) line.textContent = text;
}

function connect() {
  if (source || over || document.hidden) return;
  source = new EventSource("/api/events");
  source.addEventListener("open", () => {
    clearTimeout(waiting);
    waiting = null;
    if (line.dataset.state === "lost") say("", "");
  });
  source.addEventListener("journal", (e) => {
    newest = Math.max(newest, JSON.parse(e.data).size);
    refresh();
  });
  source.addEventListener("ended", ended);
  source.addEventListener("error", () => {
    // A stream ends now and then and the browser comes back by itself; only when that takes long is it worth saying.
    waiting ??= setTimeout(lost, 4000);
    if (source.readyState === EventSource.CLOSED) disconnect();
  });
}

function disconnect() {
  source?.close();
  source = null;
}

async function lost() {
  waiting = null;
  try {
    const answer = await fetch("/api/head", { headers: { "Grainward-Refresh": "1" } });
    if (answer.status === 401 || answer.status === 403) return ended();
    if (answer.ok) {
      disconnect();
      connect();
      return;
    }
  } catch {
    // what is said next says it
  }
  say("lost", line.dataset.lost);
  disconnect();
  waiting = setTimeout(() => { waiting = null; connect(); waiting ??= setTimeout(lost, 4000); }, 4000);
}

function ended() {
  over = true;
  clearTimeout(waiting);
  disconnect();
  say("ended", line.dataset.ended + " ");
  const again = document.createElement("a");
  again.href = location.href;
  again.textContent = line.dataset.again;
  line.append(again);
}

// touched says whether somebody has typed or chosen something that is not sent yet.
function touched(field) {
  switch (field.type) {
    case "hidden": return false;
    case "checkbox": case "radio": return field.checked !== field.defaultChecked;
    case "file": return field.files.length > 0;
    case "select-one": case "select-multiple": {
      const first = [...field.options].findIndex((o) => o.defaultSelected);
      return field.selectedIndex !== Math.max(first, 0);
    }
  }
  return field.value !== field.defaultValue;
}

function typing(main) {
  const fields = [...main.querySelectorAll("input, select, textarea")];
  return fields.some((f) => f === document.activeElement || touched(f));
}

// way is how to find an element again in the page that comes.
function way(e, main) {
  if (!e || !main.contains(e) || e === main) return null;
  if (e.id) return "#" + CSS.escape(e.id);
  if (e.hasAttribute("href")) return `a[href="${CSS.escape(e.getAttribute("href"))}"]`;
  const box = e.closest("[id]");
  const within = box && main.contains(box) && box !== main ? "#" + CSS.escape(box.id) + " " : "";
  return within + e.tagName.toLowerCase() + (e.name ? `[name="${CSS.escape(e.name)}"]` : "");
}

async function refresh() {
  if (busy || over || newest <= Number(line.dataset.size)) return;
  const main = document.getElementById("main");
  if (typing(main)) return say("typing", line.dataset.typing);
  busy = true;
  try {
    const answer = await fetch(location.href, { headers: { "Grainward-Refresh": "1" }, redirect: "manual" });
    if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return ended();
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("main");
    const size = page.getElementById("live")?.dataset.size;
    if (!next || size === undefined) return;
    if (typing(main)) return say("typing", line.dataset.typing); // begun while it came
    const { scrollX, scrollY } = window;
    const focus = way(document.activeElement, main);
    const open = [...main.querySelectorAll("details")].map((d) => d.open);
    main.replaceChildren(...next.childNodes);
    main.querySelectorAll("details").forEach((d, i) => { d.open = open[i] ?? d.open; });
    document.querySelector("footer").replaceChildren(...page.querySelector("footer").childNodes);
    window.scrollTo(scrollX, scrollY);
    if (focus) (main.querySelector(focus) ?? main).focus({ preventScroll: true });
    line.dataset.size = size;
    const now = new Date().toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hour12: false });
    say("fresh", line.dataset.fresh + " " + now);
  } catch {
    // the network is gone for a moment; the next event tells
  } finally {
    busy = false;
  }
  if (newest > Number(line.dataset.size)) setTimeout(refresh, 2000);
}

document.addEventListener("visibilitychange", () => (document.hidden ? disconnect() : connect()));
document.addEventListener("focusout", () => setTimeout(refresh, 300));
window.addEventListener("pagehide", disconnect);
window.addEventListener("pageshow", connect);
connect();
