// Everything together: one selection, many views, one count a frame.
(() => {
  document.documentElement.classList.add("live");
  const raw = JSON.parse(Dom.byId("data").textContent);
  Say.speak(raw.words);
  Say.zone(raw.local);
  const { far, fars } = Say.words;
  const data = Data.read(raw), RECEIVER_COLUMNS = [
    { name: far }, { name: Say.text("locator") }, { name: Say.text("country") }, { name: Say.text("distance km"), number: true },
    { name: Say.text("uncertainty km"), number: true }, { name: Say.text("bearing deg"), number: true }, { name: Say.text("reports"), number: true },
    { name: Say.text("median SNR dB"), number: true }, { name: Say.text("best SNR dB"), number: true }, { name: Say.text("trust") },
  ];
  let state = Selection.read(location.hash, data), found = null, due = null;
  const LEAST_PX = 180; // narrower than that nothing can be drawn
  let drawn = false;
  const look = () => raw.looks[Theme.name()], projections = document.querySelectorAll("[name=projection]");

  /** Take up a part of a new selection; the views follow in the next frame. */
  function change(part) {
    const before = state;
    state = { ...state, ...part };
    const need = { count: false, view: false, size: false };
    for (const key of ["bands", "setups", "trust", "distance", "snr", "hour", "period", "bearing"]) {
      if (String(plain(before[key])) !== String(plain(state[key]))) need.count = true;
    }
    need.view = before.zoom !== state.zoom || String(before.turn) !== String(state.turn);
    need.size = before.projection !== state.projection;
    if (need.size) state = { ...state, turn: "turn" in part ? part.turn : null, zoom: "zoom" in part ? part.zoom : Selection.opening(state.projection, data) };
    ask(need);
  }
  const plain = (value) => (value instanceof Set ? [...value].sort() : value);

  /** One frame for whatever has changed since the last. */
  function ask(need) {
    if (due) return Object.keys(need).forEach((key) => (due[key] = due[key] || need[key]));
    due = { ...need };
    requestAnimationFrame(() => {
      const now = due;
      due = null;
      frame(now);
    });
    return undefined;
  }

  function frame(need) {
    if (!drawn) return; // it comes alive with the state of that moment
    if (need.count) count();
    if (need.size) atlas.resize();
    else if (need.view) atlas.view();
    else if (!need.count) atlas.draw();
    showState();
  }

  function count() {
    found = Count.all(data, state);
    distance.update(found.distance, state.distance);
    snr.update(found.snr, state.snr);
    when.update(found.time, state);
    rose.update(found.bearing, state.bearing);
    const all = numbers.update(found);
    const text = Say.text("{count} of {reports} in view, {receivers}", { count: Say.count(found.total), reports: Say.things(data.n, "report"), receivers: Say.fars(all.receivers) });
    Dom.write(Dom.byId("count-text"), text);
    Dom.write(Dom.byId("asked"), Selection.words(state, data));
    announce(`${text}.`);
    receiverTable.refresh();
    viewer.refresh();
    atlas.update(found); // last: letters on a canvas make the browser work out the style of all that was changed before
  }

  function showState() {
    filters.show(state);
    play.show();
    when.time(state.minutes);
    showFocus(hover === null ? state.focus : hover);
    for (const input of projections) input.checked = input.value === state.projection;
    if (state.focus !== spoken) {
      spoken = state.focus;
      if (spoken !== null) announce(Dom.byId("receiver").textContent);
    }
    keepFragment();
  }

  // --- saying and keeping ---

  let hover = null, spoken = state.focus, keeping = 0;
  const { announce } = Tip;

  function keepFragment() {
    clearTimeout(keeping);
    keeping = setTimeout(() => {
      const fragment = Selection.write(state, data), address = `#${fragment}`;
      if (location.hash === address || (!fragment && !location.hash.includes("="))) return;
      kept = address;
      history.replaceState(null, "", address);
    }, 200);
  }
  let kept = location.hash;
  addEventListener("hashchange", () => {
    if (location.hash === kept || (location.hash && !location.hash.includes("="))) return;
    kept = location.hash;
    change(Selection.read(location.hash, data));
  });

  /** A link within the page goes there and leaves the fragment, which says what is in view, alone. */
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']"), target = link && Dom.byId(link.getAttribute("href").slice(1));
    if (!target) return;
    event.preventDefault();
    target.scrollIntoView();
    target.setAttribute("tabindex", "-1");
    target.focus({ preventScroll: true });
  });

  /** A receiver's numbers beside the map. */
  function told(p) {
    const { places } = data;
    return [
      `${Say.text("{call} in {locator}", { call: places.call[p], locator: places.locator[p] })}${places.country[p] ? `, ${places.countries[places.country[p]]}` : ""}: `,
      `${Say.distance(places.km[p], places.uncertainty_km[p])}`,
      isNaN(places.bearing[p]) ? "" : Say.bearing(places.bearing[p], places.km[p], places.uncertainty_km[p]),
      `; ${found.reports[p] ? Say.things(found.reports[p], "report") : Say.text("no report in view")}`,
      found.reports[p] ? Say.text(", median {median}, best {best}", { median: Say.db(found.median[p]), best: Say.db(found.best[p]) }) : "",
      Say.text("; locator {trust}.", { trust: Say.text(places.trust_kinds[places.trust[p]]) }),
    ].join("");
  }

  function showFocus(p) {
    Dom.write(Dom.byId("receiver"), p !== null ? told(p) : Say.text("Point at a {far}, or step through them with n and p.", Say.words));
    Dom.byId("receiver").classList.toggle("idle", p === null);
  }

  const round = (value, digits) => (isNaN(value) ? NaN : Number(value.toFixed(digits)));
  function receiverRows() {
    const { places } = data;
    return [...found.reports.keys()].filter((p) => found.reports[p]).sort((a, b) => places.km[b] - places.km[a]).map((p) => [
      places.call[p], places.locator[p], places.countries[places.country[p]], round(places.km[p], 1),
      round(places.uncertainty_km[p], 1), round(places.bearing[p], 1), found.reports[p], round(found.median[p], 1), found.best[p],
      Say.text(places.trust_kinds[places.trust[p]]),
    ]);
  }

  // --- the views ---

  const distance = Histogram.make({
    id: "far", title: Say.text("How far: distance"), label: Say.text("Distance"), size: data.bin.count, binName: Say.text("distance km"),
    note: data.bin.grows ? Say.text("Bars cover more kilometres the farther out they stand.") : "",
    bin: (i) => Say.text("{low} to {high}", { low: Say.count(data.bin.edges[i]), high: `${Say.count(data.bin.edges[i + 1])}${Say.THIN}km` }),
    say: (bin, end) => Say.count(data.bin.edges[end === "from" ? bin : bin + 1]) + Say.THIN + "km",
    ticks: (rems) => {
      const { edges, count, grows } = data.bin, far = edges[count], step = d3.tickStep(0, far, Math.max(3, rems / 5));
      const round = grows ? (km) => /^[125]0*$/.test(String(km)) : (km) => km % step === 0;
      return edges.map((km, i) => [i, km]).filter(([, km]) => km === 0 || round(km)).map(([i, km]) => [i, Say.count(km)]);
    },
    change: (range) => change({ distance: range }),
  });
  const snrSize = data.snrHigh - data.snrLow + 1;
  const snr = Histogram.make({
    id: "strong", title: Say.text("How strong: SNR in dB"), label: Say.text("SNR"), size: snrSize, binName: Say.text("SNR dB"),
    bin: (i) => Say.db(i + data.snrLow), say: (bin) => Say.db(bin + data.snrLow),
    ticks: () => d3.range(Math.ceil(data.snrLow / 5) * 5, data.snrHigh + 1, 5).map((db) => [db - data.snrLow + 0.5, String(db).replace("-", "−")]),
    change: (range) => change({ snr: range }),
  });
  const when = Clockface.make({ data, change, look });
  const rose = Rose.make({ data, change: (range) => change({ bearing: range }) });
  Dom.byId("charts").append(distance.figure, snr.figure, when.figure, rose.figure);
  const atlas = Atlas.make({
    data, state: () => state, change, look, say: told,
    hovered: (p) => {
      hover = p;
      showFocus(p === null ? state.focus : p);
    },
  });
  const filters = Filters.make({ data, change });
  Dom.byId("filters").append(filters.node);
  const numbers = Numbers.make(data, Dom.byId("key-numbers"));
  const play = Play.make({ state: () => state, change });
  const receiverTable = Tables.details(Say.text("Numbers: {fars} in view", Say.words), Say.words.file, RECEIVER_COLUMNS, receiverRows);
  Dom.byId("receivers").append(receiverTable.node);
  const viewer = Viewer.make(raw.tables, { name: `${fars[0].toUpperCase()}${Say.text("{fars} in view", { fars: fars.slice(1) })}`, file: Say.words.file, columns: RECEIVER_COLUMNS, rows: receiverRows });

  const pairs = Versus.figures(raw.versus), shownPairs = new Set();
  if (pairs.length) Dom.byId("pairs").append(...pairs.map((view) => view.figure));

  for (const input of projections) {
    input.addEventListener("change", () => change({ projection: input.value }));
  }
  const button = (id, act) => Dom.byId(id).addEventListener("click", act);
  button("zoom-in", () => atlas.zoomBy(1.5));
  button("zoom-out", () => atlas.zoomBy(1 / 1.5));
  button("view-reset", () => atlas.resetView());
  button("whole-world", () => atlas.wholeWorld());
  button("receiver-next", () => atlas.step(1));
  button("receiver-previous", () => atlas.step(-1));

  /** The bar that says what the map's colours mean. */
  function drawScale() {
    const { low, high } = atlas.levels, bar = Dom.byId("scale"), ramp = look().ramp;
    const stops = ramp.map((colour, i) => Dom.svg("stop", { offset: i / (ramp.length - 1), "stop-color": colour }));
    bar.replaceChildren(Dom.svg("linearGradient", { id: "scale-colours" }, ...stops),
      Dom.svg("rect", { width: "100%", height: 12, fill: "url(#scale-colours)" }));
    Dom.write(Dom.byId("scale-low"), Say.text("{level} or less", { level: Say.db(low) }));
    Dom.write(Dom.byId("scale-high"), Say.text("{level} or more", { level: Say.db(high) }));
  }

  /** Ask for all widths first, then draw: asking after drawing would lay the page out again and again. */
  function resize() {
    Dom.measure();
    const views = [distance, snr, when, rose], widths = views.map((view) => view.figure.clientWidth);
    const room = Dom.byId("map").clientWidth, beside = [...shownPairs].map((view) => [view, view.figure.clientWidth]);
    views.forEach((view, i) => view.resize(widths[i]));
    for (const [view, width] of beside) view.resize(width);
    atlas.resize(room);
    when.time(state.minutes);
  }

  document.querySelectorAll(".scroll").forEach(Sideways.watch);
  Theme.start(Dom.byId("theme"));
  Theme.listen(() => {
    if (!drawn) return;
    drawScale();
    when.update(found.time, state);
    atlas.repaint();
  });
  for (const holder of document.querySelectorAll("[data-suspect]")) {
    Dom.whenSeen(holder, () => Thumbnails.draw(holder, raw.suspects[Number(holder.dataset.suspect)], atlas.ground));
  }
  for (const view of pairs) {
    Dom.whenSeen(view.figure, () => {
      shownPairs.add(view);
      if (drawn) view.resize(view.figure.clientWidth);
    });
  }

  /** Draw as soon as there is room, and anew when there is more or less of it. In a hidden frame there is none. */
  let wide = 0;
  function fit() {
    const now = Dom.byId("explore").clientWidth;
    if (Theme.printing() || now < LEAST_PX || now === wide) return;
    wide = now;
    resize();
    if (!drawn) drawScale();
    count();
    if (drawn) return;
    drawn = true;
    showState();
    requestAnimationFrame(() => (document.documentElement.dataset.ready = Math.round(performance.now())));
  }
  fit();
  new ResizeObserver(fit).observe(Dom.byId("explore"));
})();
