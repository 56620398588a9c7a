// The map: one path and one dot a receiver, on a canvas. Land, rings and graticule are drawn once per view and kept.
const Atlas = (() => {
  const RING_KM = [5000, 2500, 1000, 500, 250, 100], { HALF_TURN_KM, MOST_ZOOM } = Selection, FADE_MINUTES = 60;
  const RIM_PX = 1.6; // of paper round a dot: on it the weakest colour stands out, on the night side as well
  const SOFT_PX = 0.25; // of an edge, more than a browser's own smoothing may be off
  const DOT_STEP_PX = 0.25; // between the sizes that dots are made in
  const MANY = 400, REST_MS = 160; // lines that would lag behind a hand that moves, and when it rests
  const EDGE_PX = 13, BEARINGS = 24; // of the arrows that point to what lies beyond the edge

  /** Land and borders as GeoJSON for d3-geo. */
  function ground(raw) {
    const lines = ({ sizes, points }) => {
      const values = Data.column(points);
      let at = 0;
      return sizes.map((size) => Array.from({ length: size }, () => [values[at++] / raw.steps, values[at++] / raw.steps]));
    };
    const rings = lines(raw.land);
    let next = 0;
    const polygons = raw.land.polygons.map((size) => rings.slice(next, (next += size)));
    return {
      land: { type: "MultiPolygon", coordinates: polygons },
      borders: { type: "MultiLineString", coordinates: lines(raw.borders) },
    };
  }

  /**
   * options: data, state() -> selection, change(part), look() -> { colours, ramp }, hovered(place or null), say(place) -> text.
   */
  function make({ data, state, change, look, hovered, say }) {
    const holder = Dom.byId("map"), canvas = Dom.byId("map-canvas"), pen = canvas.getContext("2d");
    const base = document.createElement("canvas"), basePen = base.getContext("2d"), note = Dom.byId("beyond");
    const earth = ground(data.land), { land, borders } = earth, { places, size } = data;
    const home = data.station.lon === null ? [0, 0] : [data.station.lon, data.station.lat];
    const starts = data.stations.map(({ lon, lat }) => [lon, lat]);
    const dots = new Float32Array(size * 2), levels = snrLevels(data);
    let width = 0, height = 0, ratio = 1, projection = null, lines = [], order = [], found = null, byTick = null;
    let hover = null, turning = false, settle = 0, updated = -Infinity, stamps = new Map(), covered = new Uint8Array(0);

    // --- the view ---

    const centre = () => state().turn || (state().projection === "world" ? [home[0], 0] : home);

    /** Take up a width; without one, keep it. */
    function resize(room = width) {
      const world = state().projection === "world";
      width = room;
      height = Math.round(world ? width * 0.53 : Math.min(width, Math.max(320, innerHeight * 0.86)));
      ratio = Math.min(2, devicePixelRatio || 1);
      for (const each of [canvas, base]) {
        each.width = Math.round(width * ratio);
        each.height = Math.round(height * ratio);
      }
      canvas.style.height = `${height}px`;
      covered = new Uint8Array(canvas.width * canvas.height);
      stamps = new Map();
      view();
    }

    /** Take up a new projection, turn or zoom. */
    function view() {
      const { projection: name, zoom } = state(), [lon, lat] = centre(), radius = Math.min(width, height) / 2 - 8;
      if (name === "world") {
        projection = d3.geoEqualEarth().rotate([-lon, 0]).fitExtent([[6, 6], [width - 6, height - 6]], { type: "Sphere" });
        projection.scale(projection.scale() * zoom).translate([width / 2, height / 2]);
        const reach = Math.max(0, projection.scale() * 1.31 - height / 2), up = projection([lon, lat])[1] - height / 2;
        projection.translate([width / 2, height / 2 - Math.max(-reach, Math.min(reach, up))]);
      } else {
        const globe = name === "globe";
        projection = (globe ? d3.geoOrthographic() : d3.geoAzimuthalEquidistant()).rotate([-lon, -lat]);
        projection.scale((globe ? radius : radius / Math.PI) * zoom).clipAngle(globe ? 90 : 179.9).translate([width / 2, height / 2]);
      }
      projection.clipExtent([[-20, -20], [width + 20, height + 20]]).precision(0.4);
      locate();
      lines = new Array(size);
      drawBase();
      draw();
    }

    /** Where each receiver lies on the canvas; NaN behind the globe. */
    function locate() {
      const front = state().projection === "globe" ? Math.PI / 2 : Math.PI, middle = centre();
      for (let p = 0; p < size; p++) {
        const at = [places.lon[p], places.lat[p]];
        const xy = d3.geoDistance(at, middle) <= front || state().projection === "world" ? projection(at) : null;
        dots[2 * p] = xy ? xy[0] : NaN;
        dots[2 * p + 1] = xy ? xy[1] : NaN;
      }
    }

    /** The great circle to a receiver, made when it is first drawn in this view. */
    function line(p) {
      if (lines[p]) return lines[p];
      const path = new Path2D(), start = starts[places.station[p]], middle = centre();
      if (state().projection === "station" && start[0] === middle[0] && start[1] === middle[1]) {
        path.moveTo(width / 2, height / 2); // from the centre of this projection great circles are straight
        path.lineTo(dots[2 * p], dots[2 * p + 1]);
      } else {
        d3.geoPath(projection, path)({ type: "LineString", coordinates: [start, [places.lon[p], places.lat[p]]] });
      }
      lines[p] = path;
      return path;
    }

    // --- drawing ---

    function drawBase() {
      const { colours } = look(), path = d3.geoPath(projection, basePen);
      const shape = (object, fill, stroke, wide = 1) => {
        basePen.beginPath();
        path(object);
        if (fill) (basePen.fillStyle = fill), basePen.fill();
        if (stroke) (basePen.strokeStyle = stroke), (basePen.lineWidth = wide), basePen.stroke();
      };
      basePen.setTransform(ratio, 0, 0, ratio, 0, 0);
      basePen.clearRect(0, 0, width, height);
      shape({ type: "Sphere" }, colours.sea);
      shape(d3.geoGraticule().step([30, 30]).precision(10)(), null, colours.hair, 0.7);
      shape(land, colours.land, colours.land, 0.8);
      shape(borders, null, colours.border, 0.8);
      drawRings(shape, colours);
      shape({ type: "Sphere" }, null, colours.ring, 1);
    }

    function drawRings(shape, colours) {
      const shown = HALF_TURN_KM / state().zoom, rem = Dom.rem(), away = (d3.geoDistance(home, centre()) * HALF_TURN_KM) / Math.PI;
      const step = RING_KM.find((km) => km <= shown / 3), nearest = Math.max(1, Math.floor((away - 1.6 * shown) / step)) * step;
      const farthest = Math.min(HALF_TURN_KM - 1, away + 1.6 * shown);
      basePen.font = Dom.font(0.78);
      basePen.textAlign = "center";
      basePen.setLineDash([2, 4]);
      for (let km = nearest; km <= farthest; km += step) {
        shape(d3.geoCircle().center(home).radius((km * 180) / HALF_TURN_KM).precision(4)(), null, colours.ring, 0.9);
      }
      basePen.setLineDash([]);
      for (let km = nearest; km <= farthest; km += step) {
        const at = ahead(home, (km * 180) / HALF_TURN_KM, 200);
        if (state().projection === "globe" && d3.geoDistance(at, centre()) > 1.45) continue;
        const xy = projection(at);
        if (!xy || !within(xy[0], xy[1], rem * 2.4)) continue;
        basePen.lineWidth = 3;
        basePen.strokeStyle = colours.sea;
        basePen.strokeText(Say.km(km), xy[0], xy[1] + rem * 0.26);
        basePen.fillStyle = colours.muted;
        basePen.fillText(Say.km(km), xy[0], xy[1] + rem * 0.26);
      }
    }

    /** The point so many degrees of arc away at a bearing, on the sphere. */
    function ahead([lon, lat], arc, bearing) {
      const r = Math.PI / 180, d = arc * r, b = bearing * r, y = lat * r;
      const end = Math.asin(Math.sin(y) * Math.cos(d) + Math.cos(y) * Math.sin(d) * Math.cos(b));
      const turn = Math.atan2(Math.sin(b) * Math.sin(d) * Math.cos(y), Math.cos(d) - Math.sin(y) * Math.sin(end));
      return [lon + turn / r, end / r];
    }

    function drawNight(minutes) {
      const { colours } = look(), middle = Sun.midnight(Play.moment(data, state(), minutes)), path = d3.geoPath(projection, pen);
      pen.fillStyle = colours.night;
      pen.globalAlpha = 0.13;
      for (const radius of [90, 84, 78, 72]) {
        pen.beginPath();
        path(d3.geoCircle().center(middle).radius(radius)());
        pen.fill();
      }
      pen.globalAlpha = 1;
    }

    /** How brightly a receiver shines: 1 when it has just reported, 0 after an hour. Without a clock, all shine. */
    function shine(p, minutes) {
      if (minutes === null) return 1;
      for (let back = 0; back <= FADE_MINUTES / 10; back++) {
        const tick = (Math.floor(minutes / 10) - back + 144) % 144;
        if (byTick[p * 144 + tick]) return Math.max(0, 1 - (back * 10 + (minutes % 10)) / FADE_MINUTES);
      }
      return 0;
    }

    function draw() {
      if (!found || !projection) return;
      const { minutes } = state();
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.clearRect(0, 0, canvas.width, canvas.height);
      pen.drawImage(base, 0, 0);
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      if (minutes !== null) drawNight(minutes);
      if (minutes !== null && !byTick) byTick = Count.byTick(data, found);
      const light = Float32Array.from(order, (p) => shine(p, minutes));
      if (!turning || order.length <= MANY) drawLines(light);
      drawDots(light);
      drawHome();
      drawBeyond();
      for (const p of new Set([state().focus, hover])) if (p !== null) drawMarked(p);
    }

    const shade = (p, ramp) => Math.round(levels.at(found.median[p]) * (ramp.length - 1));
    const radius = (p) => Math.min(9, 2.2 + 0.75 * Math.log2(1 + found.reports[p])) * (width < 480 ? 0.75 : 1);

    function drawLines(light) {
      const dense = Math.max(0.22, 0.8 - 0.16 * Math.log10(Math.max(1, order.length)));
      const { ramp } = look();
      pen.lineWidth = order.length > 1000 ? 0.8 : 1.2;
      order.forEach((p, i) => {
        if (!light[i]) return;
        pen.globalAlpha = dense * light[i];
        pen.strokeStyle = ramp[shade(p, ramp)];
        pen.stroke(line(p));
      });
      pen.globalAlpha = 1;
    }

    /** The dots, the strongest on top. What lies whole below stronger ones would not be seen, and is passed over: often most. */
    function drawDots(light) {
      const { colours, ramp } = look(), elsewhere = dotsOf(colours.muted, "")(1.5); // at another hour
      const kinds = ramp.map((fill) => dotsOf(fill, colours.paper)), shown = [];
      covered.fill(0);
      for (let i = order.length - 1; i >= 0; i--) {
        const p = order[i], x = dots[2 * p], y = dots[2 * p + 1];
        if (!(x > -20 && x < width + 20 && y > -20 && y < height + 20)) continue;
        const dot = !light[i] ? elsewhere : places.trust[p] === 2 ? null : kinds[shade(p, ramp)](radius(p) * (0.55 + 0.45 * light[i]));
        if (!dot || isSeen(dot, Math.round(x * ratio), Math.round(y * ratio))) shown.push([i, dot]);
      }
      for (const [i, dot] of shown.reverse()) {
        const p = order[i], x = dots[2 * p], y = dots[2 * p + 1];
        if (!dot) drawSuspect(p, x, y, light[i], colours);
        else { // whole pixels of the screen: a stamp stays as sharp as it was made
          pen.setTransform(1, 0, 0, 1, 0, 0);
          pen.drawImage(dot.image, Math.round(x * ratio) - dot.half, Math.round(y * ratio) - dot.half);
          pen.setTransform(ratio, 0, 0, ratio, 0, 0);
        }
      }
    }

    /** Whether any pixel that a dot touches is not yet covered whole by another; if so, it covers its own from now on. */
    function isSeen({ half, touches, covers }, x, y) {
      const wide = canvas.width, first = Math.max(0, half - y), last = Math.min(2 * half, canvas.height + half - y);
      const bare = (row) => {
        const line = (y - half + row) * wide, end = line + Math.min(wide, x + touches[row]);
        for (let at = line + Math.max(0, x - touches[row]); at < end; at++) if (!covered[at]) return true;
        return false;
      };
      let seen = false;
      for (let row = first; row < last && !seen; row++) seen = bare(row);
      if (!seen) return false;
      for (let row = first; row < last; row++) {
        const line = (y - half + row) * wide, end = line + Math.min(wide, x + covers[row]);
        for (let at = line + Math.max(0, x - covers[row]); at < end; at++) covered[at] = 1;
      }
      return true;
    }

    /** Dots of one colour by their radius. */
    function dotsOf(fill, rim) {
      const key = `${fill} ${rim}`, made = stamps.get(key) || [];
      stamps.set(key, made);
      return (radius) => {
        const step = Math.round(radius / DOT_STEP_PX);
        return made[step] || (made[step] = stamp(step * DOT_STEP_PX, fill, rim));
      };
    }

    /** A dot with its rim, drawn once and put down wherever one of its kind lies: thousands of arcs a frame would lag. */
    function stamp(radius, fill, rim) {
      const side = 2 * Math.ceil((radius + RIM_PX) * ratio + 1), made = sheet(side), ink = made.getContext("2d");
      ink.setTransform(ratio, 0, 0, ratio, side / 2, side / 2);
      ink.arc(0, 0, radius, 0, 2 * Math.PI);
      ink.lineWidth = RIM_PX * 2; // below the dot, so that half of it is seen
      ink.strokeStyle = rim;
      if (rim) ink.stroke();
      ink.fillStyle = fill;
      ink.fill();
      const image = made.transferToImageBitmap ? made.transferToImageBitmap() : made; // a canvas would be copied each time it is put down
      return { image, half: side / 2, ...rowsOf(side / 2, (radius + (rim ? RIM_PX : 0)) * ratio) };
    }

    /** Of each row of pixels through a disc: how far from the middle it touches them, and how far it covers them whole. */
    function rowsOf(half, reach) {
      const rows = Array.from({ length: 2 * half }, (_, row) => [row - half, row - half + 1].map(Math.abs));
      const across = (away, by) => Math.sqrt(Math.max(0, by * by - away * away));
      return {
        touches: rows.map((ends) => Math.ceil(across(Math.min(...ends), reach + SOFT_PX))),
        covers: rows.map((ends) => Math.floor(across(Math.max(...ends), reach - SOFT_PX))),
      };
    }

    function sheet(side) {
      if (typeof OffscreenCanvas !== "undefined") return new OffscreenCanvas(side, side);
      const made = document.createElement("canvas");
      made.width = made.height = side;
      return made;
    }

    /** Hollow, with a query mark: to the right, or towards the middle where that would lie beyond the rim. */
    function drawSuspect(p, x, y, light, colours) {
      pen.beginPath();
      pen.arc(x, y, radius(p) * (0.55 + 0.45 * light), 0, 2 * Math.PI);
      const rem = Dom.rem(), off = radius(p) + rem * 0.45;
      const far = Math.hypot(x - width / 2, y - height / 2) || 1;
      const [dx, dy] = within(x + off, y, rem * 0.5) ? [off, 0] : [((width / 2 - x) / far) * off, ((height / 2 - y) / far) * off];
      pen.fillStyle = colours.paper;
      pen.fill();
      pen.lineWidth = 1.6;
      pen.strokeStyle = colours.ink;
      pen.stroke();
      pen.font = Dom.font(0.8, 600);
      pen.textAlign = "center";
      pen.lineWidth = 3;
      pen.strokeStyle = colours.sea;
      pen.strokeText("?", x + dx, y + dy + rem * 0.28);
      pen.fillStyle = colours.ink;
      pen.fillText("?", x + dx, y + dy + rem * 0.28);
    }

    /** Whether so much room round a place is left on the map. */
    function within(x, y, room) {
      if (x < room || x > width - room || y < room || y > height - room) return false;
      const rim = state().projection === "globe" ? projection.scale() : projection.scale() * Math.PI;
      return state().projection === "world" || Math.hypot(x - width / 2, y - height / 2) < rim - room;
    }

    function drawHome() {
      if (data.station.lon === null) return;
      const { colours } = look(), xy = projection(home);
      if (!xy || (state().projection === "globe" && d3.geoDistance(home, centre()) > Math.PI / 2)) return;
      pen.lineWidth = 2;
      pen.strokeStyle = colours.ink;
      pen.fillStyle = colours.paper;
      pen.beginPath();
      pen.arc(xy[0], xy[1], 5, 0, 2 * Math.PI);
      pen.fill();
      pen.stroke();
      pen.beginPath();
      for (const [dx, dy] of [[0, -1], [1, 0], [0, 1], [-1, 0]]) {
        pen.moveTo(xy[0] + dx * 5, xy[1] + dy * 5);
        pen.lineTo(xy[0] + dx * 10, xy[1] + dy * 10);
      }
      pen.stroke();
    }

    /** Arrows at the edge towards the receivers that lie beyond it, each with how many. */
    function drawBeyond() {
      const beyond = new Map(), { colours } = look(), rem = Dom.rem();
      let total = 0;
      for (const p of order) {
        if (!outside(p)) continue;
        const step = Math.round((Math.atan2(dots[2 * p + 1] - height / 2, dots[2 * p] - width / 2) * BEARINGS) / (2 * Math.PI));
        beyond.set(step, (beyond.get(step) || 0) + 1);
        total++;
      }
      Dom.write(note, total ? Say.text("{receivers} beyond the edge of the map, where the arrows point.", { receivers: Say.fars(total) }) : "");
      if (!total) return;
      pen.font = Dom.font(0.74, 600);
      pen.textAlign = "center";
      for (const [step, count] of beyond) {
        const angle = (step * 2 * Math.PI) / BEARINGS, dx = Math.cos(angle), dy = Math.sin(angle);
        const reach = Math.min((width / 2 - EDGE_PX) / Math.abs(dx || 1e-9), (height / 2 - EDGE_PX) / Math.abs(dy || 1e-9));
        const x = width / 2 + dx * reach, y = height / 2 + dy * reach;
        pen.beginPath();
        for (const [along, side] of [[10, 0], [-5, 7], [-5, -7]]) pen.lineTo(x + dx * along - dy * side, y + dy * along + dx * side);
        pen.closePath();
        pen.lineWidth = 3;
        pen.strokeStyle = colours.paper;
        pen.stroke();
        pen.fillStyle = colours.ink;
        pen.fill();
        const back = rem * 0.75 + 6;
        pen.strokeText(Say.count(count), x - dx * back, y - dy * back + rem * 0.26);
        pen.fillText(Say.count(count), x - dx * back, y - dy * back + rem * 0.26);
      }
    }

    const outside = (p) => !isNaN(dots[2 * p]) && !(dots[2 * p] > 0 && dots[2 * p] < width && dots[2 * p + 1] > 0 && dots[2 * p + 1] < height);

    function drawMarked(p) {
      const { colours } = look();
      pen.strokeStyle = colours.ink;
      pen.lineWidth = 1.8;
      pen.stroke(line(p));
      if (isNaN(dots[2 * p])) return;
      pen.beginPath();
      pen.arc(dots[2 * p], dots[2 * p + 1], (found.reports[p] ? radius(p) : 3) + 4, 0, 2 * Math.PI);
      pen.stroke();
    }

    // --- the reader's hand ---

    function nearest(x, y) {
      let best = null, least = 15 * 15;
      for (const p of order) {
        const far = (dots[2 * p] - x) ** 2 + (dots[2 * p + 1] - y) ** 2;
        if (far < least) [best, least] = [p, far];
      }
      return best;
    }

    /** Turn by so many pixels. */
    function turnBy(dx, dy) {
      const [lon, lat] = centre(), { zoom, projection: name } = state();
      const degrees = (name === "station" ? 360 : name === "globe" ? 115 : 360) / (Math.min(width, name === "world" ? width : height) * zoom);
      const east = ((((lon - dx * degrees / Math.max(0.3, Math.cos((lat * Math.PI) / 180))) + 540) % 360) + 360) % 360 - 180;
      change({ turn: [east, Math.max(-90, Math.min(90, lat + dy * degrees))] });
      quieten();
    }

    /** While the map turns or a brush moves, many lines would lag behind: they come back when it rests. */
    function quieten() {
      turning = true;
      clearTimeout(settle);
      settle = setTimeout(() => {
        turning = false;
        draw();
      }, REST_MS);
    }

    const zoomBy = (factor) => {
      change({ zoom: Math.max(1, Math.min(MOST_ZOOM, state().zoom * factor)) });
      quieten();
    };
    const resetView = () => change({ zoom: Selection.opening(state().projection, data), turn: null });
    const wholeWorld = () => change({ zoom: 1, turn: null });

    /** The next receiver in view, from the nearest outwards; the previous with step -1. */
    function step(by) {
      const seen = [...found.reports.keys()].filter((p) => found.reports[p]);
      if (!seen.length) return change({ focus: null });
      const at = seen.indexOf(state().focus);
      const next = seen[at < 0 ? (by > 0 ? 0 : seen.length - 1) : (at + by + seen.length) % seen.length];
      tip(next);
      return change({ focus: next });
    }

    /** Say beside its dot what a receiver is; nothing where it lies beyond the edge. */
    function tip(p) {
      const box = canvas.getBoundingClientRect();
      if (isNaN(dots[2 * p]) || outside(p)) return Tip.hide();
      return Tip.show(say(p), box.left + dots[2 * p], box.top + dots[2 * p + 1]);
    }

    const KEYS = {
      ArrowLeft: () => turnBy(40, 0), ArrowRight: () => turnBy(-40, 0), ArrowUp: () => turnBy(0, 40), ArrowDown: () => turnBy(0, -40),
      "+": () => zoomBy(1.4), "=": () => zoomBy(1.4), "-": () => zoomBy(1 / 1.4), 0: resetView, Home: resetView, w: wholeWorld,
      n: () => step(1), p: () => step(-1),
      Escape: () => {
        Tip.hide();
        change({ focus: null });
      },
    };
    holder.addEventListener("blur", Tip.hide);
    holder.addEventListener("keydown", (event) => {
      if (!KEYS[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      KEYS[event.key]();
    });
    listenToPointers();

    function listenToPointers() {
      const down = new Map();
      let moved = 0;
      const spread = () => {
        const [a, b] = [...down.values()];
        return Math.hypot(a.x - b.x, a.y - b.y);
      };
      holder.addEventListener("pointerdown", (event) => {
        down.set(event.pointerId, { x: event.clientX, y: event.clientY });
        moved = 0;
        holder.setPointerCapture(event.pointerId);
      });
      holder.addEventListener("pointermove", (event) => {
        const last = down.get(event.pointerId);
        if (!last) return point(event);
        const before = down.size === 2 ? spread() : 0;
        const [dx, dy] = [event.clientX - last.x, event.clientY - last.y];
        moved += Math.abs(dx) + Math.abs(dy);
        down.set(event.pointerId, { x: event.clientX, y: event.clientY });
        if (down.size === 2 && before) return zoomBy(spread() / before);
        return moved > 4 ? turnBy(dx, dy) : undefined;
      });
      const up = (event) => {
        if (down.delete(event.pointerId) && moved <= 4 && event.type === "pointerup") change({ focus: under(event) });
      };
      holder.addEventListener("pointerup", up);
      holder.addEventListener("pointercancel", up);
      holder.addEventListener("pointerleave", () => point(null));
      holder.addEventListener("dblclick", (event) => {
        const box = canvas.getBoundingClientRect(), at = projection.invert([event.clientX - box.left, event.clientY - box.top]);
        if (at && at.every(isFinite)) change({ turn: at, zoom: Math.min(MOST_ZOOM, state().zoom * 2) });
      });
      // The wheel belongs to the page until the map has been taken hold of.
      holder.addEventListener("wheel", (event) => {
        if (!event.ctrlKey && document.activeElement !== holder) return;
        event.preventDefault();
        zoomBy(Math.exp(-Math.max(-80, Math.min(80, event.deltaY)) / 240));
      }, { passive: false });
    }

    function under(event) {
      const box = canvas.getBoundingClientRect();
      return nearest(event.clientX - box.left, event.clientY - box.top);
    }

    function point(event) {
      const now = event ? under(event) : null;
      if (now !== null) Tip.show(say(now), event.clientX, event.clientY);
      else if (hover !== null) Tip.hide();
      if (now === hover) return;
      hover = now;
      hovered(hover);
      draw();
    }

    /** The places in view, the weakest first and then the nearest: medians are halves of decibels, so they are counted, not sorted. */
    function byMedian() {
      const at = (p) => Math.round(2 * (found.median[p] - data.snrLow)) + 1, from = new Uint32Array(2 * (data.snrHigh - data.snrLow) + 3);
      for (let p = 0; p < size; p++) if (found.reports[p]) from[at(p)]++;
      for (let k = 1; k < from.length; k++) from[k] += from[k - 1];
      const sorted = new Array(from[from.length - 1]);
      for (let p = 0; p < size; p++) if (found.reports[p]) sorted[from[at(p) - 1]++] = p;
      return sorted;
    }

    function update(newFound) {
      found = newFound;
      byTick = null;
      order = byMedian();
      const now = performance.now();
      if (order.length > MANY && now - updated < REST_MS) quieten();
      updated = now;
      draw();
    }

    return { resize, view, update, draw, step, zoomBy, resetView, wholeWorld, levels, ground: earth, repaint: () => (drawBase(), draw()) };
  }

  /** The scale of colours: from the weakest to the strongest receivers, in steps of 5 dB. */
  function snrLevels(data) {
    const all = Array.from(data.spots.snr).sort((a, b) => a - b);
    const low = Math.floor((d3.quantileSorted(all, 0.05) ?? -30) / 5) * 5;
    const high = Math.max(low + 10, Math.ceil((d3.quantileSorted(all, 0.95) ?? 0) / 5) * 5);
    return { low, high, at: (db) => Math.max(0, Math.min(1, (db - low) / (high - low))) };
  }

  return { make };
})();
