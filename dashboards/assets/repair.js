/* What the reader typed or chose on the pages of a repair and of the report goes into the address. */
(function () {
  "use strict";

  window.dash_clientside = window.dash_clientside || {};
  const same = window.dash_clientside;

  function go(change) {
    const now = new URLSearchParams(window.location.search);
    const before = now.toString();
    Object.entries(change).forEach(function ([name, value]) {
      if (value) now.set(name, value);
      else now.delete(name);
    });
    if (now.toString() === before) return;
    same.set_props("address", { search: "?" + now.toString() });
  }

  same.repair = {
    // a time that was typed takes the place of work that is written down
    ask: function (clicks, first, second, at, until) {
      if (!clicks && !first && !second) return;
      if (!(at || "").trim()) {
        document.getElementById("repair-at").focus();
        return;
      }
      go({ at: at.trim(), until: (until || "").trim(), repair: null, moved: null });
    },
    // both places, or none
    exchange: function (first, second) {
      if (!document.getElementById("repair-exchange") || document.getElementById("repair-exchange").hidden) return;
      const now = new URLSearchParams(window.location.search).get("moved");
      if (!first !== !second) return;
      if (!first && !now) return;
      go({ moved: first ? first + ":" + second : null });
    },
    // what is as it is anyway does not lengthen the address; a report without any choice says so
    order: function (first, last, sections, language, paper, key) {
      const now = new URLSearchParams(window.location.search);
      const weeks = key.weeks;
      const all = !sections || sections.length === key.sections.length;
      const kept = key.sections.filter(function (name) {
        return (sections || []).includes(name);
      });
      const latest = weeks.length ? weeks[weeks.length - 1] : null;
      const end = last && first && last < first ? first : last;
      go({
        week: first === latest && !now.get("week") ? null : first,
        to: end === first ? null : end,
        sections: all ? null : kept.join(",") || "none",
        language: language === "en" ? null : language,
        paper: paper === "a4" ? null : paper,
      });
    },
  };
})();
