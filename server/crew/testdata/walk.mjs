// walk goes through a form as a person would (ask.mjs): what is asked, in order, with the answers given by name. It throws when an
// answer is not among what is offered, when one is not taken, and when one that must be given is not.
export function walk(form, p, given, station) {
  const a = {};
  const asked = [];
  for (const q of form.questions(p, station)) {
    if (q.when && !q.when(a)) continue;
    const now = { ...q, ...q.make?.(a) };
    if (!now.title) throw new Error(q.name + " has no title");
    asked.push(q.name);
    const value = q.name in given ? given[q.name] : undefined;
    if (value === undefined) {
      if (!now.optional) throw new Error(q.name + " must be answered: " + now.title + " " + JSON.stringify(now.choices?.map((c) => c.value)));
      if (now.type === "many") a[q.name] = now.value ?? [];
      continue;
    }
    const offered = now.type === "yesno" ? [true, false] : now.choices?.map((c) => c.value);
    for (const v of now.type === "many" ? value : offered ? [value] : []) if (!offered.includes(v)) throw new Error(q.name + ": " + JSON.stringify(v) + " is not offered, only " + JSON.stringify(offered));
    const wrong = now.wrong?.(value);
    if (wrong) throw new Error(q.name + ": " + wrong);
    a[q.name] = value;
  }
  for (const name of Object.keys(given)) if (!asked.includes(name)) throw new Error(name + " is never asked; asked were " + asked.join(", "));
  return { answers: a, asked };
}
