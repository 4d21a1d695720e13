// Numbers as the program prints them, to the last digit.

const MINUS = "\u2212";

// Rounded exactly as the number is stored, a tie to the even digit; toFixed alone sends ties upwards.
function decimals(size, places) {
  const rounded = size.toFixed(places);
  const long = size.toFixed(90);
  const cut = long.slice(0, long.length - 90 + places);
  const tie = /^50*$/.test(long.slice(long.length - 90 + places));
  return tie && /[02468]\.?$/.test(cut) ? cut.replace(/\.$/, "") : rounded;
}

function fixed(value, places) {
  if (!Number.isFinite(value)) return "unknown";
  const step = 10 ** -places;
  const size = Math.abs(value);
  const text = places >= 0 ? decimals(size, Math.min(places, 17)) : (Math.round(size / step) * step).toFixed(0);
  return value < 0 && /[1-9]/.test(text) ? MINUS + text : text;
}

// Places that leave two digits on an error.
function placesFor(error) {
  if (!(Number.isFinite(error) && error > 0)) return 3;
  return 1 - Number(error.toExponential(1).split("e")[1]);
}

function interval(low, high) {
  const places = placesFor(Math.abs(high - low) / 2);
  return `${fixed(low, places)} to ${fixed(high, places)}`;
}
