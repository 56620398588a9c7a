// What the reader has asked for: filters, brushes and the view. It lives in the address's fragment, so that a view can
// be sent. Whoever changes it says so; whoever shows it listens.
const Selection = (() => {
  const TRUST = ["sound", "corroborated", "all"];
  const TRUST_IN_WORDS = {
    sound: Say.text("all locators but suspects"), corroborated: Say.text("corroborated locators only"), all: Say.text("all locators, suspects too"),
  };
  const PROJECTIONS = ["station", "globe", "world"];

  const HALF_TURN_KM = 20015, MOST_ZOOM = 40;

  /** How near a projection opens: round the station on what matters (measure/frame.py), else on all of it. */
  const opening = (projection, data) => (projection === "station" ? Math.max(1, Math.min(MOST_ZOOM, HALF_TURN_KM / data.opens_km)) : 1);

  /** Nothing brushed, nothing filtered but the suspects. Brushes are [from, to] in bins, both inclusive, or null. */
  function fresh(data) {
    return {
      bands: new Set(data.bands.keys()), setups: new Set(data.setups.keys()), trust: "sound",
      distance: null, snr: null, hour: null, period: null, bearing: null,
      projection: "station", zoom: opening("station", data), turn: null, minutes: null, focus: null,
    };
  }

  const pair = (range) => `${range[0]}_${range[1]}`;

  /** The fragment that says it, empty for a fresh selection. Numbers are those of the axes, not of bins. */
  function write(state, data) {
    const out = new URLSearchParams();
    const some = (set, names) => [...set].sort((a, b) => a - b).map((i) => names[i] || "none").join(",");
    if (state.bands.size < data.bands.length) out.set("band", some(state.bands, data.bands));
    if (state.setups.size < data.setups.length) out.set("setup", some(state.setups, data.setups));
    if (state.trust !== "sound") out.set("trust", state.trust);
    const { edges } = data.bin, step = data.sector_deg;
    if (state.distance) out.set("km", pair([edges[state.distance[0]], edges[state.distance[1] + 1]]));
    if (state.snr) out.set("snr", pair(state.snr.map((bin) => bin + data.snrLow)));
    if (state.hour) out.set("hour", pair(state.hour));
    if (state.period) out.set(data.period.unit, pair(state.period.map((index) => data.period.names[index])));
    if (state.bearing) out.set("bearing", pair(state.bearing.map((index) => index * step)));
    if (state.projection !== "station") out.set("map", state.projection);
    if (state.zoom !== opening(state.projection, data)) out.set("zoom", state.zoom.toFixed(2));
    if (state.turn) out.set("turn", pair(state.turn.map((deg) => deg.toFixed(1))));
    if (state.minutes !== null) out.set("time", Say.clock(state.minutes));
    if (state.focus !== null) out.set("at", `${data.places.call[state.focus]}_${data.places.locator[state.focus]}`);
    return out.toString();
  }

  /** The selection that a fragment says. What it does not say, or says wrongly, stays fresh. */
  function read(fragment, data) {
    const given = new URLSearchParams(fragment.replace(/^#/, "")), state = fresh(data);
    const chosen = (key, names, all) => {
      if (!given.has(key)) return all;
      const asked = given.get(key).split(",");
      return new Set([...names.keys()].filter((i) => asked.includes(names[i] || "none")));
    };
    state.bands = chosen("band", data.bands, state.bands);
    state.setups = chosen("setup", data.setups, state.setups);
    if (TRUST.includes(given.get("trust"))) state.trust = given.get("trust");
    if (PROJECTIONS.includes(given.get("map"))) state.projection = given.get("map");
    readBrushes(given, data, state);
    const zoom = Number(given.get("zoom"));
    state.zoom = zoom >= 1 && zoom <= MOST_ZOOM ? zoom : opening(state.projection, data);
    const turn = numbers(given.get("turn"));
    if (turn) state.turn = [turn[0], Math.max(-90, Math.min(90, turn[1]))];
    const clock = /^(\d\d):(\d\d)$/.exec(given.get("time") || "");
    if (clock && clock[1] < 24 && clock[2] < 60) state.minutes = clock[1] * 60 + Number(clock[2]);
    const at = given.get("at") || "";
    const found = data.places.call.findIndex((call, i) => `${call}_${data.places.locator[i]}` === at);
    if (found >= 0) state.focus = found;
    return state;
  }

  function readBrushes(given, data, state) {
    const { edges, count } = data.bin, step = data.sector_deg;
    const km = numbers(given.get("km"));
    const nearest = (at) => (at > edges[count] ? count : d3.bisectCenter(edges, at));
    if (km) state.distance = within([nearest(km[0]), nearest(km[1]) - 1], count);
    const snr = numbers(given.get("snr"));
    if (snr) state.snr = within(snr.map((db) => Math.round(db) - data.snrLow), data.snrHigh - data.snrLow + 1);
    const hour = numbers(given.get("hour"));
    if (hour) state.hour = within(hour.map(Math.round), 24, true);
    const bearing = numbers(given.get("bearing"));
    if (bearing) state.bearing = within(bearing.map((deg) => Math.round(deg / step)), data.sectors, true);
    const names = (given.get(data.period.unit) || "").split("_").map((name) => data.period.names.indexOf(name));
    if (names.length === 2 && !names.includes(-1)) state.period = within(names, data.period.names.length);
  }

  /** Two numbers written as "12_34", or null. */
  function numbers(text) {
    const parts = (text || "").split("_").map(Number);
    return text && parts.length === 2 && parts.every(isFinite) ? parts : null;
  }

  /** A range of bins cut to 0..size - 1; null where nothing or everything is left of it. */
  function within([from, to], size, wraps = false) {
    if (!wraps && (to < from || to < 0 || from >= size)) return null;
    const low = Math.max(0, Math.min(size - 1, from)), high = Math.max(0, Math.min(size - 1, to));
    return low === 0 && high === size - 1 ? null : [low, high];
  }

  /** Whether a bin lies in a range; a range that ends before it starts runs over the end of the circle. */
  function holds(range, bin) {
    if (!range) return true;
    return range[0] <= range[1] ? bin >= range[0] && bin <= range[1] : bin >= range[0] || bin <= range[1];
  }

  /** The same in words: what was asked, for the reader and for paper. */
  function words(state, data) {
    const { edges } = data.bin, step = data.sector_deg, parts = [];
    const span = (low, high) => Say.text("{low} to {high}", { low, high });
    const named = (set, names, none) => [...set].sort((a, b) => a - b).map((i) => names[i] || none).join(", ") || Say.text("none");
    if (state.bands.size < data.bands.length) parts.push(Say.text("band {names}", { names: named(state.bands, data.bands, Say.text("unknown")) }));
    if (state.setups.size < data.setups.length) parts.push(Say.text("setup {names}", { names: named(state.setups, data.setups, Say.text("not named")) }));
    if (state.distance) parts.push(span(Say.count(edges[state.distance[0]]), Say.km(edges[state.distance[1] + 1])));
    if (state.snr) parts.push(span(Say.db(state.snr[0] + data.snrLow), Say.db(state.snr[1] + data.snrLow)));
    if (state.hour) parts.push(`${span(`${Say.two(state.hour[0])}:00`, `${Say.two((state.hour[1] + 1) % 24)}:00`)} UTC${Say.beside(state.hour[0] * 60, state.hour[1] * 60 + 60)}`);
    if (state.period) parts.push([...new Set(state.period.map((i) => Say.period(data.period.names[i])))].reduce(span));
    const [first, last] = state.bearing || [0, 0];
    if (state.bearing) parts.push(Say.text("bearing {low}° to {high}°", { low: (first * step - step / 2 + 360) % 360, high: (last * step + step / 2) % 360 }));
    return [...parts, TRUST_IN_WORDS[state.trust]].join("; ");
  }

  return { fresh, opening, read, write, words, within, holds, HALF_TURN_KM, MOST_ZOOM };
})();
