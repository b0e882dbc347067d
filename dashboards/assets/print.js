/* What goes on paper: lists become plain tables with every row, charts are drawn as wide as the paper, and at the foot
   stand address and zone. All of it at once, since a browser does not wait; afterwards the page is as it was. */
(function () {
  "use strict";

  const PAPER_PX = 690; // the narrower of A4 and Letter less its margins, at 96 px to the inch
  const MOST_ROWS = 500;
  const SHORT = 10; // characters that stay on one line, as a week
  let printing = false;
  let restore = [];

  function element(name, text, className) {
    const made = document.createElement(name);
    if (text !== undefined) made.textContent = text;
    if (className) made.className = className;
    return made;
  }

  // what the list shows in a cell, as text
  function shown(api, column, node) {
    const value = api.getCellValue({ rowNode: node, colKey: column, useFormatter: true });
    return value === null || value === undefined ? "" : String(value);
  }

  function table(grid) {
    const api = window.dash_ag_grid.getApi(grid.id);
    const columns = api.getAllDisplayedColumns().filter(function (column) {
      let some = false;
      api.forEachNodeAfterFilterAndSort(function (node) {
        some = some || shown(api, column, node) !== "";
      });
      return some;
    });
    const made = element("table", undefined, "on-paper");
    const head = made.createTHead().insertRow();
    columns.forEach(function (column) {
      const cell = element("th", api.getDisplayNameForColumn(column, "header"));
      cell.scope = "col";
      head.append(cell);
    });
    const body = made.createTBody();
    let rows = 0;
    api.forEachNodeAfterFilterAndSort(function (node) {
      rows += 1;
      if (rows > MOST_ROWS) return;
      const row = body.insertRow();
      if (node.isSelected()) row.className = "chosen-row";
      columns.forEach(function (column) {
        const text = shown(api, column, node);
        const cell = row.insertCell();
        cell.textContent = text === "true" ? "yes" : text === "false" ? "no" : text;
        if (text.length <= SHORT) cell.className = "short";
      });
    });
    if (rows > MOST_ROWS) {
      const cell = body.insertRow().insertCell();
      cell.colSpan = columns.length;
      cell.textContent = "and " + (rows - MOST_ROWS) + " more rows; save the list to have them all";
    }
    return made;
  }

  function tables() {
    document.querySelectorAll(".ag-root-wrapper").forEach(function (root) {
      const grid = root.closest("[id]");
      if (!grid || !root.getClientRects().length) return;
      const made = table(grid);
      grid.after(made);
      grid.classList.add("off-paper");
      restore.push(function () {
        made.remove();
        grid.classList.remove("off-paper");
      });
    });
  }

  function charts() {
    document.querySelectorAll(".js-plotly-plot").forEach(function (plot) {
      if (!window.Plotly || !plot.layout || !plot.getClientRects().length) return;
      const before = plot.layout;
      const width = Math.min(PAPER_PX, plot._fullLayout.width);
      window.Plotly.react(plot, plot.data, Object.assign({}, before, { width: width, autosize: false }));
      restore.push(function () {
        window.Plotly.react(plot, plot.data, before);
      });
    });
  }

  function foot() {
    const line = document.getElementById("foot");
    if (!line) return;
    const zone = document.documentElement.dataset.times;
    const now = new Date().toLocaleString("sv-SE", { dateStyle: "short", timeStyle: "short" });
    line.textContent = [window.location.href, zone, "Printed " + now + "."].filter(Boolean).join(" · ");
  }

  function prepare() {
    if (printing) return;
    printing = true;
    restore = [];
    foot();
    [tables, charts].forEach(function (part) {
      try {
        part();
      } catch (fault) {
        console.warn("not made ready for paper: " + fault);
      }
    });
  }

  function after() {
    if (!printing) return;
    restore.reverse().forEach(function (step) {
      step();
    });
    printing = false;
  }

  window.addEventListener("beforeprint", prepare);
  window.addEventListener("afterprint", after);
  // who only looks at how it would print
  window.matchMedia("print").addEventListener("change", function (change) {
    if (change.matches) prepare();
    else after();
  });

  document.addEventListener("click", function (event) {
    if (event.target instanceof Element && event.target.closest("#print-page")) window.print();
  });
})();
