/* What only the browser can do: tell the width of the lanes, and switch between light and dark. */
(function () {
  "use strict";

  const KEY = "eventlens-theme";

  function preferred() {
    const kept = window.localStorage.getItem(KEY);
    if (kept === "dark" || kept === "light") return kept;
    return window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }

  function apply(theme) {
    document.documentElement.dataset.theme = theme;
    return [theme, theme === "dark" ? "Light colours" : "Dark colours"];
  }

  apply(preferred());

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.page = {
    theme: function (clicks) {
      let theme = preferred();
      if (clicks) {
        theme = theme === "dark" ? "light" : "dark";
        window.localStorage.setItem(KEY, theme);
      }
      return apply(theme);
    },
    // a drag or a double click; the chart also reports when it was drawn or fitted anew
    dragged: function (change) {
      const asked = change && ("xaxis.range[0]" in change || "xaxis.range" in change || change["xaxis.autorange"]);
      return asked ? change : window.dash_clientside.no_update;
    },
    // a row that the reader picked; the list also reports the row that the page chose
    picked: function (rows, chosen) {
      const row = rows && rows.length ? rows[0] : null;
      if (!row || (chosen && chosen.key === row.key && chosen.number === row.number)) {
        return window.dash_clientside.no_update;
      }
      return { key: row.key, number: row.number };
    },
  };

  let told = 0;
  let waiting = null;

  function tell(width) {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(
      function () {
        if (width > 0 && Math.abs(width - told) > 1) {
          told = width;
          window.dash_clientside.set_props("lanes-width", { data: Math.round(width) });
        }
      },
      told ? 250 : 0
    );
  }

  const found = new MutationObserver(function () {
    const box = document.getElementById("lanes-box");
    if (!box) return;
    found.disconnect();
    new ResizeObserver(function (entries) {
      tell(entries[0].contentRect.width);
    }).observe(box);
  });
  found.observe(document.documentElement, { childList: true, subtree: true });
})();
