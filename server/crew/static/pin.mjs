// Saying who one is. The PIN goes to the server and nowhere else; the sign-in that comes back is a cookie no script can read.

import { h, button, mark, go, back, depth, put, held } from "./screen.mjs";
import { t } from "./texts.mjs";
import { day, today, person, fresh, signedIn } from "./day.mjs";

// askSecret shows the pad. take(secret) gives "" when it was right, else what is wrong. below, when given, draws what stands under it; gone is called
// when the pad is left, whichever way. It gives a function that says whether somebody has begun to type.
export function askSecret({ title, over, hint, take, below, gone }) {
  let field;
  go(() => {
    field = h("input", { id: "pin", type: "password", inputmode: "none", autocomplete: "off", maxlength: 200, "aria-labelledby": "question", autofocus: true });
    const error = h("p", { class: "error", role: "alert" });
    const add = (d) => () => (field.value += d);
    const key = (face, act, name) => button(face, act, { class: "key", "aria-label": name });
    const letters = button(t("password"), () => {
      field.inputMode = "text";
      field.focus();
    }, { class: "key" });
    const keys = [...[..."123456789"].map((d) => key(d, add(d))), letters, key("0", add("0")), key(mark("erase"), () => (field.value = field.value.slice(0, -1)), t("erase"))];
    const enter = button(t("sign-in"), async () => {
      error.replaceChildren();
      const wrong = field.value ? await take(field.value) : t("pin-missing");
      field.value = "";
      if (wrong) error.replaceChildren(mark("failed"), wrong);
    }, { class: "main", type: "submit", id: "sign-in" });
    return [h("p", { class: "over" }, over), h("h1", { id: "question" }, title), hint && h("p", { class: "hint" }, hint),
      h("form", { class: "question pin", onsubmit: (e) => e.preventDefault() }, h("p", { class: "reading" }, field), h("div", { class: "pad" }, keys), error, enter),
      below?.()].filter(Boolean);
  }, { gone });
  return () => field.value !== "";
}

// signIn asks for somebody's PIN and calls done when it was right, with what is to be said about it. free, when given, is called when
// there is no network and they go on without. A page that was off the network learns later whether a sign-in still runs: when it turns out
// to be theirs, and they have not begun to type, no PIN is needed.
export function signIn(code, done, free) {
  const base = depth();
  let ended = false;
  const through = async (then, said = "") => {
    if (ended) return;
    ended = true;
    await back(base);
    then(said);
  };
  const box = h("div");
  const below = () => {
    const off = free && !fresh;
    put(box, off ? [h("div", { class: "notice" }, h("p", {}, t("no-network-pin")), button(t("go-without"), () => through(free), { id: "without" }))] : []);
    return box;
  };
  const typing = askSecret({
    title: t("your-pin"),
    over: person(code)?.name ?? code,
    below,
    async take(secret) {
      const { wrong = "" } = await tell(code, secret);
      if (wrong) return wrong;
      signedIn(code);
      await through(done);
      return "";
    },
    gone: () => day.removeEventListener("change", news),
  });
  const news = () => {
    if (fresh && today()?.who === code && !typing() && !held()) through(done, t("still-signed-in"));
    else below();
  };
  day.addEventListener("change", news);
}

// tell gives a secret to the server and says what is wrong with it, or who that was.
export async function tell(code, secret) {
  try {
    const res = await fetch("/api/sign-in", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ person: code, secret }), cache: "no-store", signal: AbortSignal.timeout(20_000) });
    const body = await res.json();
    return res.ok && body.person ? { person: body.person } : { wrong: body.detail || t("no-answer") };
  } catch {
    return { wrong: t("no-answer") };
  }
}
