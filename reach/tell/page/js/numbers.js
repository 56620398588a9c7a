// The answer's key numbers for what is in view: from corroborated locators, and from all in view where that differs.
const Numbers = (() => {
  const CARDS = [
    ["reports", Say.text("Reports")], ["median", Say.text("Half came from beyond")], ["p90", Say.text("One in ten from beyond")],
    ["farthest", Say.text("Farthest")], ["snr", Say.text("Median SNR")],
  ];

  function make(data, holder) {
    const cards = Object.fromEntries(CARDS.map(([key, title]) => {
      const value = Dom.el("dd", { class: "value", id: `key-${key}` }), detail = Dom.el("dd", { class: "detail", id: `key-${key}-detail` });
      holder.append(Dom.el("div", { class: "card" }, Dom.el("dt", null, title), value, detail));
      return [key, { value, detail }];
    }));

    const show = (key, value, detail) => {
      Dom.write(cards[key].value, value);
      Dom.write(cards[key].detail, detail);
    };

    function quantile(key, sure, all) {
      const everything = all.reports ? Say.text("all in view: {value}", { value: Say.beyond(all[key].value) }) : "";
      if (!sure.reports) return show(key, "–", everything);
      const more = sure.reports === all.reports ? "" : `; ${everything}`;
      // As in reach/tell/sentences/reach.py: nothing lies beyond the farthest itself.
      if (sure[key].value >= data.places.km[sure.farthest]) return show(key, "–", Say.text("as far as the farthest") + more);
      show(key, Say.beyond(sure[key].value), Say.interval(sure[key]) + more);
    }

    const called = (p) => Say.text("{call} in {locator}", { call: data.places.call[p], locator: data.places.locator[p] });
    const distance = (p) => Say.distance(data.places.km[p], data.places.uncertainty_km[p]);

    function farthest(sure, all) {
      if (all.farthest < 0) return show("farthest", "–", "");
      const trust = Say.text(data.places.trust_kinds[data.places.trust[all.farthest]]);
      const everything = Say.text("all in view: {value}", { value: `${distance(all.farthest)}, ${called(all.farthest)}, ${trust}` });
      if (sure.farthest < 0) return show("farthest", "–", everything);
      const more = sure.farthest === all.farthest ? "" : `; ${everything}`;
      return show("farthest", distance(sure.farthest), called(sure.farthest) + more);
    }

    /** found: what Count.all found. */
    function update(found) {
      const all = Count.reach(data, found, () => true), sure = Count.reach(data, found, (p) => data.places.trust[p] === 0);
      const between = all.reports - sure.reports;
      show("reports", Say.count(all.reports),
        `${Say.fars(all.receivers)}, ${Say.things(all.squares, "square")}, ${Say.things(all.countries, "country", "countries")}` +
        (between ? Say.text("; {count} without a corroborated locator", { count: Say.count(between) }) : ""));
      quantile("median", sure, all);
      quantile("p90", sure, all);
      farthest(sure, all);
      show("snr", all.reports ? Say.db(Count.medianSnr(data, found)) : "–", Say.text("in 2500 Hz, of all in view"));
      return all;
    }

    return { update };
  }

  return { make };
})();
