/* How this tablet says times and money: as the rest of the studio does. */
const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** "Thu 3 Dec" of "2026-12-03". */
export function day(iso) {
  const [year, month, date] = iso.split("-").map(Number);
  return `${DAYS[new Date(Date.UTC(year, month - 1, date)).getUTCDay()]} ${date} ${MONTHS[month - 1]}`;
}

function parts(moment, zone) {
  const format = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
  return Object.fromEntries(format.formatToParts(new Date(moment)).map(({ type, value }) => [type, value]));
}

/** The day of a moment where the studio is: "2026-12-03". */
export function localDay(moment, zone) {
  const { year, month, day: date } = parts(moment, zone);
  return `${year}-${month}-${date}`;
}

/** "15:41" where the studio is. */
export function clock(moment, zone) {
  const { hour, minute } = parts(moment, zone);
  return `${hour}:${minute}`;
}

/** "Thu 3 Dec, 15:41". */
export const when = (moment, zone) => `${day(localDay(moment, zone))}, ${clock(moment, zone)}`;

export const count = (number, one, many = `${one}s`) => `${number} ${number === 1 ? one : many}`;

const shape = (currency) => new Intl.NumberFormat("en-GB", { style: "currency", currency });
const digits = (currency) => shape(currency).resolvedOptions().maximumFractionDigits;

/** "£85.00" of 8500 and "GBP". */
export const money = (minor, currency) => shape(currency).format(minor / 10 ** digits(currency));

/** Minor units of "85" or "£85.00"; null where it is no amount. */
export function amount(text, currency) {
  const places = digits(currency);
  const found = text.trim().replace(/^\D+/, "").match(/^(\d{1,7})(?:\.(\d+))?$/);
  if (!found || (found[2] ?? "").length > places) return null;
  return Number(found[1] + (found[2] ?? "").padEnd(places, "0"));
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
