// Tables behind the charts, and any of them as a CSV file.
const Tables = (() => {
  const MOST_ROWS = 200;

  /**
   * One cell of CSV. A text that a spreadsheet would take for a formula gets an apostrophe in front; a number does not.
   */
  function cell(value) {
    let text = value === null || value === undefined ? "" : String(value);
    if (typeof value === "number") return isNaN(value) ? "" : text;
    if (/^[=+\-@\t\r]/.test(text)) text = `'${text}`;
    return /[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
  }

  const csv = (columns, rows) =>
    [columns.map((column) => column.name), ...rows].map((row) => row.map(cell).join(",")).join("\r\n") + "\r\n";

  /** Hand a table to the reader as a file. The address is one of memory; nothing is asked of any network. */
  function download(name, columns, rows) {
    const address = URL.createObjectURL(new Blob(["\ufeff", csv(columns, rows)], { type: "text/csv;charset=utf-8" }));
    const link = Dom.el("a", { href: address, download: `${name}.csv` });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
  }

  const shown = (value) => (typeof value === "number" ? (isNaN(value) ? "" : String(value)) : value === null ? "" : String(value));

  /** Which rows are shown, which a download has, and where all are; "" where all are shown. of: how many there are. */
  function extent(rows, of, beside = "") {
        if (!of) return Say.text("No rows.");
    if (rows < of) {
      const said = { shown: Say.count(Math.min(rows, MOST_ROWS)), rows: Say.things(of, "row"), carried: Say.count(rows), beside };
      return beside
        ? Say.text("Shown: the first {shown} of {rows}. This page carries the first {carried}, and so does the download; all are in {beside}, beside this page where it was made.", said)
        : Say.text("Shown: the first {shown} of {rows}. This page carries the first {carried}, and so does the download.", said);
    }
    return rows > MOST_ROWS ? Say.text("Shown: the first {shown} of {rows}. The download has all of them.", { shown: Say.count(MOST_ROWS), rows: Say.things(rows, "row") }) : "";
  }

  /** A table's rows in the page, MOST_ROWS at most, with a sentence where there are more. note: that sentence. */
  function fill(holder, caption, columns, rows, note = extent(rows.length, rows.length)) {
    const kind = (i) => ({ class: columns[i].number ? "number" : null });
    const head = Dom.el("tr", null, ...columns.map((column, i) => Dom.el("th", { scope: "col", ...kind(i) }, column.name)));
    const line = (row) => Dom.el("tr", null, ...row.map((value, i) => Dom.el("td", kind(i), shown(value))));
    const table = Dom.el("table", null, Dom.el("caption", { class: "unseen" }, caption), Dom.el("thead", null, head),
      Dom.el("tbody", null, ...rows.slice(0, MOST_ROWS).map(line)));
    holder.replaceChildren(Dom.el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption }, table),
      ...(note ? [Dom.el("p", { class: "note" }, note)] : []));
    Sideways.watch(holder.querySelector(".scroll"));
  }

  /** A table that opens, with a button that downloads it. Filled when opened, and anew at refresh() while open. */
  function details(title, name, columns, rows) {
    const holder = Dom.el("div"), button = Dom.el("button", { type: "button", class: "quiet" }, Say.text("Download as CSV"));
    const node = Dom.el("details", { class: "numbers" }, Dom.el("summary", null, title), button, holder);
    const refresh = () => node.open && fill(holder, title, columns, rows());
    node.addEventListener("toggle", refresh);
    button.addEventListener("click", () => download(name, columns, rows()));
    return { node, refresh };
  }

  return { csv, download, extent, fill, details };
})();
