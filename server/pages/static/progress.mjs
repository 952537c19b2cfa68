// Moves the bar of a binder being made. Without it the page says the same when it is loaded again.
const bar = document.getElementById("progress");
const percent = document.getElementById("percent");

async function look() {
  try {
    const answer = await fetch(bar.dataset.poll, { headers: { Accept: "application/json" } });
    if (!answer.ok) return location.reload();
    const job = await answer.json();
    if (job.state !== "running") return location.reload();
    bar.value = job.percent;
    percent.textContent = `${job.percent} %`;
  } catch {
    // the network is gone for a moment; the next look tells
  }
  setTimeout(look, 700);
}

setTimeout(look, 700);
