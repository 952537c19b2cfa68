// Questions, one a screen. ask walks a person through them and gives their answers; it knows nothing of tasks or lots.
//
// A question is {name, title, type, ...}:
//   number   unit, min, max (decimal texts), quiet: limits are not shown      -> "3.50", as typed
//   mass     units ["lb", "kg"]                           -> {value: "55", unit: "lb"}
//   yesno                                                 -> true or false
//   choice   choices [{value, title, note}]               -> a value
//   many     choices, optional: none may be chosen        -> [values]
//   text     long: several lines                          -> "words"
//   photo                                                 -> {key, blob}, key the hex SHA-256 of the JPEG
// and with any of them: over (a line above), hint, optional (may be skipped; skip: the words on that button), value (the answer
// to start with), when(answers): asked only if true, wrong(answer): what is to be said about an answer that is not taken, make(answers):
// members that depend on what was answered before.
//
// cautions [{text, source}] come first, on a screen of their own. finish {title, body(answers), button(answers), act(answers)} is a
// last screen to look everything over; act is awaited, and the answers are given when it has ended. The phone's own back
// button goes one question back and keeps what was answered; going back past the first gives null.

import { h, mark, button, go, back, depth } from "./screen.mjs";
import { t } from "./texts.mjs";
import { pad } from "./pad.mjs";
import { small, preview } from "./photo.mjs";
import { keyOf } from "./queue.mjs";

export async function ask(questions, { title = "", cautions = [], onBack, finish, home } = {}) {
  const base = depth();
  const answers = {};
  for (const q of questions) if (q.value !== undefined) answers[q.name] = q.value;
  const asked = (q) => !q.when || q.when(answers);
  let end;
  let over = false;
  const ended = new Promise((resolve) => (end = resolve));

  const step = (draw) => {
    const first = depth() === base;
    go(draw, { gone: first ? () => end(null) : undefined });
  };
  const next = (i) => {
    const rest = questions.findIndex((q, at) => at >= i && asked(q));
    if (rest >= 0) return step(() => question(rest));
    if (finish) return step(last);
    end(answers);
  };
  // What is no longer asked is no longer an answer.
  const standing = () => Object.fromEntries(questions.filter((q) => asked(q) && answers[q.name] !== undefined).map((q) => [q.name, answers[q.name]]));

  function question(i) {
    const q = { ...questions[i], ...questions[i].make?.(answers) };
    const all = questions.filter(asked);
    const hint = typeof q.hint === "function" ? q.hint(answers) : q.hint;
    const screen = drawers[q.type](q, answers[q.name] ?? q.value, (answer) => {
      if (answer === undefined) delete answers[q.name];
      else answers[q.name] = answer;
      next(i + 1);
    });
    return [h("p", { class: "over" }, title, all.length > 1 && h("span", { class: "n" }, t("n-of", all.indexOf(questions[i]) + 1, all.length))), q.over && (typeof q.over === "string" ? h("p", { class: "note-over" }, q.over) : q.over), h("h1", { id: "question" }, q.title), hint && h("p", { class: "hint", id: "hint" }, hint), ...screen].filter(Boolean);
  }
  function warn() {
    return [title && h("p", { class: "over" }, title), h("h1", {}, mark("caution"), t("cautions")), h("ul", { class: "cautions" }, cautions.map((c) => h("li", {}, c.text, h("span", { class: "source" }, c.source)))), button(t("read-them"), () => next(0), { class: "main" })].filter(Boolean);
  }
  function last() {
    const error = h("p", { class: "error", role: "alert" });
    const act = async () => {
      if (over) return;
      const given = standing();
      try {
        await finish.act?.(given);
      } catch (e) {
        return error.replaceChildren(mark("failed"), e.message);
      }
      over = true;
      end(given);
    };
    return [title && h("p", { class: "over" }, title), h("h1", {}, finish.title ?? t("check-it")), ...[finish.body(standing())].flat(), error, button(finish.button(standing()), act, { class: "main", id: "finish" })].filter(Boolean);
  }

  if (cautions.length) step(warn);
  else next(0);
  const given = await ended;
  if (given) await back(home ?? base);
  else onBack?.();
  return given && standing();
}

// form is the answer's field with a button that takes it, if read() finds it good.
export function form(parts, read, take, q) {
  const error = h("p", { class: "error", role: "alert" });
  const send = button(t("go-on"), () => {
    const [answer, wrong] = read();
    const against = wrong || (answer !== undefined && q.wrong?.(answer));
    if (against) return error.replaceChildren(mark("failed"), against);
    take(answer);
  }, { class: "main", id: "go-on", type: "submit" });
  const skip = q.optional && q.skip !== null && button(q.skip ?? t("skip"), () => take(undefined), { id: "skip" });
  const f = h("form", { class: "question", novalidate: true, onsubmit: (e) => e.preventDefault() }, parts, error, send, skip || null);
  return [f];
}

const options = (q, chosen, take) =>
  h("div", { class: "answers", role: "group", "aria-labelledby": "question" },
    q.choices.map((c) => button([h("span", {}, c.title), c.note && h("span", { class: "note" }, c.note)].filter(Boolean), () => take(c.value), { "aria-pressed": String(c.value === chosen), "data-value": String(c.value) })));

// drawers are by type. Another module may add a type of its own.
export const drawers = {
  yesno: (q, chosen, take) => drawers.choice({ ...q, choices: [{ value: true, title: t("yes") }, { value: false, title: t("no") }] }, chosen, take),

  choice(q, chosen, take) {
    const skip = q.optional && button(q.skip ?? t("skip"), () => take(undefined), { id: "skip" });
    return [options(q, chosen, take), skip || null];
  },

  many(q, chosen = [], take) {
    const boxes = q.choices.map((c, i) => {
      const box = h("input", { type: "checkbox", id: "many-" + i, value: c.value });
      box.checked = chosen.includes(c.value);
      return h("label", { class: "choice" }, box, h("span", {}, c.title, c.note && h("span", { class: "note" }, c.note)));
    });
    const read = () => {
      const values = q.choices.filter((_, i) => boxes[i].firstChild.checked).map((c) => c.value);
      return values.length || q.optional ? [values] : [undefined, t("choose-some")];
    };
    return form(h("div", { class: "choices", role: "group", "aria-labelledby": "question" }, boxes), read, take, { ...q, skip: null });
  },

  text(q, typed = "", take) {
    const field = h(q.long === false ? "input" : "textarea", { id: "answer", maxlength: q.most ?? 2000, rows: 4, "aria-labelledby": "question", autocomplete: "off", autofocus: true });
    field.value = typed;
    const read = () => {
      const words = field.value.trim();
      return words ? [words] : [undefined, t("not-answered")];
    };
    return form(field, read, take, q);
  },

  number: (q, typed = "", take) => form(...pad(q, typed), take, q),

  mass(q, given = { value: "", unit: q.units[0] }, take) {
    const [parts, number] = pad({ ...q, unit: "" }, given.value);
    const units = q.units.map((u, i) => {
      const dot = h("input", { type: "radio", name: "unit", id: "unit-" + i, value: u });
      dot.checked = u === given.unit;
      return h("label", { class: "choice" }, dot, h("span", {}, u));
    });
    const read = () => {
      const [value, wrong] = number();
      const unit = q.units.find((_, i) => units[i].firstChild.checked);
      return [value && { value, unit }, wrong];
    };
    return form([parts, h("div", { class: "choices two", role: "group", "aria-labelledby": "question" }, units)], read, take, q);
  },

  photo(q, given, take) {
    let photo = given;
    const place = h("div", { class: "place" });
    const said = h("p", { class: "hint", role: "status" });
    const input = h("input", { type: "file", accept: "image/*", capture: "environment", id: "photo", class: "camera", tabindex: 0, onchange: taken });
    const label = h("label", { for: "photo", class: "button" }, photo ? t("take-another") : t("take-photo"));
    async function look() {
      const canvas = await preview(photo.blob);
      canvas.setAttribute("aria-label", t("photo-here"));
      place.replaceChildren(canvas);
      label.textContent = t("take-another");
      said.textContent = t("photo-here");
    }
    async function taken() {
      if (!input.files[0]) return;
      try {
        const blob = await small(input.files[0]);
        photo = { key: await keyOf(blob), blob };
        await look();
      } catch {
        said.textContent = t("photo-wrong");
      }
    }
    if (photo) look();
    return form([place, said, input, label], () => (photo ? [photo] : [undefined, t("not-answered")]), take, q);
  },
};
