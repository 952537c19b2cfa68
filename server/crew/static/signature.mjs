// A signature drawn with a finger, as a question: black on white, whatever the screen's colours, since it is put on file like a photo.
// Who can not draw goes on with the name alone.

import { h, mark, button } from "./screen.mjs";
import { t } from "./texts.mjs";
import { keyOf } from "./queue.mjs";
import { drawers, form } from "./ask.mjs";

const width = 720; // of the picture kept, whatever the screen's size
const height = 400;

// strokes as lists of points, so that the drawing can be made anew when somebody comes back to it.
drawers.signature = (q, given, take) => {
  const strokes = given?.strokes ?? [];
  const canvas = h("canvas", { id: "signature", class: "signature", width, height, role: "img", "aria-label": t("g-sign-area") });
  const said = h("p", { class: "hint", role: "status" });
  const pen = canvas.getContext("2d");
  const points = () => strokes.reduce((n, s) => n + s.length, 0);

  function draw() {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, width, height);
    pen.strokeStyle = "#bbb";
    pen.lineWidth = 2;
    line([[30, 310], [width - 30, 310]]);
    pen.strokeStyle = "#000";
    pen.fillStyle = "#000";
    pen.lineWidth = 6;
    pen.lineCap = pen.lineJoin = "round";
    for (const s of strokes) line(s);
    said.textContent = points() ? t("g-sign-there") : t("g-sign-empty");
  }
  function line(s) {
    pen.beginPath();
    pen.moveTo(...s[0]);
    for (const at of s.slice(1)) pen.lineTo(...at);
    if (s.length === 1) pen.lineTo(s[0][0] + 0.1, s[0][1]);
    pen.stroke();
  }
  const at = (e) => {
    const box = canvas.getBoundingClientRect();
    return [Math.round(((e.clientX - box.left) * width) / box.width), Math.round(((e.clientY - box.top) * height) / box.height)];
  };
  let now = null; // the pointer that draws; a second finger, or the palm, does not
  canvas.addEventListener("pointerdown", (e) => {
    if (now !== null || e.button) return;
    e.preventDefault();
    now = e.pointerId;
    canvas.setPointerCapture(now);
    strokes.push([at(e)]);
    canvas.closest("form").querySelector(".error").replaceChildren();
    draw();
  });
  canvas.addEventListener("pointermove", (e) => {
    if (e.pointerId !== now) return;
    for (const x of e.getCoalescedEvents?.().length ? e.getCoalescedEvents() : [e]) strokes.at(-1).push(at(x));
    draw();
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (e) => (now = e.pointerId === now ? null : now));

  const clear = button([mark("erase"), h("span", {}, t("g-sign-clear"))], () => {
    strokes.length = 0;
    draw();
  }, { id: "clear" });
  draw();
  // The picture is made when the answer is taken: its key is of the bytes that are sent.
  const keep = async () => {
    const blob = await new Promise((resolve, reject) => canvas.toBlob((b) => (b ? resolve(b) : reject(new Error("no picture"))), "image/png"));
    take({ key: await keyOf(blob), blob, strokes });
  };
  return form([canvas, said, clear], () => (points() < 2 ? [undefined, t("g-sign-empty")] : [strokes]), (answer) => (answer === undefined ? take(undefined) : keep()), q);
};
