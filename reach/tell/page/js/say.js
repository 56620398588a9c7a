// Numbers, moments and messages in words, the same as reach/base/words.py says them, in the page's language.
const Say = (() => {
  const THIN = "\u202f", HARD = "\u00a0", MINUS = "\u2212", DASH = "\u2013";
  const COMPASS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split(" ");

  // What another language than English needs: its messages by the English ones, and its decimal sign.
  const found = document.getElementById("tongue");
  const tongue = found ? JSON.parse(found.textContent) : { language: "en", decimal: ".", messages: {} };
  const forms = new Intl.PluralRules(tongue.language);
  const fill = (message, values) => message.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  /** A message in the page's language, its places in braces filled. */
  const text = (message, values = {}) => fill(tongue.messages[message] ?? message, values);
  const decimal = (number) => number.replace(".", tongue.decimal);

  const count = (value) => String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, THIN);
  const km = (value) => count(Math.abs(value) >= 1000 ? Math.round(value / 10) * 10 : value) + THIN + "km";
  /** A distance that reports came from beyond: rounded down, so that it never claims more than they hold. */
  const beyond = (value) => km(value - value % (value >= 1000 ? 10 : 1));
  const db = (value) => decimal(Number.isInteger(value) ? String(value) : value.toFixed(1)).replace("-", MINUS) + THIN + "dB";
  const signed = (value) => decimal(`${value > 0 && Number(value.toFixed(1)) ? "+" : ""}${(Math.round(value * 10) / 10 + 0).toFixed(1)}`).replace("-", MINUS);
  const words = { heard: false, far: "receiver", fars: "receivers", file: "receivers", nobody: "nobody listens there", better: "stronger", where: "Where to" }; // as `speak` was told
  const speak = (given) => Object.assign(words, given);
  const fars = (value) => (words.heard ? things(value, "transmitter") : things(value, "receiver"));
  const things = (value, one, many) => {
    const said = tongue.messages[`{n} ${one}`];
    if (!said) return `${count(value)} ${value === 1 ? one : many || one + "s"}`;
    return fill(forms.select(value) === "one" ? said[0] : said[said.length - 1], { n: count(value) });
  };
  const compass = (bearing) => text(COMPASS[Math.floor((((bearing % 360) + 360) % 360 + 11.25) / 22.5) % 16]);
  const two = (value) => String(value).padStart(2, "0");
  const clock = (minutes) => `${two(Math.floor(minutes / 60) % 24)}:${two(Math.floor(minutes % 60))}`;
  const distance = (km, uncertainty) => `${count(km)}${HARD}±${HARD}${count(Math.max(1, Math.ceil(uncertainty)))}${THIN}km`;

  const ANTIPODE = 19000, RADIUS = 6371.0088; // km, as reach/place/path.py has them

  /** " at 123° (ESE)"; near the antipode with its uncertainty and the other way round, as place.path.bearing_within_deg. */
  function bearing(degrees, km, uncertainty) {
    if (km < ANTIPODE) return text(" at {bearing}° ({point})", { bearing: Math.round(degrees), point: compass(degrees) });
    const opened = Math.sin(uncertainty / RADIUS), seen = Math.sin(Math.min(km / RADIUS, Math.PI));
    const within = opened < seen ? Math.asin(opened / seen) * 180 / Math.PI : 180;
    if (within >= 90) return text(" at any bearing: it is as good as the antipode");
    const back = Math.round((degrees + 180) % 360);
    return text(" at {bearing}° ± {within}°, or the other way round at {back}°",
      { bearing: Math.round(degrees), within: Math.max(1, Math.ceil(within)), back }).replace(" ± ", `${HARD}±${HARD}`);
  }

  /** Of such a distance "1 390 to 1 610 km", or why there is no interval. */
  function interval(estimate) {
    if (!isFinite(estimate.low)) return text("too few {fars} for an interval", words);
    return text("95{gap}% interval {low} to {high}", { gap: THIN, low: beyond(estimate.low).replace(THIN + "km", ""), high: beyond(estimate.high) });
  }

  /** A sector by number: "345° to 15°". */
  function sector(index, width) {
    const low = (index * width - width / 2 + 360) % 360;
    return text("{low}° to {high}°", { low, high: (low + width) % 360 });
  }

  const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");

  /** "2026-05-09" as "9 May", "2026-05" as "May 2026". */
  function period(name) {
    const [year, month, day] = name.split("-");
    if (tongue.language !== "en" && year) {
      const asked = day ? { day: "numeric", month: "short" } : { month: "short", year: "numeric" };
      return new Date(Date.UTC(year, month - 1, day || 1)).toLocaleDateString(tongue.language, { ...asked, timeZone: "UTC" });
    }
    return day ? `${Number(day)} ${MONTHS[month - 1]}` : `${MONTHS[month - 1]} ${year}`;
  }

  let local = null; // clocks shown beside UTC: { zone, named, first, changes: [[ms, minutes]], offsets: [[minutes, text]] }
  const zone = (given) => (local = given || null);
  const inDay = (minutes) => clock(((minutes % 1440) + 1440) % 1440);

  /** Of times of the day in UTC [minutes], such as the ends of an hour: " (20:00–21:00, Europe/Berlin)", or nothing. */
  function beside(...minutes) {
    if (!local) return "";
    const said = local.offsets.map(([ahead]) => minutes.map((each) => inDay(each + ahead)).join(DASH));
    return ` (${said.join(" / ")}, ${local.zone})`;
  }

  /** Of a moment [ms since 1970]: " (20:05, Europe/Berlin)", or nothing. */
  function besideAt(ms) {
    if (!local) return "";
    const ahead = local.changes.reduce((before, [from, after]) => (ms >= from ? after : before), local.first);
    return ` (${inDay(Math.floor(ms / 60000) + ahead)}, ${local.zone})`;
  }

  /** Below an axis of hours a row for each offset: [["+2", (hour) => "22"], ...], UTC the first; none without a zone. */
  const clocks = () => (local ? [[0, "UTC"], ...local.offsets].map(([ahead, name], i) => [i ? name.slice(3) || name : name, (h) => inDay(h * 60 + ahead).replace(/:00$/, "")]) : []);
  const hourNamed = () => (local ? local.named : "");

  return { THIN, DASH, zone, beside, besideAt, clocks, hourNamed, text, decimal, words, speak, fars, count, km, beyond, db, signed, things, compass, clock, distance, bearing, interval, sector, period, two };
})();
