// Where the sun stands overhead, to about a hundredth of a degree.
// Source: The Astronomical Almanac, "Low precision formulas for the Sun", and mean sidereal time to the same precision.
const Sun = (() => {
  const RAD = Math.PI / 180;

  /** Longitude and latitude [deg] under the sun at a time in ms since 1970 UTC. */
  function overhead(ms) {
    const days = ms / 86400000 - 10957.5; // from 2000 January 1, 12:00
    const meanLongitude = 280.46 + 0.9856474 * days, anomaly = (357.528 + 0.9856003 * days) * RAD;
    const ecliptic = (meanLongitude + 1.915 * Math.sin(anomaly) + 0.02 * Math.sin(2 * anomaly)) * RAD;
    const tilt = (23.439 - 0.0000004 * days) * RAD;
    const ascension = Math.atan2(Math.cos(tilt) * Math.sin(ecliptic), Math.cos(ecliptic)) / RAD;
    const latitude = Math.asin(Math.sin(tilt) * Math.sin(ecliptic)) / RAD;
    const sidereal = 280.46062 + 360.98564737 * days;
    return [((((ascension - sidereal + 180) % 360) + 360) % 360) - 180, latitude];
  }

  /** The middle of the night: the centre of the dark half of the Earth. */
  function midnight(ms) {
    const [longitude, latitude] = overhead(ms);
    return [longitude > 0 ? longitude - 180 : longitude + 180, -latitude];
  }

  return { overhead, midnight };
})();
