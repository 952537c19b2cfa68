// Answers recurrence rules with two libraries we did not write. Each line on
// standard input is {"library", "rule", "start", "to"} with dates as 2026-03-08; each
// line on standard output, in the same order, is {"dates": [...]} or {"error": "..."}.
//
// Rules are run at midnight in UTC, where no clock ever changes, because dates are
// all that is asked.
import { createInterface } from "node:readline";
import rrule from "rrule";
import { RRuleTemporal } from "rrule-temporal";

const midnight = (date) => new Date(date + "T00:00:00Z");

const libraries = {
  "rrule-temporal": ({ rule, start, to }) => {
    const zoned = rule.replace(/UNTIL=(\d{8})/, "UNTIL=$1T000000Z");
    const r = new RRuleTemporal({
      rruleString: `DTSTART;TZID=UTC:${start.replaceAll("-", "")}T000000\nRRULE:${zoned}`,
      maxIterations: 100_000,
    });
    return r.between(midnight(start), midnight(to), true).map((t) => t.toString().slice(0, 10));
  },
  rrule: ({ rule, start, to }) => {
    const options = { ...rrule.RRule.parseString(rule), dtstart: midnight(start) };
    // It looks on to the year 9999 for a rule that never matches unless told to stop.
    if (!options.until || options.until > midnight(to)) options.until = midnight(to);
    return new rrule.RRule(options).all().map((t) => t.toISOString().slice(0, 10));
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  const question = JSON.parse(line);
  let answer;
  try {
    answer = { dates: libraries[question.library](question) };
  } catch (e) {
    answer = { error: String(e) };
  }
  console.log(JSON.stringify(answer));
}
