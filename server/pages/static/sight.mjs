// A drawing wider than its box begins where it matters: at the lot it is about.
for (const box of document.querySelectorAll(".scroller")) {
  const subject = box.querySelector(".subject");
  if (!subject) continue;
  const a = subject.getBoundingClientRect(), b = box.getBoundingClientRect();
  box.scrollLeft += a.left + a.width / 2 - b.left - b.width / 2;
}
