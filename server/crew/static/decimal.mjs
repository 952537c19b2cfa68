// Decimals as people write them: text all the way, because a double would round what was read off a scale.

// readDecimal gives the plain form of a number as typed ("3,5" and "−2" too), or null. "1,234" can be read two ways and is null.
export function readDecimal(text) {
  let s = text.trim().replace("−", "-");
  if (s.includes(",")) {
    if (s.includes(".") || s.indexOf(",") !== s.lastIndexOf(",") || s.length - s.indexOf(",") === 4) return null;
    s = s.replace(",", ".");
  }
  const m = /^(-?)0*(\d+)(\.\d+)?$/.exec(s);
  if (!m || (m[2] + (m[3] ?? "")).length > 18 || (m[3] ?? "").length > 13) return null;
  const plain = m[2] + (m[3] ?? "");
  return (/[1-9]/.test(plain) ? m[1] : "") + plain;
}

// compare is the sign of a - b, exactly.
export function compare(a, b) {
  const digits = (s) => (s.split(".")[1] ?? "").length;
  const places = Math.max(digits(a), digits(b));
  const whole = (s) => BigInt(s.replace(".", "") + "0".repeat(places - digits(s)));
  const [x, y] = [whole(a), whole(b)];
  return x < y ? -1 : x > y ? 1 : 0;
}

// outside says whether a value lies outside the limits it was given; a limit that is not there holds nothing back.
export const outside = (value, min, max) => (min != null && compare(value, min) < 0) || (max != null && compare(value, max) > 0);
