// Saying who one is. The PIN goes to the server and nowhere else; the sign-in that comes back is a cookie no script can read.

import { h, button, mark, go, back, depth } from "./screen.mjs";
import { t } from "./texts.mjs";
import { person, fresh, signedIn } from "./day.mjs";

// askSecret shows the pad. take(secret) gives "" when it was right, else what is wrong. without, when there is one, goes on without
// a PIN: {say, text, act}; gone is called when somebody goes back instead.
export function askSecret({ title, over, hint, take, without, gone }) {
  go(() => {
    const field = h("input", { id: "pin", type: "password", inputmode: "none", autocomplete: "off", maxlength: 200, "aria-labelledby": "question", autofocus: true });
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
      without && h("div", { class: "notice" }, h("p", {}, without.say), button(without.text, without.act, { id: "without" }))].filter(Boolean);
  }, { gone });
}

// signIn asks for somebody's PIN and calls done when it was right. free, when given, is called when there is no network and they go on
// without.
export function signIn(code, done, free) {
  const who = person(code);
  const base = depth();
  askSecret({
    title: t("your-pin"),
    over: who?.name ?? code,
    async take(secret) {
      const { wrong = "" } = await tell(code, secret);
      if (!wrong) {
        signedIn(code);
        await back(base);
        done();
      }
      return wrong;
    },
    without: free && !fresh && { say: t("no-network-pin"), text: t("go-without"), act: async () => (await back(base), free()) },
  });
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
