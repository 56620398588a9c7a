// Counting: one pass over the spots counts every view at once, each view without its own brush.
const Count = (() => {
  const DISTANCE = 1, SNR = 2, TIME = 4, BEARING = 8;
  const NORMAL_95 = 1.959963984540054, LEAST_RECEIVERS = 6;

  /** Whether a place may be counted at all: 2 corroborated, 1 unconfirmed, 0 suspect; and what is asked for. */
  function trusted(data, trust) {
    const least = { all: 2, sound: 1, corroborated: 0 }[trust];
    return Uint8Array.from(data.places.trust, (trust) => (trust <= least ? 1 : 0));
  }

  /** Which bit each bin of a dimension fails with: 0 within the brush. */
  function failing(size, range, bit) {
    return Uint8Array.from({ length: size }, (_, bin) => (Selection.holds(range, bin) ? 0 : bit));
  }

  /**
   * Everything that the views show.
   *
   * total    spots that pass filters and brushes; reports: of each place; median, best: SNR of each place, NaN if none
   * inView   1 for each spot that passes
   * distance, snr, time, bearing   counts by bin, without the brush of that view; time is period * 24 + hour
   */
  function all(data, state) {
    const { spots, places, start, size } = data, periods = data.period.names.length, setups = Math.max(data.setups.length, 1);
    const snrBins = data.snrHigh - data.snrLow + 1;
    const found = {
      total: 0, reports: new Uint32Array(size), median: new Float32Array(size).fill(NaN), best: new Float32Array(size).fill(NaN),
      distance: new Uint32Array(data.bin.count), snr: new Uint32Array(snrBins), snrInView: new Uint32Array(snrBins),
      time: new Uint32Array(periods * 24), bearing: new Uint32Array(data.sectors), inView: new Uint8Array(data.n),
    };
    const trust = trusted(data, state.trust);
    const kindIn = Uint8Array.from({ length: data.bands.length * setups }, (_, kind) =>
      (state.bands.has(Math.floor(kind / setups)) && (!data.setups.length || state.setups.has(kind % setups)) ? 1 : 0));
    const snrFail = failing(snrBins, state.snr, SNR), hourFail = failing(24, state.hour, TIME);
    const periodFail = failing(periods, state.period, TIME);
    const kept = new Int8Array(longest(start));
    for (let p = 0; p < size; p++) {
      if (!trust[p]) continue;
      const bin = data.distanceBin[p], sector = places.sector[p];
      const fails = (Selection.holds(state.distance, bin) ? 0 : DISTANCE) |
        (!state.bearing || (sector >= 0 && Selection.holds(state.bearing, sector)) ? 0 : BEARING);
      let reports = 0;
      for (let i = start[p]; i < start[p + 1]; i++) {
        if (!kindIn[spots.kind[i]]) continue;
        const level = spots.snr[i] - data.snrLow, hour = (spots.tick[i] / 6) | 0, period = spots.period[i];
        const fail = fails | snrFail[level] | hourFail[hour] | periodFail[period];
        if ((fail & ~DISTANCE) === 0) found.distance[bin]++;
        if ((fail & ~SNR) === 0) found.snr[level]++;
        if ((fail & ~TIME) === 0) found.time[period * 24 + hour]++;
        if ((fail & ~BEARING) === 0 && sector >= 0) found.bearing[sector]++;
        if (fail !== 0) continue;
        kept[reports++] = spots.snr[i];
        found.snrInView[level]++;
        found.inView[i] = 1;
      }
      if (!reports) continue;
      found.total += reports;
      found.reports[p] = reports;
      found.median[p] = (kept[(reports - 1) >> 1] + kept[reports >> 1]) / 2;
      found.best[p] = kept[reports - 1];
    }
    return found;
  }

  /** The most spots that any place has. */
  function longest(start) {
    let most = 0;
    for (let p = 0; p + 1 < start.length; p++) most = Math.max(most, start[p + 1] - start[p]);
    return most;
  }

  /** The k-th report (from 0) when reports are laid out from the nearest place to the farthest: its place. */
  function placeOf(reports, k) {
    let upto = 0;
    for (let p = 0; p < reports.length; p++) {
      upto += reports[p];
      if (upto > k) return p;
    }
    return reports.length - 1;
  }

  /** A quantile of distance over reports, linear between neighbours (Hyndman, Fan 1996, type 7); NaN without any. */
  function quantile(km, reports, share) {
    let total = 0;
    for (let p = 0; p < reports.length; p++) total += reports[p];
    if (!total) return NaN;
    const position = share * (total - 1), below = Math.floor(position);
    const low = km[placeOf(reports, below)], high = km[placeOf(reports, Math.min(below + 1, total - 1))];
    return low + (high - low) * (position - below);
  }

  /** The quantile with its interval, receivers being the observations; see reach/tell/facts.py for the sources. */
  function estimate(km, reports, share) {
    const value = quantile(km, reports, share);
    let total = 0, squares = 0, below = 0, used = 0;
    for (let p = 0; p < km.length; p++) {
      const count = reports[p];
      if (!count) continue;
      used++;
      total += count;
      squares += count * count;
      if (km[p] <= value) below += count;
    }
    if (used < 2 || (total * total) / squares < LEAST_RECEIVERS) return { value, low: NaN, high: NaN };
    let scatter = 0;
    for (let p = 0; p < km.length; p++) scatter += (reports[p] * ((km[p] <= value ? 1 : 0) - below / total)) ** 2;
    const half = (NORMAL_95 * Math.sqrt((used / (used - 1)) * scatter)) / total;
    return {
      value, low: quantile(km, reports, Math.max(0, share - half)), high: quantile(km, reports, Math.min(1, share + half)),
    };
  }

  /** The answer's key numbers for the places that `may` be counted. */
  function reach(data, found, may) {
    const { places, size } = data, reports = found.reports.map((count, p) => (may(p) ? count : 0));
    const distinct = (code, length) => {
      const seen = new Uint8Array(length);
      for (let p = 0; p < size; p++) if (reports[p]) seen[code[p]] = 1;
      return seen;
    };
    const sum = (flags) => flags.reduce((total, flag) => total + flag, 0);
    const countries = distinct(places.country, places.countries.length);
    let farthest = -1;
    for (let p = 0; p < size; p++) {
      if (reports[p] && (farthest < 0 || places.km[p] > places.km[farthest])) farthest = p;
    }
    return {
      reports: sum(reports), receivers: sum(distinct(data.caller.code, data.caller.size)),
      squares: sum(distinct(data.square.code, data.square.size)), countries: sum(countries) - countries[0],
      median: estimate(places.km, reports, 0.5), p90: estimate(places.km, reports, 0.9), farthest,
    };
  }

  /** Reports in view of each place by ten minutes of the day: place * 144 + ten minutes. */
  function byTick(data, found) {
    const counts = new Uint16Array(data.size * 144), { place, tick } = data.spots;
    for (let i = 0; i < data.n; i++) if (found.inView[i]) counts[place[i] * 144 + tick[i]]++;
    return counts;
  }

  /** Median SNR of what is in view, from its counts. */
  function medianSnr(data, found) {
    const at = (k) => data.snrLow + placeOf(found.snrInView, k);
    return found.total ? (at((found.total - 1) >> 1) + at(found.total >> 1)) / 2 : NaN;
  }

  return { all, byTick, reach, medianSnr, estimate, quantile };
})();
