/* An open live page asks while somebody looks at it, and says when it is answered no more. */
(function () {
  "use strict";

  const PATIENCE_MS = 15000;

  window.dash_clientside = window.dash_clientside || {};
  const same = window.dash_clientside;
  let heard = Date.now();
  let waits = false;

  same.live = {
    ask: function () {
      return document.hidden ? same.no_update : Date.now();
    },
    answered: function (shown) {
      heard = Date.now();
      waits = Boolean(shown) && !shown.ends;
      tell();
    },
  };

  function tell() {
    const lost = document.getElementById("live-lost");
    if (lost) lost.hidden = !(waits && !document.hidden && Date.now() - heard > PATIENCE_MS);
  }

  window.setInterval(tell, 1000);
  document.addEventListener("visibilitychange", function () {
    if (document.hidden) return;
    heard = Date.now(); // nobody was to answer meanwhile
    for (const [store, part] of [
      ["live-asked", "live-now"],
      ["live-everybody-asked", "live-everybody"],
    ]) {
      if (document.getElementById(part) && (store !== "live-asked" || waits)) same.set_props(store, { data: Date.now() });
    }
  });
})();
