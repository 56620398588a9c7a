// One table on show out of several, and a button that downloads it.
const Viewer = (() => {
  /** given: tables from the page's data, { name, file, beside, columns, rows, of }; live: a table whose rows are a function. */
  function make(given, live) {
    const tables = [...given.map((table) => ({ ...table, rows: () => table.rows })), live];
    const chooser = Dom.el("select", { id: "table-chooser" }, ...tables.map((table, i) => Dom.el("option", { value: i }, table.name)));
    const button = Dom.el("button", { type: "button", id: "table-download" }, Say.text("Download this table (CSV)"));
    const holder = Dom.el("div", { id: "table-on-show" });
    const now = () => tables[Number(chooser.value)];
    const cut = () => now() !== live && now().rows().length < now().of;
    function show() {
      const { name, columns, rows, of, beside } = now(), all = rows();
      Tables.fill(holder, name, columns, all, Tables.extent(all.length, of ?? all.length, beside));
      Dom.write(button, cut() ? Say.text("Download the first {count} rows (CSV)", { count: Say.count(all.length) }) : Say.text("Download this table (CSV)"));
    }
    chooser.addEventListener("change", show);
    button.addEventListener("click", () => {
      const { file, columns, rows } = now(), all = rows();
      Tables.download(cut() ? `${file}-first-${all.length}` : file, columns, all);
    });
    Dom.byId("viewer").append(Dom.el("label", { for: "table-chooser" }, Say.text("Table on show")), chooser, button, holder);
    let seen = false;
    Dom.whenSeen(holder, () => {
      seen = true;
      show();
    });
    return { refresh: () => (seen && now() === live ? show() : undefined) };
  }

  return { make };
})();
