// The running clock of a drill. It counts from the server's clock, whatever this device's says; without it the page shows how long it had
// run when it was loaded.
const skew = new WeakMap();
function tick() {
  for (const clock of document.querySelectorAll(".clock[data-start]")) {
    if (!skew.has(clock)) skew.set(clock, Date.parse(clock.dataset.now) - Date.now());
    const s = Math.max(0, Math.floor((Date.now() + skew.get(clock) - Date.parse(clock.dataset.start)) / 1000));
    const two = (n) => String(n).padStart(2, "0");
    clock.querySelector(".face").textContent = two(Math.floor(s / 3600)) + ":" + two(Math.floor(s / 60) % 60) + ":" + two(s % 60);
  }
}
tick();
setInterval(tick, 1000);
