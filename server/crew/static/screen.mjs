// Screens: nodes made without ever reading text as markup, and a stack of them that the phone's own back button walks.

// h makes an element. Text is always text. Names starting with "on" are listeners; true and false set or leave an attribute.
export function h(tag, attrs = {}, ...kids) {
  const e = document.createElement(tag);
  for (const [name, value] of Object.entries(attrs)) {
    if (name.startsWith("on")) e.addEventListener(name.slice(2), value);
    else if (value !== false && value != null) e.setAttribute(name, value === true ? "" : value);
  }
  e.append(...kids.flat(3).filter((k) => k != null && k !== false));
  return e;
}

// mark is one of our shapes, whose symbols the page carries.
export function mark(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("class", "mark mark-" + name);
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", "#mark-" + name);
  svg.append(use);
  return svg;
}

// button is one for a glove. What it does is done once, however often it is tapped, until it has ended.
export function button(text, act, attrs = {}) {
  let busy = false;
  const tap = async (event) => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    b.setAttribute("aria-busy", "true");
    try {
      await act(event);
    } finally {
      busy = false;
      b.removeAttribute("aria-busy");
    }
  };
  const b = h("button", { type: "button", ...attrs, onclick: tap }, text);
  return b;
}

const look = (nodes) => nodes.map((n) => n.outerHTML).join("");

// put replaces what is in an element, if it looks any different.
export function put(element, nodes) {
  const looks = look(nodes);
  if (element.looks === looks) return;
  element.looks = looks;
  element.replaceChildren(...nodes);
}

const stack = [];
let arrived = null; // who waits for the history to have gone back
const main = () => document.getElementById("main");
let drawn = ""; // what the screen on top looked like when it was drawn
let pressed = false; // a finger is down: nothing may move under it
export const held = () => pressed;

export const depth = () => stack.length - 1;

// root puts the first screen up. draw gives its nodes; live ones are drawn anew when something they show changes.
export function root(draw, live = false) {
  stack.length = 0;
  stack.push({ draw, live });
  history.replaceState({ depth: 0 }, "");
  show();
}

// go puts a screen on top. gone is called when somebody goes back past it.
export function go(draw, { gone, live = false } = {}) {
  stack.push({ draw, gone, live });
  history.pushState({ depth: depth() }, "");
  show();
}

// back goes to the screen below, or to one further down.
export function back(to = depth() - 1) {
  if (to >= depth()) return Promise.resolve();
  const done = new Promise((resolve) => (arrived = resolve));
  history.go(to - depth());
  return done;
}

// swap puts another screen in the place of the one on top.
export function swap(draw, { gone, live = false } = {}) {
  stack[depth()] = { draw, gone, live };
  show();
}

// refresh draws the screen on top anew if it is live, and leaves the reader where they are.
export function refresh() {
  const top = stack[depth()];
  if (!top?.live || pressed) return;
  const nodes = [top.draw()].flat();
  const looks = look(nodes);
  if (looks === drawn) return;
  drawn = looks;
  const at = document.activeElement?.id;
  const unfolded = [...main().querySelectorAll("details[open][id]")].map((d) => d.id);
  main().replaceChildren(...nodes);
  for (const id of unfolded) document.getElementById(id)?.setAttribute("open", "");
  if (at) document.getElementById(at)?.focus({ preventScroll: true });
}

// again draws the screen on top anew, live or not.
export function again() {
  show();
}

function show() {
  document.body.dataset.deep = depth() > 0 ? "yes" : "no";
  const nodes = [stack[depth()].draw()].flat();
  drawn = look(nodes);
  main().replaceChildren(...nodes);
  scrollTo(0, 0);
  const first = main().querySelector("[autofocus]") ?? main().querySelector("h1");
  if (first?.tagName === "H1") first.tabIndex = -1;
  first?.focus({ preventScroll: true });
}

if (globalThis.addEventListener && globalThis.document) {
  addEventListener("pointerdown", () => (pressed = true), { capture: true });
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => ((pressed = false), setTimeout(refresh)), { capture: true });
  addEventListener("popstate", (event) => {
    const to = event.state?.depth ?? 0;
    if (to > depth()) return history.go(depth() - to); // forward, to a screen that is not there any more
    while (depth() > to) stack.pop().gone?.();
    show();
    arrived?.();
    arrived = null;
  });
}
