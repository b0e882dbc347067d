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
  const same = window.dash_clientside;
  const components = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});

  // a cell that leads to the address in another field of its row; its text stays text
  components.InnerLink = function (cell) {
    const href = cell.data && cell.data[cell.to];
    const shown = cell.valueFormatted || cell.value;
    const text = shown === null || shown === undefined ? "" : String(shown);
    return href ? React.createElement("a", { href: href }, text) : text;
  };

  function go(pathname, search) {
    same.set_props("address", { pathname: pathname, search: search });
  }

  function save(grid, name) {
    window.dash_ag_grid.getApi(grid).exportDataAsCsv({
      fileName: name,
      // a spreadsheet takes what begins so for a formula
      processCellCallback: function (cell) {
        const text = cell.formatValue ? cell.formatValue(cell.value) : cell.value;
        return typeof text === "string" && /^[=+\-@\t\r]/.test(text) ? "'" + text : text;
      },
    });
  }

  function query() {
    return new URLSearchParams(window.location.search);
  }

  // the room that the lanes will have: that of an empty one like them
  function room() {
    const sheet = document.createElement("div");
    sheet.className = "sheet";
    sheet.innerHTML = '<main><div><section class="panel"><div></div></section></div></main>';
    document.body.appendChild(sheet);
    const width = sheet.querySelector("section > div").getBoundingClientRect().width;
    sheet.remove();
    return Math.floor(width);
  }

  // a page that is shown smaller than it is has fewer points than pixels: a bin that has none would be lost
  function density() {
    return Math.min(1, Math.round(100 * window.devicePixelRatio) / 100);
  }

  window.dash_clientside.page = {
    theme: function (clicks) {
      let theme = preferred();
      if (clicks) {
        theme = theme === "dark" ? "light" : "dark";
        window.localStorage.setItem(KEY, theme);
      }
      return apply(theme);
    },
    // which page an address names: whatever else it says is state within that page
    place: function (pathname, search, keys) {
      identities = keys;
      if (named(pathname, search) === asked) return window.dash_clientside.no_update;
      asked = named(pathname, search);
      return { pathname: pathname, search: search, screen: room() + " " + preferred() + " " + density() };
    },
    // another page is there: its name, its beginning, and the reader's place in it
    arrived: function (page) {
      if (!page) return;
      there = asked;
      document.title = page.title + " · eventlens";
      document.documentElement.dataset.times = page.times || "";
      if (arrivedAt !== null && arrivedAt !== page.at) {
        window.scrollTo(0, 0);
        document.getElementById("content").focus({ preventScroll: true });
      }
      arrivedAt = page.at;
    },
    narrow: function (text) {
      window.dash_ag_grid.getApi("fleet").setGridOption("quickFilterText", text || "");
    },
    saveMachines: function () {
      save("fleet", "machines.csv");
    },
    saveWeeks: function () {
      save("weeks", "weeks.csv");
    },
    // a point of the weekly chart leads to the review of its week
    openWeek: function (click, rows) {
      const week = click && click.points[0].customdata && click.points[0].customdata[0];
      const row = (rows || []).find((one) => one.week === week);
      if (!row || !row.href) return;
      const to = new URL(row.href, window.location.origin);
      go(to.pathname, to.search);
    },
    // a drag or a double click; the chart also reports when it was drawn or fitted anew
    dragged: function (change) {
      const asked = change && ("xaxis.range[0]" in change || "xaxis.range" in change || change["xaxis.autorange"]);
      return asked ? change : window.dash_clientside.no_update;
    },
    // a row that the reader picked; the list also reports the row that the page chose
    picked: function (rows, state) {
      const row = rows && rows.length ? rows[0] : null;
      const chosen = state && state.chosen;
      if (!row || (chosen && chosen.key === row.key && chosen.number === row.number)) {
        return window.dash_clientside.no_update;
      }
      return { key: row.key, number: row.number };
    },
    asked: function (rows, state) {
      const row = rows && rows.length ? rows[0] : null;
      const chosen = state && state.chosen;
      if (!row || !row.key || (chosen && chosen.key === row.key)) return window.dash_clientside.no_update;
      return { key: row.key, at: Date.now() };
    },
    // the reader went back to another occurrence, or to none
    searched: function (search, state) {
      if (named(window.location.pathname, search) !== there) return window.dash_clientside.no_update;
      const now = new URLSearchParams(search || "");
      return sameOccurrence(now, state && state.chosen) ? window.dash_clientside.no_update : search || "";
    },
    // or to other outcomes of checks
    stated: function (search, made) {
      if (named(window.location.pathname, search) !== there) return window.dash_clientside.no_update;
      const now = new URLSearchParams(search || "").get("checked") || "";
      return now === (made || "") ? window.dash_clientside.no_update : search || "";
    },
    // what is shown goes into the address, once it is drawn: another occurrence as a step of its own that the reader
    // can go back from, another window without
    remember: function (state, whole) {
      const at = window.location.href;
      window.setTimeout(function () {
        if (window.location.href === at && document.getElementById("lanes-box")) remember(state, whole);
      }, 50);
      return window.dash_clientside.no_update;
    },
    // the motion under "How hard it works" goes into the address, the first one by being left out
    rememberMotion: function (motion, options) {
      if (!motion) return;
      const now = query();
      const wanted = motion === options[0].value ? null : motion;
      if (now.get("motion") === wanted) return;
      if (wanted) now.set("motion", wanted);
      else now.delete("motion");
      const search = now.toString();
      same.set_props("address", { search: search ? "?" + search : "" });
    },
    motionAsked: function (search, options, shown) {
      const asked = new URLSearchParams(search || "").get("motion");
      const known = options.some((one) => one.value === asked);
      const wanted = known ? asked : options[0].value;
      return wanted === shown ? window.dash_clientside.no_update : wanted;
    },
  };

  // what has been made since the page was shown comes when it is asked for; a page that only waits asks by itself
  document.addEventListener("click", function (event) {
    if (event.target instanceof Element && event.target.closest("button.reload")) window.location.reload();
  });
  window.setInterval(function () {
    if (document.querySelector(".comes-by-itself")) window.location.reload();
  }, 3000);

  // whether an address names the occurrence, if only by the beginning of its key
  function sameOccurrence(now, chosen) {
    const finding = now.get("finding");
    if (!chosen || !finding) return !chosen && !finding;
    if (!chosen.key.startsWith(finding)) return false;
    if (now.get("at") && !now.get("number")) return true; // told by its beginning, which the server has found
    return (now.get("number") || "1") === String(chosen.number);
  }

  function remember(state, whole) {
    const now = query();
    const [start, end] = state.window;
    const stays = sameOccurrence(now, state.chosen);
    now.delete("at");
    if (state.chosen) {
      now.set("finding", state.chosen.key);
      now.set("number", state.chosen.number);
    } else {
      now.delete("finding");
      now.delete("number");
    }
    if (start === whole[0] && end === whole[1]) now.delete("view");
    else now.set("view", Math.round(start) + "_" + Math.round(end));
    const search = now.toString() ? "?" + now.toString() : "";
    if (search === window.location.search) return;
    if (stays || !state.chosen) window.history.replaceState(window.history.state, "", window.location.pathname + search);
    else same.set_props("address", { search: search });
  }

  let arrivedAt = null;
  // which page was asked for last, and which is there, as path and keys
  let identities = {};
  let asked = null;
  let there = null;

  function named(pathname, search) {
    const now = new URLSearchParams(search || "");
    return JSON.stringify([pathname, (identities[pathname] || []).map((key) => now.get(key))]);
  }

  // links between the pages load no page anew
  document.addEventListener("click", function (event) {
    const link = event.target instanceof Element && event.target.closest("a[href]");
    if (!link || event.defaultPrevented || event.button || link.target) return;
    if (event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    if (!(link.getAttribute("href") || "").startsWith("/")) return;
    event.preventDefault();
    const to = new URL(link.href);
    go(to.pathname, to.search);
  });

  // what came of a check goes into the address, or is taken out of it
  document.addEventListener("click", function (event) {
    const button = event.target instanceof Element && event.target.closest("[data-outcome], [data-back]");
    if (!button) return;
    const now = query();
    const made = (now.get("checked") || "").split(",").filter(Boolean);
    const back = button.dataset.back;
    const next = back ? made.filter((one) => one !== back) : made.concat(button.dataset.outcome);
    if (next.length) now.set("checked", next.join(","));
    else now.delete("checked");
    const search = now.toString();
    same.set_props("address", { search: search ? "?" + search : "" });
  });

  // in a list the reader stands on a cell, not on the link in it
  document.addEventListener("keydown", function (event) {
    if (event.key !== "Enter" || !(event.target instanceof Element) || !event.target.matches(".ag-cell")) return;
    const link = event.target.querySelector("a[href]");
    if (link) link.click();
  });

  let told = [0, 1];
  let waiting = null;

  function tell(box, width) {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(
      function () {
        // the reader may have left for another page meanwhile
        if (width <= 0 || document.getElementById("lanes-box") !== box) return;
        if (Math.abs(width - told[0]) <= 1 && density() === told[1]) return;
        told = [width, density()];
        same.set_props("lanes-width", { data: [Math.floor(width), density()] });
      },
      told[0] ? 250 : 0
    );
  }

  // what lies below the lanes is drawn after them
  function drawn(box) {
    if (document.getElementById("lanes-box") !== box) return;
    const lanes = box.querySelector(".js-plotly-plot");
    if (lanes && lanes._fullData && lanes._fullData.length) same.set_props("lanes-drawn", { data: Date.now() });
    else window.setTimeout(drawn, 50, box);
  }

  let measured = null;
  const widths = new ResizeObserver(function (entries) {
    tell(measured, entries[0].contentRect.width);
  });
  new MutationObserver(function () {
    const box = document.getElementById("lanes-box");
    if (box === measured) return;
    widths.disconnect();
    measured = box;
    if (!box) return;
    told = (box.dataset.screen || "0 1").split(" ").map(Number);
    widths.observe(box);
    drawn(box);
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
