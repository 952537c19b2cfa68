// The crew's page: who I am, where I am, what is to be done here.

import { h, mark, button, put, root, go, back, refresh, again, depth } from "./screen.mjs";
import { t, speak, language, inPlan, languages } from "./texts.mjs";
import "./words.mjs";
import { kept, keep } from "./store.mjs";
import { queue, unsent, sent } from "./queue.mjs";
import { day, today, known, load, look, lookAgain, newer, aheadBy, fresh, person, station, titleOf, nameOf, span } from "./day.mjs";
import { sending, needs, start, send } from "./sending.mjs";
import { signIn, tell } from "./pin.mjs";
import { workList } from "./list.mjs";
import { lookAtGoods } from "./lots.mjs";
import { showUnsent, counted } from "./unsent.mjs";

const version = import.meta.url.split("/").at(-2);
export const here = { who: "", station: "", items: [], sent: [], said: "" };
const away = 30 * 60_000; // somebody who has not touched the page for so long has to say again who they are

function draw() {
  if (!today()) return nothingYet();
  if (!here.who && today().people.length === 0) return stranger();
  if (!here.who && known() && !here.station) return stations();
  if (!here.who) return people();
  if (!known()) return needsPIN();
  if (!here.station) return stations();
  return workList(here);
}

function nothingYet() {
  return [h("h1", {}, t("nothing-yet")), h("p", {}, t("nothing-yet-say")), button(t("try-again"), look, { class: "main" }), h("p", {}, h("a", { class: "button", href: "/today" }, t("plain-page")))];
}

// stranger: a device the lead has not enrolled takes no PIN and is told nobody's name; a lead's password is taken anywhere.
function stranger() {
  const name = h("input", { id: "name", autocomplete: "username", maxlength: 80 });
  const secret = h("input", { id: "secret", type: "password", autocomplete: "current-password", maxlength: 200 });
  const error = h("p", { class: "error", role: "alert" });
  const enter = button(t("sign-in"), async () => {
    error.replaceChildren();
    const got = await tell(name.value.trim(), secret.value);
    secret.value = "";
    if (got.wrong) return error.replaceChildren(mark("failed"), got.wrong);
    here.who = got.person;
    await look();
    bar();
  }, { class: "main", type: "submit" });
  return [h("h1", {}, t("not-enrolled")), h("p", {}, t("not-enrolled-say")),
    h("form", { class: "question", onsubmit: (e) => e.preventDefault() }, h("p", {}, h("label", { for: "name" }, t("name-or-code")), name), h("p", {}, h("label", { for: "secret" }, t("a-password")), secret), error, enter)];
}

// needsPIN: a device that has never seen the work has to be told it once, by somebody's sign-in.
function needsPIN() {
  return [h("h1", {}, t("first-time")), h("p", {}, t("first-time-say")), button(t("your-pin"), () => choose(here.who), { class: "main" })];
}

function stations() {
  return [h("h1", {}, t("where")), h("div", { class: "rows" }, [{ code: "*", title: t("whole-plant") }, ...(today().stations ?? [])].map((s) =>
    button([h("span", { class: "what" }, inPlan(s.title))], () => stand(s.code), { class: "row", "data-station": s.code, "aria-current": s.code === here.station ? "true" : false })))];
}

async function stand(code) {
  here.station = code;
  keep("station", code);
  await back(0);
  again();
  bar();
}

function people() {
  const all = today().people.filter((p) => p.role !== "visitor");
  return [h("h1", {}, t("who")), all.length === 0 && h("p", { class: "empty" }, t("nobody")),
    h("div", { class: "rows people" }, all.map((p) => button([h("span", { class: "initials" }, p.initials), h("span", { class: "what" }, p.name)], () => choose(p.code), { class: "row", "data-person": p.code }))),
    here.who && button(t("sign-out"), leave, { id: "sign-out" })].filter(Boolean);
}

// choose makes somebody the one who signs: by a sign-in that runs, by their PIN, or, without a network, by name alone.
function choose(code) {
  const be = async (said = "") => {
    [here.who, here.said] = [code, said];
    speak((await kept("language-" + code)) ?? person(code)?.language);
    await back(0);
    again();
    bar();
    await lookAgain();
    send();
  };
  if (fresh && today().who === code) return be();
  const p = person(code);
  if (p) {
    speak(p.language);
    bar(); // what stands around the question is said in the same language
    notices();
  }
  signIn(code, be, known() ? be : undefined);
}

async function leave() {
  here.who = here.said = "";
  await back(0);
  again();
  bar();
  await fetch("/api/sign-out", { method: "POST" }).catch(() => {});
  await look();
}

// bar is what stands above every screen: where, who, which language.
function bar() {
  const where = here.station === "*" ? t("whole-plant") : here.station ? titleOf(station(here.station), here.station) : "";
  const other = languages.find((l) => l !== language());
  const switchTo = async () => {
    speak(other);
    if (here.who) keep("language-" + here.who, other);
    again();
    bar();
    notices();
  };
  document.title = [where, today()?.plant, "Grainward"].filter(Boolean).join(" · ");
  put(document.getElementById("top"), [h("p", { class: "plant" }, today()?.plant ?? "Grainward"),
    h("div", { class: "way-back" }, button("‹ " + t("back"), () => back(), { id: "back" }), h("span", {}, [where, here.who && nameOf(here.who)].filter(Boolean).join(" · "))),
    h("div", { class: "bar" }, ...[
      where && button(where, () => go(stations), { id: "where", "aria-label": t("other-station", where) }),
      here.who && button(nameOf(here.who), () => go(people), { id: "who", "aria-label": t("somebody-else", nameOf(here.who)) }),
      button(other === "es" ? "Español" : "English", switchTo, { id: "language", lang: other }),
    ].filter(Boolean))]);
}

// notices say what is not sent, whose PIN is waited for, what was refused, and whether the clock is off.
function notices() {
  const waiting = here.items.filter((i) => i.state === "waiting");
  const refused = here.items.filter((i) => i.state === "refused");
  const lines = [];
  if (here.said) lines.push(h("p", { class: "said" }, mark("done"), here.said));
  lines.push(waiting.length ? h("p", { class: "unsent", id: "unsent" }, mark("unsent"), counted(waiting), " ", fresh ? "" : t("goes-out-later")) : h("p", { class: "unsent", id: "unsent" }, mark("done"), t(refused.length ? "rest-sent" : "all-sent")));
  if (waiting.length || refused.length) lines.push(button(t("show-unsent"), () => showUnsent(here), { id: "show-unsent", class: "small" }));
  if (fresh)
    for (const code of needs.filter((c) => waiting.some((i) => i.entry.by === c)))
      lines.push(h("div", { class: "notice" }, h("p", {}, person(code) ? t("pin-needed", nameOf(code), waiting.filter((i) => i.entry.by === code).length) : t("pin-gone", code)),
        person(code) && button(t("give-pin", nameOf(code)), () => signIn(code, async (said) => (([here.who, here.said] = [code, said]), again(), bar(), await look(), send())), { "data-needs": code })));
  if (refused.length) lines.push(h("div", { class: "notice" }, h("p", {}, mark("failed"), t(refused.length === 1 ? "one-refused" : "n-refused", refused.length))));
  if (Math.abs(aheadBy()) > 60_000) lines.push(h("p", { class: "notice", id: "clock" }, mark("caution"), t(aheadBy() > 0 ? "clock-ahead" : "clock-behind", span(aheadBy()))));
  if (!fresh && today()) lines.push(h("p", { class: "offline", id: "offline" }, t("offline")));
  if (newer(version)) lines.push(h("div", { class: "notice" }, h("p", {}, t("newer")), button(t("load-it"), () => location.reload())));
  put(document.getElementById("notices"), lines);
}

async function changed() {
  [here.items, here.sent] = await Promise.all([unsent(), sent()]);
  notices();
  refresh();
}

// serve registers the service worker of this version; a browser whose workers can not be modules gets the store alone.
async function serve() {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  const ours = "/crew/" + (newer(version) ? today().version : version) + "/";
  try {
    await workers.register(ours + "worker.mjs", { type: "module", scope: "/crew", updateViaCache: "all" });
  } catch {
    await workers.register(ours + "cache.mjs", { scope: "/crew" }).catch(() => {});
  }
  workers.ready.then((ours) => setTimeout(() => ours.active?.postMessage("rest"), 2000)); // the forms about goods
  navigator.storage?.persist?.().catch(() => {});
}

async function main() {
  speak(navigator.language?.slice(0, 2));
  await load();
  here.station = new URLSearchParams(location.search).get("station") ?? (await kept("station").catch(() => "")) ?? "";
  root(draw, true);
  let touched = Date.now();
  addEventListener("pointerdown", () => (touched = Date.now()), { capture: true });
  addEventListener("keydown", () => (touched = Date.now()), { capture: true });
  day.addEventListener("change", () => {
    if (known() && here.station && here.station !== "*" && !station(here.station)) here.station = ""; // it is not in the plan any more
    bar();
    changed();
    if (here.who) setTimeout(lookAtGoods, 3000); // after what is needed at once
  });
  sending.addEventListener("change", changed);
  queue.addEventListener("change", async () => {
    await changed();
    if (today() && here.sent.some((s) => s.position >= today().size)) look(); // the service worker may have sent it
  });
  bar();
  await changed();
  await look();
  if (!here.who && fresh && person(today().who)) {
    here.who = today().who;
    speak((await kept("language-" + here.who)) ?? person(here.who).language);
  }
  bar();
  await changed();
  start();
  await serve();
  document.body.dataset.ready = "yes";
  setInterval(() => {
    if (here.who && depth() === 0 && Date.now() - touched > away) {
      here.who = "";
      bar();
      again();
    }
    if (document.visibilityState === "visible") look();
  }, 60_000);
}

main();
