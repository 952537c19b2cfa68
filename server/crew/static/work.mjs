// Signing one piece of work off.
//
// When nothing is measured it takes three touches: the row, "all as it should be", "sign". Otherwise one question at a time;
// an answer outside its limits asks at once what was done about it and whether a lot must be held. What is signed goes
// into the queue and from there to the journal; it is never changed there, only corrected by a later entry.

import { h, mark, button, go, depth } from "./screen.mjs";
import { t, inPlan } from "./texts.mjs";
import { ask } from "./ask.mjs";
import { outside } from "./decimal.mjs";
import { limits } from "./pad.mjs";
import { add, newID } from "./queue.mjs";
import { send } from "./sending.mjs";
import { task, station, person, today, agent, titleOf, nameOf, when, clock, ownTime, wall, fromWall } from "./day.mjs";
import { lotsAt } from "./lots.mjs";

// signOff takes somebody through one piece of work: {task, station, window}.
export async function signOff(here, work) {
  here.said = "";
  await through(here, work, {}, async (made) => {
    const e = { id: made.id, happened: made.happened, by: here.who, kind: "signoff", fact: made.fact };
    await add(e, made.photos);
    if (made.hold) await add(made.hold);
    here.said = t("signed-said", titleOf(task(work.task), work.task));
  });
}

// correctHere corrects a sign-off that has not gone out yet: both go out, the correction after what it corrects.
export async function correctHere(here, item) {
  const f = item.entry.fact;
  const title = titleOf(task(f.task), f.task);
  const id = newID();
  const why = await ask([
    { name: "reason", type: "text", title: t("why-wrong"), hint: t("why-wrong-hint") },
    { name: "what", type: "choice", title: t("what-wrong"), choices: [{ value: "answers", title: t("answers-wrong") }, { value: "all", title: t("never-done") }] },
  ], { title });
  if (!why) return;
  const entry = (more) => ({ id, happened: new Date().toISOString(), by: here.who, kind: "correct", fact: { target: item.id, reason: why.reason, ...more } });
  if (why.what === "all") {
    await add(entry({ withdraw: true }));
    here.said = t("corrected-said", title);
    return void send();
  }
  await through(here, { task: f.task, station: f.station, window: f.window && { opens: Date.parse(f.window) } }, { kept: f.window, item }, async (made) => {
    await add(entry({ with: { kind: "signoff", fact: made.fact } }), made.photos);
    if (made.hold) await add(made.hold);
    here.said = t("corrected-said", title);
  });
}

// through asks what a task asks and hands over what was made of it. Its ids are made before the first question: however often the
// last button is tapped, it is the same entry.
async function through(here, work, old, take) {
  const what = task(work.task);
  const ids = { id: newID(), hold: newID() };
  const title = titleOf(what, work.task) + " · " + titleOf(station(work.station), work.station);
  const asks = what.asks ?? [];
  const simple = !old.item && asks.every((a) => a.right && !a.optional && ["yesno", "choice"].includes(a.type));
  const base = depth();
  const more = extras(here, what);
  const cautions = (what.cautions ?? []).map((c) => ({ text: inPlan(c.text), source: c.source }));
  const run = async (questions, given, warnings) => {
    const close = finishing(here, what, work, given);
    const answers = await ask(questions, { title, cautions: warnings, home: base, finish: { ...close, act: (a) => keep(() => take(make(here, what, work, { ...given, ...a }, ids, close.more()))) } });
    if (answers) send();
  };
  const all = () => run([...asks.flatMap((a) => questionsOf(here, a, work)), ...more], {}, simple ? [] : cautions);
  if (!simple) return all();
  const right = Object.fromEntries(asks.map((a) => ["a-" + a.code, a.type === "yesno" ? a.right === "yes" : a.right]));
  go(() => [
    h("p", { class: "over" }, titleOf(station(work.station), work.station), work.window?.due && " · " + t("due-by", when(work.window.due))),
    h("h1", {}, titleOf(what, work.task)),
    ...notes(here, what),
    cautions.length > 0 && h("section", { class: "cautions" }, h("h2", {}, mark("caution"), t("cautions")), h("ul", {}, cautions.map((c) => h("li", {}, c.text, h("span", { class: "source" }, c.source))))),
    asks.length > 0 && h("ul", { class: "should" }, asks.map((a) => h("li", {}, h("span", {}, inPlan(a.title)), h("strong", {}, a.type === "yesno" ? t(a.right) : a.right)))),
    button(asks.length ? t("all-right") : t("it-is-done"), () => run(more, right, []), { class: "main", id: "all-right" }),
    asks.length > 0 && button(t("one-by-one"), all, { id: "one-by-one" }),
  ].filter(Boolean));
}

// keep says in words when the device could not keep what was signed.
async function keep(write) {
  try {
    await write();
  } catch (e) {
    throw new Error(t("not-kept", e.message));
  }
}

function notes(here, what) {
  const lines = [];
  if (what.trained && !person(here.who)?.trained?.includes(what.code)) lines.push(h("p", { class: "notice" }, mark("caution"), t("not-trained")));
  return lines;
}

// questionsOf is one ask with what follows from an answer that is not as it should be.
function questionsOf(here, a, work) {
  const name = "a-" + a.code;
  const wrong = (answers) => !fits(a, answers[name]);
  const q = { name, title: inPlan(a.title), type: a.type, unit: a.unit, min: a.min, max: a.max, optional: a.optional, choices: (a.choices ?? []).map((c) => ({ value: c, title: c })) };
  const told = (answers) => t("is-outside", q.title, said(a, answers[name]), should(a));
  const list = lotsAt(work.station);
  const held = (answers) => wrong(answers) && answers["held-" + a.code] === true;
  return [q,
    { name: "action-" + a.code, type: "text", when: wrong, title: t("action"), optional: true, skip: t("no-action"), hint: told },
    { name: "held-" + a.code, type: "yesno", when: wrong, title: t("hold-lot") },
    { name: "lots-" + a.code, type: "many", when: (x) => held(x) && list.length > 0, title: t("which-lots"), optional: true, choices: list },
    { name: "lot-" + a.code, type: "text", long: false, most: 20, when: (x) => held(x) && !x["lots-" + a.code]?.length, title: t("lot-code"), hint: t("lot-code-hint"), wrong: (code) => (/^[0-9A-Za-z!"%&'()*+,\-./_:;<=>?]{1,20}$/.test(code) ? "" : t("lot-code-wrong")) }];
}

const should = (a) => (a.type === "number" ? limits(a) : t("should-be", a.type === "yesno" ? t(a.right) : a.right));

// fits says whether an answer is as it should be; one that was not given is not out of anything.
function fits(a, answer) {
  if (answer === undefined) return true;
  if (a.type === "number") return !outside(answer, a.min, a.max);
  if (!a.right) return true;
  return a.type === "yesno" ? answer === (a.right === "yes") : a.type !== "choice" || answer === a.right;
}

const said = (a, answer) => (a.type === "number" ? [answer, a.unit].filter(Boolean).join(" ") : a.type === "yesno" ? t(answer ? "yes" : "no") : a.type === "photo" ? t("photo-here") : answer);

// extras are the questions that belong to the task and not to one of its asks.
function extras(here, what) {
  const people = today().people.filter((p) => p.code !== here.who).map((p) => ({ value: p.code, title: p.name }));
  const list = [];
  if (what.agents?.length) {
    list.push({ name: "agents", type: "many", optional: true, title: t("which-agents"), choices: what.agents.map((c) => ({ value: c, title: titleOf(agent(c), c), note: agent(c)?.check })) });
    for (const c of what.agents) list.push({ name: "agent-" + c, type: "text", long: false, most: 60, optional: true, skip: t("no-number"), when: (a) => a.agents?.includes(c), title: t("agent-lot", titleOf(agent(c), c)) });
  }
  if (what.trains) list.push({ name: "trainees", type: "many", optional: true, title: t("trainees"), choices: people });
  if (what.second) list.push({ name: "second", type: "choice", title: t("second"), optional: true, skip: t("nobody-second"), choices: people });
  return list;
}

// finishing is the last screen: what will be signed, when it was done, and whether it passed.
function finishing(here, what, work, given) {
  const late = work.window?.lapses < clock();
  let field = {};
  const draw = (answers) => {
    const a = { ...given, ...answers };
    const bad = (what.asks ?? []).filter((x) => !fits(x, a["a-" + x.code]));
    field = {
      failed: h("input", { type: "checkbox", id: "failed" }),
      action: h("textarea", { id: "action", maxlength: 2000, rows: 2, "aria-label": t("action") }),
      when: h("input", { type: "datetime-local", id: "when", max: wall(clock()), value: field.when?.value ?? "" }),
      note: h("textarea", { id: "note", maxlength: 2000, rows: 2 }),
    };
    const action = h("div", { hidden: true }, h("label", { for: "action" }, t("action")), field.action);
    field.failed.addEventListener("change", () => (action.hidden = !field.failed.checked));
    return [
      ...notes(here, what),
      h("dl", { class: "facts" }, facts(what, a)),
      bad.length ? h("p", { class: "notice" }, mark("failed"), t("not-passed")) : h("div", { class: "ask" }, h("label", { class: "choice" }, field.failed, h("span", {}, t("failed-all-the-same"))), action),
      h("details", { class: "more", open: late }, h("summary", {}, t("more")), h("label", { for: "when" }, t("done-earlier")), late && h("p", { class: "hint" }, t("late-hint")), field.when, h("label", { for: "note" }, t("note")), field.note),
    ];
  };
  return { title: t("check-it"), body: draw, button: () => t("sign-as", nameOf(here.who)), more: () => ({ failed: field.failed.checked, action: field.action.value.trim(), note: field.note.value.trim(), when: field.when.value }) };
}

function facts(what, a) {
  const rows = [];
  const row = (name, value, bad) => rows.push(h("div", {}, h("dt", {}, name), h("dd", {}, bad && mark("failed"), value)));
  for (const x of what.asks ?? []) {
    const answer = a["a-" + x.code];
    row(inPlan(x.title), answer === undefined ? t("unanswered") : said(x, answer), !fits(x, answer));
    if (a["action-" + x.code]) row(t("action"), a["action-" + x.code]);
    if (a["held-" + x.code]) row(t("hold-these"), heldLots(x, a).join(", "));
  }
  if (a.agents?.length) row(t("which-agents"), a.agents.map((c) => titleOf(agent(c), c) + (a["agent-" + c] ? " (" + a["agent-" + c] + ")" : "")).join(", "));
  if (a.trainees?.length) row(t("trainees"), a.trainees.map(nameOf).join(", "));
  if (a.second) row(t("second"), nameOf(a.second));
  return rows;
}

const heldLots = (x, a) => (a["lots-" + x.code]?.length ? a["lots-" + x.code] : [a["lot-" + x.code]].filter(Boolean));

// make is the entry's fact, the photos it names, and the hold that goes with it. The time is this device's own; the server puts
// it right.
function make(here, what, work, a, ids, close) {
  const asks = what.asks ?? [];
  const bad = asks.filter((x) => !fits(x, a["a-" + x.code]));
  const photos = [];
  const fact = { task: work.task, station: work.station, outcome: bad.length || close.failed ? "failed" : "passed" };
  if (work.window) fact.window = new Date(work.window.opens).toISOString();
  const answers = asks.filter((x) => a["a-" + x.code] !== undefined).map((x) => response(x, a["a-" + x.code], photos));
  if (answers.length) fact.answers = answers;
  if (a.agents?.length) fact.agents = a.agents.map((c) => ({ agent: c, ...(a["agent-" + c] ? { lot: a["agent-" + c] } : {}) }));
  const actions = bad.map((x) => a["action-" + x.code] && (bad.length > 1 ? inPlan(x.title) + ": " : "") + a["action-" + x.code]).filter(Boolean);
  if (close.failed && close.action) actions.push(close.action);
  if (actions.length) fact.action = actions.join("\n").slice(0, 2000);
  if (a.second) fact.second = a.second;
  if (a.trainees?.length) fact.trainees = a.trainees;
  if (close.note) fact.note = close.note;
  const happened = close.when ? ownTime(fromWall(close.when)) : new Date().toISOString();
  const lots = [...new Set(bad.flatMap((x) => (a["held-" + x.code] ? heldLots(x, a) : [])))];
  if (lots.length) fact.lots = lots;
  const why = [titleOf(what, work.task), ...bad.map((x) => t("is-outside", inPlan(x.title), said(x, a["a-" + x.code]), should(x))), ...actions].join(". ").slice(0, 2000);
  const hold = lots.length ? { id: ids.hold, happened, by: here.who, kind: "hold", fact: { lots, why } } : null;
  return { id: ids.id, happened, fact, photos, hold };
}

function response(x, answer, photos) {
  const r = { ask: x.code };
  if (x.type === "number") r.value = { value: answer, ...(x.unit ? { unit: x.unit } : {}) };
  else if (x.type === "yesno") r.yes = answer;
  else if (x.type === "choice") r.choice = answer;
  else if (x.type === "text") r.text = answer;
  else {
    r.photo = answer.key;
    if (answer.blob) photos.push(answer);
  }
  return r;
}
