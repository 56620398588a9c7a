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

  const WIDTHS_KM = [5, 10, 20, 25, 50, 100, 200, 250, 500, 1000];

  /**
   * Where the bins of distance begin and end [km], from 0 to beyond the farthest: some seventy of one width where that shows
   * the near half as well; else they are fine at first and grow with the distance, always round numbers.
   * median: of the reports' distances
   */
  function distanceEdges(farthest, median) {
    const even = WIDTHS_KM.find((width) => farthest / width <= 70) || 500, least = Math.max(5, d3.max(WIDTHS_KM.filter((width) => width <= median / 20)) || 0);
    const edges = [0];
    while (edges[edges.length - 1] <= farthest) {
      const low = edges[edges.length - 1];
      const width = even <= median / 10 ? even
        : d3.max(WIDTHS_KM.filter((width) => width === least || (width > least && width <= low / 8 && low % width === 0)));
      edges.push(low + width);
    }
    return edges;
  }

  /** The median distance of all reports [km], the lower of two. */
  function medianKm({ km }, start, n) {
    const middle = d3.bisectRight(start, (n - 1) >> 1) - 1;
    return km.length ? km[Math.min(middle, km.length - 1)] : 0;
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
    const sectors = Math.round(360 / raw.sector_deg);
    const data = { ...raw, spots, places, n, size, sectors };
    data.start = starts(spots.place, size);
    data.caller = numbered(places.call);
    data.square = numbered(places.locator.map((name) => name.slice(0, 4)));
    const edges = distanceEdges(size ? places.km[size - 1] : 0, medianKm(places, data.start, n)), count = edges.length - 1;
    data.bin = { edges, count, grows: count > 1 && edges[count] - edges[count - 1] > edges[1] };
    data.distanceBin = Uint16Array.from(places.km, (km) => d3.bisectRight(edges, km) - 1);
    data.snrLow = n ? spots.snr.reduce((a, b) => Math.min(a, b), 127) : -30;
    data.snrHigh = n ? spots.snr.reduce((a, b) => Math.max(a, b), -128) : 0;
    return data;
  }

  return { read, column };
})();
