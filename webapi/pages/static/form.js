"use strict";
// The fields of a rule appear as soon as the rule is chosen; what was typed for another rule comes back with it.
(() => {
  const NAMES = ["name", "id", "for", "aria-describedby"];

  function named(fragment, from, to) {
    const pairs = [[from, to], [id(from), id(to)]];
    fragment.querySelectorAll("*").forEach((element) => {
      NAMES.filter((name) => element.hasAttribute(name)).forEach((name) => {
        let text = element.getAttribute(name);
        pairs.forEach(([old, fresh]) => { text = text.replaceAll(`${old}.`, `${fresh}.`).replaceAll(`${old}-`, `${fresh}-`); });
        element.setAttribute(name, text);
      });
    });
    return fragment;
  }

  function id(lead) {
    return lead.replace("[", "-").replace("]", "");
  }

  document.querySelectorAll("select[data-rule]").forEach((select) => {
    const box = document.getElementById(select.dataset.rule);
    const kept = new Map();
    let shown = select.value;

    function empty(rule) {
      const template = document.querySelector(`template[data-fields="${CSS.escape(rule)}"]`);
      return template ? [...named(template.content.cloneNode(true), template.dataset.lead, box.dataset.lead).childNodes] : [];
    }

    select.addEventListener("change", () => {
      const before = box.querySelector("select[name$='.demand']");
      kept.set(shown, [...box.childNodes]);
      shown = select.value;
      box.replaceChildren(...(kept.get(shown) || empty(shown)));
      const after = box.querySelector("select[name$='.demand']");
      if (before && after) {
        after.value = before.value;
      }
    });
  });

  const faults = document.getElementById("faults");
  if (faults) {
    faults.focus();
    faults.querySelectorAll("a[href^='#']").forEach((link) => {
      link.addEventListener("click", () => document.getElementById(link.hash.slice(1)).focus());
    });
  }
})();
