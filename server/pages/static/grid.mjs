// Arrow keys go about a table of links, and Tab passes it in one step. Without this module every link is a stop of its own.
for (const table of document.querySelectorAll('table.grid')) {
  const rows = [...table.querySelectorAll('tbody tr:not(.group)')].map(tr => [...tr.querySelectorAll('td')].map(td => td.querySelector('a')));
  const all = rows.flat().filter(Boolean);
  if (!all.length) continue;
  const at = new Map();
  rows.forEach((row, y) => row.forEach((a, x) => { if (a) at.set(a, [y, x]); }));
  const stop = a => { for (const b of all) b.tabIndex = b === a ? 0 : -1; };
  stop(all[0]);
  const today = table.querySelector('th[aria-current]'), box = table.closest('.scroller');
  if (today && box) box.scrollLeft = today.offsetLeft + today.offsetWidth - box.clientWidth; // on a phone the present is in sight
  const look = (y, x, dy, dx) => {
    for (y += dy, x += dx; y >= 0 && y < rows.length && x >= 0 && x < rows[y].length; y += dy, x += dx) if (rows[y][x]) return rows[y][x];
  };
  const step = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1] };
  table.addEventListener('keydown', e => {
    if (!at.has(e.target) || e.ctrlKey || e.altKey || e.metaKey) return;
    const [y, x] = at.get(e.target);
    let to;
    if (step[e.key]) to = look(y, x, ...step[e.key]);
    else if (e.key === 'Home') to = rows[y].find(Boolean);
    else if (e.key === 'End') to = rows[y].findLast(Boolean);
    else return;
    e.preventDefault();
    if (to) { stop(to); to.focus(); }
  });
  table.addEventListener('focusin', e => { if (at.has(e.target)) stop(e.target); });
}
