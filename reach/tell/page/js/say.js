// Numbers and moments in words, the same as reach/draw/words.py writes them.
const Say = (() => {
  const THIN = "\u202f", HARD = "\u00a0", MINUS = "\u2212", DASH = "\u2013";
  const COMPASS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split(" ");

  const count = (value) => String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, THIN);
  const km = (value) => count(Math.abs(value) >= 1000 ? Math.round(value / 10) * 10 : value) + THIN + "km";
  const db = (value) => (Number.isInteger(value) ? String(value) : value.toFixed(1)).replace("-", MINUS) + THIN + "dB";
  const signed = (value) => `${value > 0 && Number(value.toFixed(1)) ? "+" : ""}${(Math.round(value * 10) / 10 + 0).toFixed(1)}`.replace("-", MINUS);
  const words = { far: "receiver", nobody: "nobody listens there", better: "stronger", where: "Where to" }; // as `speak` was told
  const speak = (given) => Object.assign(words, given);
  const fars = (value) => things(value, words.far);
  const things = (value, one, many) => `${count(value)} ${value === 1 ? one : many || one + "s"}`;
  const compass = (bearing) => COMPASS[Math.floor((((bearing % 360) + 360) % 360 + 11.25) / 22.5) % 16];
  const two = (value) => String(value).padStart(2, "0");
  const clock = (minutes) => `${two(Math.floor(minutes / 60) % 24)}:${two(Math.floor(minutes % 60))}`;
  const distance = (km, uncertainty) => `${count(km)}${HARD}±${HARD}${count(Math.max(1, Math.ceil(uncertainty)))}${THIN}km`;

  const ANTIPODE = 19000, RADIUS = 6371.0088; // km, as reach/place/path.py has them

  /** " at 123° (ESE)"; near the antipode with its uncertainty and the other way round, as place.path.bearing_within_deg. */
  function bearing(degrees, km, uncertainty) {
    if (km < ANTIPODE) return ` at ${Math.round(degrees)}° (${compass(degrees)})`;
    const opened = Math.sin(uncertainty / RADIUS), seen = Math.sin(Math.min(km / RADIUS, Math.PI));
    const within = opened < seen ? Math.asin(opened / seen) * 180 / Math.PI : 180;
    if (within >= 90) return " at any bearing: it is as good as the antipode";
    const back = Math.round((degrees + 180) % 360);
    return ` at ${Math.round(degrees)}°${HARD}±${HARD}${Math.max(1, Math.ceil(within))}°, or the other way round at ${back}°`;
  }

  /** "1 390 to 1 610 km", or why there is no interval. */
  function interval(estimate) {
    if (!isFinite(estimate.low)) return `too few ${words.far}s for an interval`;
    return `95${THIN}% interval ${km(estimate.low).replace(THIN + "km", "")} to ${km(estimate.high)}`;
  }

  /** A sector by number: "345° to 15°". */
  function sector(index, width) {
    const low = (index * width - width / 2 + 360) % 360;
    return `${low}° to ${(low + width) % 360}°`;
  }

  const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");

  /** "2026-05-09" as "9 May", "2026-05" as "May 2026". */
  function period(name) {
    const [year, month, day] = name.split("-");
    return day ? `${Number(day)} ${MONTHS[month - 1]}` : `${MONTHS[month - 1]} ${year}`;
  }

  return { THIN, DASH, words, speak, fars, count, km, db, signed, things, compass, clock, distance, bearing, interval, sector, period, two };
})();
