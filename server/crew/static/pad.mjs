// A pad of digits for gloves, beside a field that a keyboard can still type into.

import { h, mark, button } from "./screen.mjs";
import { t } from "./texts.mjs";
import { readDecimal } from "./decimal.mjs";

// limits says in words what a number should be.
export function limits(q) {
  const unit = (v) => (q.unit ? v + " " + q.unit : v);
  if (q.min != null && q.max != null) return t("between", q.min, unit(q.max));
  if (q.min != null) return t("at-least", unit(q.min));
  if (q.max != null) return t("at-most", unit(q.max));
  return "";
}

// pad gives the nodes of a number question and a function that reads it: [value] or [undefined, what is wrong].
export function pad(q, typed) {
  const should = q.quiet ? "" : limits(q);
  const field = h("input", { id: "answer", type: "text", inputmode: "none", maxlength: 20, autocomplete: "off", "aria-labelledby": "question", "aria-describedby": should && "should", autofocus: true });
  field.value = typed;
  const put = (key) => () => {
    if (key === "-") field.value = field.value.startsWith("-") ? field.value.slice(1) : "-" + field.value;
    else if (key === "." && field.value.includes(".")) return;
    else if (field.value.length < 20) field.value += key;
  };
  const key = (face, act, name) => button(face, act, { class: "key", "aria-label": name });
  const minus = q.min == null || q.min.startsWith("-");
  const keys = [..."123456789"].map((d) => key(d, put(d)));
  const last = [key(".", put("."), t("point")), key("0", put("0")), key(mark("erase"), () => (field.value = field.value.slice(0, -1)), t("erase"))];
  if (minus) last.unshift(key("−", put("-"), t("minus")));
  const read = () => {
    if (!field.value.trim()) return [undefined, t("not-answered")];
    const value = readDecimal(field.value);
    return value === null ? [undefined, t("not-number")] : [value];
  };
  return [[h("p", { class: "reading" }, field, q.unit && h("span", { class: "unit" }, q.unit)), should && h("p", { class: "hint", id: "should" }, should), h("div", { class: "pad" }, keys), h("div", { class: minus ? "pad four" : "pad" }, last)].filter(Boolean), read];
}
