// The page's own data: columns from base64, and what is worked out from them once.
const Data = (() => {
  const TYPES = {
    u8: Uint8Array, i8: Int8Array, u16: Uint16Array, i16: Int16Array, u32: Uint32Array,
    f32: Float32Array, f64: Float64Array,
  };

  /** An array as reach/tell/page/columns.py wrote it. Every machine that runs a browser today is little endian. */
  function column({ type, data }) {
    const bytes = Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
    return new TYPES[type](bytes.buffer);
  }

  function columns(group) {
    const isColumn = (value) => value !== null && typeof value === "object" && "data" in value;
    return Object.fromEntries(Object.entries(group).map(([name, value]) => [name, isColumn(value) ? column(value) : value]));
  }

  /** Numbers for texts: the same text, the same number. */
  function numbered(texts) {
    const known = new Map();
    const code = Uint32Array.from(texts, (text) => {
      if (!known.has(text)) known.set(text, known.size);
      return known.get(text);
    });
    return { code, size: known.size };
  }

  /** Where the spots of each place begin; spots come in the order of their place. */
  function starts(place, places) {
    const start = new Uint32Array(places + 1);
    for (let i = 0; i < place.length; i++) start[place[i] + 1]++;
    for (let p = 0; p < places; p++) start[p + 1] += start[p];
    return start;
  }

  /** A bin width [km] that gives some sixty bins up to the farthest. */
  function binWidth(farthest) {
    return [5, 10, 20, 25, 50, 100, 200, 250, 500].find((width) => farthest / width <= 70) || 500;
  }

  /** Positions and bearings [deg] from steps; a bearing below 0 is none. */
  function unpack(places, steps) {
    const part = (at) => Float32Array.from(places.call, (_, p) => places.position[2 * p + at] / steps.position);
    const bearing = Float32Array.from(places.bearing, (value) => (value < 0 ? NaN : value / steps.bearing));
    return { ...places, lon: part(0), lat: part(1), bearing };
  }

  function read(raw) {
    const spots = columns(raw.spots), places = unpack(columns(raw.places), raw.steps);
    const size = places.call.length, n = spots.snr.length;
    const width = binWidth(size ? places.km[size - 1] : 1000);
    const sectors = Math.round(360 / raw.sector_deg);
    const data = { ...raw, spots, places, n, size, sectors };
    data.start = starts(spots.place, size);
    data.caller = numbered(places.call);
    data.square = numbered(places.locator.map((name) => name.slice(0, 4)));
    data.bin = { width, count: Math.max(1, Math.floor((size ? places.km[size - 1] : 0) / width) + 1) };
    data.distanceBin = Uint16Array.from(places.km, (km) => Math.floor(km / width));
    data.snrLow = n ? spots.snr.reduce((a, b) => Math.min(a, b), 127) : -30;
    data.snrHigh = n ? spots.snr.reduce((a, b) => Math.max(a, b), -128) : 0;
    return data;
  }

  return { read, column };
})();
