/* Choices of the library are lists of options to assistive technology, with radio buttons inside: two controls in one.
   Here they are what they look like, a group of radio buttons or boxes under its name; and what is hidden from
   assistive technology is no stop of the tab key. */
(function () {
  "use strict";

  function name(box) {
    const own = box.id && document.querySelector('label[for="' + CSS.escape(box.id) + '"]');
    const around = box.closest("fieldset");
    const legend = around && around.querySelector("legend");
    const before = box.parentElement && box.parentElement.querySelector("h2, h3, label:not(.dash-options-list-option)");
    const found = own || legend || before;
    return found ? found.textContent : "Choice";
  }

  function mend() {
    for (const box of document.querySelectorAll('.dash-radioitems[role="listbox"], .dash-checklist[role="listbox"]')) {
      box.setAttribute("role", box.classList.contains("dash-radioitems") ? "radiogroup" : "group");
      box.removeAttribute("aria-multiselectable");
      if (!box.hasAttribute("aria-label")) box.setAttribute("aria-label", name(box));
    }
    const inside = ":is(.dash-radioitems, .dash-checklist)";
    for (const label of document.querySelectorAll(inside + ' [role="option"], ' + inside + " label[aria-selected]")) {
      label.removeAttribute("role");
      label.removeAttribute("aria-selected");
    }
    for (const hidden of document.querySelectorAll('input[aria-hidden="true"][tabindex="0"]')) {
      hidden.setAttribute("tabindex", "-1");
    }
  }

  new MutationObserver(mend).observe(document.documentElement, {
    childList: true,
    subtree: true,
    attributes: true,
    attributeFilter: ["role", "aria-selected", "tabindex"],
  });
})();
